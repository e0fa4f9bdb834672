"""Packed tracks: gzip around any track, and KMZ; unpacked within bounds."""

import io
import lzma
import struct
import zipfile
import zlib

from analyzer.errors import InputError

MAX_UNPACKED = 64_000_000
"""Our own limit, because it is above what one recording may have, and a packed file may name any size."""
GZIP_MARK = b"\x1f\x8b"
MAX_ENTRIES = 2000
"""Our own limit on files in a KMZ: pictures may lie beside the track."""
PICTURES = (".png", ".jpg", ".jpeg", ".gif", ".bmp", ".svg", ".webp")
_ENTRY_MARK = b"PK\x01\x02"
_ZIP_MARK = b"PK\x03\x04"
DAMAGED_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    IndexError,
    RuntimeError,
    OSError,
    ValueError,
)
"""What a zip archive that is damaged, encrypted or packed in a way of its own makes the libraries raise."""
_GZIP_WINDOW = 31  # zlib's number for "with a gzip header"


def is_gzip(data: bytes) -> bool:
    """Return whether bytes begin as a gzip file."""
    return data[:2] == GZIP_MARK


def gunzip(data: bytes, *, name: str) -> bytes:
    """Return what a gzip file holds.

    Raises
    ------
    InputError
        Where it is damaged or cut off, or holds more than 64 MB.
    """
    parts: list[bytes] = []
    size = 0
    rest = data
    try:
        while is_gzip(rest):  # several in a row are one, as gzip says
            unpacker = zlib.decompressobj(_GZIP_WINDOW)
            part = unpacker.decompress(rest, MAX_UNPACKED - size + 1)
            size += len(part)
            if size > MAX_UNPACKED:
                raise _too_large(name)
            if not unpacker.eof:
                raise zlib.error("cut off")
            parts.append(part)
            rest = unpacker.unused_data
    except zlib.error:
        raise InputError(
            where=name, what="the gzip file is damaged or cut off", do="pack it or copy it again"
        ) from None
    return b"".join(parts)


def is_kmz(data: bytes) -> bool:
    """Return whether bytes are a KMZ: a zip archive with one KML file at its top, and pictures beside it at most."""
    if data[:4] != _ZIP_MARK:
        return False
    try:
        names = [e.filename.lower() for e in _entries(data) if not e.is_dir()]
    except DAMAGED_ZIP:
        return False
    others = [name for name in names if not name.endswith(PICTURES)]
    return len(others) == 1 and others[0].endswith(".kml") and "/" not in others[0]


def kml_of_kmz(data: bytes, *, name: str) -> bytes:
    """Return the one KML file at the top of a KMZ, `doc.kml` before others.

    Raises
    ------
    InputError
        Where the archive is damaged, has too many entries or bytes, or holds no KML file.
    """
    try:
        entries = [e for e in _entries(data) if e.filename.lower().endswith(".kml") and "/" not in e.filename]
        if not entries:
            raise InputError(where=name, what="there is no KML file in the KMZ", do="export the track as KML or GPX")
        entry = next((e for e in entries if e.filename.lower() == "doc.kml"), entries[0])
        with zipfile.ZipFile(io.BytesIO(data)) as archive, archive.open(entry) as stream:
            content = stream.read(MAX_UNPACKED + 1)
    except InputError:
        raise
    except DAMAGED_ZIP:
        raise InputError(
            where=name, what="the KMZ is damaged, cut off or encrypted", do="export the file again"
        ) from None
    if len(content) > MAX_UNPACKED:
        raise _too_large(name)
    return content


def _entries(data: bytes) -> list[zipfile.ZipInfo]:
    if data.count(_ENTRY_MARK) > MAX_ENTRIES:  # counted before the list of them fills the memory
        raise ValueError("too many entries")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.infolist()


def _too_large(name: str) -> InputError:
    return InputError(
        where=name,
        what=f"it unpacks to more than {MAX_UNPACKED / 1e6:.0f} MB",
        do="cut the recording to this run and export it again",
    )
