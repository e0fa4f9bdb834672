"""Recordings that tell times of day and no date: put on the day of the drill."""

import datetime as dt
import math
from dataclasses import replace

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.point_rows import DAY_S
from analyzer.files.tracks.track import Counts

SECONDS_PER_DEGREE = 240.0
"""The sun takes four minutes from one degree of longitude to the next."""
ELAPSED = "counted from the start, put behind it"
UNDATED = "without a date, put on the drill's day"


def on_day(fixes: Fixes, day: dt.date | None, start_s: float | None = None) -> tuple[Fixes, Counts]:
    """Return fixes with a date, and how many had none: they get the day of the drill.

    Times of day are UTC, the drill's day is that of its place: the first fix comes to lie in that day by the sun there.
    Times that count from the start are put behind `start_s`, seconds since 1970 UTC.

    Raises
    ------
    InputError
        Where they have no date, and the drill has none; where they count from a start that is not known.
    """
    if fixes.dated or not len(fixes.time_s):
        return fixes, ()
    if fixes.elapsed:
        if start_s is None:
            raise InputError(
                where=fixes.name,
                what="its times count from the start of the run, and nothing says when that was",
                do="give marks.csv a start mark with a time of day, or drill.toml a start",
            )
        return replace(fixes, time_s=fixes.time_s + start_s, dated=True, elapsed=False), ((ELAPSED, len(fixes.time_s)),)
    if day is None:
        raise InputError(
            where=fixes.name,
            what="it tells times of day and no date, and drill.toml has none",
            do="write date into drill.toml, or log RMC or ZDA sentences as well",
        )
    there_s = float(fixes.time_s[0] + fixes.second[0] * SECONDS_PER_DEGREE)
    midnight_s = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp()
    shift_s = midnight_s - math.floor(there_s / DAY_S) * DAY_S
    return replace(fixes, time_s=fixes.time_s + shift_s, dated=True), ((UNDATED, len(fixes.time_s)),)
