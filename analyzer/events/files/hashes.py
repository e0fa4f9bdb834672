"""Hashes of the files that an event rests on; a file is read again only where its time or size differs."""

import functools
import os
import stat
from collections.abc import Iterable
from pathlib import Path

from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.files.source import disk_error, not_a_file, sha256_hex
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS, is_run_input
from analyzer.workspace.layout import DRILLS


def input_hashes(workspace: Path, drills: Iterable[str], files: Iterable[Path]) -> dict[str, str]:
    """Return the SHA-256 of `files` and of every file that the drills are measured from, by path from the workspace.

    A file that is not there any more is left out. All runs of a drill count, for they decide which run is whose.
    """
    found = {path.relative_to(workspace).as_posix(): file_hash(path) for path in files if path.is_file()}
    for drill in drills:
        place = f"{DRILLS}/{drill}"
        for item in _listed(workspace / place):
            if item.name == DRILL_FILE or item.name.lower().endswith(WAYPOINT_ENDINGS):
                found[f"{place}/{item.name}"] = _hash_of(item)
        for run in _listed(workspace / place / RUNS):
            if run.is_dir() and run.name[0] != ".":
                found |= {
                    f"{place}/{RUNS}/{run.name}/{item.name}": _hash_of(item)
                    for item in _listed(Path(run.path))
                    if is_run_input(item.name)
                }
    return dict(sorted(found.items()))


UNREADABLE = "unreadable"
"""Begins what stands for the hash of a file that is there and cannot be read: no file's hash is like it."""


def _listed(folder: Path) -> list[os.DirEntry[str]]:
    """Return what is in a folder, nothing where there is no such folder; thousands of files are looked at at once."""
    if not folder.is_dir():
        return []
    try:
        with os.scandir(folder) as found:
            return list(found)
    except OSError as error:
        raise disk_error(error, where=str(folder)) from None


def _hash_of(item: os.DirEntry[str]) -> str:
    try:
        if not item.is_file():  # a pipe would be waited for
            return f"{UNREADABLE} (no file)"
        status = item.stat()
        return _file_hash(item.path, status.st_mtime_ns, status.st_size)
    except OSError as error:
        return f"{UNREADABLE} ({error.strerror})"


def file_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes; it is taken again where the time or size of the file differs."""
    try:
        if not path.is_file():
            raise not_a_file(path)
        status = path.stat()
        return _file_hash(str(path), status.st_mtime_ns, status.st_size)
    except OSError as error:
        raise disk_error(error, where=str(path)) from None


def hash_at(path: str) -> str | None:
    """Return the SHA-256 of a file as `file_hash` does, None where there is no such file."""
    try:
        status = os.stat(path)  # noqa: PTH116 - called for hundreds of files of one page
        if not stat.S_ISREG(status.st_mode):
            return f"{UNREADABLE} (no file)"
        return _file_hash(path, status.st_mtime_ns, status.st_size)
    except FileNotFoundError:
        return None
    except OSError as error:
        return f"{UNREADABLE} ({error.strerror})"


def forget_hashes() -> None:
    """Take every hash anew from the bytes, even of files whose time and size are as they were."""
    _file_hash.cache_clear()


@functools.lru_cache(maxsize=16384)
def _file_hash(path: str, modified_ns: int, size: int) -> str:
    del modified_ns, size
    return sha256_hex(Path(path).read_bytes())
