"""The logs of a run: which of its files holds the readings and which the marks; one workbook may hold both."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.cells import CellTable, tables_of
from analyzer.files.clock_repairs import repaired_marks, repaired_readings
from analyzer.files.log_table import Dropped, has_column, other_sheets, own_sheet
from analyzer.files.log_words import MARK, READING
from analyzer.files.marks_csv import MarkLog, MarkRow, marks_of
from analyzer.files.names import LOG_FILES, MARKS_FILES, READINGS_FILES
from analyzer.files.readings_csv import ReadingLog, readings_of
from analyzer.model.recording import RunInfo

SOME_DAY = dt.date(2000, 1, 3)
"""Stands for the day of a drill where nothing depends on it."""
Tables = Mapping[str, tuple[CellTable, ...]]


@dataclass(frozen=True, slots=True)
class RunLogs:
    """The checked logs of a run. `marks_file`: that the marks were in; `beside_readings`, `beside_marks`: sheets of
    these files that nobody reads."""

    readings: ReadingLog | None = None
    marks: MarkLog | None = None
    marks_file: str = ""
    beside_readings: Dropped = ()
    beside_marks: Dropped = ()

    @property
    def mark_rows(self) -> tuple[MarkRow, ...]:
        """The marks, none where there is no file of them."""
        return () if self.marks is None else self.marks.marks


def run_logs(
    data: Mapping[str, bytes], *, zone: dt.tzinfo | None, day: dt.date | None, info: RunInfo | None = None
) -> RunLogs:
    """Return the logs in the bytes of a run's files by name.

    Parameters
    ----------
    data : mapping
        Files that are no logs are passed over.
    zone : tzinfo or None
        Of times of day that bear no offset.
    day : date or None
        Of times of day that bear no date.
    info : RunInfo, optional
        Says which sheets are meant, and what is added to the times.

    Raises
    ------
    InputError
        Where two files hold logs of one kind, or one of them is bad.
    """
    info = info or RunInfo()
    whole = {name: tables_of(data[name], name=name) for name in LOG_FILES if name in data}
    tables = {name: own_sheet(found, sheet_of(name, info)) for name, found in whole.items()}
    readings = _file_with(tables, READING, READINGS_FILES, "readings")
    marks = _file_with(tables, MARK, MARKS_FILES, "marks")
    beside = {name: _beside(whole[name], tables[name]) for name in tables}
    return RunLogs(
        repaired_readings(readings_of(tables[readings], zone=zone, day=day) if readings else None, info),
        repaired_marks(marks_of(tables[marks], zone=zone, day=day) if marks else None, info, name=marks),
        marks,
        beside.get(readings, ()),
        beside.get(marks, ()) if marks != readings else (),
    )


def sheet_of(name: str, info: RunInfo) -> str:
    """Return the sheet that run.toml names for a log, "" where it names none."""
    return info.readings_sheet if name in READINGS_FILES else info.marks_sheet


def _beside(whole: tuple[CellTable, ...], own: tuple[CellTable, ...]) -> Dropped:
    """Return the sheets that nobody reads: those without a log, and those of other runs."""
    if len(whole) == len(own):
        return other_sheets(own, (READING, MARK))
    return tuple((f"in the sheet {quoted(t.sheet)}, which is not read", len(t.rows)) for t in whole if t not in own)


def marks_in_logs(data: Mapping[str, bytes]) -> tuple[MarkRow, ...]:
    """Return the marks among the bytes of a run's files by name; times without a date or a zone are of some day.

    Raises
    ------
    InputError
        As `run_logs`.
    """
    tables = {name: tables_of(data[name], name=name) for name in LOG_FILES if name in data}
    file = _file_with(tables, MARK, MARKS_FILES, "marks")
    return marks_of(tables[file], zone=dt.UTC, day=SOME_DAY).marks if file else ()


def _file_with(tables: Tables, column: str, own: tuple[str, ...], what: str) -> str:
    """Return the file that holds logs of a kind: the one of that name, else another one in which they are; or ""."""
    named = [name for name in tables if name in own]
    holding = [name for name in tables if name in named or has_column(tables[name], column)]
    if len(holding) > 1:
        first, second = holding[:2]
        raise InputError(where=first, what=f"both {first} and {second} hold {what}", do="keep them in one of the files")
    return holding[0] if holding else ""
