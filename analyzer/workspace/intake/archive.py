"""Zip archives opened safely: no path outside, bounded in entries and bytes, one level deep, nothing run or linked."""

import contextlib
import io
import stat
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from analyzer.errors import InputError, quoted
from analyzer.files.source import MAX_BYTES
from analyzer.files.tracks.packed import DAMAGED_ZIP, is_kmz
from analyzer.files.workbook import is_workbook
from analyzer.workspace.intake.not_ours import AS_CSV, OFFICE
from analyzer.workspace.unforeseen import unforeseen_error

MAX_ENTRIES = 2000
MAX_UNPACKED = 200_000_000
"""Our own limits: two hundred runs of a drill are about a thousand files and 60 MB."""
ENTRY_MARK = b"PK\x01\x02"
OFFICE_MARKS = (frozenset({"[Content_Types].xml"}), frozenset({"mimetype", "content.xml"}))
"""Names at the top of a spreadsheet or text document, which is a zip too: Office Open XML, OpenDocument."""
SYSTEM_FOLDERS, SYSTEM_FILES = ("__MACOSX",), (".DS_Store", "Thumbs.db", "desktop.ini")


@dataclass(frozen=True, slots=True)
class Room:
    """How much may come out of one archive: `files`, and `size` in bytes of all of them."""

    files: int = MAX_ENTRIES
    size: int = MAX_UNPACKED


ROOM = Room()


@dataclass(frozen=True, slots=True)
class Member:
    """One file of an archive: its path inside and its bytes, or why it cannot be had."""

    path: str
    data: bytes = b""
    problem: InputError | None = None


def is_zip(head: bytes) -> bool:
    """Return whether a file that begins so is a zip archive."""
    return head[:4] in (b"PK\x03\x04", b"PK\x05\x06")


def members(path: Path, *, name: str, room: Room = ROOM) -> Iterator[Member]:
    """Yield the files of an archive one after the other; folders and files of the system are passed over.

    Parameters
    ----------
    path : Path
        Of the archive.
    name : str
        For error texts.
    room : Room
        How much may come out.

    Raises
    ------
    InputError
        Where the archive is damaged, encrypted, has too many entries or bytes, a path leads outside, or it is the
        document of an office program; before anything is unpacked.
    """
    _check_number(path, name, room.files)
    try:
        with zipfile.ZipFile(path) as archive:
            if _is_office(archive):
                raise _office(name)
            entries = [e for e in archive.infolist() if not e.is_dir()]
            _check(entries, name, room.size)
            for entry in entries:
                inside = _inside(entry, name)
                if not _of_the_system(inside):
                    yield _member(archive, entry, inside, name)
    except (InputError, OSError):  # of the disk: told as such
        raise
    except DAMAGED_ZIP:
        raise _damaged(name) from None


def _check_number(path: Path, name: str, most: int) -> None:
    """Count the marks of entries before the list of them is read, which would fill the memory."""
    count, tail = 0, b""
    with path.open("rb") as stream:
        while chunk := stream.read(1 << 20):
            block = tail + chunk
            count += block.count(ENTRY_MARK)
            tail = block[-len(ENTRY_MARK) + 1 :]
    if count > most:
        raise InputError(
            where=name,
            what=f"the zip has more than {most} entries",
            do="zip the folder of one drill, or drop its files in parts",
        )


def _check(entries: list[zipfile.ZipInfo], name: str, most: int) -> None:
    total = sum(e.file_size for e in entries)
    if total > most:
        raise InputError(
            where=name,
            what=f"the zip unpacks to {total / 1e6:.0f} MB; at most {most / 1e6:.0f} MB are unpacked",
            do="zip the folder of one drill alone; nothing was unpacked",
        )
    for entry in entries:
        _inside(entry, name)
        if entry.flag_bits & 0x1:
            raise InputError(where=name, what="the zip is encrypted", do="zip the files without a password")


def _inside(entry: zipfile.ZipInfo, name: str) -> str:
    """Return the path of an entry with "/" between folders, checked to stay inside the archive."""
    text = entry.filename.replace("\\", "/")
    path = PurePosixPath(text)
    linked = stat.S_ISLNK(entry.external_attr >> 16)
    if not path.parts or path.is_absolute() or ".." in path.parts or ":" in path.parts[0] or linked:
        what = "a link" if linked else "a path that leads out of it"
        raise InputError(
            where=name,
            what=f"the zip holds {what} ({quoted(text)})",
            do="do not trust this zip; zip the folder yourself. Nothing was unpacked",
        )
    return str(path)


def _of_the_system(path: str) -> bool:
    parts = PurePosixPath(path).parts
    return parts[0] in SYSTEM_FOLDERS or parts[-1] in SYSTEM_FILES or parts[-1].startswith("._")


def _member(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, inside: str, name: str) -> Member:
    where = f"{name}/{inside}"
    if entry.file_size > MAX_BYTES:
        what = f"the file has {entry.file_size / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read"
        return Member(inside, problem=InputError(where=where, what=what, do="cut the recording to this run"))
    try:
        data = archive.read(entry)
    except DAMAGED_ZIP:
        return Member(
            inside,
            problem=InputError(where=where, what="the file is damaged inside the zip", do="zip the folder again"),
        )
    except Exception as error:
        return Member(inside, problem=unforeseen_error(where, "unpacking", error))
    if is_zip(data) and not is_kmz(data) and not is_workbook(data):
        return Member(inside, problem=_zip_inside(data, where))
    return Member(inside, data)


def _zip_inside(data: bytes, where: str) -> InputError:
    """Return why a zip in a zip is not opened, which for a spreadsheet is another reason."""
    if data.count(ENTRY_MARK) <= MAX_ENTRIES:
        with contextlib.suppress(*DAMAGED_ZIP), zipfile.ZipFile(io.BytesIO(data)) as archive:
            if _is_office(archive):
                return _office(where)
    return InputError(where=where, what="a zip inside a zip is not opened", do="unpack it and load its files")


def _is_office(archive: zipfile.ZipFile) -> bool:
    names = set(archive.namelist())
    return any(mark <= names for mark in OFFICE_MARKS)


def _office(where: str) -> InputError:
    return InputError(where=where, what=OFFICE, do=AS_CSV)


def _damaged(name: str) -> InputError:
    return InputError(where=name, what="the zip is damaged or cut off", do="zip the folder again, or drop its files")
