"""Habits of recorders: positions that mean "none", clocks that were not set, and a few stamps that run back."""

from bisect import bisect_right

import numpy as np

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.years import END_RECORDED_S, FIRST_RECORDED_S
from analyzer.model.arrays import FloatArray

NO_FIX = "no fix (0, 0)"
PAUSE = "at a pause, without a position"
BACKWARDS = "a time that runs back"
PAUSE_LATITUDES = (100.0, 200.0)
"""Phone recorders write a pause as a point at one of these latitudes and longitude 0: seen in real exports."""
MAX_BACKWARD_SHARE = 0.05
"""Fewer stamps that run back are set aside: our choice, because receivers repeat or swap single sentences, while a
second recording or a clock that was set runs back for longer."""


def placeless(fixes: Fixes) -> dict[str, np.ndarray]:
    """Return, by reason, which fixes hold no position although they have the shape of one; arrays of shape (n,)."""
    if not fixes.geographic:
        return {}
    return {
        NO_FIX: (fixes.first == 0.0) & (fixes.second == 0.0),
        PAUSE: np.isin(fixes.first, PAUSE_LATITUDES) & (fixes.second == 0.0),
    }


def clock_was_set(fixes: Fixes) -> None:
    """Raise `InputError` where most times with a date lie in years in which nobody recorded a track."""
    if not fixes.dated:
        return
    odd = (fixes.time_s < FIRST_RECORDED_S) | (fixes.time_s >= END_RECORDED_S)
    if np.sum(odd) <= 0.5 * np.sum(np.isfinite(fixes.time_s)):
        return
    at = int(np.argmax(odd))
    year = 1970.0 + fixes.time_s[at] / (365.2425 * 86_400.0)
    raise InputError(
        where=fixes.where(at),
        what=f"the time lies in the year {int(year)}: the recorder's clock was not set when it began",
        do="wait for a fix before the start next time; export this recording again from the app that knows its day",
    )


def forward(time_s: FloatArray) -> np.ndarray:
    """Return which of finite times, shape (n,), form the longest run that never goes back; O(n log n)."""
    if len(time_s) < 2 or np.all(np.diff(time_s) >= 0.0):
        return np.ones(len(time_s), bool)
    ends: list[float] = []  # the smallest last time of a run of each length
    last: list[int] = []
    before = np.full(len(time_s), -1)
    for i, value in enumerate(time_s.tolist()):
        at = bisect_right(ends, value)
        before[i] = last[at - 1] if at else -1
        ends[at : at + 1] = [value]
        last[at : at + 1] = [i]
    keep = np.zeros(len(time_s), bool)
    i = last[-1]
    while i >= 0:
        keep[i] = True
        i = int(before[i])
    return keep
