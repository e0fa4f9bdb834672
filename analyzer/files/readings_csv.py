"""Reading logs (readings.csv, .txt, .xlsx, .ods): the distance figures that the receiver showed."""

import datetime as dt
import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.errors import InputError, quoted
from analyzer.files.cells import CellTable, tables_of
from analyzer.files.day_times import bears_date, on_following_day
from analyzer.files.log_table import LogTable, log_table, own_sheet
from analyzer.files.log_times import KEEP, LogTimes, lacks, log_times, time_columns
from analyzer.files.log_words import (
    DATE,
    DEGREES,
    MARK,
    MARK_COLUMNS,
    METRES,
    MOMENT,
    READING,
    READING_COLUMNS,
    shows_nothing,
)
from analyzer.files.names import READINGS_FILE
from analyzer.files.table import Row, raise_all

COLUMNS = ("time", "elapsed", *READING_COLUMNS)
READ = (*COLUMNS, MOMENT, DATE)
"""Columns that are read; others are set aside and counted."""
MAX_READING_M = 150.0
"""Our own limit, three times the range of a strong signal: beyond it a figure is a slip of the pen."""
WITH_UNIT = re.compile(r"(.*?)\s*(cm|m|metres?|meters?|mètres?|metri)\.?", re.IGNORECASE | re.DOTALL)
ARROWS = " \u2190\u2191\u2192\u2193\u2196\u2197\u2198\u2199\u25b2\u25ba\u25bc\u25c4\u2b05\u2b06\u2b07\u27a1\ufe0f"
CM_PER_M = 100.0
LONGEST = 40
"""Characters of a reading with its unit; a longer text is none."""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading as written. `time_s`: since 1970 UTC, or since the start mark where the log is `elapsed`; `other_s`:
    what else the same time may mean, NaN where it means one thing."""

    where: str
    time_s: float
    reading_m: float
    transmitter: str | None
    steer_deg: float
    heading_deg: float
    other_s: float = math.nan


@dataclass(frozen=True, slots=True)
class ReadingLog:
    """A checked log in time order; `rows` counts all rows, `dropped` those set aside, and other cells, by reason."""

    name: str
    elapsed: bool
    readings: tuple[ReadingRow, ...]
    rows: int
    dropped: tuple[tuple[str, int], ...] = ()


def parse_readings_csv(
    data: bytes,
    *,
    name: str = READINGS_FILE,
    zone: dt.tzinfo | None = None,
    day: dt.date | None = None,
    sheet: str = "",
) -> ReadingLog:
    """Return the checked readings, of a workbook those of `sheet`, "" for the only log in it; see `readings_of`."""
    return readings_of(own_sheet(tables_of(data, name=name), sheet), zone=zone, day=day)


def readings_of(tables: Sequence[CellTable], *, zone: dt.tzinfo | None, day: dt.date | None) -> ReadingLog:
    """Return the checked readings of a file; rows without a figure are set aside and counted.

    Parameters
    ----------
    tables : sequence of CellTable
        Of the file.
    zone : tzinfo or None
        Of times of day that bear no offset.
    day : date or None
        Of times of day that bear no date.

    Raises
    ------
    InputError
        Where a column is missing, a figure is absurd, or times run backwards; every such line is named.
    """
    log, shown = _log(tables)
    table = log.table
    times = log_times(log, shown, zone=zone, day=day)
    factor = _metres_in(log)
    chosen = {row.line for row in shown}
    rows = table.read(lambda row: _reading(row, times, factor) if row.line in chosen else None)
    readings = tuple(row for row in rows if row is not None)
    if not readings:
        raise InputError(where=table.name, what="no row has a reading", do="export it again, or remove it")
    elapsed = bool(times.elapsed_column)
    if not elapsed:
        column = times.time_column
        dated = [bears_date(line, column) for line, row in zip(table.rows, rows, strict=True) if row is not None]
        readings = _over_midnight(readings, dated)
    _check_order(table.name, readings)
    without = sum(row.line not in chosen and not row.cells.get(MARK) for row in table.rows)
    return ReadingLog(
        name=table.name,
        elapsed=elapsed,
        readings=readings,
        rows=len(table.rows),
        dropped=((("no reading in the row", without),) if without else ()) + log.aside,
    )


def reading_log_lacks(tables: Sequence[CellTable]) -> tuple[bool, bool]:
    """Return whether some time of day of a reading log bears no date, and whether some bears no offset from UTC.

    Raises
    ------
    InputError
        Where it is no reading log, or its times cannot be told.
    """
    log, shown = _log(tables)
    return lacks(log, shown)


def _log(tables: Sequence[CellTable]) -> tuple[LogTable, list[Row]]:
    """Return the log among tables, and its rows with a reading."""
    log = log_table(tables, READING, READ, beside=(MARK, MARK_COLUMNS), own_name="readings")
    log.table.need(READING)
    log.table.check_decimals(READING)
    shown = [row for row in log.table.rows if not shows_nothing(row.cells[READING])]
    time, elapsed = time_columns(log, shown)
    if bool(time) == bool(elapsed):
        what = "the table has both 'time' and 'elapsed'" if time else "the column 'time' or 'elapsed' is missing"
        raise InputError(where=log.table.header, what=what, do=KEEP)
    return log, shown


def _metres_in(log: LogTable) -> float:
    """Return the metres of one unit of the column of readings, and check the units of the others."""
    unit = log.units.get(READING, "m")
    for column in ("steer_deg", "heading_deg"):
        if log.units.get(column, "deg") not in DEGREES:
            what = f"the column {quoted(log.heads[column])} is not in degrees"
            raise InputError(where=log.table.header, what=what, do="write degrees, or give it another name")
    if unit not in METRES and unit != "cm":
        what = f"the column {quoted(log.heads[READING])} is in {quoted(unit)}"
        raise InputError(where=log.table.header, what=what, do="write metres, and (m) in the heading")
    return 1.0 / CM_PER_M if unit == "cm" else 1.0


def _over_midnight(readings: tuple[ReadingRow, ...], dated: Sequence[bool]) -> tuple[ReadingRow, ...]:
    times = on_following_day([row.time_s for row in readings], dated)
    return tuple(
        row if row.time_s == time_s else replace(row, time_s=time_s)
        for row, time_s in zip(readings, times, strict=True)
    )


def _check_order(name: str, readings: Sequence[ReadingRow]) -> None:
    """Raise `FileError` with each row whose time lies before that of the row above it."""
    back = [
        InputError(
            where=after.where,
            what=f"the time runs back by {before.time_s - after.time_s:g} s",
            do="put the rows in the order in which they happened",
        )
        for before, after in itertools.pairwise(readings)
        if after.time_s < before.time_s
    ]
    raise_all(name, back)


def _reading(row: Row, times: LogTimes, factor: float) -> ReadingRow:
    reading = _metres(row, factor)
    if not 0.0 < reading <= MAX_READING_M:
        raise InputError(
            where=row.at(READING),
            what=f"the reading {reading:g} m is not between 0 and {MAX_READING_M:g} m",
            do="write metres; leave the cell empty where nothing was shown",
        )
    steer, heading = row.number("steer_deg", needed=False), row.number("heading_deg", needed=False)
    if not math.isnan(steer) and abs(steer) > 180.0:
        raise InputError(
            where=row.at("steer_deg"),
            what=f"steer_deg {steer:g} is not between -180 and 180",
            do="write degrees from straight ahead, right positive",
        )
    if not math.isnan(heading) and not 0.0 <= heading <= 360.0:
        raise InputError(
            where=row.at("heading_deg"),
            what=f"heading_deg {heading:g} is not between 0 and 360",
            do="write the true bearing in degrees",
        )
    time_s, other_s = times.of(row)
    return ReadingRow(
        where=row.where,
        time_s=time_s,
        reading_m=reading,
        transmitter=row.cells.get("transmitter") or None,
        steer_deg=steer,
        heading_deg=heading,
        other_s=other_s,
    )


def _metres(row: Row, factor: float) -> float:
    """Return the metres of a reading, which may have its unit and arrows beside it."""
    text = row.cells[READING].strip(ARROWS)
    found = WITH_UNIT.fullmatch(text) if len(text) <= LONGEST else None
    if found:
        text, factor = found.group(1), 1.0 / CM_PER_M if found.group(2).lower() == "cm" else 1.0
    return replace(row, cells={READING: text or row.cells[READING]}).number(READING) * factor
