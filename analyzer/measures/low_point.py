"""What the readings themselves say of the fine search: the lowest, the rise beyond it, the last."""

from dataclasses import dataclass

import numpy as np

from analyzer.field.receiver import offsets, reading_m
from analyzer.model.arrays import FloatArray
from analyzer.model.figures import Figure, Measured, NotAssessable
from analyzer.model.path import FusedPath
from analyzer.model.phases import PhaseSpan

LEAST_READINGS = 4
LEAST_SIGMA = 0.02  # relative; no receiver repeats better, our estimate
STEP_M = 0.1
"""Smallest step of a display; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class FineReadings:
    """Readings of one fine search (m,) in time order, and their noise `sigma_m` near the lowest one."""

    time_s: FloatArray
    reading_m: FloatArray
    sigma_m: float


def fine_readings(fused: FusedPath, span: PhaseSpan) -> FineReadings | None:
    """Return the trusted readings of a fine search, None where there are fewer than four.

    Their noise comes from what they differ by from the readings that the best estimate predicts.
    """
    used = fused.readings
    if used is None or span.transmitter not in fused.transmitter_ids:
        return None
    k = fused.transmitter_ids.index(span.transmitter)
    keep = (used.transmitter == k) & (used.time_s >= span.start_s - 0.5) & (used.time_s <= span.end_s + 0.5)
    keep &= used.weight > 0.2
    time, reading = used.time_s[keep], used.reading_m[keep]
    if len(time) < LEAST_READINGS:
        return None
    sigma = max(LEAST_SIGMA, _relative_noise(fused, k, time, reading)) * float(reading.min())
    return FineReadings(time, reading, float(np.hypot(sigma, STEP_M / np.sqrt(12.0))))


def _relative_noise(fused: FusedPath, k: int, time: FloatArray, reading: FloatArray) -> float:
    if fused.antennas == 1:
        return 0.1  # depends on how the receiver was turned; our estimate
    best = fused.draws.path_m[0]
    place = np.column_stack([np.interp(time, fused.time_s, best[:, j]) for j in range(2)])
    height = np.interp(time, fused.time_s, fused.height_m)
    d = offsets(place, height, fused.draws.transmitter_m[0, k], fused.depth_m[k])
    expected = reading_m(d, fused.draws.axis[0, k], scale=fused.draws.reading_scale[0], antennas=fused.antennas)
    off = np.log(reading / np.maximum(expected, 1e-6))
    return float(np.clip(1.4826 * np.median(np.abs(off - np.median(off))), 0.0, 0.2))


def reading_figures(readings: FineReadings | None) -> dict[str, Measured]:
    """Return overshoot, lowest and last-minus-lowest reading as figures."""
    names = ("overshoot_m", "lowest_reading_m", "ended_on_lowest_m")
    if readings is None:
        return dict.fromkeys(names, NotAssessable("too few readings were logged in the fine search"))
    d, sigma = readings.reading_m, readings.sigma_m
    lowest = float(d.min())
    rise = first_rise(d, threshold_m=max(0.15, 2.5 * sigma))
    ended = _last(readings) - lowest
    # The lowest of several noisy readings lies below the true lowest, so the true one is rather above.
    return {
        "overshoot_m": _figure(rise, 1.645 * sigma, 1.645 * sigma),
        "lowest_reading_m": _figure(lowest, 0.8 * sigma, 2.0 * sigma),
        "ended_on_lowest_m": _figure(ended, 2.3 * sigma, 1.645 * sigma),
    }


def _last(readings: FineReadings) -> float:
    """Return the last reading: the lower of the last two seconds', so that one flicker does not count."""
    near = readings.time_s >= readings.time_s[-1] - 2.0
    return float(np.median(readings.reading_m[near]))


def _figure(value: float, below: float, above: float) -> Measured:
    return Figure(value, max(value - below, 0.0), value + above, "m")


def first_rise(reading: FloatArray, *, threshold_m: float) -> float:
    """Return how far readings rose past the first minimum before they fell again; 0 where they never rose.

    Rises and falls smaller than `threshold_m` are taken as noise.
    """
    lowest = reading[0]
    highest = -np.inf
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
