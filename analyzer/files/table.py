"""Comma- or semicolon-separated text with a header line: rows of text with their line numbers."""

import csv
import io
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from analyzer.errors import FileError, InputError, Problem, quoted
from analyzer.files.numbers import number_in
from analyzer.files.source import decode_text
from analyzer.files.tracks.fixes import too_many_points

MAX_ROWS = 100_000
"""Our own choice, because a whole day at one fix per second has 86,400."""
MAX_COLUMNS = 200
"""Our own choice, because sensor tables have some dozens."""
MAX_CELLS = 3_000_000
"""Our own choice: `MAX_ROWS` rows of thirty columns; each cell takes a hundred bytes of memory."""
MAX_LINES = 1_000_000
"""Our own choice: blank lines and comments are not counted as rows, and ten of them for each is plenty."""
MAX_LINE = 65_536
"""Characters of a line; our own choice, because a row has a dozen cells and a note."""
MOST_TOLD = 50
"""So many wrong lines of a table are told; who sees fifty knows."""
MOST_FAULTS = 1000
"""After so many wrong lines no more are looked for; our own choice, because a file of another kind has millions."""
FEW = 3
"""Where all lines of a longer table are wrong, the first stands for all."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line in the file and its cells by lower-case column name, stripped."""

    where: str
    line: int
    cells: dict[str, str]

    def number(self, column: str, *, needed: bool = True) -> float:
        """Return the number in a column; NaN where it is empty or absent and not `needed`.

        Raises
        ------
        InputError
            Where the text is not a finite number; a decimal comma is told.
        """
        text = self.cells.get(column, "")
        if not text and not needed:
            return math.nan
        try:
            value = number_in(text)
        except ValueError:
            comma = "," in text and text.count(",") == 1
            do = (
                f"write a decimal point, {quoted(text.replace(',', '.'))}, and separate columns by ; or ,"
                if comma
                else "write a number, or remove the row"
            )
            what = f"{column} {quoted(text)} is not a number" if text else f"{column} is empty"
            raise InputError(where=self.where, what=what, do=do) from None
        if not math.isfinite(value):
            if not needed and math.isnan(value):
                return math.nan
            raise InputError(
                where=self.where,
                what=f"{column} {quoted(text)} is not a finite number",
                do="write a number, or remove the row",
            )
        return value


@dataclass(frozen=True, slots=True)
class Table:
    """A table's columns (lower case) and rows. Blank lines and lines that begin with # are comments.

    `faults`: of rows that could not be split into the cells of the header; `read` raises them with its own.
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    faults: tuple[InputError, ...] = ()

    def need(self, *columns: str) -> None:
        """Raise `InputError` that names the first of `columns` that is missing."""
        for column in columns:
            if column not in self.columns:
                raise InputError(
                    where=f"{self.name}, line 1",
                    what=f"the column {quoted(column)} is missing",
                    do=f"add it; the columns found are {', '.join(self.columns)}",
                )

    def allow(self, *columns: str) -> None:
        """Raise `FileError` with every column that is not among `columns`."""
        faults = [
            InputError(
                where=f"{self.name}, line 1",
                what=f"the column {quoted(column)} is not known",
                do=f"remove it or name it one of {', '.join(columns)}",
            )
            for column in self.columns
            if column not in columns
        ]
        raise_all(self.name, faults)

    def read(self, read_row: Callable[[Row], T]) -> list[T]:
        """Return what `read_row` makes of every row, in order.

        Raises
        ------
        FileError
            With the first thing that is wrong with each row, in the order of the file.
        """
        made: list[T] = []
        faults: dict[int, InputError] = {_line(fault): fault for fault in self.faults}
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


def _line(fault: InputError) -> int:
    return int(fault.where.rpartition(" ")[2])


def parse_table(data: bytes, *, name: str) -> Table:
    """Return the table in `data`; the separator is the one of comma, semicolon and tab that the header uses most.

    Raises
    ------
    InputError
        Where it is not text, has no rows, or repeats a column. Rows with more or fewer cells than the header are left
        to `Table.read`.
    """
    text = decode_text(data, name=name)
    if text.count("\n") + text.count("\r") > 2 * MAX_LINES:
        raise InputError(
            where=name,
            what=f"the table has more than {MAX_LINES} lines",
            do="take blank lines and comments out, or cut the recording to this run",
        )
    lines = content_lines(text)
    columns, separator = _header(lines, name)
    rows: list[Row] = []
    faults: list[InputError] = []
    for line, content in lines:
        where = f"{name}, line {line}"
        try:
            cells = _cells(content, separator, where, len(columns))
        except InputError as fault:
            faults.append(fault)
            if len(faults) >= MOST_FAULTS:
                break
            continue
        if len(rows) >= min(MAX_ROWS, MAX_CELLS // len(columns)):
            raise too_many_points(name, len(rows))
        rows.append(Row(where=where, line=line, cells=dict(zip(columns, (c.strip() for c in cells), strict=True))))
    if not rows and not faults:
        raise InputError(where=name, what="the table has a header and no rows", do="export it again, or remove it")
    return Table(name=name, columns=columns, rows=tuple(rows), faults=tuple(faults))


def _header(lines: Iterator[tuple[int, str]], name: str) -> tuple[tuple[str, ...], str]:
    """Return the columns, lower case, and the separator of a table from its first line."""
    header_line, header = next(lines, (0, ""))
    if not header_line:
        raise InputError(
            where=name, what="no line of the table has a cell with anything in it", do="export it again, or remove it"
        )
    separator = max(",;\t", key=header.count)
    if header.count(separator) >= MAX_COLUMNS:
        raise InputError(
            where=f"{name}, line {header_line}",
            what=f"the table has more than {MAX_COLUMNS} columns",
            do="keep those that are read, and export it again",
        )
    reader = _cells(header, separator, f"{name}, line {header_line}")
    columns = tuple(cell.strip().lower() for cell in reader)
    repeated = next((c for c in columns if columns.count(c) > 1), None)
    if repeated is not None:
        raise InputError(
            where=f"{name}, line {header_line}",
            what=f"the column {quoted(repeated)} appears twice",
            do="keep one of them",
        )
    return columns, separator


def content_lines(text: str) -> Iterator[tuple[int, str]]:
    """Yield number and text of the lines of a table that are neither blank nor a comment, one after another."""
    for number, line in enumerate(io.StringIO(text), start=1):
        if line.strip(" \t\r\n,;") and not line.lstrip().startswith("#"):
            yield number, line.rstrip("\r\n")


def _cells(line: str, separator: str, where: str, count: int | None = None) -> list[str]:
    """Return the cells of a line, `count` of them where it is given."""
    if len(line) > MAX_LINE:
        what = f"the line has {len(line)} characters; at most {MAX_LINE} are read"
        raise InputError(where=where, what=what, do="check that it is the right file, or shorten the line")
    try:
        cells = next(csv.reader([line], delimiter=separator, strict=True))
    except (csv.Error, StopIteration) as error:
        raise InputError(
            where=where, what=f"the row cannot be split into cells ({error})", do="check the quotation marks"
        ) from None
    if count is not None and len(cells) != count:
        raise InputError(
            where=where,
            what=f"the row has {len(cells)} cells, the header {count}",
            do="complete the row; write decimals with a point, not a comma",
        )
    return cells
