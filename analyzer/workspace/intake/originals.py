"""Uploaded bytes as they came: `originals/<sha256>` and a line in `originals/log.jsonl`, on the disk for certain.

Nothing here is changed or removed. Equal bytes are kept once, and each arrival has its own line in the log.
"""

import contextlib
import datetime as dt
import errno
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.source import CAUSES
from analyzer.workspace.append import append_line
from analyzer.workspace.layout import LOG_FILE, ORIGINALS

CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Original:
    """Bytes that are kept. `again`: the same bytes were there before."""

    name: str
    sha256: str
    size: int
    again: bool = False


def keep(workspace: Path, name: str, chunks: Iterable[bytes], *, most: int, source: str = "") -> Original:
    """Write bytes to the disk, then their line in the log, and return what was kept.

    Parameters
    ----------
    workspace : Path
    name : str
        As given; it is only ever written into the log.
    chunks : iterable of bytes
        Read once, and never held as a whole.
    most : int
        Bytes above which the file is refused and nothing is kept.
    source : str
        SHA-256 of the archive that it came out of.

    Raises
    ------
    InputError
        Where there are more than `most` bytes, or the workspace is full or cannot be written to.
    """
    folder = workspace / ORIGINALS
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=folder, suffix=".part")
        try:
            digest, size = _write(handle, name, chunks, most)
            again = original_path(workspace, digest).exists()
            if not again:
                Path(temporary).chmod(0o644)
                Path(temporary).replace(original_path(workspace, digest))
                sync_folder(folder)
        finally:
            Path(temporary).unlink(missing_ok=True)
        line: dict[str, str | int] = {"name": name, "sha256": digest, "bytes": size, "when": _now()}
        _log(folder, line | ({"from": source} if source else {}))
    except OSError as error:
        raise storage_error(name, error) from None
    return Original(name, digest, size, again)


def original_path(workspace: Path, sha256: str) -> Path:
    """Return where bytes with a hash are kept."""
    return workspace / ORIGINALS / sha256


def read_original(workspace: Path, sha256: str, *, name: str) -> bytes:
    """Return kept bytes.

    Raises
    ------
    InputError
        Where they are gone, or are no longer what they were.
    """
    try:
        data = original_path(workspace, sha256).read_bytes()
    except OSError as error:
        raise InputError(
            where=name, what=f"its original cannot be read ({error.strerror})", do="take the file in again"
        ) from None
    if hashlib.sha256(data).hexdigest() != sha256:
        raise InputError(
            where=name,
            what="its original has changed since it was taken in",
            do=f"remove {ORIGINALS}/{sha256} and take the file in again",
        )
    return data


def storage_error(where: str, error: OSError) -> InputError:
    """Return the line for a workspace that does not take what is written; as `disk_error`, in the words of a load."""
    closed = ("the workspace is read-only", "allow writing to its folder")
    causes = CAUSES | {errno.EROFS: closed, errno.EACCES: closed, errno.EPERM: closed}
    what, do = causes.get(
        error.errno or 0, (f"it cannot be stored ({error.strerror or error})", "check the workspace's disk")
    )
    return InputError(where=where, what=what, do=f"{do}, then load it again; what was stored before is as it was")


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder last, where the system lets folders be synced."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write(handle: int, name: str, chunks: Iterable[bytes], most: int) -> tuple[str, int]:
    """Write all chunks to an open file and return their hash and number of bytes."""
    digest, size = hashlib.sha256(), 0
    with os.fdopen(handle, "wb") as stream:
        for chunk in chunks:
            size += len(chunk)
            if size > most:
                raise too_large(name, size, most)
            digest.update(chunk)
            stream.write(chunk)
        stream.flush()
        os.fsync(stream.fileno())
    return digest.hexdigest(), size


def too_large(name: str, size: int, most: int) -> InputError:
    """Return the line for a file with too many bytes."""
    return InputError(
        where=name,
        what=f"the file has {size / 1e6:.0f} MB; at most {most / 1e6:.0f} MB are taken",
        do="cut the recording to this run and export it again",
    )


def _log(folder: Path, line: dict[str, str | int]) -> None:
    """Add one line to the log."""
    data = json.dumps(line, ensure_ascii=False).encode("utf-8", "surrogateescape")
    append_line(folder / LOG_FILE, lambda _: data)


def _now() -> str:
    return dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
