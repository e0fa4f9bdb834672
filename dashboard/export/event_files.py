"""The addresses under which the files of an event are fetched: `/take-event/<event>/<file>`. Nothing is kept."""

from flask import Response, current_app

from analyzer.errors import AnalyzerError
from dashboard.config import CONFIG_KEY
from dashboard.export.answers import download, refused
from dashboard.services.events import EventMissingError, Events, NotScoredError

KINDS = {
    "standings.csv": "text/csv; charset=utf-8",
    "standings.json": "application/json",
    "list.html": "text/html; charset=utf-8",
}


def take_event(event: str, name: str) -> Response:
    """Return one file of an event, or a line that says why there is none. The list opens in the browser, to print."""
    if name not in KINDS:
        return refused(f"There is no file {name} of an event. There are: {', '.join(KINDS)}.", 404)
    try:
        data = Events(current_app.config[CONFIG_KEY].workspace).file(event, name)
    except EventMissingError as error:
        return refused(f"There is {error}.", 404)
    except NotScoredError as error:
        return refused(f"The event {error} is not scored yet.", 404)
    except AnalyzerError as error:
        return refused(f"These standings cannot be used: {error}", 422)
    response = download(data, KINDS[name], f"{event} {name}")
    if name == "list.html":
        response.headers["Content-Disposition"] = "inline"
        response.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
    return response
