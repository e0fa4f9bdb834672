"""Bytes in and out: size and text checks, hashes, atomic writes."""

import hashlib
import os
import tempfile
from pathlib import Path

from analyzer.errors import InputError

MAX_BYTES = 50_000_000
"""Our own limit: an hour at 10 Hz with extensions is about 15 MB of GPX."""


def read_bytes(path: Path, *, max_bytes: int = MAX_BYTES) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    InputError
        Where the file is missing, unreadable, empty or larger than `max_bytes`.
    """
    name = path.name
    try:
        size = path.stat().st_size
        if size > max_bytes:
            raise InputError(
                where=name,
                what=f"the file has {size / 1e6:.0f} MB; at most {max_bytes / 1e6:.0f} MB are read",
                do="cut the recording to this run and export it again",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputError(where=str(path), what="there is no such file", do="check the name and the folder") from None
    except IsADirectoryError:
        raise InputError(
            where=name, what="this is a folder, a file is needed", do="move the folder elsewhere"
        ) from None
    except OSError as error:
        raise InputError(
            where=name, what=f"the file cannot be read ({error.strerror})", do="check its permissions"
        ) from None
    check_not_empty(data, name=name)
    return data


def check_not_empty(data: bytes, *, name: str) -> None:
    """Raise `InputError` where nothing but white space is in `data`."""
    if not data.strip():
        raise InputError(where=name, what="the file is empty", do="export it again, or remove it")


def decode_text(data: bytes, *, name: str) -> str:
    """Return UTF-8 text (a leading byte order mark is taken off).

    Raises
    ------
    InputError
        Where the bytes are binary or in another encoding; the line is named.
    """
    check_not_empty(data, name=name)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError(where=name, what="the text is UTF-16, UTF-8 is needed", do="save it as UTF-8 text")
    if b"\x00" in data:
        raise InputError(
            where=name,
            what="this is binary data, not text",
            do="check that the file has the right ending and was not damaged",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            where=f"{name}, line {line}",
            what=f"the byte 0x{data[error.start]:02x} is not UTF-8 text",
            do="save the file as UTF-8",
        ) from None


def sha256_hex(data: bytes) -> str:
    """Return the SHA-256 of `data` as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def write_atomic(path: Path, data: bytes) -> None:
    """Write `data` under a temporary name beside `path`, then rename: a reader sees the old file or the new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet; what could not be written whole is taken away again.

    Raises
    ------
    InputError
        Where there is such a file, or the place is read-only or full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as stream:
            try:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            except OSError:
                path.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise InputError(
            where=path.name, what="there is already such a file", do="give another name or version"
        ) from None
    except OSError as error:
        raise InputError(
            where=path.name,
            what=f"the file cannot be written ({error.strerror})",
            do="make room, or allow writing to the folder; nothing was changed",
        ) from None
