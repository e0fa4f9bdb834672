"""Files with several tracks: put in the order of time, and told apart by the window of a run."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.tracks.fixes import Fixes, TrackPart
from analyzer.files.tracks.track import subset

UNTIMED_TRACK = "in a track without times"
MOST_LISTED = 8
"""Tracks that an error names one by one; our choice, because one line has room for no more."""


def in_parts(fixes: Fixes, track: np.ndarray, titles: Sequence[str]) -> Fixes:
    """Return the fixes of several tracks one after the other in time, with `parts`; of one track as they are.

    Parameters
    ----------
    fixes : Fixes
        In the order of the file.
    track : array, shape (n,)
        Number of the track of each fix.
    titles : sequence of str
        Title of each track by its number, "" without.

    Tracks without any time are set aside and counted, where another one has times.

    Raises
    ------
    InputError
        Where tracks overlap in time: no window tells them apart.
    """
    numbers, own = np.unique(track, return_inverse=True)
    # Begin and end of each track, not finite where it has no time; one pass, for a file may hold very many tracks.
    begin_s, end_s = np.full(len(numbers), np.inf), np.full(len(numbers), -np.inf)
    np.fmin.at(begin_s, own, fixes.time_s)
    np.fmax.at(end_s, own, fixes.time_s)
    timed = np.isfinite(begin_s)
    if len(numbers) < 2 or not np.any(timed):
        return fixes
    kept = timed[own]
    without = int(np.sum(~kept))
    fixes = subset(fixes, kept)
    if without:
        fixes = replace(fixes, dropped=(*fixes.dropped, (UNTIMED_TRACK, without)))
    if np.sum(timed) < 2:
        return fixes
    parts = tuple(
        TrackPart(titles[n] if n < len(titles) else "", float(begin_s[i]), float(end_s[i]))
        for i, n in ((i, int(numbers[i])) for i in np.argsort(begin_s, kind="stable") if timed[i])
    )
    for early, late in pairwise(parts):
        if late.begin_s < early.end_s:
            raise InputError(
                where=fixes.name,
                what=f"the file holds {len(parts)} tracks, of which some were recorded at the same time: "
                f"{_listed((early, late))}",
                do="keep the track of this run and remove the others",
            )
    order = np.argsort(begin_s[own[kept]], kind="stable")
    return replace(subset(fixes, order), parts=parts)


def of_several(kept: Fixes, *, chosen: bool) -> InputError | None:
    """Return the error where fixes come from several tracks, or from one of several that nobody chose; else None.

    `chosen`: a window or marks with times of day say which part of the file the run is.
    """
    parts = kept.parts
    if len(parts) < 2:
        return None
    # One fix alone may be the last of a track that ends when the next one begins. Times run forwards by now.
    begins = np.searchsorted(kept.time_s, [p.begin_s for p in parts], side="left")
    ends = np.searchsorted(kept.time_s, [p.end_s for p in parts], side="right")
    used = int(np.sum(ends - begins > 1))
    if chosen and used < 2:
        return None
    return InputError(
        where=kept.name,
        what=f"the file holds {len(parts)} tracks, one run has one: {_listed(parts)}",
        do="put the file in once for each run, with the begin and the end of its track as window in run.toml, "
        "or remove the other tracks",
    )


def _listed(parts: Sequence[TrackPart]) -> str:
    lines = [
        f"{quoted(p.title[:40])} {clock(math.floor(p.begin_s))} to {clock(math.ceil(p.end_s))}".removeprefix("'' ")
        for p in parts
    ]
    more = f", and {len(lines) - MOST_LISTED} more" if len(lines) > MOST_LISTED else ""
    return ", ".join(lines[:MOST_LISTED]) + more


def clock(posix_s: float) -> str:
    """Return an ISO 8601 time in UTC to the second, as a window takes it."""
    return dt.datetime.fromtimestamp(posix_s, tz=dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
