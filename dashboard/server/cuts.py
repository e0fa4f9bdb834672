"""The addresses that a cut is sent to, by plain forms. Only our own pages may send: see `guard`."""

from urllib.parse import urlencode

from flask import Flask, current_app, redirect, request
from werkzeug.wrappers import Response as Answer

from analyzer.errors import AnalyzerError
from dashboard.config import CUTS_KEY, RUNS_KEY
from dashboard.server.run_changes import refusal
from dashboard.services.cuts import Cuts
from dashboard.services.runs import Runs, Said
from dashboard.view_models.cuts import typed_cuts


def add_cuts(server: Flask) -> None:
    """Let a dashboard's server take cuts of recordings."""
    server.add_url_rule("/cut-recording", "cut-recording", cut, methods=["POST"])
    server.add_url_rule("/cut-recording/whole", "cut-recording-whole", whole, methods=["POST"])


def cut() -> Answer:
    """Cut a recording by the rows of the form, and show the load; or the form again with what is wrong."""
    refused = refusal()
    if refused is not None:
        return refused
    asked, form = _asked(), request.form.to_dict()
    try:
        _cuts().cut(asked["batch"], asked["track"], typed_cuts(form), form.get("seen", ""), drill=asked["drill"])
    except AnalyzerError as error:
        said = _runs().keep(Said(faults=(str(error),), words=form))
        return redirect(f"/cut?{urlencode(asked | {'said': said})}", 303)
    return redirect(f"/load?{urlencode(asked)}", 303)


def whole() -> Answer:
    """Take a recording whole again, and show the load."""
    refused = refusal()
    if refused is not None:
        return refused
    asked = _asked()
    try:
        _cuts().whole(asked["batch"], asked["track"])
    except AnalyzerError as error:
        said = _runs().keep(Said(faults=(str(error),)))
        return redirect(f"/cut?{urlencode(asked | {'said': said})}", 303)
    return redirect(f"/load?{urlencode(asked)}", 303)


def _asked() -> dict[str, str]:
    return {key: request.args.get(key, "") for key in ("batch", "track", "drill")}


def _cuts() -> Cuts:
    found: Cuts = current_app.config[CUTS_KEY]
    return found


def _runs() -> Runs:
    found: Runs = current_app.config[RUNS_KEY]
    return found
