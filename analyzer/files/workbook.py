"""Spreadsheets (.xlsx, .ods): their visible sheets as rows of cells."""

import datetime as dt
import io
import re
import zipfile
from typing import Any

from analyzer.errors import InputError
from analyzer.files.cells import Cell, CellRow, CellTable
from analyzer.files.workbook_guard import DAMAGED_PARTS, ENTRY_MARK, MAX_PARTS, checked
from analyzer.files.workbook_scan import MIMETYPE, damaged, locked

COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How the compound files of older office programs begin; newer ones keep what a password protects in one."""
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
"""Name of the stream in which a protected workbook lies, by [MS-OFFCRYPTO]."""
OFFICE_BOOK = "xl/workbook.xml"
OPEN_BOOK = "application/vnd.oasis.opendocument.spreadsheet"
OFFICE_ENDING, OPEN_ENDING = ".xlsx", ".ods"
SPREADSHEET_ENDINGS = (OFFICE_ENDING, OPEN_ENDING)
DURATION = re.compile(r"PT(\d{1,4})H(\d{1,2})M(\d{1,2}(?:\.\d{1,9})?)S", re.ASCII)


def is_workbook(data: bytes) -> bool:
    """Return whether bytes are a spreadsheet, one protected by a password or of an older program too."""
    if data.startswith(COMPOUND):
        return True
    if not data.startswith(b"PK\x03\x04") or data.count(ENTRY_MARK) > MAX_PARTS:
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if OFFICE_BOOK in map(str.lower, names):
                return True
            if MIMETYPE not in names:
                return False
            with archive.open(MIMETYPE) as stream:
                return stream.read(len(OPEN_BOOK) + 1).decode("ascii", "replace") == OPEN_BOOK
    except DAMAGED_PARTS:
        return False


def is_office(data: bytes) -> bool:
    """Return whether a spreadsheet is Office Open XML; else it is OpenDocument."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return OFFICE_BOOK in {name.lower() for name in archive.namelist()}


def sheets_of(data: bytes, *, name: str) -> tuple[CellTable, ...]:
    """Return the visible sheets of a spreadsheet that hold anything, in their order.

    Raises
    ------
    InputError
        Where it is damaged, protected by a password, of an older program, or too large; or where nothing is in it.
    """
    if data.startswith(COMPOUND):
        if ENCRYPTED in data:
            raise locked(name)
        raise InputError(
            where=name, what="this is a document of an older office program", do="save it as .xlsx, .ods or CSV"
        )
    book = checked(data, name=name)
    try:
        tables = _tables(book.data, book.broken, name)
    except InputError:
        raise
    except BaseException as error:  # the library raises errors of its own, and others; its panics are no `Exception`
        if isinstance(error, Exception) or type(error).__name__ == "PanicException":
            raise damaged(name) from None
        raise
    if not tables:
        raise InputError(where=name, what="no visible sheet has anything in it", do="export it again, or remove it")
    return tables


def _tables(data: bytes, broken: dict[str, dict[tuple[int, int], str]], name: str) -> tuple[CellTable, ...]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

    tables = []
    with CalamineWorkbook.from_filelike(io.BytesIO(data)) as book:
        for about in book.sheets_metadata:
            if about.visible != SheetVisibleEnum.Visible or about.typ != SheetTypeEnum.WorkSheet:
                continue
            cells = book.get_sheet_by_name(about.name).to_python(skip_empty_area=False)
            rows = _rows(cells, broken.get(about.name, {}))
            if rows:
                tables.append(CellTable(name, about.name, "", rows))
    return tuple(tables)


def _rows(cells: list[list[Any]], broken: dict[tuple[int, int], str]) -> tuple[CellRow, ...]:
    for (row, column), why in broken.items():
        if row < len(cells) and column < len(cells[row]):
            cells[row][column] = why
    return tuple(
        CellRow(number, tuple(map(_cell, row)))
        for number, row in enumerate(cells, start=1)
        if any(value != "" for value in row)
    )


def _cell(value: Any) -> Cell:
    """Return a value of the library as a cell; a time of OpenDocument from 24 hours on comes as it is written there."""
    if isinstance(value, str) and (long := DURATION.fullmatch(value)):
        hours, minutes, seconds = long.groups()
        return dt.timedelta(hours=int(hours), minutes=int(minutes), seconds=float(seconds))
    found: Cell = value
    return found
