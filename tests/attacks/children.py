"""Acts in a child process of their own, with what they print in files."""

import os
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

TRACEBACK_CODE = 70
LONGEST_S = 60
"""A child that hangs is ended by the system after this time, and has a code of its own: minus the signal's number."""


def begin(work: Callable[[], int], output: Path) -> int:
    """Start a child that does some work, and return its number. What it prints goes into `output`."""
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child:
        return child
    code = TRACEBACK_CODE
    signal.alarm(LONGEST_S)
    try:
        stream = output.open("w", encoding="utf-8")
        sys.stdout = sys.stderr = stream
        try:
            code = work()
        except BaseException:
            traceback.print_exc()
        stream.flush()
    finally:
        os._exit(code)


def done(work: Callable[[], int], output: Path) -> tuple[int, str]:
    """Do some work in a child to its end; return its exit code and what it printed."""
    _, status = os.waitpid(begin(work, output), 0)
    return os.waitstatus_to_exitcode(status), output.read_text(encoding="utf-8")
