"""The door to the joint signal search of a drill with several searchers at once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from analyzer.engine.ideal.team_search import team_member, team_search
from analyzer.errors import AnalyzerError
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.names import DRILL_FILE
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Slope
from analyzer.model.result import RunResult
from analyzer.model.team import TeamSearch

NO_AREA = "The drill has no area: lay one out, and what was covered of it can be told."
NO_FOLDER = "The drill's folder is not at hand, and with it how wide its strips are."
NO_TEAM = "In this drill each searched alone. For several searchers of one burial at once, drill.toml says team = true."
APART = "The runs lie more than {} hours apart: those were not one search."
MOST_APART_S = 6 * 3600.0
"""Our choice: a team goes out together, and a drill of a day may hold several goes."""


@dataclass(frozen=True, slots=True, eq=False)
class TeamView:
    """What a page shows of a team: horizontal metres. `why`: why there is nothing to show, "" where there is.

    `paths_m`: run -> its path until the first signal; `set_out_s`: when the first of them set out, on the team's clock.
    """

    search: TeamSearch | None
    results: tuple[RunResult, ...] = ()
    grid_m: FloatArray | None = None
    paths_m: tuple[tuple[str, FloatArray], ...] = ()
    set_out_s: float = 0.0
    why: str = ""


@dataclass(frozen=True, slots=True)
class Teams:
    """Joint searches. `folders`: gives the drill folders at hand."""

    folders: Callable[[], Sequence[Path]]

    def view(self, drill: str, results: Sequence[RunResult]) -> TeamView:
        """Return the joint search of runs of a drill; what stands against it is in words."""
        if not any(result.team for result in results):
            return TeamView(None, why=NO_TEAM)
        corners = next((r.corners_m for r in results if r.corners_m is not None), None)
        if corners is None:
            return TeamView(None, why=NO_AREA)
        width = self._strip_width_m(drill)
        if isinstance(width, str):
            return TeamView(None, why=width)
        zeros = [result.time_zero.timestamp() for result in results]
        if max(zeros) - min(zeros) > MOST_APART_S:
            return TeamView(None, why=APART.format(int(MOST_APART_S / 3600)))
        plane = SlopePlane(Slope(*results[0].slope))
        members = [team_member(r, zero - min(zeros), plane) for r, zero in zip(results, zeros, strict=True)]
        found = team_search(members, plane.to_plane(corners), strip_width_m=width)
        paths = tuple((m.run_id, plane.to_horizontal(m.path_m[m.time_s <= found.until_s])) for m in members)
        set_out_s = min(float(m.time_s[0]) for m in members)
        return TeamView(found, tuple(results), plane.to_horizontal(found.grid_m), paths, set_out_s)

    def _strip_width_m(self, drill: str) -> float | str:
        folder = next((f for f in self.folders() if f.resolve().name == drill), None)
        if folder is None:
            return NO_FOLDER
        try:
            return read_drill_toml(folder / DRILL_FILE).strip_width_m
        except AnalyzerError as error:
            return str(error)
