"""Times of day in logs: with their date, or with that of the drill; as text, or as a spreadsheet holds them."""

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.cells import Cell
from analyzer.files.dates import DATE, dates_of
from analyzer.files.log_words import DATE as DATE_COLUMN
from analyzer.files.table import Row
from analyzer.files.times import parse_utc, posix_of, zone_of

CLOCK = re.compile(
    r"(\d{1,2})(?:[:h.](\d{2})(?:[:.m'](\d{2})(?:[.,](\d{1,6}))?s?)?)?\s*(am|pm|a\.m\.|p\.m\.|uhr|h)?"
    r"\s*(z|utc|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE | re.ASCII,
)
LONGEST = 40
"""Characters of a time; a longer text is none, and costs the patterns more than its length."""
ISO_DAY = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ]\d{2}")
MIDNIGHT = dt.datetime(2000, 1, 3, tzinfo=dt.UTC)
"""Of some day."""
HALF_DAY_S = 43_200.0
WRITE = "write it like 09:30:05, or with its date and offset like 2026-01-17T09:30:05+01:00"


@dataclass(frozen=True, slots=True)
class _Clock:
    """A time of day as written; `zone` None where it bears none; `to_minute`: it has no seconds."""

    time: dt.time
    zone: dt.tzinfo | None
    to_minute: bool


def day_times(
    rows: Sequence[Row], column: str, *, unit: str, zone: dt.tzinfo | None, day: dt.date | None
) -> Callable[[Row], float]:
    """Return what gives the seconds since 1970 UTC of a row.

    Parameters
    ----------
    rows : sequence of Row
        Those that have such a time.
    column : str
        "time" or "moment".
    unit : str
        What stands in brackets in the heading: a zone, if it is one.
    zone : tzinfo or None
        Of times that bear none.
    day : date or None
        Of times without a date.

    Raises
    ------
    InputError
        Where dates may be read in two ways, or times go to the minute alone. What is wrong with one row is raised when
        it is read.
    """
    zone = zone_of_unit(unit) or zone
    local = {id(row): _split(row, column) for row in rows if _is_local(row, column)}
    dates = _dates([row for row in rows if id(row) in local], local, day)
    _check_seconds(rows, column, local)

    def read(row: Row) -> float:
        value = row.values.get(column)
        if isinstance(value, dt.datetime):
            return posix_of(value, where=row.at(column), zone=zone)
        if id(row) not in local:
            return parse_utc(row.cells[column], where=row.at(column), zone=zone)
        clock = clock_of(value)
        told = _Clock(clock, None, False) if clock is not None else _clock(local[id(row)][1], row.at(column))
        date = dates.get(id(row), day)
        if date is None:
            what = f"the time {quoted(row.cells[column])} has no date"
            raise InputError(
                where=row.at(column), what=what, do="write it like 2026-01-17T09:30:05+01:00, or date in drill.toml"
            )
        return posix_of(dt.datetime.combine(date, told.time, told.zone), where=row.at(column), zone=zone)

    return read


def clock_of(value: Cell | None) -> dt.time | None:
    """Return the time of day that a cell of a sheet holds, None where it holds something else. Spreadsheet programs
    keep one with parts of a second as a duration."""
    if isinstance(value, dt.timedelta) and dt.timedelta(0) <= value < dt.timedelta(days=1):
        return (MIDNIGHT + value).time()
    return value if isinstance(value, dt.time) else None


def bears_date(row: Row, column: str) -> bool:
    """Return whether a cell is a time with its date."""
    return isinstance(row.values.get(column), dt.datetime) or not _is_local(row, column) or bool(_split(row, column)[0])


def bears_zone(row: Row, column: str) -> bool:
    """Return whether a cell is a time with an offset from UTC."""
    text = row.cells[column]
    return re.search(r"(z|utc|[+-]\d{2}(:?\d{2})?)$", text, re.IGNORECASE) is not None and len(text) > 10


def on_following_day(times: Sequence[float], dated: Sequence[bool]) -> list[float]:
    """Return times of day counted on where they pass midnight; a small step back stays one, and so does any step back
    of a time that bears its date."""
    shift, out = 0.0, list[float]()
    for at, has_date in zip(times, dated, strict=True):
        if has_date:
            out.append(at)
            continue
        if out and at + shift < out[-1] - HALF_DAY_S:
            shift += 2 * HALF_DAY_S
        out.append(at + shift)
    return out


def clock_in(text: str) -> re.Match[str] | None:
    """Return the parts of a time of day, None where a text is none."""
    return CLOCK.fullmatch(text) if len(text) <= LONGEST else None


def zone_of_unit(unit: str) -> dt.tzinfo | None:
    """Return the zone that stands beside a time or in its heading ("UTC", "+01:00", "UTC+1"), None for other words."""
    found = re.fullmatch(r"(?:utc|gmt)?\s*(z|[+-]\d{1,2}(?::?\d{2})?)?", unit.strip().lower())
    if not unit or found is None:
        return None
    offset = found.group(1) or "z"
    if offset == "z":
        return dt.UTC
    hours, _, minutes = offset[1:].partition(":")
    return zone_of(f"{offset[0]}{int(hours[:2]):02d}:{int(minutes or hours[2:] or 0):02d}")


def _is_local(row: Row, column: str) -> bool:
    """Return whether a cell is a time as people write it, not ISO 8601 and no date of a spreadsheet."""
    value = row.values.get(column)
    return clock_of(value) is not None or (value is None and not ISO_DAY.match(row.cells[column]))


def _split(row: Row, column: str) -> tuple[str, str]:
    """Return the date of a cell, from its own text or from the column of dates, "" without one; and the rest."""
    text = row.cells[column]
    found = DATE.match(text)
    if found is not None and clock_in(text) is None:
        return found.group(), text[found.end() :].lstrip(" ,T")
    beside = row.values.get(DATE_COLUMN)
    if isinstance(beside, dt.date):  # a datetime is one too
        return beside.isoformat()[:10], text
    return row.cells.get(DATE_COLUMN, ""), text


def _dates(rows: Sequence[Row], local: Mapping[int, tuple[str, str]], day: dt.date | None) -> dict[int, dt.date]:
    dated = [row for row in rows if local[id(row)][0]]
    found = dates_of([(row.where, local[id(row)][0]) for row in dated], day) if dated else []
    return {id(row): date for row, date in zip(dated, found, strict=True)}


def _clock(text: str, where: str) -> _Clock:
    found = clock_in(text.strip())
    try:
        if found is None or found.group(2) is None:
            raise ValueError(text)
        hours, minutes, seconds, part, half, zone = found.groups()
        hour = int(hours)
        if half and half[0] in "aApP":
            if not 1 <= hour <= 12:
                raise ValueError(text)
            hour = hour % 12 + (12 if half[0] in "pP" else 0)
        micro = int((part or "0").ljust(6, "0"))
        time = dt.time(hour, int(minutes), int(seconds or 0), micro)
        offset = zone_of_unit(zone) if zone else None
        if zone and offset is None:
            raise ValueError(text)
    except ValueError:
        raise InputError(where=where, what=f"the time {quoted(text)} is not a time of day", do=WRITE) from None
    return _Clock(time, offset, seconds is None)


def _check_seconds(rows: Sequence[Row], column: str, local: Mapping[int, tuple[str, str]]) -> None:
    """Raise `InputError` where all times go to the minute alone: they place nothing, and may be minutes and seconds."""
    shown: list[bool] = []
    for row in rows:
        value = row.values.get(column)
        moment = value if isinstance(value, dt.datetime) else clock_of(value)
        if moment is not None:
            shown.append(moment.second != 0 or moment.microsecond != 0)
        elif id(row) in local and (found := clock_in(local[id(row)][1])):
            shown.append(found.group(3) is not None)
        else:
            return
    if rows and not any(shown) and (len(rows) > 1 or not rows[0].values.get(column)):
        raise InputError(
            where=rows[0].at(column),
            what=f"the times, such as {quoted(rows[0].cells[column])}, go to the minute alone",
            do="write the seconds as well, 9:30:05; times since the start belong into a column 'elapsed'",
        )
