"""The address that the checks before a drill are sent to. Only our own pages may send: see `guard`."""

from urllib.parse import quote, urlencode

from flask import Flask, current_app, redirect, request
from werkzeug.wrappers import Response as Answer

from dashboard.config import RUNS_KEY
from dashboard.server.run_changes import MOST_FORM_BYTES, refusal
from dashboard.services.checks import Checks
from dashboard.services.runs import Runs


def add_checks(server: Flask) -> None:
    """Let a dashboard's server take the checks before a drill."""
    server.add_url_rule("/change-checks/save", "change-checks-save", save, methods=["POST"])


def save() -> Answer:
    """Save the checks, and show them again."""
    refused = refusal(2 * MOST_FORM_BYTES)
    if refused is not None:
        return refused
    found: Runs = current_app.config[RUNS_KEY]
    drill = request.args.get("drill", "")
    said = Checks(found).save(drill, {key: request.form.get(key, "") for key in request.form})
    return redirect(f"/checks/{quote(drill, safe='')}?{urlencode({'said': found.keep(said)})}", 303)
