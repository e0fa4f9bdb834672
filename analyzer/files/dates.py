"""Dates as people write them: a date of the file or the drill's proves whether the day is first, or it is asked."""

import datetime as dt
import re
from collections.abc import Sequence

from analyzer.errors import InputError, quoted

DATE = re.compile(r"(\d{1,4})([./-])\s?(\d{1,2})\2\s?(\d{1,4})", re.ASCII)
CENTURY = 2000
"""Of a year in two digits."""
NEAR = dt.timedelta(days=1)
"""A run lies on the day of its drill, by a clock in another zone on the day before or after."""
WRITE = "write it like 2026-01-17"


def dates_of(texts: Sequence[tuple[str, str]], day: dt.date | None) -> list[dt.date]:
    """Return the dates of texts, read in one order throughout.

    Parameters
    ----------
    texts : sequence of (str, str)
        Where each stands, and what it is.
    day : date or None
        That of the drill.

    Raises
    ------
    InputError
        Where a text is no date, or both orders are possible and nothing tells which.
    """
    for where, text in texts:
        if _date(text, day_first=True) is None and _date(text, day_first=False) is None:
            raise InputError(where=where, what=f"{quoted(text)} is not a date", do=WRITE)
    orders = [[_date(text, day_first=first) for _, text in texts] for first in (True, False)]
    possible = [[date for date in order if date is not None] for order in orders if None not in order]
    if not possible:
        where, text = next(t for t, a, b in zip(texts, *orders, strict=True) if a is None or b is None)
        what = f"the date {quoted(text)} has the day and the month in another order than other rows"
        raise InputError(where=where, what=what, do=WRITE)
    if len(possible) == 1 or possible[0] == possible[1]:
        return possible[0]
    near = [order for order in possible if day is not None and all(abs(date - day) <= NEAR for date in order)]
    if len(near) == 1:
        return near[0]
    where, text = next(t for t, a, b in zip(texts, *orders, strict=True) if a != b)
    what = f"the date {quoted(text)} may be {possible[0][0]:%d %B} or {possible[1][0]:%d %B}"
    raise InputError(where=where, what=what, do=WRITE)


def _date(text: str, *, day_first: bool) -> dt.date | None:
    """Return the date of a text, None where it is none in that order; where dots separate, the day is always first."""
    found = DATE.fullmatch(text)
    if found is None:
        return None
    first, mark, second, third = found.groups()
    if len(first) == 4:
        parts = (first, second, third)
    elif len(first) > 2 or len(third) not in (2, 4) or (mark == "." and not day_first):
        return None
    else:
        parts = (third, second, first) if day_first else (third, first, second)
    year = int(parts[0]) + (CENTURY if len(parts[0]) == 2 else 0)
    try:
        return dt.date(year, int(parts[1]), int(parts[2]))
    except ValueError:
        return None
