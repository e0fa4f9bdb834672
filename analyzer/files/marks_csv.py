"""marks.csv: moments noted during a run."""

import datetime as dt
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.names import MARKS_FILE
from analyzer.files.readings_csv import time_of
from analyzer.files.table import Row, parse_table
from analyzer.files.toml_table import nearest
from analyzer.model.drill import MAX_DISTANCE_M
from analyzer.model.recording import CLOCKS, MARKS, READINGS_CLOCK, surveyed_point

HOLDS = ("hold_begin", "hold_end")
COLUMNS = ("time", "elapsed", "mark", "transmitter", "note", "clock")


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One mark as written. `time_s`: since 1970 UTC, or since the start mark where `elapsed`. `clock`: "" where the row
    does not say."""

    where: str
    time_s: float
    elapsed: bool
    mark: str
    transmitter: str | None
    note: str
    clock: str = ""


def parse_marks_csv(data: bytes, *, name: str = MARKS_FILE, zone: dt.tzinfo | None = None) -> tuple[MarkRow, ...]:
    """Return the checked marks in the order of the file. `time` and `elapsed` may both be columns: one per row.

    `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where a mark is not known, a hold names a point far from the drill, a row has no time or two (every such line is
        named), or there are two start or finish marks.
    """
    table = parse_table(data, name=name)
    table.allow(*COLUMNS)
    table.need("mark")
    marks = tuple(table.read(lambda row: _mark(row, zone)))
    for kind in ("start", "finish"):
        of_kind = [m for m in marks if m.mark == kind]
        if len(of_kind) > 1:
            raise InputError(where=of_kind[1].where, what=f"a second {quoted(kind)} mark", do="keep one; a run has one")
    if any(m.mark == "start" and m.elapsed and m.time_s != 0.0 for m in marks):
        where = next(m.where for m in marks if m.mark == "start")
        raise InputError(
            where=where,
            what="elapsed time begins at the start mark, which cannot be later than 0",
            do="write the time of the start mark, or elapsed 0",
        )
    return marks


def _mark(row: Row, zone: dt.tzinfo | None) -> MarkRow:
    time, elapsed = row.cells.get("time", ""), row.cells.get("elapsed", "")
    if bool(time) == bool(elapsed):
        what = "the row has both a time and an elapsed time" if time else "the row has no time"
        raise InputError(
            where=row.where, what=what, do="write time (ISO 8601 with offset) or elapsed (seconds or mm:ss.s)"
        )
    mark = row.cells["mark"]
    if mark not in MARKS:
        raise InputError(where=row.where, what=f"the mark {quoted(mark)} is not known", do=nearest(mark, MARKS))
    note = row.cells.get("note", "")
    _check_place(row, mark, note)
    return MarkRow(
        where=row.where,
        time_s=time_of(row, elapsed=bool(elapsed), zone=zone),
        elapsed=bool(elapsed),
        mark=mark,
        transmitter=row.cells.get("transmitter") or None,
        note=note,
        clock=_clock(row, bool(elapsed)),
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
