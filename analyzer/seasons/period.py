"""Which runs are one season: by date. Six winters together hide what each of them changed."""

import datetime as dt
from collections.abc import Iterable, Sequence

from analyzer.errors import InputError
from analyzer.model.run_line import RunLine
from analyzer.seasons.model import Period

WINTER_BEGINS = (10, 1)
"""Month and day. Our choice: before the first snow in the north. Elsewhere, and for part of a winter, give bounds."""
FIRST_DAY, LAST_DAY = dt.date(1, 1, 1), dt.date(9999, 12, 31)


ALL_TIME = Period(FIRST_DAY, LAST_DAY, "all runs")


def day_of(line: RunLine) -> dt.date:
    """Return the day (UTC) on which a run began."""
    return dt.date.fromisoformat(line.time_zero[:10])


def winter_of(day: dt.date) -> Period:
    """Return the winter that a day belongs to, from one October to the end of the next September."""
    year = day.year - (day < dt.date(day.year, *WINTER_BEGINS))
    last = dt.date(year + 1, *WINTER_BEGINS) - dt.timedelta(days=1)
    return Period(dt.date(year, *WINTER_BEGINS), last, f"{year}/{(year + 1) % 100:02d}")


def winters_of(lines: Iterable[RunLine]) -> tuple[Period, ...]:
    """Return the winters that have runs, the newest first."""
    found = {winter_of(day) for day in {day_of(line) for line in lines}}
    return tuple(sorted(found, key=lambda period: period.first, reverse=True))


def chosen_period(lines: Sequence[RunLine], first: str = "", last: str = "") -> Period:
    """Return the season that is asked for: the newest run's winter, or what lies between bounds.

    Parameters
    ----------
    lines : sequence of RunLine
        All runs that are known.
    first, last : str
        ISO dates, "2026-01-15"; one of them left out is no bound on that side, both left out the newest run's winter.

    Raises
    ------
    InputError
        Where a bound is not a date, or the last day lies before the first.
    """
    if not first and not last:
        winters = winters_of(lines)
        return winters[0] if winters else ALL_TIME
    begin = _date("--from", first) if first else FIRST_DAY
    end = _date("--to", last) if last else LAST_DAY
    if end < begin:
        raise InputError(where=f"--to {last}", what=f"this is before --from {first}", do="give the earlier day first")
    same = next((w for w in winters_of(lines) if (w.first, w.last) == (begin, end)), None)
    words = " ".join(word for word in (first and f"from {first}", last and f"to {last}") if word)
    return same or Period(begin, end, words)


def within(lines: Iterable[RunLine], period: Period) -> tuple[RunLine, ...]:
    """Return the runs of a season."""
    return tuple(line for line in lines if period.first <= day_of(line) <= period.last)


def _date(option: str, text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(where=f"{option} {text}", what="this is not a day", do="write it as 2026-01-15") from None
