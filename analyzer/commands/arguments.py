"""What arguments of commands have in common."""

import argparse
import os
from pathlib import Path

UNITS = "Units: metres, seconds, degrees; angles of direction are true bearings; scores run from 0 to 100."


def count(text: str) -> int:
    """Return a whole number of 1 or more, as an argument's type."""
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text} is below 1")
    return value


def add_jobs(parser: argparse.ArgumentParser) -> None:
    """Add `--jobs`, how many drills are measured at the same time."""
    parser.add_argument(
        "--jobs",
        type=count,
        default=os.cpu_count() or 1,
        metavar="N",
        help="drills measured at the same time; one per processor if left out",
    )


def add_event(parser: argparse.ArgumentParser) -> None:
    """Add the folder of an event, and `--jobs`."""
    parser.add_argument("event", metavar="EVENT", type=Path, help="folder of the event, or its event.toml")
    add_jobs(parser)
