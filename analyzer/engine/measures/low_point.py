"""What the readings of a fine search say: the lowest, the rise beyond it, the last.

Single readings carry noise, a step of the display and a second of delay; the lowest of many is too low and the last one
is luck. So the figures are taken from the reading that each draw of the path, the transmitter and the scale gives
without noise: the draws already agree with all the readings that were logged.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.intervals import POSTERIOR_DOUBT, figure_of
from analyzer.engine.measures.window import Window, interpolate
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.path import FusedPath
from analyzer.physics.receiver import offsets, reading_m

READING_FIGURES = ("overshoot_m", "lowest_reading_m", "ended_on_lowest_m")
LEAST_READINGS = 4
SPREAD = 0.015
"""Relative standard deviation of the noise-free reading that the draws do not hold (height, tilt of the hand); ours."""
HAND_DIP_M = 0.06
"""A hand sways by a few centimetres, so the lowest reading seen may be up to this (90 %) under the one at the stated
height; our estimate. The path cannot tell it: it widens the interval downwards and leaves the value."""
RISE_NOISE_M = 0.06


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Readings (S, m) of every draw at times (m,), those of the fine search True in `inside` (S, m)."""

    time_s: FloatArray
    reading_m: FloatArray
    inside: FloatArray
    end_s: FloatArray


def shown_in(fused: FusedPath, window: Window) -> Shown | None:
    """Return the readings of a fine search in every draw, None where fewer than four were logged."""
    used, name = fused.readings, window.span.transmitter
    if used is None or name not in fused.transmitter_ids:
        return None
    k = fused.transmitter_ids.index(name)
    own = (used.transmitter == k) & (used.weight > 0.2)
    own &= (used.time_s >= window.span.start_s - 0.5) & (used.time_s <= window.span.end_s + 0.5)
    if np.count_nonzero(own) < LEAST_READINGS:
        return None
    height = np.interp(window.time_s, fused.time_s, fused.height_m)
    d = offsets(window.path_m, height, window.transmitter_m[:, None, :], fused.depth_m[k])
    scale = fused.draws.reading_scale[:, None]
    reading = reading_m(d, fused.draws.axis[:, k, None, :], scale=scale, antennas=fused.antennas)
    t = window.time_s[None, :]
    inside = (t >= window.start_s[:, None]) & (t <= window.end_s[:, None])
    inside[:, int(np.argmin(np.abs(window.time_s - window.span.end_s)))] = True
    return Shown(window.time_s, reading, inside.astype(float), window.end_s)


def reading_figures(shown: Shown | None) -> dict[str, Measured]:
    """Return overshoot, lowest and last-minus-lowest reading as figures."""
    if shown is None:
        return dict.fromkeys(READING_FIGURES, NotAssessable("too few readings were logged in the fine search"))
    lowest = np.where(shown.inside > 0.0, shown.reading_m, np.inf).min(axis=1)
    last = last_reading(shown)
    pairs = zip(shown.reading_m, shown.inside > 0.0, strict=True)
    rise = np.array([first_rise(row[keep], threshold_m=RISE_NOISE_M) for row, keep in pairs])
    spread = SPREAD * float(lowest[0])
    return {
        "overshoot_m": figure_of(rise, "m", least=0.0, spread=2.0 * spread),
        "lowest_reading_m": _dipped(figure_of(lowest, "m", least=0.0, spread=spread, doubt=POSTERIOR_DOUBT)),
        "ended_on_lowest_m": figure_of(np.maximum(last - lowest, 0.0), "m", least=0.0, spread=spread),
    }


def _dipped(lowest: Measured) -> Measured:
    """Return the lowest reading with its interval widened by how far the hand may have dipped."""
    if not isinstance(lowest, Figure):
        return lowest
    low = lowest.value - float(np.hypot(lowest.value - lowest.low, HAND_DIP_M))
    return Figure(lowest.value, max(low, 0.0), lowest.high, lowest.unit)


def last_reading(shown: Shown) -> FloatArray:
    """Return the reading (S,) where the searcher settled."""
    return interpolate(shown.time_s, shown.reading_m, shown.end_s)


def first_rise(reading: FloatArray, *, threshold_m: float) -> float:
    """Return how far readings rose past the first minimum before they fell again; 0 where they never rose.

    Rises and falls smaller than `threshold_m` are taken as noise.
    """
    lowest, highest = np.inf, -np.inf
    for value in reading:
        if highest == -np.inf:
            lowest = min(lowest, value)
            if value > lowest + threshold_m:
                highest = value
        elif value < highest - threshold_m:
            break
        else:
            highest = max(highest, value)
    return float(highest - lowest) if np.isfinite(highest) else 0.0
