"""Comma- or semicolon-separated text with a header line: rows of text with their line numbers."""

import csv
import io
import math
from collections.abc import Iterator
from dataclasses import dataclass

from analyzer.errors import InputError
from analyzer.files.source import decode_text
from analyzer.files.tracks.fixes import too_many_points

MAX_ROWS = 500_000


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
            if "_" in text:  # Python reads 1_000 as a number; nobody means it
                raise ValueError(text)
            value = float(text)
        except ValueError:
            comma = "," in text and text.count(",") == 1
            do = (
                f"write a decimal point, {text.replace(',', '.')}, and separate columns by ; or ,"
                if comma
                else "write a number, or remove the row"
            )
            what = f"{column} {text!r} is not a number" if text else f"{column} is empty"
            raise InputError(where=self.where, what=what, do=do) from None
        if not math.isfinite(value):
            if not needed and math.isnan(value):
                return math.nan
            raise InputError(
                where=self.where,
                what=f"{column} {text!r} is not a finite number",
                do="write a number, or remove the row",
            )
        return value


@dataclass(frozen=True, slots=True)
class Table:
    """A table's columns (lower case) and rows. Blank lines and lines that begin with # are comments."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    def need(self, *columns: str) -> None:
        """Raise `InputError` that names the first of `columns` that is missing."""
        for column in columns:
            if column not in self.columns:
                raise InputError(
                    where=f"{self.name}, line 1",
                    what=f"the column {column!r} is missing",
                    do=f"add it; the columns found are {', '.join(self.columns)}",
                )

    def allow(self, *columns: str) -> None:
        """Raise `InputError` on a column that is not among `columns`."""
        for column in self.columns:
            if column not in columns:
                raise InputError(
                    where=f"{self.name}, line 1",
                    what=f"the column {column!r} is not known",
                    do=f"remove it or name it one of {', '.join(columns)}",
                )


def parse_table(data: bytes, *, name: str) -> Table:
    """Return the table in `data`; the separator is the one of comma, semicolon and tab that the header uses most.

    Raises
    ------
    InputError
        Where it is not text, has no rows, repeats a column, or a row has more or fewer cells than the header.
    """
    text = decode_text(data, name=name)
    lines = _content_lines(text)
    header_line, header = next(lines, (0, ""))
    separator = max(",;\t", key=header.count)
    reader = _cells(header, separator, f"{name}, line {header_line}")
    columns = tuple(cell.strip().lower() for cell in reader)
    repeated = next((c for c in columns if columns.count(c) > 1), None)
    if repeated is not None:
        raise InputError(
            where=f"{name}, line {header_line}", what=f"the column {repeated!r} appears twice", do="keep one of them"
        )
    rows: list[Row] = []
    for line, content in lines:
        where = f"{name}, line {line}"
        cells = _cells(content, separator, where)
        if len(cells) != len(columns):
            raise InputError(
                where=where,
                what=f"the row has {len(cells)} cells, the header {len(columns)}",
                do="complete the row; write decimals with a point, not a comma",
            )
        if len(rows) >= MAX_ROWS:
            raise too_many_points(name, MAX_ROWS)
        rows.append(Row(where=where, line=line, cells=dict(zip(columns, (c.strip() for c in cells), strict=True))))
    if not rows:
        raise InputError(where=name, what="the table has a header and no rows", do="export it again, or remove it")
    return Table(name=name, columns=columns, rows=tuple(rows))


def _content_lines(text: str) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip(" \t,;") and not line.lstrip().startswith("#"):
            yield number, line


def _cells(line: str, separator: str, where: str) -> list[str]:
    try:
        return next(csv.reader(io.StringIO(line), delimiter=separator, strict=True))
    except csv.Error as error:
        raise InputError(
            where=where, what=f"the row cannot be split into cells ({error})", do="check the quotation marks"
        ) from None
