"""A pack opened safely: what its own list names, under plain paths of a workspace, with the bytes that were packed."""

import json
import struct
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from analyzer.errors import InputError, quoted
from analyzer.files.source import sha256_hex
from analyzer.files.tracks.packed import DAMAGED_ZIP
from analyzer.workspace.packing.pack import PACK_FORMAT, PACK_LIST, PACKED

MOST_FILES = 200_000
MOST_OF_ONE = 120_000_000
"""Bytes. Our own limits: ten thousand runs with originals are some 80,000 files; an original has at most 100 MB."""
ENTRY_MARK, END, END_64 = b"PK\x01\x02", b"PK\x05\x06", b"PK\x06\x06"
"""Begin an entry of a zip's directory and the records behind it that tell its size ("APPNOTE" of the format, 4.3)."""
TAIL = 70_000
"""Bytes within which these records stand: a comment after them has at most 65,535."""
UNKNOWN = 0xFFFF_FFFF
"""A size of four bytes that stands in eight elsewhere."""
DO = "pack the workspace again; nothing was put in"


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack that is open. `files`: path in a workspace -> SHA-256, in the order of paths."""

    name: str
    sha256: str
    files: dict[str, str]
    archive: zipfile.ZipFile

    def read(self, path: str) -> bytes | None:
        """Return the bytes of one file, None where they are not those that were packed."""
        try:
            info = self.archive.getinfo(path)
            data = self.archive.read(info) if info.file_size <= MOST_OF_ONE else b""
        except (KeyError, *DAMAGED_ZIP):
            return None
        return data if sha256_hex(data) == self.files[path] else None


@contextmanager
def opened_pack(path: Path) -> Iterator[Pack]:
    """Open a pack.

    Raises
    ------
    InputError
        Where it cannot be read, is no pack, or names a path that is none of a workspace.
    """
    try:
        many = _entries(path) > MOST_FILES
        archive = None if many else zipfile.ZipFile(path)
    except OSError as error:
        raise InputError(where=str(path), what=f"it cannot be read ({error.strerror})", do="check the name") from None
    except DAMAGED_ZIP:
        raise InputError(where=str(path), what="this is no pack, or it is cut off or damaged", do=DO) from None
    if archive is None:
        raise _too_many(path)
    with archive:
        if len(archive.infolist()) > MOST_FILES:
            raise _too_many(path)
        head = _list_of(archive, path.name)
        files = {name: str(digest) for name, digest in sorted(head["files"].items())}
        for name in files:
            _check(name, path.name)
        yield Pack(path.name, sha256_hex(json.dumps(files).encode()), files, archive)


def _too_many(path: Path) -> InputError:
    return InputError(where=str(path), what=f"it has more than {MOST_FILES} files", do=DO)


def _entries(path: Path) -> int:
    """Return how many files the directory at the end of a zip lists, at most; counted before it is read as a whole,
    which would fill the memory. What a zip inside of it lists does not count."""
    length = path.stat().st_size
    with path.open("rb") as stream:
        stream.seek(max(length - TAIL, 0))
        tail = stream.read()
        at = tail.rfind(END)
        sizes = [struct.unpack_from("<L", tail, at + 12)[0]] if 0 <= at <= len(tail) - 22 else []
        at = tail.rfind(END_64)
        sizes += [struct.unpack_from("<Q", tail, at + 40)[0]] if 0 <= at <= len(tail) - 56 else []
        stream.seek(max(length - TAIL - max([s for s in sizes if s != UNKNOWN], default=length), 0))
        count, rest = 0, b""
        while chunk := stream.read(1 << 20):
            block = rest + chunk
            count += block.count(ENTRY_MARK)
            rest = block[-len(ENTRY_MARK) + 1 :]
    return count


def _list_of(archive: zipfile.ZipFile, name: str) -> dict[str, dict[str, str]]:
    try:
        info = archive.getinfo(PACK_LIST)
        head = json.loads(archive.read(info)) if info.file_size <= MOST_OF_ONE else None
    except (KeyError, *DAMAGED_ZIP):  # ValueError and RuntimeError: of JSON as well
        head = None
    if not isinstance(head, dict) or not isinstance(head.get("files"), dict):
        raise InputError(
            where=name,
            what=f"there is no readable {PACK_LIST} in it",
            do=f"give a file that searchwake pack wrote; {DO}",
        )
    if head.get("format") != PACK_FORMAT:
        raise InputError(
            where=name,
            what=f"it is of the format {quoted(str(head.get('format'))[:40])}, {quoted(PACK_FORMAT)} is read",
            do="update searchwake",
        )
    return head


def _check(path: str, name: str) -> None:
    parts = PurePosixPath(path).parts
    plain = (
        parts
        and str(PurePosixPath(path)) == path
        and not any(p.startswith(".") or p.endswith((".", " ")) for p in parts)
    )
    if not plain or parts[0] not in PACKED or any(c in path for c in '\\:\0*?"<>|') or not path.isprintable():
        raise InputError(
            where=name,
            what=f"the pack names {quoted(path[:60])}, which is no place in a workspace",
            do="do not trust this pack; nothing was put in",
        )
