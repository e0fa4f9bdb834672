"""Spreadsheets for tests, written by hand so that each byte of them can be wrong: Office Open XML and OpenDocument."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
TIME_STYLE, DATE_STYLE, LONG_STYLE = 1, 2, 3
STYLES = (
    f'{HEAD}<styleSheet xmlns="{MAIN}"><cellXfs count="4"><xf numFmtId="0"/><xf numFmtId="21"/><xf numFmtId="22"/>'
    '<xf numFmtId="46"/></cellXfs></styleSheet>'
)
"""Cell styles by number: general, h:mm:ss, date and time, [h]:mm:ss (ECMA-376 part 1, 18.8.30)."""

Sheets = Mapping[str, Sequence[Sequence[object]]]


class Raw(str):
    """XML of a whole cell, put in as it is; {at} stands for where the cell is."""

    __slots__ = ()


def letters(column: int) -> str:
    """Return the letters over one of the first 26 columns, counted from 0."""
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[column]


def _office_cell(value: object, at: str) -> str:
    if isinstance(value, Raw):
        return value.replace("{at}", at)
    if value in ("", None):
        return ""
    if isinstance(value, int | float):
        return f'<c r="{at}"><v>{value}</v></c>'
    return f'<c r="{at}" t="inlineStr"><is><t>{escape(str(value))}</t></is></c>'


def clock(hours: int, minutes: int, seconds: float = 0.0, style: int = TIME_STYLE) -> Raw:
    """Return a cell that holds a time of day, or a duration with `LONG_STYLE`, as a fraction of a day."""
    return Raw(f'<c r="{{at}}" s="{style}"><v>{(hours * 3600 + minutes * 60 + seconds) / 86400:.15g}</v></c>')


def _state(title: str, hidden: Sequence[str]) -> str:
    return "hidden" if title in hidden else "visible"


def office_parts(sheets: Sheets, *, hidden: Sequence[str] = (), date_1904: bool = False) -> dict[str, str]:
    """Return the parts of a workbook by their paths."""
    listed = "".join(
        f'<sheet name={quoteattr(title)} sheetId="{i}" r:id="rId{i}" state="{_state(title, hidden)}"/>'
        for i, title in enumerate(sheets, start=1)
    )
    relations = "".join(
        f'<Relationship Id="rId{i}" Type="{RELATIONS}/worksheet" Target="worksheets/sheet{i}.xml"/>'
        for i in range(1, len(sheets) + 1)
    )
    parts = {
        "[Content_Types].xml": f'{HEAD}<Types xmlns="{PACKAGE}/content-types"><Default Extension="xml" '
        'ContentType="application/xml"/><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{TYPE}.sheet.main+xml"/></Types>',
        "_rels/.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{RELATIONS}">'
        f'<workbookPr date1904="{int(date_1904)}"/><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}/relationships">{relations}'
        f'<Relationship Id="rId99" Type="{RELATIONS}/styles" Target="styles.xml"/></Relationships>',
        "xl/styles.xml": STYLES,
    }
    for i, rows in enumerate(sheets.values(), start=1):
        body = "".join(
            f'<row r="{r}">{"".join(_office_cell(v, f"{letters(c)}{r}") for c, v in enumerate(row))}</row>'
            for r, row in enumerate(rows, start=1)
        )
        parts[f"xl/worksheets/sheet{i}.xml"] = (
            f'{HEAD}<worksheet xmlns="{MAIN}"><sheetData>{body}</sheetData></worksheet>'
        )
    return parts


def xlsx(sheets: Sheets, *, hidden: Sequence[str] = (), date_1904: bool = False) -> bytes:
    """Return a workbook (.xlsx) with sheets by name; texts, numbers, and `Raw` cells."""
    return packed(office_parts(sheets, hidden=hidden, date_1904=date_1904))


OFFICE = "urn:oasis:names:tc:opendocument:xmlns"


def _open_cell(value: object) -> str:
    if isinstance(value, Raw):
        return value
    if value in ("", None):
        return "<table:table-cell/>"
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    return f'<table:table-cell office:value-type="string"><text:p>{escape(str(value))}</text:p></table:table-cell>'


def open_clock(hours: int, minutes: int, seconds: int = 0) -> Raw:
    """Return a cell of OpenDocument that holds a time."""
    return Raw(
        f'<table:table-cell office:value-type="time" office:time-value="PT{hours:02d}H{minutes:02d}M{seconds:02d}S"/>'
    )


def open_parts(sheets: Sheets, *, tail: str = "") -> dict[str, str]:
    """Return the parts of an OpenDocument spreadsheet; `tail`: XML after the last row of each sheet."""
    tables = "".join(
        f"<table:table table:name={quoteattr(title)}>"
        + "".join(f"<table:table-row>{''.join(map(_open_cell, row))}</table:table-row>" for row in rows)
        + f"{tail}</table:table>"
        for title, rows in sheets.items()
    )
    return {
        "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
        "content.xml": f'{HEAD}<office:document-content xmlns:office="{OFFICE}:office:1.0" '
        f'xmlns:table="{OFFICE}:table:1.0" xmlns:text="{OFFICE}:text:1.0" office:version="1.2"><office:body>'
        f"<office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>",
        "META-INF/manifest.xml": f'{HEAD}<manifest:manifest xmlns:manifest="{OFFICE}:manifest:1.0"/>',
    }


def ods(sheets: Sheets, *, tail: str = "") -> bytes:
    """Return an OpenDocument spreadsheet with sheets by name."""
    return packed(open_parts(sheets, tail=tail))


def packed(parts: Mapping[str, str | bytes], *, compressed: bool = True) -> bytes:
    """Return a zip of parts by their paths, the same bytes each time."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED if compressed else zipfile.ZIP_STORED) as archive:
        for path, content in parts.items():
            archive.writestr(zipfile.ZipInfo(path), content, archive.compression)
    return out.getvalue()


def changed(data: bytes, path: str, old: str, new: str) -> bytes:
    """Return a spreadsheet with a piece of one part replaced, which must be there."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts: dict[str, str | bytes] = {name: archive.read(name) for name in archive.namelist()}
    text = bytes(parts[path]).decode()  # type: ignore[arg-type]
    assert old in text
    parts[path] = text.replace(old, new)
    return packed(parts)
