"""Tables with a header line, in text or in a sheet: rows of text by column name, with the places that a person sees."""

import datetime as dt
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from analyzer.errors import FileError, InputError, Problem, quoted
from analyzer.files.cells import MOST_FAULTS, Cell, CellRow, CellTable, column_letters, tables_of, text_of
from analyzer.files.numbers import number_in

MOST_TOLD = 50
"""So many wrong lines of a table are told; who sees fifty knows."""
FEW = 3
"""Where all lines of a longer table are wrong, the first stands for all."""
GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
"""What may be thousands, or three decimals."""
DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?", re.ASCII)
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line in the text or row in the sheet, and its cells by lower-case column name, stripped.

    `values`: what a sheet holds in them where it is no text; `places`: where a cell is, in a sheet.
    """

    where: str
    line: int
    cells: dict[str, str]
    values: Mapping[str, Cell] = field(default_factory=dict)
    places: Callable[[str], str] | None = None

    def at(self, column: str) -> str:
        """Return where the cell of a column is: in a sheet the cell, in a text the line."""
        return self.where if self.places is None else self.places(column)

    def number(self, column: str, *, needed: bool = True) -> float:
        """Return the number in a column; NaN where it is empty or absent and not `needed`.

        A decimal comma is one: where commas separate cells, it stood in quotation marks.

        Raises
        ------
        InputError
            Where the text is not a finite number.
        """
        text = self.cells.get(column, "")
        if not text and not needed:
            return math.nan
        if isinstance(self.values.get(column), dt.date | dt.time | dt.timedelta):
            raise InputError(
                where=self.at(column),
                what=f"{column} is {text}: the spreadsheet took a number for a date or a time",
                do="write it with the decimal mark of your spreadsheet, 3,4 or 3.4, in a cell without a form",
            )
        try:
            value = number_with_comma(text)
        except ValueError:
            raise InputError(
                where=self.at(column),
                what=f"{column} {quoted(text)} is not a number" if text else f"{column} is empty",
                do="write a number, or remove the row",
            ) from None
        if not math.isfinite(value):
            if not needed and math.isnan(value):
                return math.nan
            raise InputError(
                where=self.at(column),
                what=f"{column} {quoted(text)} is not a finite number",
                do="write a number, or remove the row",
            )
        return value


def number_with_comma(text: str) -> float:
    """Return the number that a text is, its decimals after a point or a comma; `ValueError` where it is none."""
    return number_in(text.replace(",", ".", 1) if DECIMAL_COMMA.fullmatch(text) else text)


@dataclass(frozen=True, slots=True)
class Table:
    """A table's columns (lower case) and rows. Blank lines and lines that begin with # are comments.

    `faults`: rows that could not be split into the cells of the header, with their lines; `read` raises them with its
    own. `header`: where the header is.
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    faults: tuple[tuple[int, InputError], ...] = ()
    header: str = ""

    def need(self, *columns: str) -> None:
        """Raise `InputError` that names the first of `columns` that is missing."""
        for column in columns:
            if column not in self.columns:
                raise InputError(
                    where=self.header,
                    what=f"the column {quoted(column)} is missing",
                    do=f"add it; the columns found are {', '.join(self.columns)}",
                )

    def allow(self, *columns: str) -> None:
        """Raise `FileError` with every column that is not among `columns`."""
        faults = [
            InputError(
                where=self.header,
                what=f"the column {quoted(column)} is not known",
                do=f"remove it or name it one of {', '.join(columns)}",
            )
            for column in self.columns
            if column not in columns
        ]
        raise_all(self.name, faults)

    def check_decimals(self, *columns: str) -> None:
        """Raise `FileError` with each cell of `columns` that may be thousands: others have the other decimal mark."""
        faults = []
        for column in columns:
            texts = [row.cells.get(column, "") for row in self.rows]
            marks = set(map(_decimals, texts)) - {""}
            for row, text in zip(self.rows, texts, strict=True) if marks else ():
                if GROUPED.fullmatch(text) and not marks <= set(text):
                    what = f"{column} {quoted(text)} may be thousands or decimals: other rows have the other mark"
                    faults.append(InputError(where=row.at(column), what=what, do="write one decimal mark everywhere"))
        raise_all(self.name, faults)

    def read(self, read_row: Callable[[Row], T]) -> list[T]:
        """Return what `read_row` makes of every row, in order.

        Raises
        ------
        FileError
            With the first thing that is wrong with each row, in the order of the file.
        """
        made: list[T] = []
        faults: dict[int, InputError] = dict(self.faults)
        for row in self.rows:
            try:
                made.append(read_row(row))
            except InputError as error:
                faults[row.line] = error
                if len(faults) >= MOST_FAULTS:
                    break
        wrong = [faults[line] for line in sorted(faults)]
        if not made and len(wrong) > FEW:  # one fault of the whole file, not many of its lines
            first = wrong[0]
            raise InputError(where=first.where, what=f"{first.what}, and no other line can be used", do=first.do)
        raise_all(self.name, wrong)
        return made


def raise_all(name: str, faults: Sequence[InputError]) -> None:
    """Raise what is wrong with a table as one error, if anything is; of very many lines the first are told."""
    problems = [Problem("", fault.where, fault.what, fault.do) for fault in faults[:MOST_TOLD]]
    more = len(faults) - MOST_TOLD
    if more > 0:
        least = "at least " if len(faults) >= MOST_FAULTS else ""
        what = f"{least}{more} more line{'s are' if more > 1 else ' is'} wrong"
        problems.append(Problem("", name, what, "mend those above and read the file again"))
    if problems:
        raise FileError(name, problems)


def _decimals(text: str) -> str:
    """Return the decimal mark of a number that cannot be thousands, "" for other texts."""
    if GROUPED.fullmatch(text):
        return ""
    return "," if DECIMAL_COMMA.fullmatch(text) else "." * ("." in text and "," not in text)


def parse_table(data: bytes, *, name: str) -> Table:
    """Return the table in `data`, text or a spreadsheet with one sheet; the first row with anything is its header.

    Raises
    ------
    InputError
        Where it cannot be read, has no rows, or repeats a column. Rows with more or fewer cells than the header are
        left to `Table.read`.
    """
    tables = tables_of(data, name=name)
    if len(tables) > 1:
        sheets = ", ".join(quoted(table.sheet) for table in tables)
        raise InputError(where=name, what=f"there are several sheets ({sheets})", do="keep the one that is meant")
    (cells,) = tables
    return table_below(cells, 0, [text_of(cell).lower() for cell in cells.rows[0].cells])


def table_below(cells: CellTable, header: int, names: Sequence[str]) -> Table:
    """Return the table below a header, which is one of the rows of `cells`.

    Parameters
    ----------
    cells : CellTable
    header : int
        Index of the header among the rows.
    names : sequence of str
        What the columns are called, one for each cell of the header; one without anything under it may have no name.

    Raises
    ------
    InputError
        Where the header cannot be read, a column is repeated, or there is no row below.
    """
    top = cells.rows[header]
    if top.fault is not None:
        raise top.fault
    where = cells.where(top.number)
    repeated = next((c for c in names if c and names.count(c) > 1), None)
    if repeated is not None:
        raise InputError(where=where, what=f"the column {quoted(repeated)} appears twice", do="keep one of them")
    below = cells.rows[header + 1 :]
    width = len(names)
    while width and not names[width - 1] and not any(text_of(c) for r in below for c in r.cells[width - 1 : width]):
        width -= 1
    columns = tuple(name or f"column {column_letters(i)}" for i, name in enumerate(names[:width]))
    index = {column: i for i, column in enumerate(columns)}
    rows, faults = list[Row](), list[tuple[int, InputError]]()
    for one in below:
        fault = one.fault or _of_other_length(cells, one, names)
        if fault is None:
            rows.append(_row(cells, one, index))
        else:
            faults.append((one.number, fault))
        if len(faults) >= MOST_FAULTS:
            break
    if not rows and not faults:
        raise InputError(
            where=cells.place, what="the table has a header and no rows", do="export it again, or remove it"
        )
    return Table(cells.name, columns, tuple(rows), tuple(faults), where)


def _of_other_length(cells: CellTable, row: CellRow, names: Sequence[str]) -> InputError | None:
    """Return why a row has not the cells of the header; one that lacks, or has beyond them, only what is empty, has."""
    surplus, missing = row.cells[len(names) :], names[len(row.cells) :]
    if not any(map(text_of, surplus)) and not any(missing):
        return None
    what = f"the row has {len(row.cells)} cells, the header {len(names)}"
    do = "complete the row"
    if cells.separator == ",":
        do += "; write decimals with a point, not a comma"
    return InputError(where=cells.where(row.number), what=what, do=do)


def _row(cells: CellTable, row: CellRow, index: Mapping[str, int]) -> Row:
    found = [(column, row.cells[i] if i < len(row.cells) else "") for column, i in index.items()]
    where = cells.where(row.number)
    texts = {column: text_of(cell) for column, cell in found}
    if cells.sheet is None:
        return Row(where, row.number, texts)
    values = {column: cell for column, cell in found if not isinstance(cell, str)}
    return Row(where, row.number, texts, values, lambda column: cells.where(row.number, index.get(column)))
