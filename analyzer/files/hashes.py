"""Hashes of files: kept while their time and size stay, or of the bytes as they are at this moment."""

import functools
import os
import stat
from pathlib import Path

from analyzer.files.source import disk_error, not_a_file, regular_bytes, sha256_hex

UNREADABLE = "unreadable"
"""Begins what stands for the hash of a file that is there and cannot be read: no file's hash is like it."""


def hash_now(path: Path | None) -> str:
    """Return the SHA-256 of a file's bytes as they are now, "" where there is none or it cannot be read."""
    try:
        data = None if path is None else regular_bytes(path)
    except OSError:
        return ""
    return "" if data is None else sha256_hex(data)


def hash_of(item: os.DirEntry[str]) -> str:
    """Return the SHA-256 of what a folder's listing holds, or UNREADABLE and why."""
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
