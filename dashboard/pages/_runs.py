"""The run that an address names, or the page that says why it cannot be shown; and the addresses of its pages."""

from urllib.parse import quote, unquote

from dash import html

from analyzer.errors import AnalyzerError
from analyzer.model.result import RunResult
from dashboard.components.shell import message_page
from dashboard.pages._here import service
from dashboard.services.results import RunMissingError
from dashboard.view_models.entries import DrillEntry


def run_or_words(drill: str, run: str) -> tuple[RunResult | None, tuple[str, ...]]:
    """Return the result of a run and no words, or None and a title and lines that say what is wrong."""
    try:
        return service().result(drill, run), ()
    except RunMissingError as error:
        return None, (
            "This run is not here",
            f"There is no result for {error} in the folder that is shown.",
            "It may have been moved, or deleted: what was deleted in the browser comes back from the page Bin (/bin).",
        )
    except AnalyzerError as error:
        return None, ("This result cannot be shown", str(error))


def run_or_message(drill: str, run: str) -> tuple[RunResult | None, html.Div]:
    """Return the result of a run and an empty page, or None and the page that says what is wrong."""
    result, words = run_or_words(drill, run)
    return result, html.Div() if result is not None else message_page(*words)


def drill_of(drill: str) -> DrillEntry | None:
    """Return the drill that an address names, None where the folder has none."""
    return next((entry for entry in service().drills() if entry.key in (drill, unquote(drill))), None)


def usable_runs(entry: DrillEntry) -> tuple[str, ...]:
    """Return the names of the runs of a drill that can be shown."""
    return tuple(run.run for run in entry.runs if run.problem is None)


def unusable_lines(entry: DrillEntry) -> list[str]:
    """Return a line for each result of a drill that cannot be shown."""
    return [f"Left out, {run.run}: {run.problem}" for run in entry.runs if run.problem is not None]


def address(*parts: str) -> str:
    """Return an address of its parts, as they stand in an address or in the folder."""
    return "/" + "/".join(quote(part, safe="%") for part in parts)
