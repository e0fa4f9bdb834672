"""Times since the start mark in logs: seconds, minutes and seconds; and cells of which nobody can tell for certain.

A spreadsheet takes 6:04 for six hours and four minutes and keeps it so; and 6.04 may be seconds, or minutes and
seconds. Such cells have both values here. What the run lasted decides between them, or a person is asked.
"""

import datetime as dt
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.log_words import HOURS_TOO, MINUTES_AND_SECONDS, SECONDS
from analyzer.files.table import DECIMAL_COMMA, Row
from analyzer.files.times import parse_elapsed

LONG = re.compile(r"(\d{1,4}):(\d{1,2}):(\d{1,2})(?:\.0+)?", re.ASCII)
TWO_PARTS = re.compile(r"(\d{1,3})(?:[.](\d{1,2}))?", re.ASCII)
MINUTE = 60
FEW_DECIMALS = 4
"""A part of a day has more decimals than anybody writes for seconds."""


@dataclass(frozen=True, slots=True)
class Elapsed:
    """Seconds since the start mark as written, and what else the same cell may mean; NaN where it means one thing."""

    seconds: float
    other_s: float = math.nan


def elapsed_times(rows: Sequence[Row], column: str, *, unit: str) -> Callable[[Row], Elapsed]:
    """Return what gives the elapsed time of a row.

    Parameters
    ----------
    rows : sequence of Row
        Those that have such a time.
    column : str
        "elapsed" or "moment".
    unit : str
        What the heading says: seconds, or minutes and seconds; "" where it says nothing.

    Raises
    ------
    InputError
        Where all times are parts of a day. What is wrong with one row is raised when it is read.
    """
    texts = [_text(row, column) for row in rows]
    _check_parts_of_day(rows, column, texts)
    minutes = unit in MINUTES_AND_SECONDS
    open_unit = unit not in SECONDS | HOURS_TOO | MINUTES_AND_SECONDS
    long = [found for found in map(LONG.fullmatch, texts) if found]
    to_minute = bool(long) and all(int(found.group(3)) == 0 for found in long) and any(int(f.group(1)) for f in long)
    two_parts = minutes or (open_unit and _may_be_minutes(texts))

    def read(row: Row) -> Elapsed:
        value, text = row.values.get(column), _text(row, column)
        if isinstance(value, dt.date | bool):
            what = f"{quoted(row.cells[column])} is no time since the start"
            raise InputError(where=row.at(column), what=what, do="write 6:04, or seconds; a time of day as 'time'")
        found = LONG.fullmatch(text)
        seconds = parse_elapsed(text, where=row.at(column))
        if found and to_minute:
            other = float(int(found.group(1)) * MINUTE + int(found.group(2)))
        elif found is None and two_parts and ":" not in text:
            if not _may_be_minutes([text, "0.00"]):
                what = f"{quoted(row.cells[column])} is no time in minutes and seconds, as the heading says"
                raise InputError(where=row.at(column), what=what, do="write it like 6:04")
            other = _as_minutes(text)
        else:
            return Elapsed(seconds)
        if minutes or other == seconds:
            return Elapsed(other)
        return Elapsed(seconds, other if unit not in HOURS_TOO else math.nan)

    return read


def _text(row: Row, column: str) -> str:
    text = row.cells[column]
    comma = DECIMAL_COMMA.fullmatch(text) or ("," in text and ":" in text)
    return text.replace(",", ".", 1) if comma else text


def _may_be_minutes(texts: Sequence[str]) -> bool:
    """Return whether all numbers among texts may be minutes and seconds with a point between: each part is below 60,
    and at least one number has both digits after it."""
    numbers = [text for text in texts if text and ":" not in text]
    found = [TWO_PARTS.fullmatch(text) for text in numbers]
    if not all(found):
        return False
    parts = [(int(f.group(1)), f.group(2) or "") for f in found if f]
    fits = all(whole < MINUTE and int(part.ljust(2, "0") or 0) < MINUTE for whole, part in parts)
    return fits and any(len(part) == 2 for _, part in parts)


def _as_minutes(text: str) -> float:
    whole, _, part = text.partition(".")
    return float(int(whole) * MINUTE + int(part.ljust(2, "0") or 0))


def _check_parts_of_day(rows: Sequence[Row], column: str, texts: Sequence[str]) -> None:
    """Raise `InputError` where all times lie below 1 and have many decimals, as times of a spreadsheet that have lost
    their form."""
    decimals = [len(text.partition(".")[2]) for text in texts]
    below = [text for text in texts if re.fullmatch(r"0?\.\d+|0", text)]
    if len(texts) > 1 and len(below) == len(texts) and max(decimals) > FEW_DECIMALS:
        raise InputError(
            where=rows[-1].at(column),
            what=f"the elapsed times, up to {quoted(texts[-1])}, are parts of a day",
            do="give the column the form of a time, [m]:ss, or write seconds",
        )
