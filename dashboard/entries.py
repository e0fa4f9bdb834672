"""The lines of the list of drills and runs. No Dash."""

from dataclasses import dataclass
from urllib.parse import quote

from analyzer.model.figures import Measured


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One line of the list of runs. `problem`: why the file cannot be shown, None where it can."""

    drill: str
    run: str
    drill_name: str = ""
    searcher: str = ""
    duration_s: float = 0.0
    score: Measured | None = None
    first_finding: str = ""
    problem: str | None = None

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

    def page(self, name: str) -> str:
        """Return the address of a page of the whole drill."""
        return f"/{name}/{quote(self.key, safe='')}"
