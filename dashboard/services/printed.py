"""What sheets on paper need: a run's result, the zone of its clocks, and how the others did."""

import contextlib
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

from analyzer.errors import AnalyzerError
from analyzer.files.folder import run_folders
from analyzer.files.names import RUN_FILE
from analyzer.files.run_toml import read_run_toml
from analyzer.files.times import zone_of
from analyzer.model.ground import GroundPicture
from analyzer.model.people import People
from analyzer.seasons.group import may_be_named
from analyzer.workspace.people.people_toml import read_people
from dashboard.services.results import RunMissingError, Service
from dashboard.view_models.entries import DrillEntry
from dashboard.view_models.run_days import days_of
from dashboard.view_models.sheet import GroupRow, GroupSheet, SheetRun, medians


def no_ground(_: str) -> GroundPicture | None:
    """Return None: no drill has a picture of its ground."""
    return None


@dataclass(frozen=True, slots=True)
class Printed:
    """The sheets of one dashboard. `folders`: of its drills, where they are at hand; `workspace`: with people.toml.
    `ground`: gives the picture under a drill's plans."""

    service: Service
    folders: tuple[Path, ...] = ()
    workspace: Path | None = None
    ground: Callable[[str], GroundPicture | None] = no_ground

    def run(self, drill: str, run: str) -> SheetRun:
        """Return what the sheet of a run shows.

        Raises
        ------
        RunMissingError
            Where the folder has no such run.
        AnalyzerError
            Where the result cannot be used.
        """
        result, entry = self.service.result(drill, run), self._drill(drill)
        own = next(one for one in entry.runs if one.run in (run, unquote(run)))
        zone = _zone(self._zones(entry.key), own.run)
        return SheetRun(entry.key, own.run, result, zone, *medians(own, entry.runs), self.ground(entry.key))

    def group(self, drill: str, day: str = "") -> GroupSheet:
        """Return what the sheet of a drill's runs shows; who has not agreed to be named is not named.

        `day`: date of the first run of a day (UTC), as the list of runs has it; all days where that is none of them.

        Raises
        ------
        RunMissingError
            Where the folder has no such drill, or none of its runs can be shown.
        AnalyzerError
            Where people.toml or a result cannot be read.
        """
        entry, people = self._drill(drill), self._people()
        days = days_of([entry])
        chosen = [one for one in days if one.date == day] or days
        runs = [run for one in reversed(chosen) for run in reversed(one.runs)]
        if not runs:
            raise RunMissingError(entry.key)
        rows = tuple(GroupRow(run, run.searcher if may_be_named(run.searcher, people) else None) for run in runs)
        return GroupSheet(entry.key, entry.name, rows, _zone(self._zones(entry.key)))

    def _drill(self, drill: str) -> DrillEntry:
        found = next((entry for entry in self.service.drills() if entry.key in (drill, unquote(drill))), None)
        if found is None:
            raise RunMissingError(unquote(drill))
        return found

    def _people(self) -> People:
        return People() if self.workspace is None else read_people(self.workspace)

    def _zones(self, key: str) -> dict[str, str]:
        """Return the zone that the run.toml of each run of a drill states, "" where it states none.

        One that cannot be read says nothing here: the page of the run tells what is wrong with it.
        """
        folder = next((path for path in self.folders if path.resolve().name == key), None)
        zones: dict[str, str] = {}
        if folder is None:
            return zones
        with contextlib.suppress(AnalyzerError, OSError):  # a drill without a folder of runs has results all the same
            for place in run_folders(folder):
                with contextlib.suppress(AnalyzerError, OSError):
                    zones[place.name] = read_run_toml(place / RUN_FILE).zone
        return zones


def _zone(zones: dict[str, str], run: str = "") -> dt.tzinfo | None:
    """Return the zone of a run; where it states none, the one that the drill's other runs agree on."""
    own = zones.get(run, "")
    stated = {own} if own else {zone for zone in zones.values() if zone}
    return zone_of(stated.pop()) if len(stated) == 1 else None
