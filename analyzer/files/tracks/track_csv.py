"""Tables of positions in degrees or in metres: our own `track.csv`, and exports of phones, loggers and web pages."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.cells import MOST_FAULTS, CellRow, CellTable, table_of_text, tables_of, text_of
from analyzer.files.table import FEW, GROUPED, Row, Table, raise_all
from analyzer.files.table_text import decode_table
from analyzer.files.tracks import column_names as of
from analyzer.files.tracks.column_names import columns_of
from analyzer.files.tracks.fixes import Fixes, decimal_step
from analyzer.files.tracks.place_cells import of_minutes
from analyzer.files.tracks.point_rows import NO_POSITION
from analyzer.files.tracks.providers import OTHER_PROVIDER, best_provider
from analyzer.files.tracks.table_head import NAMES, commented_head, head_row, says
from analyzer.files.tracks.time_cells import counts_from_1970, has_date, seconds_from_start, times_like
from analyzer.files.tracks.track import subset
from analyzer.files.tracks.track_cells import TrackCells, TrackRow
from analyzer.files.workbook import is_workbook

CUT_OFF = "cut off, the last line"
ABOVE = "above the names of the columns"
MINUTES = "latitude and longitude are read as degrees and minutes (ddmm.mmmm)"
MARKS = {",": "comma", ".": "point"}
METRES = (of.EAST, of.NORTH, of.ELEVATION, of.RADIUS, of.SIGMA)
Values = tuple[float, ...]
"""Time, both coordinates, elevation, deviation, HDOP, number of the row."""


def parse_track_csv(data: bytes, *, name: str = "track.csv", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a table with a time, and `latitude`, `longitude` (degrees) or `east_m`, `north_m` (metres).

    Columns go by the names of `column_names`; a radius is taken to hold 68 % of the error. Rows without a position are
    set aside and counted; which columns are not used is in `told`. `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where a column is missing, or cells are not a number or a time; every such line is named. Where a date could
        mean two days, or the times no moment.
    """
    if is_workbook(data):
        return fixes_of_table(_sheet(tables_of(data, name=name)), zone=zone)
    text = commented_head(decode_table(data, name=name))
    return fixes_of_table(table_of_text(text, name=name), zone=zone)


def _sheet(tables: Sequence[CellTable]) -> CellTable:
    """Return the one sheet that names positions, the first where none does."""
    found = [table for table in tables if says(table) == NAMES] or list(tables[:1])
    if len(found) > 1:
        what = f"the sheets {quoted(found[0].sheet)} and {quoted(found[1].sheet)} both hold positions"
        raise InputError(where=found[0].name, what=what, do="keep the one of this run")
    return found[0]


def fixes_of_table(table: CellTable, *, zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of the rows of a table, as `parse_track_csv`.

    Raises
    ------
    InputError
        As `parse_track_csv`.
    """
    head = head_row(table)
    names = table.rows[head]
    columns = columns_of([text_of(cell) for cell in names.cells], where=table.where(names.number))
    cells = TrackCells(table, columns)
    rows = table.rows[head + 1 :]
    if not rows:
        raise InputError(where=table.place, what="the table has a header and no rows", do="export it again")
    cut = len(rows) > 1 and rows[-1].fault is None and _is_short(rows[-1], cells)
    faults: dict[int, InputError] = {}
    taken: list[TrackRow] = []
    for row in rows[:-1] if cut else rows:
        fault = row.fault or cells.wrong_length(row)
        if fault is None:
            taken.append(TrackRow(row.number, [text_of(cell) for cell in row.cells]))
        else:
            faults[row.number] = fault
            if len(faults) >= MOST_FAULTS:
                break
    _check_decimals(taken, cells)
    values, nowhere = _read(taken, cells, zone, faults)
    _raise(table.place, faults, made=len(values) + nowhere)
    dropped = {NO_POSITION: nowhere, CUT_OFF: int(cut), ABOVE: head}
    fixes = _fixes(values, cells, dropped, rows=len(rows))
    return _of_one_provider(fixes, [cells.text(row, of.PROVIDER).lower() for row in taken if row.number in values])


def _is_short(row: CellRow, cells: TrackCells) -> bool:
    """Return whether a row was cut off, as the last one is when a recorder is switched off."""
    return len(row.cells) < len(cells.columns.names) and cells.wrong_length(row) is not None


def _check_decimals(rows: Sequence[TrackRow], cells: TrackCells) -> None:
    """Raise `FileError` with each number of metres that may be thousands: others of it, the other coordinate, or the
    degrees, have the other decimal mark."""
    names = {m: cells.columns.called(m) for m in METRES if m in cells.columns.at}
    if not any("," in cells.text(row, m) for row in rows for m in (*names, of.LATITUDE)):
        return
    if any("," in cells.text(row, m) for row in rows for m in names):
        texts = (Row(cells.where(r), r.number, {name: cells.text(r, m) for m, name in names.items()}) for r in rows)
        Table(cells.table.place, (), tuple(texts)).check_decimals(*names.values())
    faults = []
    for m, beside, what in (
        *((m, of.LATITUDE, "the degrees have") for m in names),
        (of.EAST, of.NORTH, "the other coordinate has"),
        (of.NORTH, of.EAST, "the other coordinate has"),
    ):
        mark, own = _mark(rows, cells, beside), _mark(rows, cells, m)
        other = {",": ".", ".": ","}.get(mark, "")
        for row in rows if other and (not own or mark == ",") else ():
            text = cells.text(row, m)
            if other in text and GROUPED.fullmatch(text):
                told = f"{names[m]} {quoted(text)} may be thousands or decimals: {what} a {MARKS[mark]}"
                faults.append(InputError(where=cells.where(row), what=told, do="write one decimal mark everywhere"))
    raise_all(cells.table.place, faults)


def _mark(rows: Sequence[TrackRow], cells: TrackCells, meaning: str) -> str:
    """Return the decimal mark of a column, "" where it has none or both; of metres, what may be thousands has none."""
    texts = (cells.text(row, meaning) for row in rows)
    found = {c for t in texts if meaning not in METRES or not GROUPED.fullmatch(t) for c in t if c in MARKS}
    return found.pop() if len(found) == 1 else ""


def _read(
    rows: Sequence[TrackRow], cells: TrackCells, zone: dt.tzinfo | None, faults: dict[int, InputError]
) -> tuple[dict[int, Values], int]:
    """Return the values of rows that have a place, and how many have none; what is wrong goes to `faults`."""
    read_time = _time_reader(rows, cells, zone)
    values: dict[int, Values] = {}
    nowhere = 0
    for row in rows:
        try:
            place = cells.place(row)
            if place is None:
                nowhere += 1
            else:
                values[row.number] = (read_time(row), *place, *cells.optional(row), row.number)
        except InputError as fault:
            faults[row.number] = fault
            if len(faults) >= MOST_FAULTS:
                break
    return values, nowhere


def _time_reader(rows: Sequence[TrackRow], cells: TrackCells, zone: dt.tzinfo | None) -> Callable[[TrackRow], float]:
    """Return what reads the time of a row, from the columns of date and time of day together where there are both."""
    columns = cells.columns
    if of.ELAPSED in columns.at:
        clock = ":" in columns.called(of.ELAPSED)
        return lambda row: seconds_from_start(cells.text(row, of.ELAPSED), cells.where(row), clock=clock)
    time, date = (next((t for row in rows if (t := cells.text(row, m))), "") for m in (of.TIME, of.DATE))
    both = bool(time and date) and not has_date(time) and not has_date(date) and not counts_from_1970(time)
    alone = of.DATE if of.TIME not in columns.at or (has_date(date) and not has_date(time)) else of.TIME

    def text(row: TrackRow) -> str:
        if not both:
            return cells.text(row, alone)
        day, clock = cells.text(row, of.DATE), cells.text(row, of.TIME)
        return f"{day} {clock}" if day and clock else ""

    read = times_like(
        [text(row) for row in rows],
        column=columns.called(of.DATE if both else alone),
        where=cells.where(rows[0]) if rows else cells.table.place,
        zone=columns.zone or zone,
    )
    return lambda row: read(text(row), cells.where(row))


def _fixes(values: dict[int, Values], cells: TrackCells, dropped: dict[str, int], *, rows: int) -> Fixes:
    table, columns = cells.table, cells.columns
    if not values:
        do = "wait for a fix before the start, and record with positioning switched on"
        raise InputError(where=table.place, what="no row has a position", do=do)
    time_s, first, second, elevation_m, sigma_m, hdop, number = np.array(list(values.values()), float).T
    geographic, elapsed = of.LATITUDE in columns.at, of.ELAPSED in columns.at
    told = columns.told
    if of.NORTH_SOUTH in columns.at and of.EAST_WEST in columns.at and (places := of_minutes(first, second)):
        first, second = places
        told = (MINUTES, *told)
    return Fixes(
        name=table.place,
        unit="line" if table.sheet is None else "row",
        geographic=geographic,
        time_s=time_s,
        first=first,
        second=second,
        number=number,
        step=decimal_step(first, second, finest=8 if geographic else 3),
        rows=rows,
        elevation_m=elevation_m,
        sigma_m=sigma_m,
        hdop=hdop,
        dropped=tuple((reason, n) for reason, n in dropped.items() if n),
        dated=not elapsed,
        elapsed=elapsed,
        told=told,
    )


def _of_one_provider(fixes: Fixes, providers: Sequence[str]) -> Fixes:
    """Return the fixes of the provider that serves best, the others counted; all where none is named."""
    if not any(providers):
        return fixes
    own = np.array(providers) == best_provider(providers)
    others = int(np.sum(~own))
    dropped = (*fixes.dropped, (OTHER_PROVIDER, others)) if others else fixes.dropped
    return replace(subset(fixes, own), dropped=dropped)


def _raise(place: str, faults: dict[int, InputError], *, made: int) -> None:
    """Raise what is wrong with rows; where none is right, the first stands for all."""
    wrong = [faults[number] for number in sorted(faults)]
    if not made and len(wrong) > FEW:  # one fault of the whole file, not many of its lines
        first = wrong[0]
        raise InputError(where=first.where, what=f"{first.what}, and no other line can be used", do=first.do)
    raise_all(place, wrong)
