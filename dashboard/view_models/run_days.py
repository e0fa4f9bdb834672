"""The list of runs by day and drill, newest first: what is looked for, and a page of it at a time. No Dash."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from analyzer.model.people import name_key
from dashboard.view_models.entries import DrillEntry, RunEntry

ROWS = 25
"""Rows of a page: our choice, a screen or two of them."""
BREAK = dt.timedelta(hours=6)
"""A new day begins after so long without a run, as in seasons: that needs no time zone."""
_NEVER = dt.datetime.min.replace(tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class Day:
    """The runs of one drill on one day, the newest first. `drill`: with all of its runs, of other days too.

    `began`: when the first run of the day began, UTC, be it among `runs` or not looked for.
    """

    drill: DrillEntry
    runs: tuple[RunEntry, ...]
    began: dt.datetime = _NEVER

    @property
    def date(self) -> str:
        """Return the day as a date, UTC."""
        return self.began.date().isoformat()


@dataclass(frozen=True, slots=True)
class Part:
    """A day as it stands on a page: of its runs, those from number `first` (0-based) on that the page has room for."""

    day: Day
    first: int
    runs: tuple[RunEntry, ...]


@dataclass(frozen=True, slots=True)
class ListPage:
    """One page of the list. `rows`: all that were found; `first`: number of the page's first row, 0-based.

    `days`: every day that was found, with the number of the page it begins on; `failed`: results that cannot be shown.
    """

    find: str
    page: int
    pages: int
    rows: int
    first: int
    parts: tuple[Part, ...]
    days: tuple[tuple[Day, int], ...]
    failed: tuple[RunEntry, ...]

    def address(self, page: int) -> str:
        """Return the address of another page of the same list."""
        asked = {"find": self.find, "page": str(page)}
        return "/?" + urlencode({key: value for key, value in asked.items() if value})


def days_of(drills: Iterable[DrillEntry], find: str = "") -> list[Day]:
    """Return the days with their runs, the newest day first; runs that cannot be shown are left out.

    `find`: words that all stand in the searcher, run, drill or date (UTC) of a run; any capitals.
    """
    wanted = name_key(find).split()
    found = []
    for drill in drills:
        usable = (run for run in drill.runs if run.problem is None)
        newest = sorted(usable, key=lambda run: run.began or _NEVER, reverse=True)
        for runs in _by_break(newest):
            kept = tuple(run for run in runs if _fits(run, drill, wanted))
            if kept:
                found.append(Day(drill, kept, runs[-1].began or _NEVER))
    return sorted(found, key=lambda day: day.runs[0].began or _NEVER, reverse=True)


def _by_break(runs: Sequence[RunEntry]) -> list[list[RunEntry]]:
    groups: list[list[RunEntry]] = []
    for run in runs:
        later = groups[-1][-1].began if groups else None
        if groups and (later or _NEVER) - (run.began or _NEVER) < BREAK:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups


def _fits(run: RunEntry, drill: DrillEntry, wanted: list[str]) -> bool:
    if not wanted:
        return True
    day = run.began.date().isoformat() if run.began else ""
    told = name_key(" ".join((run.searcher, run.run, run.title, drill.name, drill.key, day)))
    return all(word in told for word in wanted)


def list_page(drills: Sequence[DrillEntry], *, find: str = "", page: str = "") -> ListPage:
    """Return a page of the list; `page`: as it stands in an address, the nearest one where there is none such."""
    days = days_of(drills, find)
    rows = sum(len(day.runs) for day in days)
    pages = max(1, -(-rows // ROWS))
    number = min(max(int(page), 1), pages) if page.isascii() and page.isdigit() and len(page) < 9 else 1
    first, begin, parts, begins = ROWS * (number - 1), 0, [], []
    for day in days:
        begins.append((day, begin // ROWS + 1))
        low, high = max(first - begin, 0), min(first + ROWS - begin, len(day.runs))
        if low < high:
            parts.append(Part(day, low, day.runs[low:high]))
        begin += len(day.runs)
    failed = tuple(run for drill in drills for run in drill.runs if run.problem is not None)
    return ListPage(find, number, pages, rows, first, tuple(parts), tuple(begins), failed)
