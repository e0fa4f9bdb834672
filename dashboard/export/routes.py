"""The addresses under which files are fetched: `/take/<drill>/<run>/<file>` and `/take-event/<event>/<file>`.

Nothing is kept.
"""

from collections.abc import Callable

from flask import Flask, Response, current_app

from analyzer.errors import AnalyzerError
from analyzer.model.result import RunResult
from dashboard.config import SERVICE_KEY, SHEETS_KEY
from dashboard.export.account import account_csv, timeline_csv
from dashboard.export.answers import download, refused
from dashboard.export.event_files import take_event
from dashboard.export.measures import measures_csv, measures_json
from dashboard.services.results import RunMissingError, Service
from dashboard.services.rules import Sheets


def _sheet(result: RunResult) -> bytes:
    from dashboard.export.sheet import sheet_pdf  # drawing for print takes half a second to load

    return sheet_pdf(result)


def _page(result: RunResult) -> bytes:
    from dashboard.export.standalone import standalone_page

    return standalone_page(result)


FILES: dict[str, tuple[str, Callable[[RunResult], bytes]]] = {
    "sheet.pdf": ("application/pdf", _sheet),
    "debrief.html": ("text/html; charset=utf-8", _page),
    "account.csv": ("text/csv; charset=utf-8", account_csv),
    "timeline.csv": ("text/csv; charset=utf-8", timeline_csv),
    "measures.csv": ("text/csv; charset=utf-8", measures_csv),
    "measures.json": ("application/json", measures_json),
}


def add_downloads(server: Flask) -> None:
    """Let a dashboard's server answer for the files of its runs and events."""
    server.add_url_rule("/take/<drill>/<run>/<name>", "take-away", take, methods=["GET"])
    server.add_url_rule("/take-event/<event>/<name>", "take-event", take_event, methods=["GET"])
    server.add_url_rule("/rule-sheet/<sha256>", "rule-sheet", rule_sheet, methods=["GET"])


def rule_sheet(sha256: str) -> Response:
    """Return a rule sheet as a download, or a line that says that there is none."""
    sheets: Sheets = current_app.config[SHEETS_KEY]
    entry = sheets.entry(sha256)
    if entry is None:
        return refused("There is no rule sheet with this hash.", 404)
    return download(sheets.content(entry), "application/toml", f"{entry.name} {entry.version}.toml")


def take(drill: str, run: str, name: str) -> Response:
    """Return one file of a run as a download, or a line that says why there is none."""
    service: Service = current_app.config[SERVICE_KEY]
    if name not in FILES:
        return refused(f"There is no file {name} of a run. There are: {', '.join(FILES)}.", 404)
    try:
        result = service.result(drill, run)
    except RunMissingError as error:
        return refused(f"There is no result for {error} in the folder that is shown. It may have been moved.", 404)
    except AnalyzerError as error:
        return refused(f"This result cannot be used: {error}", 422)
    kind, make = FILES[name]
    return download(make(result), kind, f"{result.run_id} {name}")
