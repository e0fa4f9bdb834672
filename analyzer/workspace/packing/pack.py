"""A workspace packed into one zip: its files as they are, and `pack.json` with the SHA-256 of each."""

import datetime as dt
import json
import os
import stat
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from analyzer import __version__
from analyzer.errors import InputError
from analyzer.files.source import give_free_name, sha256_hex
from analyzer.workspace.layout import DRILLS, EVENTS, ORIGINALS, PEOPLE_FILE, RESULTS, RULE_SHEETS

PACK_FORMAT = "searchwake-pack/1"
PACK_LIST = "pack.json"
PACKED = (DRILLS, RULE_SHEETS, EVENTS, RESULTS, ORIGINALS, PEOPLE_FILE)
"""What of a workspace is packed. Not so: the database, unfinished loads, and what begins with a dot."""


@dataclass(frozen=True, slots=True)
class Packed:
    """What was packed: how many files of how many bytes, and a line on each that was left out."""

    files: int
    size: int
    left_out: tuple[str, ...]


def pack(workspace: Path, out: Path) -> Packed:
    """Write a workspace into the zip `out`.

    Raises
    ------
    InputError
        Where there is no such workspace, `out` is there already or lies in what is packed, or a file cannot be read or
        written.
    """
    if not (workspace / DRILLS).is_dir():
        raise InputError(where=str(workspace), what="there is no folder drills/ in it", do="give a workspace")
    taken = InputError(where=str(out), what="there is already such a file", do="give another name")
    if out.exists():
        raise taken
    inside = out.resolve()
    if any(inside.is_relative_to((workspace / name).resolve()) for name in PACKED):
        raise InputError(where=str(out), what="it lies in what is packed", do="write the pack beside the workspace")
    left_out: list[str] = []
    paths = list(_files(workspace, left_out))
    try:
        size, count = _write(workspace, out, paths), len(paths)
    except FileExistsError:  # come in while packing
        raise taken from None
    except OSError as error:
        where = str(error.filename or out)
        raise InputError(
            where=where,
            what=f"it cannot be packed ({error.strerror})",
            do="make room, or allow reading and writing; nothing was changed",
        ) from None
    return Packed(count, size, tuple(left_out))


def _files(workspace: Path, left_out: list[str]) -> Iterator[str]:
    """Yield the paths of what is packed, in order; links and what is no file go into `left_out`, a line each."""
    for name in PACKED:
        top = workspace / name
        found = sorted(top.rglob("*")) if top.is_dir() and not top.is_symlink() else [top]
        for path in found:
            shown = path.relative_to(workspace).as_posix()
            if any(part.startswith(".") for part in Path(shown).parts):
                continue
            try:
                mode = path.lstat().st_mode
            except FileNotFoundError:
                continue
            if stat.S_ISREG(mode):
                yield shown
            elif not stat.S_ISDIR(mode):
                left_out.append(f"{shown}: a link or no file; left out")


def _write(workspace: Path, out: Path, paths: list[str]) -> int:
    """Write the zip under a temporary name, then give it its own; return the bytes of all files."""
    hashes: dict[str, str] = {}
    size = 0
    out.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=out.parent, prefix=f".{out.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in paths:
                data = (workspace / path).read_bytes()
                hashes[path], size = sha256_hex(data), size + len(data)
                archive.writestr(path, data)
            made = dt.datetime.now(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
            head = {"format": PACK_FORMAT, "made": made, "program": __version__, "files": hashes}
            archive.writestr(PACK_LIST, json.dumps(head, ensure_ascii=False, indent=1))
        give_free_name(Path(temporary), out)
    finally:
        Path(temporary).unlink(missing_ok=True)
    return size
