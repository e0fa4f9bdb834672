"""Files that cost far more than their size where a reader is careless. Each was seen to, or is a relative of one."""

from collections.abc import Callable

from analyzer.files.results import RESULT_FORMAT
from analyzer.files.source import MAX_BYTES
from tests.attacks.samples import fit_file
from tests.support.invented_logs import GNSS_HEAD, POS_HEAD
from tests.support.sheets import Raw, ods, office_parts, packed

GPX, END = b'<gpx><trk><trkseg><trkpt lat="46" lon="7"', b"</trkpt></trkseg></trk></gpx>"
TABLE = b"time,latitude,longitude\n"


def _attributes(size: int, name: bytes = b"a") -> bytes:
    return GPX + b" " + b" ".join(b'%s%d=""' % (name, i) for i in range(size // (len(name) + 10))) + b">" + END


def _distinct(size: int, row: bytes) -> bytes:
    return b"".join(row % i for i in range(size // len(row % 1_000_000)))


def _sheet(inside: str, **parts: str) -> bytes:
    """Return an .xlsx with XML in place of the rows of its one sheet, and further parts."""
    named = {f"xl/{name}.xml": content for name, content in parts.items()}
    made = office_parts({"a": []}) | named
    sheet = "xl/worksheets/sheet1.xml"
    return packed({**made, sheet: made[sheet].replace("<sheetData>", f"<sheetData>{inside}")})


def _ods_row(rows: int, cells: int, inside: str = 'office:value-type="float" office:value="1"') -> bytes:
    cell = f'<table:table-cell table:number-columns-repeated="{cells}" {inside}/>'
    return ods({"a": [[1]]}, tail=f'<table:table-row table:number-rows-repeated="{rows}">{cell}</table:table-row>')


def _strings(text: str) -> str:
    return f"<sst><si><t>{text}</t></si></sst>"


SMALL: dict[str, tuple[str, Callable[[], bytes]]] = {
    "headings of blank lines, 60 kB": ("run", lambda: b"[ =\n" + b"\n" * 60_000),
    "keys and blank lines, 120 kB": ("run", lambda: b"= 1\n" + b"a\n" * 20_000 + b" " * 80_000),
    "a key of 40,000 parts, 80 kB": ("run", lambda: b".".join([b"a"] * 40_000) + b" = 1"),
    "headings of 100 parts, 100 kB": (
        "drill",
        lambda: b"".join(b"[" + b"a." * 100 + b"b%d]\n" % i for i in range(500)),
    ),
    "a sentence begun 20,000 times, 140 kB": ("nmea", lambda: b"$GPGGA," * 20_000),
    "a sentence of one field, 140 kB": ("nmea", lambda: b"$GPGGA," + b"1" * 140_000),
    "lists in lists, 200 kB": ("run", lambda: b"a = " + b"[" * 100_000 + b"]" * 100_000),
    "objects in objects, 500 kB": ("result", lambda: b'{"a":' * 100_000),
    "a point of 200,000 attributes, 2 MB": ("gpx", lambda: _attributes(2_000_000)),
    "elements in elements, 1 MB": ("gpx", lambda: b"<gpx>" + b"<a>" * 300_000),
    "quotation marks never closed, 200 kB": ("run", lambda: b'a = """' + b'\\"""' * 50_000),
    "apostrophes, 200 kB": ("run", lambda: b"a = " + b"'" * 200_000),
    "unknown keys, 300 kB": ("run", lambda: _distinct(300_000, b"key%d = 1\n")),
    "unknown columns, 1 MB": ("csv", lambda: b",".join(b"c%d" % i for i in range(120_000)) + b"\n1,2\n"),
    "a result of numbers for inputs, 2 MB": (
        "result",
        lambda: b'{"format": "%s", "inputs": [' % RESULT_FORMAT.encode() + b"1," * 1_000_000 + b"1]}",
    ),
    "a name of 5 MB": ("gpx", lambda: b"<" + b"g" * 5_000_000 + b"/>"),
    "a cell in the last row and column, 3 kB": ("sheets", lambda: _sheet('<row><c r="XFD1048576"><v>1</v></c></row>')),
    "cells by rows and columns of a full sheet, 1 kB": ("sheets", lambda: _ods_row(1_048_576, 16_384)),
    "cells of a long text, 2 kB": ("sheets", lambda: _ods_row(90_000, 1, f'office:string-value="{"x" * 30_000}"')),
    "strings that are claimed, 3 kB": ("sheets", lambda: _sheet("", sharedStrings='<sst uniqueCount="4000000000"/>')),
    "a text that stands in many cells, 20 kB": (
        "sheets",
        lambda: _sheet('<row><c t="s"><v>0</v></c></row>' * 20_000, sharedStrings=_strings("x" * 30_000)),
    ),
    "entities in entities, 3 kB": (
        "sheets",
        lambda: _sheet("", sharedStrings='<!DOCTYPE s [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]>' + _strings("&b;")),
    ),
    "spaces that are claimed, 1 kB": (
        "sheets",
        lambda: ods(
            {"a": [[Raw('<table:table-cell><text:p><text:s text:c="2000000000"/></text:p></table:table-cell>')]]}
        ),
    ),
    "elements in elements of a sheet, 3 kB": ("sheets", lambda: _sheet("<row>" * 9000 + "</row>" * 9000)),
    "messages of nothing, 220 kB": ("fit", lambda: fit_file(b"\x40\0\0\x14\0\0" + b"\0" * 220_000)),
}
"""What it is -> the kind of file and how it is made."""

LARGE: dict[str, tuple[str, Callable[[], bytes]]] = {
    "a point of attributes, 38 MB": ("gpx", lambda: _attributes(38_000_000)),
    "points of attributes, 40 MB": (
        "gpx",
        lambda: (
            b"<gpx><trk><trkseg>"
            + (b'<trkpt lat="46" lon="7" ' + b" ".join(b'a%d=""' % i for i in range(2000)) + b"/>") * 2500
        ),
    ),
    "elements of other names, 40 MB": ("gpx", lambda: b"<gpx>" + _distinct(40_000_000, b"<a%d/>")),
    "empty elements, 40 MB": ("gpx", lambda: b"<gpx>" + b"<a/>" * 10_000_000 + b"</gpx>"),
    "points of elements, 40 MB": ("tcx", lambda: b"<TrainingCenterDatabase><Activity>" + b"<Trackpoint/>" * 3_000_000),
    "points, 45 MB": (
        "gpx",
        lambda: b"<gpx><trk><trkseg>" + b'<trkpt lat="46" lon="7"></trkpt>' * 1_400_000 + b"</trkseg></trk></gpx>",
    ),
    "commas, 45 MB": ("csv", lambda: b"," * 45_000_000),
    "blank lines, 45 MB": ("csv", lambda: TABLE + b"\n" * 45_000_000),
    "short wrong lines, 45 MB": ("csv", lambda: TABLE + b"a\n" * 22_000_000),
    "good lines, 45 MB": ("csv", lambda: TABLE + b"2026-01-17T09:30:00Z,46,7\n" * 1_700_000),
    "one cell, 45 MB": ("marks", lambda: b"elapsed,mark,note\n1,start," + b"x" * 45_000_000),
    "quotation marks, 45 MB": ("csv", lambda: b'time,"' + b'""' * 22_000_000),
    "numbers, 45 MB": (
        "result",
        lambda: b'{"format": "%s", "path": [' % RESULT_FORMAT.encode() + b"1e9," * 4_700_000 + b"1]}",
    ),
    "texts, 19 MB": ("result", lambda: b"[" + _distinct(19_000_000, b'"%d",') + b"1]"),
    "lists, 19 MB": ("result", lambda: b"[" + b"[]," * 6_000_000 + b"1]"),
    "sentences, 45 MB": (
        "nmea",
        lambda: b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\n" * 650_000,
    ),
    "sentences with a wrong sum, 45 MB": ("nmea", lambda: b"$GPGGA,*00" * 4_500_000),
    "assignments, 45 MB": ("run", lambda: b"a = 1\n" * 7_500_000),
    "fields of a byte, 7 MB": (
        "fit",
        lambda: fit_file(b"\x40\0\0\x14\0\xff" + b"".join(bytes((i, 1, 2)) for i in range(255)) + b"\0" * 7_000_000),
    ),
    "lists, 48 MB": ("geojson", lambda: b'{"type":"FeatureCollection","features":[' + b"[]," * 16_000_000 + b"1]}"),
    "lines of a letter, 45 MB": ("pos", lambda: POS_HEAD.encode() + b"a\n" * 22_000_000),
    "records of a letter, 45 MB": ("igc", lambda: b"AXXX\nHFDTE170126\n" + b"B\n" * 22_000_000),
    "fixes of nothing, 45 MB": ("gnss log", lambda: GNSS_HEAD.encode() + b"Fix\n" * 11_000_000),
    "cells of nothing, 58 MB in 60 kB": ("sheets", lambda: _sheet("<c/>" * 14_500_000)),
    "white space, 120 MB in 120 kB": ("sheets", lambda: _sheet(" " * 120_000_000)),
    "a full sheet": (
        "sheets",
        lambda: _sheet(
            '<row><c t="str"><v>elapsed</v></c></row>' + "<row><c><v>1</v></c><c><v>2</v></c></row>" * 99_000
        ),
    ),
    "too much of everything": ("gpx", lambda: b"<" * (MAX_BYTES + 1)),
}
"""As SMALL, for the command: each takes a second to make."""
