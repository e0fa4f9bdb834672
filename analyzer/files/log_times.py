"""The times of a log: of day, or since the start mark; where the heading leaves it open, the values tell."""

import datetime as dt
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.dates import DATE
from analyzer.files.day_times import ISO_DAY, bears_date, bears_zone, clock_of, day_times, zone_of_unit
from analyzer.files.elapsed import Elapsed, elapsed_times
from analyzer.files.log_table import LogTable
from analyzer.files.log_words import DATE as DATE_COLUMN
from analyzer.files.log_words import HOURS_TOO, MINUTES_AND_SECONDS, MOMENT, OF_THE_PLACE, SECONDS
from analyzer.files.table import Row, number_with_comma

TIME, ELAPSED = "time", "elapsed"
OF_CLOCK = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2}))?(?:[.,](\d+))?", re.ASCII)
DAY_HOURS = 24
LONGEST_RUN_MIN = 120
"""No search of a drill goes on for two hours, our own choice: times so far apart are no hours and minutes."""
KEEP = "keep one: time (ISO 8601 with offset) or elapsed (seconds or mm:ss.s)"


@dataclass(frozen=True, slots=True)
class LogTimes:
    """How the times of a log are read: from these columns ("" for one that is not there), by what gives a row's."""

    time_column: str
    elapsed_column: str
    time_of_day: Callable[[Row], float]
    elapsed: Callable[[Row], Elapsed]

    def of(self, row: Row) -> tuple[float, float]:
        """Return the seconds of a row, and what else its time may mean, NaN where it means one thing.

        Raises
        ------
        InputError
            Where the row has no time, or one that cannot be read.
        """
        if row.cells.get(self.elapsed_column):
            found = self.elapsed(row)
            return found.seconds, found.other_s
        if not row.cells.get(self.time_column):
            raise InputError(where=row.where, what="the row has no time", do="write it, or remove the row")
        return self.time_of_day(row), math.nan


def time_columns(log: LogTable, rows: Sequence[Row]) -> tuple[str, str]:
    """Return the columns of times of day and of elapsed times, "" for one that there is not.

    Raises
    ------
    InputError
        Where there is none, or two of times of day, or a column may be either.
    """
    found = set(log.table.columns)
    if MOMENT not in found:
        return TIME * (TIME in found), ELAPSED * (ELAPSED in found)
    if TIME in found:
        what = f"the columns {quoted(log.heads[MOMENT])} and {quoted(log.heads[TIME])} may both be times of day"
        raise InputError(where=log.table.header, what=what, do="keep one of them")
    if ELAPSED in found or DATE_COLUMN in found:
        return MOMENT, ELAPSED * (ELAPSED in found)
    kind = _kind(log, [row for row in rows if row.cells[MOMENT]])
    return (MOMENT, "") if kind == TIME else ("", MOMENT)


def log_times(log: LogTable, rows: Sequence[Row], *, zone: dt.tzinfo | None, day: dt.date | None) -> LogTimes:
    """Return how the times of a log's rows are read; `zone`: of those that bear none, `day`: of those without a date.

    Raises
    ------
    InputError
        As `time_columns`, `day_times` and `elapsed_times`.
    """
    time, elapsed = time_columns(log, rows)
    _check_units(log, time, elapsed)
    by_day = [row for row in rows if row.cells.get(time)]
    by_elapsed = [row for row in rows if row.cells.get(elapsed)]
    return LogTimes(
        time,
        elapsed,
        day_times(by_day, time, unit=log.units.get(time, ""), zone=zone, day=day),
        elapsed_times(by_elapsed, elapsed, unit=log.units.get(elapsed, "")),
    )


def _check_units(log: LogTable, time: str, elapsed: str) -> None:
    """Raise `InputError` where a heading says something of its times that is not known here, such as minutes."""
    for column, known, do in (
        (time, HOURS_TOO | OF_THE_PLACE, "write (UTC) or an offset like (+01:00), or nothing"),
        (elapsed, SECONDS | MINUTES_AND_SECONDS | HOURS_TOO, "write (s), (mm:ss) or (h:mm:ss), or nothing"),
    ):
        unit = log.units.get(column, "")
        if unit and unit not in known and (column == elapsed or zone_of_unit(unit) is None):
            what = f"the column {quoted(log.heads[column])} is in {quoted(unit)}"
            raise InputError(where=log.table.header, what=what, do=do)


def lacks(log: LogTable, rows: Sequence[Row]) -> tuple[bool, bool]:
    """Return whether some time of day of a log bears no date, and whether some bears no offset from UTC."""
    column, _ = time_columns(log, rows)
    shown = [row for row in rows if column and row.cells[column]]
    in_heading = zone_of_unit(log.units.get(column, "")) is not None
    without_zone = not in_heading and not all(bears_zone(row, column) for row in shown)
    return not all(bears_date(row, column) for row in shown), without_zone


def _kind(log: LogTable, rows: Sequence[Row]) -> str:
    """Return which kind of times a column holds whose heading may mean either.

    Raises
    ------
    InputError
        Where nothing in it tells for certain.
    """
    told = {row.line: _of_value(row) for row in rows}
    kinds = set(told.values()) - {""}
    if len(kinds) == 1:
        return kinds.pop()
    head = log.heads[MOMENT]
    if kinds:
        odd = next(row for row in rows if told[row.line] not in ("", told[rows[0].line] or min(kinds)))
        what = f"the column {quoted(head)} holds times of day and times since the start"
        raise InputError(
            where=odd.at(MOMENT), what=what, do="keep one kind in it, or write two columns, time and elapsed"
        )
    if not rows:
        return TIME
    parts = [part for part in map(_parts, rows) if part is not None]
    if not parts:
        return TIME
    first = parts[0]
    if first == (0, 0, 0):  # a stopwatch begins there, nobody's drill at midnight to the second
        return ELAPSED
    if first[0] >= 1 and any(seconds for _, _, seconds in parts):
        return TIME
    minutes = [
        60 * second + third for hours, second, third in parts if hours == 0
    ]  # of two parts, as hours and minutes
    if all(map(_in_two_parts, rows)) and max(minutes) - min(minutes) > LONGEST_RUN_MIN:
        return ELAPSED
    raise InputError(
        where=rows[0].at(MOMENT),
        what=f"{quoted(rows[0].cells[MOMENT])} under {quoted(head)} may be a time of day or a time since the start",
        do="call the column 'time of day' (and write seconds), or 'elapsed'",
    )


def _of_value(row: Row) -> str:
    """Return which kind of time a cell certainly is, "" where it may be either."""
    value, text = row.values.get(MOMENT), row.cells[MOMENT]
    if isinstance(value, dt.datetime):
        return TIME
    if clock_of(value) is not None:
        return ""
    if isinstance(value, dt.timedelta | int | float):
        return ELAPSED
    found = OF_CLOCK.fullmatch(text)
    if found is None:
        number = _number(text)
        return ELAPSED if math.isfinite(number) else TIME * bool(ISO_DAY.match(text) or DATE.match(text) or ":" in text)
    first, _, third, part = found.groups()
    return ELAPSED if int(first) >= DAY_HOURS or (third is None and part is not None) else ""


def _in_two_parts(row: Row) -> bool:
    found = OF_CLOCK.fullmatch(row.cells[MOMENT])
    return found is not None and found.group(3) is None


def _number(text: str) -> float:
    try:
        return number_with_comma(text)
    except ValueError:
        return math.nan


def _parts(row: Row) -> tuple[int, int, float] | None:
    """Return hours, minutes and seconds of a clock, None of other texts. Two parts may be either: no hours, here."""
    value = row.values.get(MOMENT)
    clock = clock_of(value)
    if clock is not None:
        return clock.hour, clock.minute, clock.second + clock.microsecond / 1e6
    found = OF_CLOCK.fullmatch(row.cells[MOMENT])
    if found is None:
        return None
    first, second, third, _ = found.groups()
    return (0, int(first), float(second)) if third is None else (int(first), int(second), float(third))
