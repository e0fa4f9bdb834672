"""Spreadsheets made safe: what the library reads is unpacked, bounded and checked here; nothing else reaches it.

The library reserves memory for whatever a file claims to hold (a cell in the last row of the last column, a number of
strings, repeated cells), and ends the process where there is none. So all XML parts are read once beforehand, and those
that are needed are packed anew: what was checked is what is read.
"""

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field

from analyzer.errors import InputError
from analyzer.files.workbook_scan import CONTENT, MIMETYPE, Scan, damaged, locked, too_large

MAX_PARTS = 2000
MAX_UNPACKED = 60_000_000
"""Bytes of XML; our own choice, because `MAX_ROWS` rows of ten cells take some fifty million."""
ENTRY_MARK = b"PK\x01\x02"
PART = re.compile(
    r"(?!.*(?:media|theme|drawings|charts|thumbnails|configurations2)/).*\.(?:xml|rels)|mimetype", re.IGNORECASE
)
"""Parts that are passed on; a picture or a macro has nothing to say about cells."""
OPEN_DOCUMENT_PARTS = (MIMETYPE, CONTENT, "META-INF/manifest.xml")
DAMAGED_PARTS = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)


@dataclass(slots=True)
class Checked:
    """A workbook as the library may read it. `broken`: sheet -> row and column from 0 -> what is said for its value."""

    data: bytes
    broken: dict[str, dict[tuple[int, int], str]] = field(default_factory=dict)


def checked(data: bytes, *, name: str) -> Checked:
    """Return a workbook whose parts were all looked at.

    Raises
    ------
    InputError
        Where it is damaged, protected by a password, too large, or claims what no log has.
    """
    parts = _parts(data, name)
    scan = Scan(name)
    for path, content in parts.items():
        if path != MIMETYPE:
            scan.part(path, content)
    scan.check_texts()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for path, content in parts.items():
            archive.writestr(path, content)
    return Checked(packed.getvalue(), scan.broken_by_sheet())


def _parts(data: bytes, name: str) -> dict[str, bytes]:
    """Return the XML parts by their paths; sizes are those that come out, not those that the file tells."""
    if data.count(ENTRY_MARK) > MAX_PARTS:
        raise too_large(name, f"has more than {MAX_PARTS} parts")
    parts: dict[str, bytes] = {}
    left = MAX_UNPACKED
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            is_open = CONTENT in archive.namelist()
            for entry in archive.infolist():
                if not PART.fullmatch(entry.filename) or (is_open and entry.filename not in OPEN_DOCUMENT_PARTS):
                    continue
                if entry.flag_bits & 0x1:
                    raise locked(name)
                with archive.open(entry) as stream:
                    content = stream.read(left + 1)
                left -= len(content)
                if left < 0:
                    raise too_large(name, f"unpacks to more than {MAX_UNPACKED / 1e6:.0f} MB")
                parts[entry.filename] = content
    except InputError:
        raise
    except DAMAGED_PARTS:
        raise damaged(name) from None
    if b"encryption-data" in parts.get("META-INF/manifest.xml", b""):
        raise locked(name)
    return parts
