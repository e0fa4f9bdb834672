"""Logs to which lines are added: one writer at a time, each line whole or not there."""

import contextlib
import errno
import os
from collections.abc import Callable
from pathlib import Path

from analyzer.files.source import regular_bytes
from analyzer.workspace.layout import LOCK_FILE
from analyzer.workspace.lock import locked


def append_line(path: Path, line: Callable[[list[bytes]], bytes]) -> None:
    """Add a line to a log, on the disk for certain; what was in it stays, and half a line is taken back.

    Parameters
    ----------
    path : Path
        Of the log; made where it is missing.
    line : callable
        Given the lines that are there, returns the new one without its end, b"" for none; called while other writers
        wait.

    Raises
    ------
    OSError
        Where the log cannot be written; it is as it was then. Its `filename` is `path`.
    """
    try:
        with locked(path.parent / LOCK_FILE):
            there = regular_bytes(path)
            before = there or b""
            # What was cut off by a loss of power ends no line: the new one does not become a part of it.
            gap = b"" if before.endswith(b"\n") or not before else b"\n"
            new = line(before.splitlines())
            if new:
                _add(path, gap + new + b"\n", None if there is None else len(there))
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from None


def _add(path: Path, data: bytes, size: int | None) -> None:
    """Add bytes to a file of a size, None where there is none yet."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o644)
    try:
        if os.write(handle, data) != len(data):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        os.fsync(handle)
    except OSError:
        with contextlib.suppress(OSError):
            if size is None:
                path.unlink()
            else:
                os.ftruncate(handle, size)
        raise
    finally:
        os.close(handle)
