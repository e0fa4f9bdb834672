"""Reading logs and marks that are loaded: read once without their drill, whose day and clock may have to come."""

import datetime as dt
from dataclasses import replace

from analyzer.files.cells import tables_of
from analyzer.files.log_table import has_column, other_sheets, own_sheet
from analyzer.files.log_words import MARK, READING
from analyzer.files.marks_csv import mark_log_lacks, marks_of
from analyzer.files.readings_csv import reading_log_lacks, readings_of
from analyzer.files.run_logs import SOME_DAY
from analyzer.files.workbook import OFFICE_ENDING, OPEN_ENDING, is_office, is_workbook
from analyzer.workspace.intake.model import MARKS, READINGS
from analyzer.workspace.intake.recognised import Recognised, counted


def reading_log(data: bytes, name: str, sheet: str = "") -> Recognised:
    """Return what a reading log is, and the marks that may be in it; of a workbook in one `sheet`, where it is given.

    Raises
    ------
    InputError
        Where it cannot be used.
    """
    tables = own_sheet(tables_of(data, name=name), sheet)
    lacks = reading_log_lacks(tables)
    lacking = any(lacks)
    log = readings_of(tables, zone=dt.UTC if lacking else None, day=SOME_DAY)
    aside = counted(log.dropped + other_sheets(tables, (READING, MARK)))
    told = from_the_drill(*lacks)
    found = Recognised(
        READINGS, ending=_ending(data), elapsed=log.elapsed, rows=log.rows, aside=aside, told=told, zone_asked=lacks[1]
    )
    if has_column(tables, MARK):
        marks = mark_log(data, name, sheet)
        found = replace(found, title=f"with {marks.rows} marks")
    if log.elapsed or lacking:  # the day and the clock of the drill come with it
        return found
    return replace(found, begin_s=log.readings[0].time_s, end_s=log.readings[-1].time_s)


def mark_log(data: bytes, name: str, sheet: str = "") -> Recognised:
    """Return what a file of marks is; of a workbook in one `sheet`, where it is given.

    Raises
    ------
    InputError
        Where it cannot be used.
    """
    tables = own_sheet(tables_of(data, name=name), sheet)
    lacks = mark_log_lacks(tables)
    lacking = any(lacks)
    log = marks_of(tables, zone=dt.UTC if lacking else None, day=SOME_DAY)
    times = [m.time_s for m in log.marks if not m.elapsed]
    aside = counted(log.dropped + other_sheets(tables, (READING, MARK)))
    told = from_the_drill(*lacks)
    found = Recognised(
        MARKS, ending=_ending(data), elapsed=not times, rows=log.rows, aside=aside, told=told, zone_asked=lacks[1]
    )
    return replace(found, begin_s=min(times), end_s=max(times)) if times and not lacking else found


def from_the_drill(date: bool, zone: bool) -> str:
    """Return what times take on from elsewhere: `date`, `zone`: whether they lack it."""
    words = ["without a date are of the drill's day"] if date else []
    words += ["without a zone have that of run.toml, else of the drill's start"] if zone else []
    return f"times {' and '.join(words)}" if words else ""


def _ending(data: bytes) -> str:
    """Return how the file of a log ends in its run's folder, "" for a text."""
    if not is_workbook(data):
        return ""
    return OFFICE_ENDING if is_office(data) else OPEN_ENDING
