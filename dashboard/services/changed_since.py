"""Runs whose files changed after they were measured, for pages that show many: told by times, then by the bytes.

Only where a file is newer than the result, or nearly as old, is anything read: the run's result is held against its
files as on the debrief. What that gave is kept while no file's time or size changes, and one view reads few of them.
"""

import os
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.names import DRILL_FILE, RUNS, SHEET_FILE
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS
from dashboard.services.intake import Intake
from dashboard.services.results import RunMissingError, Service
from dashboard.services.staleness import stale_words

NEAR_NS = 600 * 10**9
"""So much older than its result a file may be and still have changed while the run was measured; our choice: no drill
is measured for longer."""
MOST_READ = 25
"""Runs whose files are read for one view: our choice, a page of the list."""
MOST_KEPT = 20_000
NEVER_NS = 2**63

Place = tuple[str, str]
Stamps = tuple[tuple[str, int, int], ...]
_known: dict[tuple[str, int, int, Stamps], bool] = {}
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class ChangedRuns:
    """Runs (drill, run) that changed after they were measured; `unread`: how many more have newer files and were not
    held against them yet."""

    places: tuple[Place, ...]
    unread: int = 0


def changed_since(service: Service, intake: Intake, places: Iterable[Place], *, most: int = MOST_READ) -> ChangedRuns:
    """Return which runs changed after they were measured; of drills that are not at hand, none.

    `most`: runs whose files are read for this call; of those beyond, the number is told.
    """
    folders = {folder.resolve().name: folder for folder in intake.folders()}
    drills: dict[str, Stamps] = {}
    found, unread, left = [], 0, most
    for drill, run in places:
        folder = folders.get(drill)
        result = None if folder is None else _stat(service.results / drill / f"{run}.json")
        if folder is None or result is None:
            continue
        stamps = (*drills.setdefault(drill, _of_drill(folder)), *_inside(folder / RUNS / run))
        if max(when for _, when, _ in stamps) <= result[1] - NEAR_NS:
            continue
        key = (*result, stamps)
        if key not in _known and left == 0:
            unread += 1
            continue
        if key not in _known:
            left -= 1
            _keep(key, _is_changed(service, folder, drill, run))
        if _known[key]:
            found.append((drill, run))
    return ChangedRuns(tuple(found), unread)


def _is_changed(service: Service, folder: Path, drill: str, run: str) -> bool:
    try:
        return bool(stale_words(folder, run, service.result(drill, run)))
    except (AnalyzerError, RunMissingError):
        return False  # the list says what is wrong with it


def _keep(key: tuple[str, int, int, Stamps], changed: bool) -> None:
    with _lock:
        _known[key] = changed
        while len(_known) > MOST_KEPT:
            _known.pop(next(iter(_known)))


def _of_drill(folder: Path) -> Stamps:
    """Return name, time and size of the files that all runs of a drill rest on, and of its folder."""
    own = (DRILL_FILE, SHEET_FILE)
    kept = [s for s in _inside(folder) if s[0] in own or s[0].lower().endswith(WAYPOINT_ENDINGS)]
    there = _stat(folder)
    return (*kept, *([("", there[1], 0)] if there else [("gone", NEVER_NS, 0)]))


def _inside(folder: Path) -> Stamps:
    """Return name, time and size of what is in a folder, and its own time; one that is not there is newer than all."""
    try:
        with os.scandir(folder) as listed:
            found = sorted((item.name, *_times(item.stat())) for item in listed if item.name[0] != ".")
        return (*found, (".", _times(folder.stat())[0], 0))
    except OSError:
        return (("gone", NEVER_NS, 0),)


def _stat(path: Path) -> tuple[str, int, int] | None:
    try:
        return (str(path), *_times(path.stat(), written=True))
    except OSError:
        return None


def _times(status: os.stat_result, *, written: bool = False) -> tuple[int, int]:
    """Return when a file last changed, in ns, by its own time or, for one that came with an old time, by the disk's."""
    return status.st_mtime_ns if written else max(status.st_mtime_ns, status.st_ctime_ns), status.st_size
