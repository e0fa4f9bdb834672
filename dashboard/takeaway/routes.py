"""The addresses under which the files of a run are fetched: `/take/<drill>/<run>/<file>`. Nothing is kept."""

import re
import unicodedata
from collections.abc import Callable
from urllib.parse import quote

from flask import Flask, Response, current_app

from analyzer.model.result import RunResult
from dashboard.config import SERVICE_KEY, SHEETS_KEY
from dashboard.service import RunMissingError, RunUnusableError, Service
from dashboard.sheets import Sheets
from dashboard.takeaway.measures import measures_csv, measures_json


def _sheet(result: RunResult) -> bytes:
    from dashboard.takeaway.sheet import sheet_pdf  # drawing for print takes half a second to load

    return sheet_pdf(result)


def _page(result: RunResult) -> bytes:
    from dashboard.takeaway.standalone import standalone_page

    return standalone_page(result)


FILES: dict[str, tuple[str, Callable[[RunResult], bytes]]] = {
    "sheet.pdf": ("application/pdf", _sheet),
    "debrief.html": ("text/html; charset=utf-8", _page),
    "measures.csv": ("text/csv; charset=utf-8", measures_csv),
    "measures.json": ("application/json", measures_json),
}


def add_downloads(server: Flask) -> None:
    """Let a dashboard's server answer for the files of its runs."""
    server.add_url_rule("/take/<drill>/<run>/<name>", "take-away", take, methods=["GET"])
    server.add_url_rule("/rule-sheet/<sha256>", "rule-sheet", rule_sheet, methods=["GET"])


def rule_sheet(sha256: str) -> Response:
    """Return a rule sheet as a download, or a line that says that there is none."""
    sheets: Sheets = current_app.config[SHEETS_KEY]
    entry = sheets.entry(sha256)
    if entry is None:
        return _refused("There is no rule sheet with this hash.", 404)
    return _download(sheets.content(entry), "application/toml", f"{entry.name} {entry.version}.toml")


def take(drill: str, run: str, name: str) -> Response:
    """Return one file of a run as a download, or a line that says why there is none."""
    service: Service = current_app.config[SERVICE_KEY]
    if name not in FILES:
        return _refused(f"There is no file {name} of a run. There are: {', '.join(FILES)}.", 404)
    try:
        result = service.result(drill, run)
    except RunMissingError as error:
        return _refused(f"There is no result for {error} in the folder that is shown. It may have been moved.", 404)
    except RunUnusableError as error:
        return _refused(f"This result cannot be used: {error}", 422)
    kind, make = FILES[name]
    return _download(make(result), kind, f"{result.run_id} {name}")


def _download(data: bytes, kind: str, name: str) -> Response:
    response = Response(data, content_type=kind)
    response.headers["Content-Disposition"] = _named(name)
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "no-store"
    return response


def _refused(text: str, status: int) -> Response:
    response = Response(text + "\n", status=status, content_type="text/plain; charset=utf-8")
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response


def _named(name: str) -> str:
    """Return the header that names a download: plain letters for old browsers, the name as it is for others."""
    clean = re.sub(r"[^\w .()-]+", "-", unicodedata.normalize("NFC", name)).strip()
    plain = re.sub(r"[^\w .()-]+", "-", clean.encode("ascii", "replace").decode())
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(clean)}"
