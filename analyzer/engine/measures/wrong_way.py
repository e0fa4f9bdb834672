"""Stretches away from the transmitter in coarse search.

An excursion starts where the range was at its lowest so far, turns at its furthest and ends where the lost range is
regained. It counts where the range rises by more than `LEAST_RISE_M` in most draws: the error of the range over
seconds is part of the draws, so noise does not make an event.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.window import Window
from analyzer.geometry.timed_path import crossing_share
from analyzer.model.account import WrongWay
from analyzer.model.arrays import FloatArray

LEAST_RISE_M = 2.0  # our choice: three steps; less is the sway of following an arrow
SURE = 0.85
CANDIDATE_RISE_M = 0.8
RATE_MARGIN_S = 0.3
RISING_MPS, MOVING_MPS = 0.03, 0.12
"""The way out is moving with the range rising, however slowly; ours: what is under these is standing, or the path's
own jitter."""
LEAST_PIECE_SPREAD_S = 0.1
TOUCH_M = 0.25
"""The searcher has turned away once the range exceeds the lowest by this: the lowest itself is flat in time."""


@dataclass(frozen=True, slots=True, eq=False)
class Excursion:
    """One accepted excursion; arrays (S,), per draw. `out_m`, `out_s`: walked and spent with the range rising."""

    event: WrongWay
    from_s: FloatArray
    turn_s: FloatArray
    to_s: FloatArray
    out_m: FloatArray
    out_s: FloatArray
    sure: float


def excursions(window: Window) -> tuple[Excursion, ...]:
    """Return the wrong-way stretches of a coarse search, in order."""
    if np.isnan(window.range_m).any() or len(window.time_s) < 3:
        return ()
    held = window.clipped_range()
    found = []
    for lo, hi in _candidates(window, held[0]):
        one = _measure(window, held, lo, hi)
        if one is not None:
            found.append(one)
    return tuple(found)


def stray_draws(window: Window, accepted: tuple[Excursion, ...]) -> tuple[FloatArray, FloatArray]:
    """Return metres and seconds (S,) of rises that single draws hold outside the accepted stretches.

    This is what an interval must hold when no event is sure: in some of the worlds there is one.
    """
    rows = len(window.path_m)
    if np.isnan(window.range_m).any() or len(window.time_s) < 3:
        return np.zeros(rows), np.zeros(rows)
    held = window.clipped_range()
    floor = np.minimum.accumulate(held, axis=1)
    above = held - floor
    above = np.where(above < TOUCH_M, 0.0, above)
    for one in accepted:
        mask = (window.time_s >= one.event.from_s - 2.0) & (window.time_s <= one.event.to_s + 2.0)
        above[:, mask] = 0.0
    if above.max() < LEAST_RISE_M:
        return np.zeros(rows), np.zeros(rows)
    metres, seconds = np.zeros(rows), np.zeros(rows)
    for s in np.flatnonzero(above.max(axis=1) >= LEAST_RISE_M):
        metres[s], seconds[s] = _stray_of(window.time_s, above[s])
    return metres, seconds


def _stray_of(time: FloatArray, above: FloatArray) -> tuple[float, float]:
    metres = seconds = 0.0
    for lo, hi in runs(above > 0.0):
        top = lo + int(np.argmax(above[lo:hi]))
        if above[top] >= LEAST_RISE_M:
            metres += float(above[top])
            seconds += float(time[top] - time[max(lo - 1, 0)])
    return metres, seconds


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Return [lo, hi) index pairs of the runs of True in a (m,) mask."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _candidates(window: Window, held: FloatArray) -> list[tuple[int, int]]:
    """Return index ranges of rises above the lowest range so far in the best estimate."""
    floor = np.minimum.accumulate(held)
    above = held - floor
    pairs = [
        (max(lo - 1, 0), min(hi + 1, len(held)))
        for lo, hi in runs(above > 1e-9)
        if above[lo:hi].max() >= CANDIDATE_RISE_M
    ]
    inside = (window.time_s >= window.span.start_s) & (window.time_s <= window.span.end_s)
    return [(lo, hi) for lo, hi in pairs if inside[lo:hi].any()]


def _measure(window: Window, held: FloatArray, lo: int, hi: int) -> Excursion | None:
    """Return the excursion in the index range, None where too few draws hold it."""
    time = window.time_s
    lo = int(np.searchsorted(time, time[lo] - 3.0))
    hi = min(int(np.searchsorted(time, time[hi - 1] + 3.0, "right")), len(time))
    r, t = held[:, lo:hi], time[lo:hi]
    floor = np.minimum.accumulate(r, axis=1)
    rise = r - floor
    top = np.argmax(rise, axis=1)
    rows = np.arange(len(r))
    height = rise[rows, top]
    samples = height[1:] if len(height) > 8 else height
    sure = float(np.mean(samples >= LEAST_RISE_M))
    if sure < SURE or height[0] < CANDIDATE_RISE_M:
        return None
    start, end = _bounds(r, t, floor, top)
    turn = t[top]
    start, end = np.clip(start, window.start_s, None), np.clip(np.maximum(end, turn), None, window.end_s)
    start, turn = np.minimum(start, end), np.minimum(turn, end)
    lowest_s = t[np.argmin(np.where(np.arange(r.shape[1]) <= top[:, None], r, np.inf), axis=1)]
    out_m, out_s = _way_out(window, np.minimum(np.maximum(lowest_s, window.start_s), start), turn, lo, hi)
    # Out of the flat foot of the rise: the lowest range lies a quarter metre before and after it.
    foot = TOUCH_M / np.maximum(out_m / np.maximum(out_s, 1e-9), 0.3)
    start = np.maximum(start - foot, np.minimum(np.maximum(lowest_s, window.start_s), start))
    end = np.minimum(end + foot, np.maximum(window.end_s, start))
    event = WrongWay(float(start[0]), float(turn[0]), float(end[0]), float(out_m[0]))
    return Excursion(event, start, turn, end, out_m, out_s, sure)


def _bounds(r: FloatArray, t: FloatArray, floor: FloatArray, top: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Return when each draw left its lowest range and when it regained it (S,), between samples."""
    rows, cols = np.arange(len(r)), np.arange(r.shape[1])
    level = floor[rows, top][:, None] + TOUCH_M
    low = r <= level
    before = np.where(low & (cols <= top[:, None]), cols, -1).max(axis=1)
    before = np.maximum(before, 0)
    after = np.where(low & (cols >= top[:, None]), cols, r.shape[1]).min(axis=1)
    regained = after < r.shape[1]
    after = np.minimum(after, r.shape[1] - 1)
    return _crossing(r, t, level[:, 0], before, before + 1), np.where(
        regained, _crossing(r, t, level[:, 0], after - 1, after), t[-1]
    )


def _crossing(r: FloatArray, t: FloatArray, level: FloatArray, i: np.ndarray, j: np.ndarray) -> FloatArray:
    i, j = np.clip(i, 0, len(t) - 1), np.clip(j, 0, len(t) - 1)
    rows = np.arange(len(r))
    when: FloatArray = t[i] + crossing_share(r[rows, i], r[rows, j], level, flat=0.0) * (t[j] - t[i])
    return when


def _way_out(window: Window, lowest: FloatArray, turn: FloatArray, lo: int, hi: int) -> tuple[FloatArray, FloatArray]:
    """Return metres and seconds (S,) of moving with the range rising, from the lowest range to the turn.

    From the lowest itself on: who turns round sets off from rest, and the first quarter metre takes long. Rising is
    judged over half a second and more, so that jitter does not cut the way out into pieces; standing is told from the
    best estimate, as a draw jitters on the spot.
    """
    t = window.time_s[lo:hi]
    a, b = t[:-1], t[1:]
    inside = np.clip((np.minimum(b, turn[:, None]) - np.maximum(a, lowest[:, None])) / (b - a), 0.0, 1.0)
    ahead = np.searchsorted(t, b + RATE_MARGIN_S, "right") - 1
    behind = np.searchsorted(t, a - RATE_MARGIN_S, "left")
    r = window.range_m[:, lo:hi]
    rate = (r[:, ahead] - r[:, behind]) / np.maximum(t[ahead] - t[behind], 1e-9)
    steps = window.step_m()[:, lo : hi - 1]
    on_the_way = inside * (rate > RISING_MPS) * (steps[0] > MOVING_MPS * (b - a))
    metres: FloatArray = np.sum(steps * on_the_way, axis=1)
    seconds: FloatArray = np.sum((b - a) * on_the_way, axis=1)
    return metres, seconds


def seconds_spread(window: Window, events: tuple[Excursion, ...]) -> float:
    """Return the standard deviation of the seconds on the ways out that stems from the step of the path's times.

    Each way out has two ends, each placed to within one step (a step's width has a standard deviation of 0.29 of it).
    """
    step = float(np.median(np.diff(window.time_s))) if len(window.time_s) > 1 else 0.0
    return float(np.sqrt(2.0 * max(len(events), 1))) * float(np.hypot(0.29 * step, LEAST_PIECE_SPREAD_S))
