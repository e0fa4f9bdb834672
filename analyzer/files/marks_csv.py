"""Marks (marks.csv, .txt, .xlsx, .ods): moments noted during a run."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.cells import CellTable, tables_of
from analyzer.files.log_table import LogTable, log_table, own_sheet
from analyzer.files.log_times import KEEP, LogTimes, lacks, log_times, time_columns
from analyzer.files.log_words import DATE, MARK, MARK_COLUMNS, MOMENT, READING, READING_COLUMNS, mark_of
from analyzer.files.names import MARKS_FILE
from analyzer.files.table import Row
from analyzer.files.toml_table import nearest
from analyzer.model.drill import MAX_DISTANCE_M
from analyzer.model.recording import CLOCKS, MARKS, READINGS_CLOCK, surveyed_point

HOLDS = ("hold_begin", "hold_end")
COLUMNS = ("time", "elapsed", *MARK_COLUMNS)
READ = (*COLUMNS, MOMENT, DATE)
"""Columns that are read; others are set aside and counted."""


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One mark as written. `time_s`: since 1970 UTC, or since the start mark where `elapsed`; `other_s`: what else the
    same time may mean, NaN where it means one thing. `clock`: "" where the row does not say."""

    where: str
    time_s: float
    elapsed: bool
    mark: str
    transmitter: str | None
    note: str
    clock: str = ""
    other_s: float = math.nan


@dataclass(frozen=True, slots=True)
class MarkLog:
    """The checked marks of a file in its order; `rows` counts all its rows, `dropped` what was set aside, by reason."""

    marks: tuple[MarkRow, ...]
    rows: int
    dropped: tuple[tuple[str, int], ...] = ()


def parse_marks_csv(
    data: bytes, *, name: str = MARKS_FILE, zone: dt.tzinfo | None = None, day: dt.date | None = None, sheet: str = ""
) -> tuple[MarkRow, ...]:
    """Return the checked marks in the order of the file, of a workbook those of `sheet`; see `marks_of`."""
    return marks_of(own_sheet(tables_of(data, name=name), sheet), zone=zone, day=day).marks


def marks_of(
    tables: Sequence[CellTable], *, zone: dt.tzinfo | None, day: dt.date | None, several: bool = False
) -> MarkLog:
    """Return the checked marks of a file. `time` and `elapsed` may both be columns: one per row. Where readings stand
    in the same table, rows without a mark are theirs.

    Parameters
    ----------
    tables : sequence of CellTable
        Of the file.
    zone : tzinfo or None
        Of times of day that bear no offset.
    day : date or None
        Of times of day that bear no date.
    several : bool
        Whether it may be a log of several runs, with a start mark for each.

    Raises
    ------
    InputError
        Where a mark is not known, a hold names a point far from the drill, a row has no time or two (every such line is
        named), or there are two start or finish marks.
    """
    log, rows = _log(tables)
    times = log_times(log, rows, zone=zone, day=day)
    chosen = {row.line for row in rows}
    found = log.table.read(lambda row: _mark(row, times) if row.line in chosen else None)
    marks = tuple(mark for mark in found if mark is not None)
    if not several:
        _check_one_run(marks)
    return MarkLog(marks, len(rows), log.aside)


def _check_one_run(marks: tuple[MarkRow, ...]) -> None:
    """Raise `InputError` where marks are not those of one run."""
    for kind in ("start", "finish"):
        of_kind = [m for m in marks if m.mark == kind]
        if len(of_kind) > 1:
            do = "keep one; a run has one. Where these are several runs, load them and cut the recording into its runs"
            raise InputError(where=of_kind[1].where, what=f"a second {quoted(kind)} mark", do=do)
    if any(m.mark == "start" and m.elapsed and m.time_s != 0.0 for m in marks):
        where = next(m.where for m in marks if m.mark == "start")
        raise InputError(
            where=where,
            what="elapsed time begins at the start mark, which cannot be later than 0",
            do="write the time of the start mark, or elapsed 0",
        )


def mark_log_lacks(tables: Sequence[CellTable]) -> tuple[bool, bool]:
    """Return whether some time of day of marks bears no date, and whether some bears no offset from UTC.

    Raises
    ------
    InputError
        Where these are no marks, or their times cannot be told.
    """
    return lacks(*_log(tables))


def _log(tables: Sequence[CellTable]) -> tuple[LogTable, list[Row]]:
    """Return the table of marks, and its rows that are marks."""
    log = log_table(tables, MARK, READ, beside=(READING, READING_COLUMNS), own_name="marks")
    log.table.need(MARK)
    if not any(time_columns(log, [row for row in log.table.rows if row.cells[MARK]])):
        raise InputError(where=log.table.header, what="the column 'time' or 'elapsed' is missing", do=KEEP)
    # Beside readings a row without a mark is none, be there a figure in it or a remark alone.
    theirs = {row.line for row in log.table.rows if READING in row.cells and not row.cells[MARK]}
    return log, [row for row in log.table.rows if row.line not in theirs]


def _mark(row: Row, times: LogTimes) -> MarkRow:
    time, elapsed = row.cells.get(times.time_column, ""), row.cells.get(times.elapsed_column, "")
    if bool(time) == bool(elapsed):
        what = "the row has both a time and an elapsed time" if time else "the row has no time"
        raise InputError(
            where=row.where, what=what, do="write time (ISO 8601 with offset) or elapsed (seconds or mm:ss.s)"
        )
    mark = mark_of(row.cells[MARK])
    if not mark:
        unknown = row.cells[MARK]
        raise InputError(
            where=row.at(MARK), what=f"the mark {quoted(unknown)} is not known", do=nearest(unknown, MARKS)
        )
    note = row.cells.get("note", "")
    _check_place(row, mark, note)
    time_s, other_s = times.of(row)
    return MarkRow(
        where=row.where,
        time_s=time_s,
        elapsed=bool(elapsed),
        mark=mark,
        transmitter=row.cells.get("transmitter") or None,
        note=note,
        clock=_clock(row, bool(elapsed)),
        other_s=other_s,
    )


def _check_place(row: Row, mark: str, note: str) -> None:
    """Raise `InputError` where a hold names a surveyed point that lies nowhere near the drill."""
    place = surveyed_point(note) if mark in HOLDS else None
    if place is not None and not all(abs(metres) <= MAX_DISTANCE_M for metres in place):
        raise InputError(
            where=row.where,
            what=f"the note {quoted(note)} is no point within {MAX_DISTANCE_M:g} m of the drill's origin",
            do="write horizontal metres from the origin, east first, or words",
        )


def _clock(row: Row, elapsed: bool) -> str:
    clock = row.cells.get("clock", "")
    if clock and clock not in CLOCKS:
        raise InputError(where=row.where, what=f"the clock {quoted(clock)} is not known", do=nearest(clock, CLOCKS))
    if clock == READINGS_CLOCK and not elapsed:
        raise InputError(
            where=row.where,
            what="a mark with a time of day is on the track's clock, not on that of the readings",
            do="write elapsed instead of time, or leave the clock empty",
        )
    return clock
