"""A table of taped looks: distance, what was shown, how the transmitter lay, which walk; with decimal commas too."""

import re
from collections.abc import Iterable, Mapping

from analyzer.errors import FileError, InputError, Problem, quoted
from analyzer.files.cells import tables_of, text_of
from analyzer.files.toml_table import nearest
from analyzer.model.range_check import ORIENTATIONS, UNKNOWN, Look

COLUMNS = ("distance_m", "reading_m", "orientation", "walk")
NOTHING = ("-", "nothing", "none")
"""Words for a look that showed nothing."""
MOST_DISTANCE_M, MOST_READING_M, MOST_LOOKS, MOST_WALKS = 150.0, 200.0, 400, 20
"""Our own limits: no receiver hears further, none shows more; a long afternoon of walks."""
NUMBER = re.compile(r"[+-]?(?:\d{1,9}[.,]?\d{0,9}|[.,]\d{1,9})")


def parse_range_csv(data: bytes, *, name: str) -> tuple[Look, ...]:
    """Return the looks of a table with the columns `COLUMNS`; the last two may be missing.

    Raises
    ------
    FileError
        With every wrong line.
    InputError
        Where it is no table, has no such columns, or no look in it showed a reading.
    """
    tables = tables_of(data, name=name)
    table = tables[0]
    heads = [text_of(cell).strip().lower() for cell in table.rows[0].cells]
    missing = [column for column in COLUMNS[:2] if column not in heads]
    unknown = [head for head in heads if head and head not in COLUMNS]
    if missing or unknown or len(set(heads)) != len(heads):
        what = f"the column {missing[0]} is missing" if missing else f"the first line has {quoted(', '.join(heads))}"
        do = f"head the columns {', '.join(COLUMNS)}; the last two may be left out"
        raise InputError(where=table.where(table.rows[0].number), what=what, do=do)
    rows = []
    for row in table.rows[1:]:
        if row.fault is not None:
            raise row.fault
        if len(row.cells) > len(heads):
            what = f"the line has {len(row.cells)} cells under {len(heads)} columns"
            do = "with decimal commas, separate the columns by semicolons"
            raise InputError(where=table.where(row.number), what=what, do=do)
        cells = [text_of(cell) for cell in row.cells] + [""] * (len(heads) - len(row.cells))
        rows.append((table.where(row.number), dict(zip(heads, cells, strict=True))))
    return looks_of(rows, name=name)


def looks_of(rows: Iterable[tuple[str, Mapping[str, str]]], *, name: str) -> tuple[Look, ...]:
    """Return the looks of rows, each with where it stands and its texts by column.

    Raises
    ------
    FileError, InputError
        As `parse_range_csv`.
    """
    found: list[Look] = []
    problems: list[Problem] = []
    for where, cells in rows:
        try:
            found.append(_look(where, cells))
        except InputError as error:
            problems.append(Problem("", error.where, error.what, error.do))
    if problems:
        raise FileError(name, problems)
    if not found:
        raise InputError(where=name, what="no look is entered", do="enter taped distances and what was shown there")
    if len(found) > MOST_LOOKS or len({look.walk for look in found}) > MOST_WALKS:
        what = f"there are {len(found)} looks; at most {MOST_LOOKS} on {MOST_WALKS} walks are taken"
        raise InputError(where=name, what=what, do="check one receiver with one transmitter at a time")
    if all(look.reading_m is None for look in found):
        what = "every look showed nothing"
        raise InputError(where=name, what=what, do="begin nearer, and check that the transmitter sends")
    return tuple(found)


def _look(where: str, cells: Mapping[str, str]) -> Look:
    distance = number_of(cells.get("distance_m", ""), f"{where}, distance", MOST_DISTANCE_M)
    shown = cells.get("reading_m", "").strip()
    if not shown:
        do = "enter the reading, or say that nothing was shown (- in a table)"
        raise InputError(where=f"{where}, shown", what="nothing is entered", do=do)
    reading = None if shown.lower() in NOTHING else number_of(shown, f"{where}, shown", MOST_READING_M)
    orientation = cells.get("orientation", "").strip().lower() or UNKNOWN
    if orientation not in ORIENTATIONS:
        do = nearest(orientation, ORIENTATIONS)
        raise InputError(where=f"{where}, orientation", what=f"{quoted(orientation)} is not known", do=do)
    return Look(distance, reading, orientation, cells.get("walk", "").strip() or "1")


def number_of(typed: str, where: str, most: float, *, zero: bool = False) -> float:
    """Return a number above 0 (from 0 on where `zero`) and at most `most`, typed with a point or a comma.

    Raises
    ------
    InputError
        Where it is none.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    if not text:
        raise InputError(where=where, what="nothing is entered", do="enter a number in metres, such as 12.5 or 12,5")
    if not NUMBER.fullmatch(text):
        do = "write it like 12.5 or 12,5, without a unit"
        raise InputError(where=where, what=f"{quoted(typed.strip())} is not a number", do=do)
    value = float(text.replace(",", "."))
    if not (0.0 <= value <= most) or (value == 0.0 and not zero):
        do = f"write a number {'from 0' if zero else 'above 0'} and at most {most:g}"
        raise InputError(where=where, what=f"{value:g} is out of range", do=do)
    return value
