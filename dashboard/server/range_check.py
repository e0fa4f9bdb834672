"""The addresses that the form of a range check is sent to. Only our own pages may send: see `guard`."""

from urllib.parse import urlencode

from flask import Flask, current_app, redirect, request
from werkzeug.wrappers import Response as Answer

from dashboard.config import RUNS_KEY
from dashboard.server.run_changes import chunks_of, refusal
from dashboard.services.range_check import RangeChecks
from dashboard.services.runs import Runs, Said
from dashboard.view_models.range_check import MORE_ROWS, row_count

MOST_BYTES = 400_000
"""Our choice: its most rows, and a table."""


def add_range_check(server: Flask) -> None:
    """Let a dashboard's server take range checks."""
    server.add_url_rule("/range-check/send", "range-check-send", send, methods=["POST"])


def send() -> Answer:
    """Do what the pressed button says: work it out, take a table, give more rows, or use it in a drill."""
    refused = refusal(MOST_BYTES)
    if refused is not None:
        return refused
    found: Runs = current_app.config[RUNS_KEY]
    values = {key: request.form.get(key, "") for key in request.form}
    act = values.pop("act", "")
    file = next((one for one in request.files.getlist("table") if one.filename), None)
    if act == "more":
        said = Said(words=values | {"rows": str(row_count(values) + MORE_ROWS)})
    elif act == "use":
        said = RangeChecks(found).use(values)
    elif file is not None:
        said = RangeChecks(found).loaded(values, file.filename or "the table", chunks_of(file))
    else:
        said = Said(words=values)
    return redirect(f"/range-check?{urlencode({'said': found.keep(said)})}", 303)
