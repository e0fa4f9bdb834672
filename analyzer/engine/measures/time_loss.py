"""What the time of a phase was spent on beyond the reference searcher's, as episodes.

Of a stretch that took tau seconds and w metres for a progress that takes the reference searcher P seconds and s
metres, the excess tau - P splits exactly into the time for the extra metres at the searcher's own pace and the time
that the ideal metres took beyond the reference's pace:

    tau - P = (w - s) tau / w  +  (s tau / w - P)
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.coarse_search import BESIDE_M, offsets_draws
from analyzer.engine.measures.line import Progress
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import Excursion, runs
from analyzer.geometry.timed_path import walked_between
from analyzer.model.account import Episode
from analyzer.model.arrays import FloatArray

LEAST_SLICE_S = 1.0
"""Smaller excesses stay on the reference: they would make the account unreadable and blame noise."""
PACE_BORDER_M = 10.0
RECORDED_SHARE = 0.8
"""Less of a stretch on record is too little to say what was done in it; our choice."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch and its two excesses in seconds, either may be 0."""

    from_s: float
    to_s: float
    detour_s: float
    slow_s: float
    detour_at_s: float


def split_excess(spent_s: float, walked_m: float, reference_s: float, reference_m: float) -> tuple[float, float]:
    """Return the seconds of an excess that went into extra metres, and into a slower pace; both 0 or more."""
    excess = spent_s - reference_s
    if excess <= 0.0 or walked_m <= 0.0:
        return 0.0, max(excess, 0.0)
    extra = float(np.clip((walked_m - reference_m) * spent_s / walked_m, 0.0, excess))
    return extra, excess - extra


def gaps(from_s: float, to_s: float, taken: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the parts of [from_s, to_s] outside the taken intervals, in order."""
    free, at = [], from_s
    for a, b in sorted(taken):
        if a > at:
            free.append((at, min(a, to_s)))
        at = max(at, b)
    if at < to_s:
        free.append((at, to_s))
    return [(a, b) for a, b in free if b - a > 1e-9]


def recorded(from_s: float, to_s: float, holes: Sequence[tuple[float, float]]) -> bool:
    """Return whether most of a stretch of time lies outside the holes of a recording."""
    return sum(b - a for a, b in gaps(from_s, to_s, holes)) > RECORDED_SHARE * (to_s - from_s)


def marked(window: Window, events: Sequence[Excursion], stops: Sequence[Stop]) -> list[Episode]:
    """Return the episodes of wrong ways and of stops outside them."""
    span, episodes = window.span, []
    for one in events:
        a, b = max(one.event.from_s, span.start_s), min(one.event.to_s, span.end_s)
        if b > a:
            episodes.append(_episode(window, "wrong_way", a, b, (a, b), sure=one.sure))
    taken = [(e.from_s, e.to_s) for e in episodes]
    for stop in stops:
        for a, b in gaps(max(stop.from_s, span.start_s), min(stop.to_s, span.end_s), taken):
            if b - a >= 0.5:
                episodes.append(_episode(window, "standing", a, b, (a, b)))
    return sorted(episodes, key=lambda e: e.from_s)


def coarse_episodes(
    window: Window,
    progress: Progress | None,
    line_m: FloatArray | None,
    events: Sequence[Excursion],
    stops: Sequence[Stop],
) -> tuple[Episode, ...]:
    """Return the episodes of a coarse search, disjoint, in order."""
    episodes = marked(window, events, stops)
    if progress is None or np.isnan(window.range_m[0]).any():
        return tuple(episodes)
    free = gaps(window.span.start_s, window.span.end_s, [(e.from_s, e.to_s) for e in episodes])
    for stretch in _coarse_stretches(window, progress, line_m, free):
        episodes += _slices(window, stretch, "off_line")
    return tuple(sorted(episodes, key=lambda e: e.from_s))


def _coarse_stretches(
    window: Window, progress: Progress, line_m: FloatArray | None, free: Sequence[tuple[float, float]]
) -> list[Stretch]:
    t, path = window.time_s, window.path_m[0]
    inside = window.best
    lowest = window.range_m[0].copy()
    lowest[: inside.start] = lowest[inside.start] if inside.start < len(t) else lowest[-1]
    lowest = np.minimum.accumulate(lowest)
    off = np.zeros(len(t)) if line_m is None or len(line_m) < 2 else offsets_draws(window, line_m)[0]
    stretches = []
    for a, b in _pieces(t, lowest, off, free):
        at = np.interp([a, b], t, lowest)
        walked = walked_between(t, path, a, b)
        (s,), (p,) = np.diff(progress.metres(at)), np.diff(progress.seconds(at))
        extra, slow = split_excess(b - a, walked, float(p), float(s))
        near = (t >= a) & (t <= b)
        widest = float(t[near][np.argmax(off[near])]) if near.any() else (a + b) / 2.0
        stretches.append(Stretch(a, b, extra, slow, widest))
    return stretches


def _pieces(
    t: FloatArray, lowest: FloatArray, off: FloatArray, free: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Cut the free time where the searcher left or met the line, and where the range fell to the pace border."""
    cuts = [float(t[k]) for lo, hi in runs(off > BESIDE_M) for k in (lo, min(hi, len(t) - 1))]
    below = np.flatnonzero(lowest <= PACE_BORDER_M)
    if len(below):
        cuts.append(float(t[below[0]]))
    pieces = []
    for a, b in free:
        at = a
        for cut in sorted(cuts):
            if cut - at >= 4.0 and b - cut >= 4.0:
                pieces.append((at, cut))
                at = cut
        pieces.append((at, b))
    return pieces


def _slices(window: Window, stretch: Stretch, detour_cause: str) -> list[Episode]:
    """Place the excess seconds of a stretch: the detour about its widest point, the slow part at the end."""
    found, a, b = [], stretch.from_s, stretch.to_s
    detour = stretch.detour_s if stretch.detour_s >= LEAST_SLICE_S else 0.0
    slow = stretch.slow_s if stretch.slow_s >= LEAST_SLICE_S else 0.0
    if slow > 0.0:
        found.append(_episode(window, "slow_pace", b - slow, b, (a, b)))
    if detour > 0.0:
        room = b - slow
        start = float(np.clip(stretch.detour_at_s - detour / 2.0, a, max(room - detour, a)))
        found.append(_episode(window, detour_cause, start, min(start + detour, room), (a, b)))
    return found


def _episode(
    window: Window, cause: str, a: float, b: float, look: tuple[float, float], *, sure: float = 1.0
) -> Episode:
    metres = walked_between(window.time_s, window.path_m[0], a, b)
    return Episode(cause, window.span.phase, window.span.transmitter, a, b, look[0], look[1], metres, sure)


def plain_episodes(
    window: Window,
    stops: Sequence[Stop],
    taken: Sequence[Episode],
    *,
    reference_s: float | None,
    reference_m: float | None,
    extra_cause: str,
    pace_mps: float | None = None,
) -> tuple[Episode, ...]:
    """Return the episodes of a phase that is judged as a whole: signal search, fine search, pinpoint.

    Parameters
    ----------
    window : Window
    stops : sequence of Stop
    taken : sequence of Episode
        Already explained.
    reference_s, reference_m : float or None
        What the reference searcher spends and walks; None: only the pace is judged.
    extra_cause : str
        Cause of the time for metres beyond the reference's.
    pace_mps : float or None
        Reference pace, where there is no reference time.
    """
    episodes = list(taken)
    busy = [(e.from_s, e.to_s) for e in episodes]
    for stop in stops:
        for a, b in gaps(max(stop.from_s, window.span.start_s), min(stop.to_s, window.span.end_s), busy):
            if b - a >= 0.5:
                episodes.append(_episode(window, "standing", a, b, (a, b)))
    free = gaps(window.span.start_s, window.span.end_s, [(e.from_s, e.to_s) for e in episodes])
    spent = sum(b - a for a, b in free)
    walked = sum(walked_between(window.time_s, window.path_m[0], a, b) for a, b in free)
    if reference_s is None or reference_m is None:
        if pace_mps is None or pace_mps <= 0.0:
            return tuple(sorted(episodes, key=lambda e: e.from_s))
        reference_m, reference_s = walked, walked / pace_mps
    extra, slow = split_excess(spent, walked, reference_s, reference_m)
    episodes += _from_the_end(window, free, [("slow_pace", slow), (extra_cause, extra)])
    return tuple(sorted(episodes, key=lambda e: e.from_s))


def _from_the_end(
    window: Window, free: Sequence[tuple[float, float]], parts: Sequence[tuple[str, float]]
) -> list[Episode]:
    """Lay excess seconds into the free time, last part last, without touching what is explained."""
    found, left = [], list(free)
    span = (window.span.start_s, window.span.end_s)
    for cause, seconds in reversed(parts):
        if seconds < LEAST_SLICE_S:
            continue
        while seconds > 1e-9 and left:
            a, b = left.pop()
            start = max(b - seconds, a)
            found.append(_episode(window, cause, start, b, span))
            seconds -= b - start
            if start > a:
                left.append((a, start))
    return found
