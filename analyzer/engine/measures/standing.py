"""Stops.

A smooth path rounds the edges of a stop, and a draw jitters through it. So a stop is found in the best estimate by a
low speed, and its length is what is missing: the time between a walking point before and a walking point after, less
the time that the ground between them takes at the pace walked before and after. That holds for sharp and for
rounded edges alike.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import median_filter

from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import runs
from analyzer.geometry.timed_path import crossing_share
from analyzer.model.arrays import FloatArray

LEAST_STOP_S = 1.0
STOP_SPEED_MPS = 0.2  # our choice: below half of the slowest coarse pace
FLANK_S = 2.0
ROUNDING_S = 2.0
"""An edge is rounded over no more than this; a slow walk beside a stop is not part of it."""
EDGE_ROUNDED_S = 1.0
"""So far beyond half the pace a person walks as before, in a path that rounds the edges of a stop; our choice."""
DIP_SHARE, DIP_S = 0.6, 6.0
"""A stop of a second or two is a dip of the speed to so much of the pace of so many seconds on either side; ours."""
BRAKING_MPS2 = 1.3  # how hard a walker brakes and sets off, our estimate: braking is not standing


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """One stop: bounds in the best estimate, and its length in each draw (S,).

    `lost_s` (S,): what it cost, braking and setting off included; `seconds` where it is None.
    """

    from_s: float
    to_s: float
    seconds: FloatArray
    lost_s: FloatArray | None = None

    @property
    def cost_s(self) -> FloatArray:
        """What the stop cost (S,)."""
        return self.seconds if self.lost_s is None else self.lost_s

    @property
    def lost_between_s(self) -> tuple[float, float]:
        """From when to when the best estimate lost its time: about the middle of the stop."""
        middle, half = (self.from_s + self.to_s) / 2.0, float(self.cost_s[0]) / 2.0
        return middle - half, middle + half


def stops(window: Window, *, slowest_mps: float = STOP_SPEED_MPS, least_s: float = LEAST_STOP_S) -> tuple[Stop, ...]:
    """Return the stops of a phase, in order.

    Parameters
    ----------
    window : Window
    slowest_mps : float
        A stop has a moment slower than this.
    least_s : float
        Shorter ones are not counted.
    """
    found = []
    for lo, hi in _low_stretches(window, slowest_mps):
        one = _measure(window, lo, hi, slowest_mps)
        if one is not None and one.seconds[0] >= least_s:
            found.append(one)
    return _apart(found)


def unseen_s(window: Window, found: tuple[Stop, ...], *, least_s: float = LEAST_STOP_S) -> float:
    """Return the seconds that stops may have taken which the path does not show as stops.

    A recorder's noise and a smooth path hide a stop of a second or two: what is left of it is a dip of the speed, which
    a moment's hesitation leaves as well. So it is no stop; but that there was none is not known either.
    """
    t, v = window.time_s, window.speed_mps[0]
    steps = np.concatenate([np.diff(t), np.diff(t[-2:])]) if len(t) > 1 else np.ones(len(t))
    around = max(round(DIP_S / max(float(np.median(steps)), 1e-9)), 1)
    usual = median_filter(v, 2 * around + 1, mode="nearest")
    taken, total = [(s.from_s - 1.0, s.to_s + 1.0) for s in found], 0.0
    for lo, hi in runs(v < DIP_SHARE * usual):
        a, b = max(float(t[lo]), window.span.start_s), min(float(t[hi - 1]), window.span.end_s)
        if b < a or any(a < z and b > y for y, z in taken):
            continue
        one = _measure(window, a, b, STOP_SPEED_MPS)
        total += float(one.cost_s[0]) if one is not None and one.cost_s[0] >= least_s else 0.0
    return total


def _low_stretches(window: Window, slowest_mps: float) -> list[tuple[float, float]]:
    """Return the bounds, between samples, of stretches slower than the limit in the best estimate."""
    t, v = window.time_s, window.speed_mps[0]
    pairs = []
    for lo, hi in runs(v < slowest_mps):
        a = _edge(t, v, lo - 1, lo, slowest_mps) if lo > 0 else float(t[0])
        b = _edge(t, v, hi - 1, hi, slowest_mps) if hi < len(t) else float(t[-1])
        a, b = max(a, window.span.start_s), min(b, window.span.end_s)
        if b > a:
            pairs.append((a, b))
    joined: list[tuple[float, float]] = []
    for a, b in pairs:
        if joined and a - joined[-1][1] < 1.0:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    return joined


def _edge(t: FloatArray, v: FloatArray, i: int, j: int, level: float) -> float:
    return float(t[i] + crossing_share(v[i], v[j], level, flat=0.5) * (t[j] - t[i]))


def _measure(window: Window, a: float, b: float, slowest_mps: float) -> Stop | None:
    """Return the stop around the slow stretch [a, b], None where there is no walking to judge it by."""
    t, v = window.time_s, window.speed_mps[0]
    first, last = max(window.span.start_s, float(t[0])), min(window.span.end_s, float(t[-1]))
    near = (t >= a - 8.0) & (t <= b + 8.0) & (v > 2.0 * slowest_mps)
    pace = float(np.median(v[near])) if near.any() else 0.0
    if pace <= 0.0:
        return Stop(a, b, np.full(len(window.path_m), b - a))
    left, right = _half_speed(t, v, a, b, pace / 2.0)
    # Walking points lie beyond the rounding of the edges.
    w0, w1 = max(left - EDGE_ROUNDED_S, first), min(right + EDGE_ROUNDED_S, last)
    middle = (a + b) / 2.0
    before = _flank(window, w0 - FLANK_S, w0, pace)
    after = _flank(window, w1, w1 + FLANK_S, pace)
    p0, pm, p1 = window.at(w0), window.at(middle), window.at(w1)
    gone = _norm(pm - p0) / before + _norm(p1 - pm) / after
    braking = (before + after) / (2.0 * BRAKING_MPS2)
    lost = np.clip(w1 - w0 - gone, 0.0, w1 - w0)
    seconds = np.clip(lost - braking, 0.0, None)
    centre, half = (left + right) / 2.0, float(seconds[0]) / 2.0
    lo = float(np.clip(centre - half, w0, max(w1 - 2.0 * half, w0)))
    return Stop(lo, min(lo + 2.0 * half, w1), seconds, lost)


def _half_speed(t: FloatArray, v: FloatArray, a: float, b: float, level: float) -> tuple[float, float]:
    i = int(np.searchsorted(t, a, "right")) - 1
    while i > 0 and v[i] < level:
        i -= 1
    j = min(int(np.searchsorted(t, b, "left")), len(t) - 1)
    while j < len(t) - 1 and v[j] < level:
        j += 1
    left = _edge(t, v, i, i + 1, level) if v[i] >= level else float(t[0])
    right = _edge(t, v, j - 1, j, level) if v[j] >= level and j > 0 else float(t[-1])
    return max(min(left, a), a - ROUNDING_S), min(max(right, b), b + ROUNDING_S)


def _flank(window: Window, a: float, b: float, pace: float) -> FloatArray:
    """Return the pace (S,) of a draw over [a, b]; the pace of the surroundings where it was no steady walk."""
    t = window.time_s
    if a < t[0] or b > t[-1]:
        return np.full(len(window.path_m), pace)
    own = _norm(window.at(b) - window.at(a)) / (b - a)
    return np.where((own > 0.6 * pace) & (own < 1.6 * pace), own, pace)


def _norm(offset: FloatArray) -> FloatArray:
    return np.hypot(offset[..., 0], offset[..., 1])


def _apart(found: list[Stop]) -> tuple[Stop, ...]:
    """Return stops that do not overlap: a later one gives way."""
    kept: list[Stop] = []
    for one in found:
        if kept and one.from_s < kept[-1].to_s:
            if one.to_s <= kept[-1].to_s:
                continue
            one = replace(one, from_s=kept[-1].to_s)
        kept.append(one)
    return tuple(kept)
