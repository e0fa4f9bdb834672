"""Rows of cells with the row numbers that a person sees: of a text table in any usual dialect, or of a spreadsheet."""

import csv
import datetime as dt
import io
import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.table_text import decode_table
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
MOST_FAULTS = 1000
"""After so many wrong lines no more are looked for; our own choice, because a file of another kind has millions."""
MAX_CELL_LINES = 20
"""A cell in quotation marks goes over so many lines; our own choice: a remark, not all that follows a missing mark."""
SEPARATORS = ",;\t"
LOOKED_AT = 50
"""From so many lines the separator is told; our own choice: more than the words above a table, and quickly read."""
SEPARATOR_LINE = re.compile(r"sep=([,;\t])\s*", re.IGNORECASE)
"""A first line by which some spreadsheets tell the separator to one another."""
DAY_S = 86_400.0

Cell = str | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta
"""What a cell holds. A text table has texts alone; a spreadsheet knows numbers, dates, times and durations as such, and
its times bear no zone."""


@dataclass(frozen=True, slots=True)
class CellRow:
    """One row. `number`: its line in the text (the first of its lines), or its row in the sheet, from 1. `fault`: why
    it could not be split into cells, which are empty then."""

    number: int
    cells: tuple[Cell, ...]
    fault: InputError | None = None


@dataclass(frozen=True, slots=True)
class CellTable:
    """The rows of a text or of one sheet that hold anything; blank ones, and comments (#) of a text, are left out.

    `sheet`: its name, None for a text. `separator`: of a text, "" for a sheet. Rows are as long as they were written.
    """

    name: str
    sheet: str | None
    separator: str
    rows: tuple[CellRow, ...]

    @property
    def place(self) -> str:
        """The file, and the sheet where there are any, as error texts name them."""
        return self.name if self.sheet is None else f"{self.name}, sheet {quoted(self.sheet)}"

    def where(self, number: int, column: int | None = None) -> str:
        """Return where a row is, or, in a sheet, a cell of it; `column` from 0."""
        if self.sheet is None:
            return f"{self.name}, line {number}"
        return f"{self.place}, " + (f"row {number}" if column is None else f"cell {column_letters(column)}{number}")


def tables_of(data: bytes, *, name: str) -> tuple[CellTable, ...]:
    """Return the tables in the bytes of a file: of a text its one, of a spreadsheet (.xlsx, .ods) each visible sheet.

    Raises
    ------
    InputError
        Where it is neither text nor a spreadsheet that can be read, is too large, or holds nothing.
    """
    from analyzer.files.workbook import is_workbook, sheets_of  # its library is not needed for texts

    if is_workbook(data):
        return sheets_of(data, name=name)
    return (table_of_text(decode_table(data, name=name), name=name),)


def table_of_text(text: str, *, name: str) -> CellTable:
    """Return the table of a text; the separator is told by a line `sep=;`, else by the first lines.

    Raises
    ------
    InputError
        Where it has too many lines or cells, or no line with anything in it. What is wrong with a row stands in it.
    """
    if text.count("\n") + text.count("\r") > 2 * MAX_LINES:
        raise InputError(
            where=name,
            what=f"the table has more than {MAX_LINES} lines",
            do="take blank lines and comments out, or cut the recording to this run",
        )
    lines = content_lines(text)
    first = list(itertools.islice(lines, LOOKED_AT))
    told = SEPARATOR_LINE.fullmatch(first[0][1]) if first else None
    separator = told.group(1) if told else separator_of([content for _, content in first])
    rows = tuple(_bounded(_rows(itertools.chain(first[1 if told else 0 :], lines), separator, name), name))
    if not rows:
        raise InputError(
            where=name, what="no line of the table has a cell with anything in it", do="export it again, or remove it"
        )
    return CellTable(name, None, separator, rows)


def separator_of(lines: Sequence[str]) -> str:
    """Return which of comma, semicolon and tab separates the cells: the one that most lines have the same number of;
    of several that with most in the first line. What stands in quotation marks does not count."""
    bare = [re.sub(r'"[^"]*"', "", line) for line in lines]

    def rank(separator: str) -> tuple[int, int]:
        counts = [line.count(separator) for line in bare]
        usual = max(set(counts) - {0}, key=counts.count, default=0)
        return (counts.count(usual) if usual else 0, counts[0] if counts else 0)

    return max(SEPARATORS, key=rank)


def content_lines(text: str) -> Iterator[tuple[int, str]]:
    """Yield number and text of the lines of a table that are neither blank nor a comment, one after another."""
    for number, line in enumerate(io.StringIO(text), start=1):
        if line.strip(" \t\r\n,;") and not line.lstrip().startswith("#"):
            yield number, line.rstrip("\r\n")


def _rows(lines: Iterator[tuple[int, str]], separator: str, name: str) -> Iterator[CellRow]:
    """Yield the rows of lines. A cell in quotation marks may go on over some lines; where it never ends, its own line
    is wrong and the next one is a row again."""
    waiting: list[tuple[int, str]] = []
    while True:
        number, line = waiting.pop(0) if waiting else next(lines, (0, ""))
        if not number:
            return
        where = f"{name}, line {number}"
        if len(line) > MAX_LINE:
            what = f"the line has {len(line)} characters; at most {MAX_LINE} are read"
            fault = InputError(where=where, what=what, do="check that it is the right file, or shorten the line")
            yield CellRow(number, (), fault)
            continue
        try:
            yield CellRow(number, _split(line, separator))
            continue
        except (csv.Error, StopIteration) as error:
            told = error
        whole, taken = line, 0
        if line.count('"') % 2:
            while len(waiting) < MAX_CELL_LINES and (more := next(lines, None)) is not None:
                waiting.append(more)
            whole, taken = _joined(line, waiting, separator)
        if taken:
            yield CellRow(number, _split(whole, separator))
            waiting = waiting[taken:]
        else:
            what = f"the row cannot be split into cells ({told})"
            yield CellRow(number, (), InputError(where=where, what=what, do="check the quotation marks"))


def _joined(line: str, following: Sequence[tuple[int, str]], separator: str) -> tuple[str, int]:
    """Return a line with the following ones up to where its open cell ends, and how many these are; 0 where it does
    not end."""
    whole = line
    for taken, (_, more) in enumerate(following, start=1):
        whole = f"{whole}\n{more}"
        if len(whole) > MAX_LINE:
            break
        if more.count('"') % 2:
            try:
                _split(whole, separator)
            except csv.Error:
                break
            return whole, taken
    return line, 0


def _split(line: str, separator: str) -> tuple[str, ...]:
    return tuple(next(csv.reader(io.StringIO(line, newline=""), delimiter=separator, strict=True)))


def _bounded(rows: Iterator[CellRow], name: str) -> Iterator[CellRow]:
    """Yield rows until there are too many cells, which is an error, or too many faults, which is enough."""
    cells = faults = 0
    for count, row in enumerate(rows):
        cells += len(row.cells)
        if count > MAX_ROWS or cells > MAX_CELLS:
            raise too_many_points(name, count - 1)
        if len(row.cells) > MAX_COLUMNS:
            raise InputError(
                where=f"{name}, line {row.number}",
                what=f"the table has more than {MAX_COLUMNS} columns",
                do="keep those that are read, and export it again",
            )
        yield row
        faults += row.fault is not None
        if faults >= MOST_FAULTS:
            return


def column_letters(column: int) -> str:
    """Return the letters over a column, counted from 0: A, B, ..., Z, AA."""
    letters, rest = "", column + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return letters


def text_of(cell: Cell) -> str:
    """Return a cell as text: stripped; numbers in at most 15 digits with a point; dates and times as ISO 8601 writes
    them; a duration as h:mm:ss."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, dt.timedelta):
        return _clock_text(cell.total_seconds())
    if isinstance(cell, dt.datetime | dt.date | dt.time):
        text = cell.isoformat()
        return text.rstrip("0") if "." in text else text
    return format(cell, ".15g")


def _clock_text(seconds: float) -> str:
    """Return a duration as h:mm:ss, with the fraction of the second where it has one."""
    whole, micro = divmod(round(abs(seconds) * 1e6), 1_000_000)
    text = f"{'-' if seconds < 0 else ''}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    return f"{text}.{micro:06d}".rstrip("0") if micro else text
