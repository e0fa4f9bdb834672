"""Bytes in and out: size and text checks, hashes, atomic writes, and what a disk complains of in words."""

import contextlib
import errno
import hashlib
import os
import stat
import tempfile
from pathlib import Path

from analyzer.errors import InputError

MAX_BYTES = 50_000_000
"""Our own limit: an hour at 10 Hz with extensions is about 15 MB of GPX."""
FOLDER = "this is a folder, a file is needed"
PART = ".part"
"""Ending of what is not written to its end; no reader looks at it."""
NO_FILE = "this is no file but a pipe, a socket or a device"


def read_bytes(path: Path, *, max_bytes: int = MAX_BYTES) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    InputError
        Where the file is missing, unreadable, empty, larger than `max_bytes`, or no file: a pipe would be waited for.
    """
    name = path.name
    try:
        status = path.stat()
        size = status.st_size
        if not stat.S_ISREG(status.st_mode):
            raise not_a_file(path)
        if size > max_bytes:
            raise InputError(
                where=name,
                what=f"the file has {size / 1e6:.0f} MB; at most {max_bytes / 1e6:.0f} MB are read",
                do="cut the recording to this run and export it again",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputError(where=str(path), what="there is no such file", do="check the name and the folder") from None
    except OSError as error:
        raise InputError(
            where=name, what=f"the file cannot be read ({error.strerror})", do="check its permissions"
        ) from None
    check_not_empty(data, name=name)
    return data


def not_a_file(path: Path) -> InputError:
    """Return the line for a name under which there is something else than a file."""
    if path.is_dir():
        return InputError(where=path.name, what=FOLDER, do="move the folder elsewhere")
    return InputError(where=path.name, what=NO_FILE, do="remove it, or put a file in its place")


def regular_bytes(path: Path) -> bytes | None:
    """Return the bytes of a file of any length, None where there is none; a pipe or a device counts as none."""
    try:
        return path.read_bytes() if path.is_file() else None
    except FileNotFoundError:
        return None


def listed(folder: Path) -> list[Path]:
    """Return what is in a folder, by name.

    Raises
    ------
    InputError
        Where the folder is missing, or may not be looked into.
    """
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        what = f"the folder cannot be read ({error.strerror})"
        raise InputError(where=folder.name or str(folder), what=what, do="check its permissions") from None


CAUSES = {
    errno.ENOSPC: ("there is no room left on the disk", "make room"),
    errno.EDQUOT: ("the disk quota is used up", "make room"),
    errno.EFBIG: ("the file would be longer than is allowed here", "make room"),
    errno.EROFS: ("the disk is read-only", "give a place that can be written to"),
    errno.EACCES: ("we may not read or write here", "allow it, or give another place"),
    errno.EPERM: ("we may not read or write here", "allow it, or give another place"),
    errno.ENOTDIR: ("a file is where a folder is needed", "move the file, or give another place"),
    errno.EEXIST: ("there is something of this name already", "move it, or give another place"),
    errno.EISDIR: ("a folder is where a file is needed", "move the folder, or give another place"),
    errno.ENOTEMPTY: ("a folder is in the way", "move it, or give another place"),
    errno.ENAMETOOLONG: ("the name is too long for this disk", "give it a shorter name"),
    errno.ENOENT: ("it is not there", "check the name and the folder"),
    errno.EMFILE: ("too many files are open", "close other programs"),
    errno.ENFILE: ("too many files are open", "close other programs"),
}
"""What the system says of a disk -> what is wrong, what to do."""


def disk_error(error: OSError, *, where: str = "") -> InputError:
    """Return the line for a place that does not take what is written, or give what is read.

    Parameters
    ----------
    error : OSError
    where : str
        The place, where the error does not know it.
    """
    place = where or (str(error.filename) if error.filename is not None else "the disk")
    told = error.strerror or " ".join(str(error).split()) or type(error).__name__
    what, do = CAUSES.get(error.errno or 0, (told, "check the disk and the permissions"))
    return InputError(where=place, what=what, do=f"{do}, then try again; what was there before is as it was")


def file_stamp(path: Path) -> tuple[str, int, int]:
    """Return path, time (ns) and size of a file, by which what was read of it is kept; -1 where it cannot be looked at.

    Nothing is raised: what is wrong with the file is said by who reads it.
    """
    try:
        status = path.stat()
    except OSError:
        return str(path), -1, -1
    return str(path), status.st_mtime_ns, status.st_size


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
    """Write `data` under a temporary name beside `path`, then rename: a reader sees the old file or the new one.

    Raises
    ------
    InputError
        Where there is something else than a file.
    OSError
        Where the place is read-only, full, or no folder; its `filename` is `path`, and `path` is as it was.
    """
    try:
        if path.exists() and not path.is_file():  # a name that replaces /dev/null would harm every program
            raise not_a_file(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        # Short and not made of the name of `path`, which may be as long as the disk allows.
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=PART)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            Path(temporary).chmod(0o644)
            Path(temporary).replace(path)
        except BaseException:
            with contextlib.suppress(OSError):  # a disk that has become read-only keeps it; the first error is told
                Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:  # the system names the temporary file, or none at all
        raise OSError(error.errno, error.strerror, str(path)) from None


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet, on the disk for certain: it is there whole, or not at all.

    Raises
    ------
    InputError
        Where there is such a file, or the place is read-only or full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=PART)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            Path(temporary).chmod(0o644)
            give_free_name(Path(temporary), path)
        finally:
            with contextlib.suppress(OSError):
                Path(temporary).unlink(missing_ok=True)
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


def give_free_name(temporary: Path, path: Path) -> None:
    """Give a file a name that must be free: one that comes in between two looks is not overwritten."""
    try:
        path.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        if path.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        temporary.rename(path)
