"""The lines of the lists that pages show: drills and runs, rule sheets, and what a sheet does to a run. No Dash."""

import datetime as dt
from dataclasses import dataclass
from urllib.parse import quote

from analyzer.model.account import Scores
from analyzer.model.figure import Measured
from analyzer.model.result import SharedFit
from dashboard.view_models.account import Totals
from dashboard.view_models.sheets_used import Sheet

BUILT_IN = "comes with the program"


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One line of the list of runs. `problem`: why the file cannot be shown, None where it can. `shared`: the runs that
    it was fitted with. `began`: UTC. `splits`: of each phase, and last of the run. `loss`: what cost most in a few
    words, `practice`: what to do about it, both "" where there is nothing to say.
    `title`: what people call it. `team`: several searched for the same burials. `hit_s`, `airway_s`: when the last
    transmitter was hit and the last airway free, from the start; None where that is not marked of all. `sheet`: the
    rule sheet. `unfinished`: short names of splits that are not whole, for a transmitter was not found.
    `aside`: the coach set all of its findings aside."""

    drill: str
    run: str
    drill_name: str = ""
    searcher: str = ""
    duration_s: float = 0.0
    score: Measured | None = None
    problem: str | None = None
    shared: SharedFit | None = None
    began: dt.datetime | None = None
    splits: tuple[Totals, ...] = ()
    loss: str = ""
    practice: str = ""
    title: str = ""
    team: bool = False
    hit_s: float | None = None
    airway_s: float | None = None
    sheet: Sheet | None = None
    aside: bool = False
    unfinished: tuple[str, ...] = ()

    @property
    def called(self) -> str:
        """The run's title, or its name where nobody gave it one."""
        return self.title or self.run

    @property
    def href(self) -> str:
        """Return the address of the run's page."""
        return f"/run/{quote(self.drill, safe='')}/{quote(self.run, safe='')}"


@dataclass(frozen=True, slots=True)
class DrillEntry:
    """A drill and its runs, in the order of their names."""

    key: str
    name: str
    runs: tuple[RunEntry, ...]

    @property
    def rests_on_different(self) -> bool:
        """Return whether places and axes of the drill were not estimated from the same runs for all of its results."""
        return len({entry.shared for entry in self.runs if entry.problem is None}) > 1

    def page(self, name: str) -> str:
        """Return the address of a page of the whole drill."""
        return f"/{name}/{quote(self.key, safe='')}"


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """A rule sheet one can start from. `place`: its file's name, or `BUILT_IN`. `problem`: why it cannot be used."""

    name: str
    version: str
    sha256: str
    place: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """Scores of one run as they are and by another sheet; `after` None with the reason in `problem`."""

    run: str
    searcher: str
    before: Scores
    after: Scores | None
    problem: str = ""
