"""What the phases of the account have in common: a cause's seconds in every draw, and the free part of a window.

In every draw the shares of a phase add up to its length there, so the account adds up to the run in every draw.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.spells import gaps
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.window import Window, overlap, steps_m
from analyzer.model.arrays import FloatArray

Spell = tuple[float, float]
STOP_EDGES_S = 0.6
"""Standard deviation of what a stop cost: all draws round its edges alike. Our estimate, from simulated runs."""
EDGE_S = 0.8
"""Of either end of a line of the bracket or a strip, which lies on a fix of the best estimate; our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Share:
    """What one cause cost in a phase: `seconds` and `metres` (S,), signed; `windows`: where to look, seconds."""

    cause: str
    seconds: FloatArray
    metres: FloatArray
    windows: tuple[Spell, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """What is left of a window once windows of known causes came out: per draw and piece of path (S, m - 1).

    `seconds`, `metres`: of the pieces. `spells`: the free time of the best estimate.
    """

    seconds: FloatArray
    metres: FloatArray
    spells: tuple[Spell, ...]


def jittered(value_s: float, sigma_s: float, rows: int) -> FloatArray:
    """Return a moment in every draw (rows,): row 0 as it is, the others about it; the same call gives the same numbers.

    What the posterior does not hold is drawn with it, so that the account still adds up in every draw.
    """
    noise = np.random.default_rng([rows, round(1000.0 * abs(value_s))]).normal(0.0, sigma_s, rows)
    noise[0] = 0.0
    return np.asarray(value_s + noise, np.float64)


def inside(window: Window, from_s: FloatArray, to_s: FloatArray) -> FloatArray:
    """Return (S, m - 1): the share of each piece of path inside [from_s, to_s] of each draw (S,) and the phase."""
    return overlap(window.time_s, np.maximum(from_s, window.start_s), np.minimum(to_s, window.end_s))


def taken_out(
    window: Window, ways: Sequence[tuple[str, FloatArray, FloatArray]], stops: Sequence[Stop], holes: Sequence[Spell]
) -> tuple[list[Share], Rest]:
    """Return the shares of windows, in the order of the account, and what is left.

    Parameters
    ----------
    window : Window
    ways : sequence of (cause, from_s, to_s)
        Windows of other causes than standing; bounds (S,) per draw.
    stops : sequence of Stop
        Outside those windows they are standing; the metres of a stop's window stay in the rest, at own pace.
    holes : sequence of (from_s, to_s)
        Unrecorded time, which comes out first.
    """
    rows, dt, step = (
        len(window.start_s),
        np.diff(window.time_s)[None, :],
        steps_m(window, [s.lost_between_s for s in stops]),
    )
    free = window.share.copy()
    shares: list[Share] = []
    lost = np.zeros_like(free)
    for a, b in holes:
        lost += np.minimum(inside(window, np.full(rows, a), np.full(rows, b)), free - lost)
    if lost.any():
        shares.append(_share("not_recorded", lost, dt, step, tuple(_clipped(window, holes))))
        free = free - lost
    for cause in dict.fromkeys(way[0] for way in ways):
        own = [(start, end) for name, start, end in ways if name == cause]
        part = np.zeros_like(free)
        for start, end in own:
            part += np.minimum(inside(window, start, end), free - part)
        shares.append(
            _share(cause, part, dt, step, tuple(_clipped(window, [(float(x[0]), float(z[0])) for x, z in own])))
        )
        free = free - part
    busy = [*holes, *((float(a[0]), float(b[0])) for _, a, b in ways)]
    seconds, halted, windows = _without_stops(window, stops, busy, free * dt)
    if windows:
        shares.append(Share("standing", halted, np.zeros(rows), tuple(windows)))
    spells = gaps(window.span.start_s, window.span.end_s, [*busy, *windows])
    return shares, Rest(seconds, free * step, tuple(spells))


def _without_stops(
    window: Window, stops: Sequence[Stop], busy: Sequence[Spell], seconds: FloatArray
) -> tuple[FloatArray, FloatArray, list[Spell]]:
    """Return the seconds (S, m - 1) less those of stops, what the stops took (S,), and their windows.

    A stop takes the time of its window first; what it cost beyond that, in some draws, was lost beside it.
    """
    rows, halted, windows = len(window.start_s), np.zeros(len(window.start_s)), []
    for stop in stops:
        begin, end = stop.lost_between_s
        for a, b in gaps(max(begin, window.span.start_s), min(end, window.span.end_s), busy):
            cost: FloatArray = (jittered(a, STOP_EDGES_S, rows) - a + stop.cost_s) * ((b - a) / max(end - begin, 1e-9))
            left = np.maximum(cost, 0.0)
            for margin in (0.0, 2.0 * STOP_EDGES_S):
                part = seconds * inside(window, np.full(rows, a - margin), np.full(rows, b + margin))
                whole: FloatArray = part.sum(axis=1)
                spent: FloatArray = np.minimum(left, whole)
                seconds = seconds - part * (spent / np.maximum(whole, 1e-9))[:, None]
                halted, left = halted + spent, left - spent
            windows.append((a, b))
    return seconds, halted, windows


def _share(cause: str, part: FloatArray, dt: FloatArray, step: FloatArray, windows: tuple[Spell, ...]) -> Share:
    return Share(cause, (part * dt).sum(axis=1), (part * step).sum(axis=1), windows)


def _clipped(window: Window, spells: Sequence[Spell]) -> list[Spell]:
    low, high = window.span.start_s, window.span.end_s
    return [(max(a, low), min(b, high)) for a, b in spells if min(b, high) > max(a, low)]
