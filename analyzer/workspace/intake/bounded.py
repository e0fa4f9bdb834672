"""Recognising files in a process of its own, for no longer than a limit: whatever is in a file, others are answered."""

import contextlib
import multiprocessing
import signal
import threading
from multiprocessing.connection import Connection

from analyzer.errors import InputError
from analyzer.workspace.intake.model import OTHER
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.recognised import Recognised

MOST_S, MOST_S_PER_BYTE = 20.0, 4e-6
"""Our choice: twenty times what a track of an hour takes on a slow laptop, and four seconds more for each megabyte."""


class BoundedRecogniser:
    """Answers as `recognise` does. Files take turns; one that takes too long, or ends the process, has its line.

    Parameters
    ----------
    most_s, most_s_per_byte : float
        Seconds that a file may take, and further ones for each of its bytes.
    """

    def __init__(self, most_s: float = MOST_S, most_s_per_byte: float = MOST_S_PER_BYTE) -> None:
        self._most_s, self._most_s_per_byte = most_s, most_s_per_byte
        self._turn = threading.Lock()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def __call__(self, data: bytes, *, name: str) -> Recognised:
        """Return what a file is; see `recognise`."""
        seconds = self._most_s + self._most_s_per_byte * len(data)
        with self._turn:
            try:
                pipe = self._started()
                pipe.send((data, name))
                if pipe.poll(seconds):
                    found: Recognised = pipe.recv()
                    return found
                what = f"reading it took more than {seconds:.0f} s and was given up"
            except (EOFError, OSError):  # the process is gone: out of memory, or worse
                what = "reading it ended the process that reads files"
            self.close()
        problem = InputError(where=name, what=what, do="it is kept and not used; export it again, in a usual format")
        return Recognised(OTHER, problem=str(problem))

    def close(self) -> None:
        """End the process; the next file starts another one."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None

    def _started(self) -> Connection:
        if self._process is not None and self._pipe is not None and self._process.is_alive():
            return self._pipe
        self.close()
        start = multiprocessing.get_context("spawn")  # a fork would copy locks that other threads hold
        self._pipe, theirs = start.Pipe()
        self._process = start.Process(target=_serve, args=(theirs,), daemon=True, name="searchwake-recognise")
        self._process.start()
        theirs.close()  # else the end of the process would not be seen
        return self._pipe


def _serve(pipe: Connection) -> None:
    """Recognise what comes through a pipe until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the dashboard, which ends this one
    with contextlib.suppress(EOFError, OSError):
        while True:
            data, name = pipe.recv()
            pipe.send(recognise(data, name=name))
