"""The addresses under which files are fetched: `/take/<drill>/<run>/<file>`, `/take-drill/<drill>/sheet.pdf` and
`/take-drill/<drill>/laying-plan.pdf`, `/take-event/<event>/<file>`.

Nothing is kept.
"""

from collections.abc import Callable
from urllib.parse import unquote

from flask import Flask, Response, current_app, request

from analyzer.errors import AnalyzerError
from analyzer.model.result import RunResult
from dashboard.config import CONFIG_KEY, GROUNDS_KEY, INTAKE_KEY, SERVICE_KEY, SHEETS_KEY, Config
from dashboard.export.account import account_csv, timeline_csv
from dashboard.export.answers import download, file_name, refused
from dashboard.export.event_files import take_event
from dashboard.export.measures import measures_csv, measures_json
from dashboard.services.drills import Drills
from dashboard.services.ground import Grounds
from dashboard.services.intake import Intake
from dashboard.services.printed import Printed
from dashboard.services.results import RunMissingError, Service
from dashboard.services.rules import Sheets
from dashboard.view_models.ground import within

SHEET, LAYING, PDF = "sheet.pdf", "laying-plan.pdf", "application/pdf"
PAGE, HTML = "debrief.html", "text/html; charset=utf-8"
FILES: dict[str, tuple[str, Callable[[RunResult], bytes]]] = {
    "account.csv": ("text/csv; charset=utf-8", account_csv),
    "timeline.csv": ("text/csv; charset=utf-8", timeline_csv),
    "measures.csv": ("text/csv; charset=utf-8", measures_csv),
    "measures.json": ("application/json", measures_json),
}


def add_downloads(server: Flask) -> None:
    """Let a dashboard's server answer for the files of its runs and events."""
    server.add_url_rule("/take/<drill>/<run>/<name>", "take-away", take, methods=["GET"])
    server.add_url_rule("/take-drill/<drill>/<name>", "take-drill", take_drill, methods=["GET"])
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
    if name not in (SHEET, PAGE, *FILES):
        return refused(f"There is no file {name} of a run. There are: {', '.join((SHEET, PAGE, *FILES))}.", 404)
    try:
        if name == SHEET:
            from dashboard.export.sheet import sheet_pdf  # drawing for print takes half a second to load

            shown = _printed().run(drill, run)
            return download(sheet_pdf(shown), PDF, _of_run(shown.drill, shown.result, name))
        result = service.result(drill, run)
        if name == PAGE:
            from dashboard.export.standalone import standalone_page

            page = standalone_page(result, within(_grounds().picture(drill)))
            return download(page, HTML, _of_run(unquote(drill), result, name))
    except RunMissingError as error:
        return refused(f"There is no result for {error} in the folder that is shown. It may have been moved.", 404)
    except AnalyzerError as error:
        return refused(f"This result cannot be used: {error}", 422)
    kind, make = FILES[name]
    return download(make(result), kind, _of_run(unquote(drill), result, name))


def take_drill(drill: str, name: str) -> Response:
    """Return the sheet of all runs of a drill, or with `?day=2026-02-14` of one of its days; or its laying plan."""
    if name == LAYING:
        return _laying(unquote(drill))
    if name != SHEET:
        return refused(f"There is no file {name} of a drill. There are: {SHEET}, {LAYING}.", 404)
    try:
        shown = _printed().group(drill, request.args.get("day", ""))
    except RunMissingError as error:
        return refused(f"There are no results for {error} in the folder that is shown. They may have been moved.", 404)
    except AnalyzerError as error:
        return refused(f"This sheet cannot be made: {error}", 422)
    from dashboard.export.group_sheet import group_pdf  # see above

    return download(group_pdf(shown), PDF, file_name(shown.drill, what=SHEET))


def _laying(drill: str) -> Response:
    config: Config = current_app.config[CONFIG_KEY]
    try:
        plan = Drills(config.drills, config.workspace).plan(drill)
    except AnalyzerError as error:
        return refused(f"This drill cannot be used: {error}", 422)
    if plan is None:
        return refused(f"There is no drill {drill} in the folder that is shown. It may have been moved.", 404)
    from dashboard.export.laying_sheet import laying_pdf  # see above

    return download(laying_pdf(plan), PDF, file_name(drill, what=LAYING))


def _printed() -> Printed:
    intake: Intake = current_app.config[INTAKE_KEY]
    workspace = current_app.config[CONFIG_KEY].workspace
    return Printed(current_app.config[SERVICE_KEY], intake.folders(), workspace, _grounds().picture)


def _grounds() -> Grounds:
    found: Grounds = current_app.config[GROUNDS_KEY]
    return found


def _of_run(drill: str, result: RunResult, name: str) -> str:
    return file_name(drill, result.searcher, result.run_id, what=name)
