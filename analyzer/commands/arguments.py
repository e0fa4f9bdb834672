"""What arguments of commands have in common."""

import argparse
import math
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

from analyzer.commands.output import WRONG_USAGE, complain
from analyzer.errors import WHAT_CHARS, InputError, one_line, quoted
from analyzer.files.names import check_new_name

UNITS = "Units: metres, seconds, degrees; angles of direction are true bearings; scores run from 0 to 100."


MOST_RUNS, MOST_JOBS, MOST_DRAWS, LAST_SEED = 10_000, 256, 2_000, 2**32 - 1
"""Our own choices: a folder that can still be listed; more processes than any machine here has processors; draws that
fit into memory for a recording of hours, and tell an interval to a percent; a seed that every generator takes."""


def whole(low: int, high: int) -> Callable[[str], int]:
    """Return an argument's type: whole numbers from `low` to `high`."""

    def read(text: str) -> int:
        if re.fullmatch(r"-?[0-9]{1,18}", text.strip()) and low <= int(text) <= high:
            return int(text)
        raise argparse.ArgumentTypeError(f"{quoted(text)} is no whole number from {low} to {high}")

    return read


def number(low: float, high: float) -> Callable[[str], float]:
    """Return an argument's type: numbers from `low` to `high`."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if low <= value <= high:
            return value
        raise argparse.ArgumentTypeError(f"{quoted(text)} is no number from {low:g} to {high:g}")

    return read


seed = whole(0, LAST_SEED)
"""The type of seeds."""
draws = whole(1, MOST_DRAWS)
"""The type of how many paths are drawn."""
runs = whole(1, MOST_RUNS)
"""The type of how many runs are made."""
jobs = whole(1, MOST_JOBS)
"""The type of how many processes work at the same time."""


def place(text: str) -> Path:
    """Return the path of a file or folder, as an argument's type; an empty one would mean the folder we are in."""
    if not text.strip():
        raise argparse.ArgumentTypeError("the path is empty; give a file or folder, . for the one you are in")
    return Path(text)


def new_place(text: str) -> Path:
    """Return the path of a file or folder that is written, as an argument's type: a new one is given no name that
    another system refuses."""
    path = place(text)
    if not path.exists():
        try:
            check_new_name(path.name, where=text)
        except InputError as error:
            raise argparse.ArgumentTypeError(f"{error.what}; {error.do}") from None
    return path


class OneLineParser(argparse.ArgumentParser):
    """A parser that tells what is wrong with its arguments in one line, and ends with the exit code of wrong usage."""

    def error(self, message: str) -> NoReturn:
        """Tell it and end."""
        complain(f"{self.prog}: {one_line(message, 2 * WHAT_CHARS)}; see {self.prog} --help")
        raise SystemExit(WRONG_USAGE)


def add_jobs(parser: argparse.ArgumentParser) -> None:
    """Add `--jobs`, how many drills are measured at the same time."""
    parser.add_argument(
        "--jobs",
        type=jobs,
        default=min(os.cpu_count() or 1, MOST_JOBS),
        metavar="N",
        help="drills measured at the same time; one per processor if left out",
    )


def add_event(parser: argparse.ArgumentParser) -> None:
    """Add the folder of an event, and `--jobs`."""
    parser.add_argument("event", metavar="EVENT", type=place, help="folder of the event, or its event.toml")
    add_jobs(parser)
