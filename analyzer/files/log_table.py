"""Which table of a file is a log, which of its rows is the header, and which of its columns are read."""

import difflib
import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.cells import CellTable, column_letters, text_of
from analyzer.files.log_words import MOMENT, WORDS_OF, column_of, plain
from analyzer.files.names import RUN_FILE
from analyzer.files.table import Table, raise_all, table_below

HEADER_ROWS = 30
"""So far down the header is looked for; our own choice: a title, names and a date stand above some tables."""
CLOSE = 0.85
"""A heading so like a known one is a slip of the pen; our own choice."""
TIMES = (MOMENT, "time", "elapsed")
Dropped = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class LogTable:
    """A log's table with the columns by their own names. `units`: of those that state one. `aside`: what is not read of
    it, and how much. `heads`: column -> its heading as written."""

    table: Table
    units: Mapping[str, str]
    aside: Dropped
    heads: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A table, the index of its header, and what each cell of the header means."""

    cells: CellTable
    header: int
    columns: tuple[tuple[str, str], ...]

    @property
    def keys(self) -> set[str]:
        return {key for key, _ in self.columns}


def has_column(tables: Sequence[CellTable], needed: str) -> bool:
    """Return whether one of the tables has a column, by any of its names, and times beside it."""
    return any(_is_log(_candidate(table, needed), needed) for table in tables)


def log_table(
    tables: Sequence[CellTable],
    needed: str,
    columns: Collection[str],
    *,
    beside: tuple[str, Collection[str]],
    own_name: str,
) -> LogTable:
    """Return the one log among tables.

    Parameters
    ----------
    tables : sequence of CellTable
        Of one file.
    needed : str
        The column that makes it this kind of log: "reading_m" or "mark".
    columns : collection of str
        Those that are read; others are set aside and counted.
    beside : (str, collection of str)
        The column that makes it another kind of log as well, and the columns that are read then by that one's reader.
    own_name : str
        Of several sheets with such a log the one of this name is meant.

    Raises
    ------
    InputError
        Where there is none or several, a heading is a slip of the pen, or two columns mean the same.
    """
    found = [one for one in (_candidate(table, needed) for table in tables) if _is_log(one, needed)]
    named = [one for one in found if plain(one.cells.sheet or "") == own_name]
    chosen = named if len(named) == 1 else found
    if len(chosen) > 1:
        sheets = " and ".join(quoted(one.cells.sheet) for one in chosen[:3])
        raise InputError(
            where=tables[0].name,
            what=f"the sheets {sheets} each hold {own_name}",
            do=f"keep the one of this run, or call it {quoted(own_name)}",
        )
    one = chosen[0] if chosen else _candidate(tables[0], needed)
    return _table(one, {*columns, *(beside[1] if beside[0] in one.keys else ())})


def own_sheet(tables: Sequence[CellTable], sheet: str) -> tuple[CellTable, ...]:
    """Return the sheet of that name alone; all tables of a text, or where no name is given.

    Raises
    ------
    InputError
        Where the workbook has no such sheet.
    """
    if not sheet or tables[0].sheet is None:
        return tuple(tables)
    own = tuple(table for table in tables if table.sheet == sheet)
    if not own:
        there = ", ".join(quoted(table.sheet) for table in tables[:8])
        raise InputError(
            where=tables[0].name,
            what=f"there is no sheet {quoted(sheet)}, which {RUN_FILE} names",
            do=f"name one of those that it has: {there}",
        )
    return own


def other_sheets(tables: Sequence[CellTable], wanted: Collection[str]) -> Dropped:
    """Return how many rows lie in sheets without any of the `wanted` columns, which nobody reads."""
    rest = [t for t in tables if not any(_is_log(_candidate(t, needed), needed) for needed in wanted)]
    named = [table for table in rest if table.sheet is not None]
    return tuple((f"in the sheet {quoted(table.sheet)}, which is not read", len(table.rows)) for table in named)


def _is_log(candidate: _Candidate, needed: str) -> bool:
    return needed in candidate.keys and not candidate.keys.isdisjoint(TIMES)


def _candidate(cells: CellTable, needed: str) -> _Candidate:
    """Return a table with the row that is most likely its header: the first with the needed column and times, else the
    first with either, else the first."""
    heads = [
        _Candidate(cells, i, tuple(column_of(text_of(cell)) for cell in row.cells))
        for i, row in enumerate(cells.rows[:HEADER_ROWS])
    ]
    either = [one for one in heads if needed in one.keys or not one.keys.isdisjoint(TIMES)]
    return next((one for one in heads if _is_log(one, needed)), (either or heads)[0])


def _table(candidate: _Candidate, columns: Collection[str]) -> LogTable:
    cells, top = candidate.cells, candidate.cells.rows[candidate.header]
    if top.fault is not None:
        raise top.fault
    heads = [text_of(cell) for cell in top.cells]
    where = cells.where(top.number)
    _check_heads(cells, where, list(zip(heads, candidate.columns, strict=True)), columns)
    keys = [key for key, _ in candidate.columns]
    names = [
        key if key in columns else f"{quoted(head)} (column {column_letters(i)})" * bool(head)
        for i, (head, key) in enumerate(zip(heads, keys, strict=True))
    ]
    table = table_below(cells, candidate.header, names)
    aside = [(name, sum(bool(row.cells[name]) for row in table.rows)) for name in table.columns if name not in columns]
    counts = [(f"in {name}, which is not read", count) for name, count in aside if count]
    if candidate.header:
        counts.append(("above the header", candidate.header))
    return LogTable(
        table,
        {key: unit for key, unit in candidate.columns if key in columns and unit},
        tuple(counts),
        {key: head for head, key in zip(heads, keys, strict=True) if key in columns},
    )


def _check_heads(
    cells: CellTable, where: str, heads: Sequence[tuple[str, tuple[str, str]]], columns: Collection[str]
) -> None:
    """Raise what is wrong with the headings: two of one meaning, and slips of the pen."""
    faults = []
    used = [(head, key) for head, (key, _) in heads if key in columns]
    for (a, key), (b, other) in itertools.combinations(used, 2):
        if key == other:
            what = f"the columns {quoted(a)} and {quoted(b)} mean the same"
            what = what if a != b else f"the column {quoted(a)} appears twice"
            faults.append(InputError(where=where, what=what, do="keep one of them"))
    words = {word: key for key in columns for word in WORDS_OF.get(key, ()) if len(word) > 3}
    for head, (key, _) in heads:
        close = [] if key else difflib.get_close_matches(plain(head), words, n=1, cutoff=CLOSE)
        if close:
            what = f"the column {quoted(head)} is not known"
            do = f"did you mean {quoted(words[close[0]])}? Else give it another name"
            faults.append(InputError(where=where, what=what, do=do))
    raise_all(cells.name, faults)
