"""The years in which times of files may lie; one place says them for all readers."""

import datetime as dt

FIRST_YEAR, LAST_YEAR = 1970, 2199
"""Years that are read at all; our own choice: recorders without a clock begin in 1970, and all zones can be computed up
to the end."""
FIRST_RECORDED, LAST_RECORDED = 1980, 2079
"""Years in which a track was recorded: there was no satellite positioning before, and the two digits that receivers
write for a year hold just these hundred. Clocks that were not set, and counters that overflow, show 1901 or 2099."""


def year_s(year: int) -> float:
    """Return the seconds from 1970 UTC to when a year begins."""
    return dt.datetime(year, 1, 1, tzinfo=dt.UTC).timestamp()


FIRST_S, END_S = year_s(FIRST_YEAR), year_s(LAST_YEAR + 1)
FIRST_RECORDED_S, END_RECORDED_S = year_s(FIRST_RECORDED), year_s(LAST_RECORDED + 1)
