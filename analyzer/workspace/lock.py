"""One writer at a time over a file that is read, changed and written back."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock file `path` (made where missing); others wait. The system lets go of it when a process dies."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("ab") as stream:
        if sys.platform == "win32":
            import msvcrt

            stream.seek(0)
            msvcrt.locking(stream.fileno(), msvcrt.LK_LOCK, 1)
            try:
                yield
            finally:
                stream.seek(0)
                msvcrt.locking(stream.fileno(), msvcrt.LK_UNLCK, 1)
        else:
            import fcntl

            fcntl.flock(stream, fcntl.LOCK_EX)  # let go of when the stream is closed
            yield
