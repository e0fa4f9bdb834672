"""Exit codes, and the lines that commands say and complain."""

import os
import sys

OK, SOME_FAILED, WRONG_USAGE, STOPPED = 0, 1, 2, 130


def say(line: str) -> None:
    """Write a line on standard output."""
    sys.stdout.write(line + "\n")


def complain(line: str) -> None:
    """Write one line on standard error, whatever the text holds; further lines of a list are set in below it."""
    first, *more = (" ".join(part.split()) for part in line.split("\n"))
    sys.stderr.write("".join(f"{part}\n" for part in (first, *(f"  {part}" for part in more if part))))


def one_thread_each() -> None:
    """Keep numpy to one thread a process; to be called before numpy loads.

    The systems are small, and more threads only get in each other's way.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
