"""Where in a table of positions the names of its columns stand."""

import csv
import re
from collections.abc import Iterable
from itertools import islice

from analyzer.errors import InputError
from analyzer.files.cells import MAX_LINE, SEPARATORS, CellTable, content_lines, text_of
from analyzer.files.tracks.column_names import LATITUDE, LONGITUDE, is_header, may_be_header

LOG_COLUMNS = frozenset({"reading_m", "reading", "readings", "mark", "marks"})
LOOKED_AT = 30
"""So many lines may stand above the names; our own choice: what apps write there about the recording is shorter."""
SPEAKING, NAMES, NOTHING = "it speaks of positions", "these are its columns", ""
_LINES = re.compile(r"[^\r\n]*")
_DEGREES_IN_A_ROW = re.compile(r"-?\d{1,3}\.\d{4,}")


def commented_head(text: str) -> str:
    """Return a text whose names of columns stand in a comment with the sign of the comment taken away.

    Only where no line that is no comment holds them, and the comment stands before the first of these.
    """
    _, first = next(content_lines(text), (0, ""))
    if not first or any(is_header(split_names(line)) for _, line in islice(content_lines(text), LOOKED_AT)):
        return text
    begin = text.find(first)
    for found in _LINES.finditer(text, 0, begin):
        line = found[0].lstrip()
        if line.startswith("#") and len(line) <= MAX_LINE and is_header(split_names(line.lstrip("# "))):
            sign = found.start() + found[0].index("#")
            return f"{text[:sign]} {text[sign + 1 :]}"
    return text


def says(table: CellTable) -> str:
    """Return whether the first rows of a table name the columns of positions, speak of positions, or neither."""
    first = [[text_of(cell) for cell in row.cells] for row in table.rows[:LOOKED_AT]]
    if any(is_header(cells) for cells in first):
        return NAMES
    return SPEAKING if any(may_be_header(cells) for cells in first[:1]) else NOTHING


def own_log(tables: Iterable[CellTable]) -> bool:
    """Return whether tables have a column that can only be one of a log: the length walked is a distance as well."""
    heads = (row.cells for table in tables for row in table.rows[:LOOKED_AT])
    return any(text_of(cell).casefold() in LOG_COLUMNS for cells in heads for cell in cells)


def without_head(text: str) -> bool:
    """Return whether the first line of a text is a row of numbers of which two look like degrees."""
    _, first = next(content_lines(text), (0, ""))
    cells = [cell.strip() for cell in split_names(first)]
    return sum(bool(_DEGREES_IN_A_ROW.fullmatch(cell)) for cell in cells) > 1


def split_names(line: str) -> list[str]:
    """Return the cells of a line that may be a header, by the separator that stands there most often."""
    line = line[:MAX_LINE]
    separator = max(SEPARATORS, key=line.count)
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []


def head_row(table: CellTable) -> int:
    """Return the index of the row with the names of the columns: the first that names positions, else the first.

    Raises
    ------
    InputError
        Where the table has numbers alone.
    """
    first = [[text_of(cell) for cell in row.cells] for row in table.rows[:LOOKED_AT]]
    head = next((i for i, cells in enumerate(first) if is_header(cells)), 0)
    if not any(c.isalpha() for cell in first[head] for c in cell):
        raise no_head(table.where(table.rows[0].number))
    return head


def no_head(where: str) -> InputError:
    """Return the error of a table of numbers that nothing names."""
    return InputError(
        where=where,
        what="the table has no line that names its columns",
        do=f"write one above the numbers, for example time,{LATITUDE},{LONGITUDE}, in the order of the columns",
    )
