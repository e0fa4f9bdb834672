"""A pack opened safely: what its own list names, under plain paths of a workspace, with the bytes that were packed."""

import json
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
        archive = zipfile.ZipFile(path)
    except OSError as error:
        raise InputError(where=str(path), what=f"it cannot be read ({error.strerror})", do="check the name") from None
    except DAMAGED_ZIP:
        raise InputError(where=str(path), what="this is no pack, or it is cut off or damaged", do=DO) from None
    with archive:
        if len(archive.infolist()) > MOST_FILES:
            raise InputError(where=str(path), what=f"it has more than {MOST_FILES} files", do=DO)
        head = _list_of(archive, path.name)
        files = {name: str(digest) for name, digest in sorted(head["files"].items())}
        for name in files:
            _check(name, path.name)
        yield Pack(path.name, sha256_hex(json.dumps(files).encode()), files, archive)


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
