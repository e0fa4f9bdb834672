"""What the printed sheets tell beside the result: local time, and how long the others of a drill took. No Dash."""

import datetime as dt
import statistics
from collections.abc import Iterable
from dataclasses import dataclass

from analyzer.model.ground import GroundPicture
from analyzer.model.people import name_key
from analyzer.model.result import RunResult
from dashboard.view_models.account import Totals
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.run_summary import IN_ALL as IN_ALL  # the sheet knows it from here
from dashboard.view_models.run_summary import JOINT_SHORT, split_times

LEAST_OTHERS = 3
"""A median of fewer would tell what a single searcher needed; our choice."""


@dataclass(frozen=True, slots=True)
class SheetRun:
    """A run as its sheet shows it.

    `drill`, `run`: the folders' names. `zone`: of the drill's clocks, None where no file says it. `others`: median
    seconds of the drill's other searchers by the short name of a phase and `IN_ALL`; left out where fewer than three
    have it. `searchers`: how many others there are. `ground`: the picture under the plan.
    """

    drill: str
    run: str
    result: RunResult
    zone: dt.tzinfo | None = None
    others: tuple[tuple[str, float], ...] = ()
    searchers: int = 0
    ground: GroundPicture | None = None


@dataclass(frozen=True, slots=True)
class GroupRow:
    """A run on the sheet of a group. `name`: None where the searcher has not agreed to be named."""

    entry: RunEntry
    name: str | None


@dataclass(frozen=True, slots=True)
class GroupSheet:
    """The runs of a drill on one day, in the order in which they were walked. `drill`: the folder's name."""

    drill: str
    title: str
    rows: tuple[GroupRow, ...]
    zone: dt.tzinfo | None = None


def when(moment: dt.datetime, zone: dt.tzinfo | None) -> str:
    """Return day and time by the clocks of the zone, with its name; UTC where no zone is known."""
    local = moment.astimezone(zone or dt.UTC)
    return f"{local:%Y-%m-%d %H:%M} {zone_name(zone)}"


def zone_name(zone: dt.tzinfo | None) -> str:
    """Return how a zone is called: "Europe/Vienna", "UTC+01:00", "UTC"."""
    return "UTC" if zone is None else str(zone)


def medians(own: RunEntry, runs: Iterable[RunEntry]) -> tuple[tuple[tuple[str, float], ...], int]:
    """Return the medians of the other searchers for the splits that a run has, and how many others there are.

    Each searcher counts once, with the median of the runs; runs that name nobody count by themselves. What is not
    whole, for a transmitter was not found, counts for nobody and is held against nothing.
    """
    people: dict[str, list[RunEntry]] = {}
    me = who(own)
    for run in runs:
        if run.problem is None and run.splits and who(run) != me and run.run != own.run:
            people.setdefault(who(run), []).append(run)
    found = []
    names = (*(name for name, split in split_times(own.splits) if split is not None), IN_ALL)
    for name in (name for name in names if name not in own.unfinished):
        each = [
            [s for s in (_seconds(run.splits, name) for run in theirs if name not in run.unfinished) if s is not None]
            for theirs in people.values()
        ]
        known = [statistics.median(seconds) for seconds in each if seconds]
        if len(known) >= LEAST_OTHERS:
            found.append((name, statistics.median(known)))
    return tuple(found), len(people)


def who(run: RunEntry) -> str:
    """Return the same for the runs of one searcher; a run that names nobody has its own."""
    return name_key(run.searcher) or f"\0{run.run}"


def _seconds(splits: tuple[Totals, ...], name: str) -> float | None:
    """Return the seconds of a split, None where the run does not have it by itself."""
    if name == IN_ALL:
        return splits[-1].seconds
    times = dict(split_times(splits))
    if name == JOINT_SHORT and JOINT_SHORT not in times:
        first = [times["signal"], times["coarse"]]
        return None if None in first else sum(split.seconds for split in first if split is not None)
    split = times.get(name)
    return None if split is None else split.seconds
