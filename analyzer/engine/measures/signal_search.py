"""Measures of the signal search, and the ground it covered twice."""

import numpy as np

from analyzer.engine.measures.intervals import figure_of
from analyzer.engine.measures.strips_walked import left_out
from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import runs
from analyzer.geometry.polyline import cumulative_length
from analyzer.geometry.timed_path import walked_between
from analyzer.model.account import Episode
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.reference_solution import ReferenceSolution

LEAST_REPEAT_M = 10.0  # our choice: a third of a strip's length is worth a remark, a turn is not
CLOCK_SPREAD_S = 0.3


def signal_figures(window: Window, solution: ReferenceSolution) -> dict[str, Measured]:
    """Return the signal-search figures by name."""
    known = np.isfinite(window.span.end_sigma_s)
    duration: Measured = NotAssessable("without readings or a mark the first signal is not known")
    if known:
        duration = figure_of(window.end_s - window.start_s, "s", least=0.0, spread=CLOCK_SPREAD_S)
    seconds = None if solution.reference is None else solution.reference.signal_s
    why = "the drill has no area to lay ideal strips in" if known else "when the signal was found is not known"
    reference: Measured = NotAssessable(why)
    if seconds is not None:
        reference = Figure(seconds, seconds, seconds, "s")
    return {
        "covered_fraction": solution.covered_fraction,
        "overlap_fraction": solution.overlap_fraction,
        "duration_s": duration,
        "duration_reference_s": reference,
    }


def lost_stretches(window: Window, strip_width_m: float) -> tuple[Episode, ...]:
    """Return the stretches off the strip that was due, and those over ground that was covered already; disjoint."""
    repeated = repeated_ground(window, strip_width_m)
    away = left_out(window, strip_width_m)
    if away is None:
        return repeated
    metres = walked_between(window.time_s, window.path_m[0], *away)
    span = window.span
    first = Episode("off_line", span.phase, span.transmitter, *away, *away, metres)
    return (first, *(e for e in repeated if e.to_s <= away[0] or e.from_s >= away[1]))


def repeated_ground(window: Window, strip_width_m: float) -> tuple[Episode, ...]:
    """Return the stretches of a signal search over ground that was covered already.

    A place counts as covered where an earlier part of the path passed within a quarter of the strip width: along
    strips laid side by side the distance is one width, along a second pass over the same strip it is none.
    """
    inside = window.best
    t, path = window.time_s[inside], window.path_m[0, inside]
    if len(t) < 3:
        return ()
    along = cumulative_length(path)
    every = max(1, len(t) // 200)
    pick = np.arange(0, len(t), every)
    gap = np.hypot(path[pick, None, 0] - path[None, pick, 0], path[pick, None, 1] - path[None, pick, 1])
    earlier = along[pick][:, None] - along[pick][None, :] > strip_width_m
    twice = (earlier & (gap < 0.25 * strip_width_m)).any(axis=1)
    episodes = []
    for lo, hi in runs(np.asarray(twice)):
        a, b = float(t[pick[lo]]), float(t[pick[min(hi, len(pick) - 1)]])
        metres = walked_between(t, path, a, b)
        if metres >= LEAST_REPEAT_M:
            episodes.append(_episode(window, a, b, metres))
    return tuple(episodes)


def _episode(window: Window, a: float, b: float, metres: float) -> Episode:
    span = window.span
    return Episode("searching_uncovered_twice", span.phase, span.transmitter, a, b, a, b, metres)
