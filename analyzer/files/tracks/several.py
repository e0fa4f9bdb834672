"""Files with several tracks: put in the order of time, and told apart by the window of a run."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyzer.errors import InputError
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
    numbers = np.unique(track)
    timed = [n for n in numbers if np.any(np.isfinite(fixes.time_s[track == n]))]
    if len(numbers) < 2 or not timed:
        return fixes
    kept = np.isin(track, timed)
    without = int(np.sum(~kept))
    fixes, track = subset(fixes, kept), track[kept]
    if without:
        fixes = replace(fixes, dropped=(*fixes.dropped, (UNTIMED_TRACK, without)))
    if len(timed) < 2:
        return fixes
    spans = sorted((_span(fixes.time_s[track == n]), int(n)) for n in timed)
    parts = tuple(TrackPart(titles[n] if n < len(titles) else "", *span) for span, n in spans)
    for early, late in pairwise(parts):
        if late.begin_s < early.end_s:
            raise InputError(
                where=fixes.name,
                what=f"the file holds {len(parts)} tracks, of which some were recorded at the same time: "
                f"{_listed((early, late))}",
                do="keep the track of this run and remove the others",
            )
    order = np.concatenate([np.flatnonzero(track == n) for _, n in spans])
    return replace(subset(fixes, order), parts=parts)


def of_several(kept: Fixes, *, chosen: bool) -> InputError | None:
    """Return the error where fixes come from several tracks, or from one of several that nobody chose; else None.

    `chosen`: a window or marks with times of day say which part of the file the run is.
    """
    parts = kept.parts
    if len(parts) < 2:
        return None
    # One fix alone may be the last of a track that ends when the next one begins.
    used = [p for p in parts if np.sum((kept.time_s >= p.begin_s) & (kept.time_s <= p.end_s)) > 1]
    if chosen and len(used) < 2:
        return None
    return InputError(
        where=kept.name,
        what=f"the file holds {len(parts)} tracks, one run has one: {_listed(parts)}",
        do="put the file in once for each run, with the begin and the end of its track as window in run.toml, "
        "or remove the other tracks",
    )


def _span(time_s: np.ndarray) -> tuple[float, float]:
    return float(np.nanmin(time_s)), float(np.nanmax(time_s))


def _listed(parts: Sequence[TrackPart]) -> str:
    lines = [
        f"{p.title[:40]!r} {clock(math.floor(p.begin_s))} to {clock(math.ceil(p.end_s))}".removeprefix("'' ")
        for p in parts
    ]
    more = f", and {len(lines) - MOST_LISTED} more" if len(lines) > MOST_LISTED else ""
    return ", ".join(lines[:MOST_LISTED]) + more


def clock(posix_s: float) -> str:
    """Return an ISO 8601 time in UTC to the second, as a window takes it."""
    return dt.datetime.fromtimestamp(posix_s, tz=dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
