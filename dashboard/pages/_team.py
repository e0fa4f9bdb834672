"""The team of a run whose drill several searched at once, as a line on the debrief of one of them."""

from typing import Any

from analyzer.model.result import RunResult
from dashboard.components.team import team_line
from dashboard.pages._here import intake, service
from dashboard.pages._runs import drill_of, usable_runs
from dashboard.services.team import Teams


def team_part(drill: str, result: RunResult) -> list[Any]:
    """Return who searched with the run's searcher and who heard first, with a link; nothing where each searched alone.

    `drill`: as in the folder, or as it stands in an address.
    """
    entry = drill_of(drill) if result.team else None
    if entry is None:
        return []
    found = (service().result(entry.key, run) for run in usable_runs(entry))
    results = [one for one in found if one.team]
    return [team_line(Teams(intake().folders).view(entry.key, results), result, results, entry.page("team"))]
