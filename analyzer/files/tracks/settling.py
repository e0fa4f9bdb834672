"""Receivers that have not settled, or stand still in the file while the searcher walks."""

from itertools import pairwise

import numpy as np

from analyzer.files.tracks.fixes import METRES_PER_DEGREE, Fixes
from analyzer.model.arrays import FloatArray

BEFORE_SETTLED = "before the receiver had settled, over 100 m away"
SETTLES_WITHIN_S = 120.0
"""A receiver that was switched on outdoors has its place within two minutes; our own choice."""
JUMP_M, JUMP_MPS = 100.0, 30.0
"""A step over both is no walk and no run on skis: our own choice, far above what anybody does in a drill."""
MOST_UNSETTLED_SHARE = 0.2
"""Where more lies before a jump it is no beginning, and nothing is set aside; our own choice."""
MOVES_MPS = 15.0
"""In a recording whose usual speed is above, steps tell nothing: it is of a vehicle or a flight."""
HELD_S = 60.0
"""From so long on a place that stays the same to the last digit is told: our own choice. Who probes stands as long."""


PAUSE_S = 10.0
"""Fixes farther apart are a pause of the recorder, which is no place held; our own choice."""


def unsettled(fixes: Fixes) -> np.ndarray:
    """Return which fixes, shape (n,), lie before a jump at the beginning, of fixes whose times run forwards.

    They are a jump away from where the track goes on. Single fixes that leap out and back later are none of them: those
    are weighed with the others.
    """
    none = np.zeros(len(fixes.time_s), bool)
    on_earth = not fixes.geographic or bool(np.all((np.abs(fixes.first) <= 90.0) & (np.abs(fixes.second) <= 180.0)))
    if len(none) <= 2 or not on_earth:  # nothing follows that stays, or an error that is told by its point
        return none
    step_m, step_s = _steps(fixes), np.diff(fixes.time_s)
    if not np.median(step_m / step_s) < MOVES_MPS:
        return none
    early = fixes.time_s[1:] <= fixes.time_s[0] + SETTLES_WITHIN_S
    edges = np.flatnonzero(early & (step_m > JUMP_M)) + 1
    out = none.copy()
    for begin, end in pairwise([0, *edges.tolist()]):
        gap_m = _apart(fixes, end - 1, edges[-1])
        if gap_m <= max(JUMP_M, JUMP_MPS * (fixes.time_s[edges[-1]] - fixes.time_s[end - 1])):
            break
        out[begin:end] = True
    return out if np.mean(out) <= MOST_UNSETTLED_SHARE else none


def held_s(fixes: Fixes) -> float:
    """Return the longest time in which the place of fixes, whose times run forwards, stays the same to the last digit,
    seconds; 0 for a track that never moves."""
    still = (np.diff(fixes.first) == 0.0) & (np.diff(fixes.second) == 0.0)
    if np.all(still):
        return 0.0
    same = still & (np.diff(fixes.time_s) <= PAUSE_S)
    group = np.concatenate([[0], np.cumsum(~same)])
    begins = np.flatnonzero(np.concatenate([[True], ~same]))
    ends = np.concatenate([begins[1:], [len(group)]]) - 1
    return float(np.max(fixes.time_s[ends] - fixes.time_s[begins]))


def _steps(fixes: Fixes) -> FloatArray:
    return np.asarray(np.hypot(*_scaled(fixes, np.diff(fixes.first), np.diff(fixes.second), fixes.first[1:])))


def _apart(fixes: Fixes, a: int, b: int) -> float:
    first, second = fixes.first[b] - fixes.first[a], fixes.second[b] - fixes.second[a]
    return float(np.hypot(*_scaled(fixes, first, second, fixes.first[a])))


def _scaled(fixes: Fixes, first: FloatArray, second: FloatArray, latitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return differences of coordinates in metres."""
    if not fixes.geographic:
        return first, second
    return first * METRES_PER_DEGREE, second * METRES_PER_DEGREE * np.cos(np.radians(latitude))
