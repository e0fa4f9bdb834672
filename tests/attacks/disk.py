"""A disk that refuses at every step of writing: `python -m tests.attacks.disk` tells the counts.

At the first, second, third ... step (a file opened to be written, bytes written, a name given, a folder made) the
system says that there is no room, that the disk is read-only, or that it is not allowed, until the act comes to its
end. Each time the act says so in one line each and ends with its exit code, no file under a final name is half written,
nothing is gone, and the act done again leaves what an undisturbed one leaves. What the database writes by itself is not
counted here.
"""

import argparse
import builtins
import errno
import io
import itertools
import os
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.attacks.children import TRACEBACK_CODE, done
from tests.attacks.kills import undisturbed
from tests.attacks.workspace_acts import ACTS, World, differing, half_written, lost, told

ERRORS = {"ENOSPC": errno.ENOSPC, "EROFS": errno.EROFS, "EACCES": errno.EACCES}
WORDS = ("no room left", "read-only", "may not read or write", "cannot be written", "cannot be stored")
"""One of them stands in what is said."""
NOT_REACHED = 71


class Steps:
    """Counts the steps of writing of this process below a folder, and refuses one of them."""

    def __init__(self, below: Path, refused: int, code: int) -> None:
        self.below, self.refused, self.code, self.count = str(below), refused, code, 0

    def step(self, place: Any = None) -> None:
        """Count a step, or refuse it. `place`: None where it is that of an open file."""
        if place is not None and not str(place).startswith(self.below):
            return
        self.count += 1
        if self.count == self.refused:
            raise OSError(self.code, os.strerror(self.code), None if place is None else str(place))

    def install(self) -> None:
        """Put the counting in place of the system's calls, for good: the process is a child of its own."""
        for module, name in ((os, "replace"), (os, "rename"), (os, "link"), (os, "mkdir")):
            setattr(module, name, self._named(getattr(module, name), -1 if name != "mkdir" else 0))
        really_open, really_io, really_fdopen, really_write = os.open, io.open, os.fdopen, os.write

        def os_open(path: Any, flags: int, *rest: Any, **named: Any) -> int:
            if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
                self.step(path)
            return really_open(path, flags, *rest, **named)

        def io_open(file: Any, mode: str = "r", *rest: Any, **named: Any) -> Any:
            if isinstance(file, int) or not set(mode) & set("wax+"):
                return really_io(file, mode, *rest, **named)
            self.step(file)
            return _Stream(really_io(file, mode, *rest, **named), self)

        def fdopen(handle: int, mode: str = "r", *rest: Any, **named: Any) -> Any:
            stream = really_fdopen(handle, mode, *rest, **named)
            return _Stream(stream, self) if set(mode) & set("wax+") else stream

        def write(handle: int, data: bytes) -> int:
            self.step()
            return really_write(handle, data)

        os.open, os.fdopen, os.write = os_open, fdopen, write
        io.open = builtins.open = io_open

    def _named(self, really: Callable[..., Any], which: int) -> Callable[..., Any]:
        def call(*places: Any, **named: Any) -> Any:
            self.step(places[which] if which == 0 else places[1])
            return really(*places, **named)

        return call


class _Stream:
    """An open file whose writes are counted."""

    def __init__(self, stream: Any, steps: Steps) -> None:
        self.stream, self.steps = stream, steps

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def __enter__(self) -> "_Stream":
        return self

    def __exit__(self, *_: object) -> None:
        self.stream.close()

    def write(self, data: Any) -> int:
        """Write, or refuse."""
        self.steps.step()
        written: int = self.stream.write(data)
        return written


def refused(name: str, club: Path, number: int, code: int) -> int:
    """Do an act of which one step is refused; `NOT_REACHED` where it came to its end before."""
    steps = Steps(club, number, code)
    steps.install()
    ended = told(ACTS[name], club)
    return ended if steps.count >= number else NOT_REACHED


def attack(
    names: list[str], scratch: Path, chosen: Callable[[int], bool] = lambda _: True
) -> tuple[Counter[str], list[str]]:
    """Return how many steps of each act were refused, and a line for each fault; `chosen`: which steps are tried."""
    world, counts, faults, output = World(scratch), Counter[str](), list[str](), scratch / "output"
    for name in names:
        faults += undisturbed(world, name, output)
    for name, (words, code) in itertools.product(names if not faults else [], ERRORS.items()):
        for number in itertools.count(1):
            if not chosen(number):
                continue
            club = world.fresh()
            ended, printed = done(lambda: refused(name, club, number, code), output)  # noqa: B023 (done at once)
            if ended == NOT_REACHED:
                break
            counts[f"{name}, {words}"] += 1
            found = [*said(ended, printed), *half_written(club), *lost(world.before, club, world.changed(name))]
            ended, printed = done(lambda: told(ACTS[name], club), output)  # noqa: B023
            found += [] if ended == 0 else [f"done again it ends with {ended}: {printed[-300:]}"]
            found += differing(club, world.after[name])
            faults += [f"{name}, {words} at step {number}: {line}" for line in found]
    return counts, faults


def said(ended: int, printed: str) -> list[str]:
    """Return what is wrong with how an act ended that was refused a step; 0 where it could do without that step."""
    if ended == TRACEBACK_CODE or "Traceback" in printed:
        return [f"a traceback: {printed[-1500:]}"]
    if ended not in (0, 1, 2):
        return [f"it ends with {ended}"]
    if ended and not any(words in printed for words in WORDS):
        return [f"it does not say what the disk refuses: {printed[-300:]}"]
    return []


def main() -> int:
    """Do what the command line says; 1 where there was a fault."""
    parser = argparse.ArgumentParser(description="Refuse every step of writing, one after the other.")
    parser.add_argument("--acts", nargs="+", choices=list(ACTS), default=list(ACTS))
    parser.add_argument("--part", type=float, default=1.0, metavar="P", help="the part of the steps that is tried")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    scratch, rng = Path(tempfile.mkdtemp(prefix="searchwake-disk-")), random.Random(given.seed)
    try:
        counts, faults = attack(given.acts, scratch, lambda _: rng.random() < given.part)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    lines = [*faults, *(f"{what}: {n} steps refused" for what, n in counts.items())]
    lines.append(f"{sum(counts.values())} steps refused: {len(faults)} faults")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
