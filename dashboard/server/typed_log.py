"""The addresses of a log typed from a film: saving it, and asking what its clock came to. See `guard` for who may."""

from flask import Flask, Response, current_app, jsonify, request

from analyzer.errors import AnalyzerError
from dashboard.config import RUNS_KEY
from dashboard.services.typed_log import clock_line, save_typed

MOST_BYTES = 4_000_000
"""Of a typed log; an hour of a reading a second has 60,000. Our choice."""
NO_WORKSPACE = "There is no workspace here whose runs could be given a log."
MALFORMED = "This is no log that the page sends: two texts, readings and marks."
TOO_LONG = "The log is longer than one that is typed can be."


def add_typed_log(server: Flask) -> None:
    """Let a dashboard's server take a log typed from a film."""
    server.add_url_rule("/typed-log/save", "typed-log-save", save, methods=["POST"])
    server.add_url_rule("/typed-log/clock", "typed-log-clock", clock, methods=["GET"])


def save() -> tuple[Response, int]:
    """Put a typed log into the run `?drill=&run=`: JSON with two texts, `readings` and `marks`."""
    runs = current_app.config[RUNS_KEY]
    if runs is None:
        return _refused(NO_WORKSPACE, 409)
    if request.content_length is None or request.content_length > MOST_BYTES:
        return _refused(TOO_LONG, 413)
    try:
        sent = request.get_json(silent=True)
    except RecursionError:  # brackets in brackets, thousands deep
        sent = None
    texts = [sent.get(key) for key in ("readings", "marks")] if isinstance(sent, dict) else []
    if len(texts) != 2 or not all(isinstance(text, str) for text in texts):
        return _refused(MALFORMED, 400)
    try:
        data = [str(text).encode() for text in texts]
        said = save_typed(runs, request.args.get("drill", ""), request.args.get("run", ""), *data)
    except UnicodeEncodeError:
        return _refused(MALFORMED, 400)
    except AnalyzerError as error:
        return _refused(str(error), 422)
    if said.faults:
        return _refused(" ".join(said.faults), 422)
    return jsonify(ok=True, line=said.done), 200


def clock() -> tuple[Response, int]:
    """Tell how the log of the run `?drill=&run=` lies against its track."""
    runs = current_app.config[RUNS_KEY]
    if runs is None:
        return _refused(NO_WORKSPACE, 409)
    found = clock_line(runs, request.args.get("drill", ""), request.args.get("run", ""))
    return jsonify(ok=True, busy=found.busy, line=found.line, faults=list(found.faults)), 200


def _refused(line: str, status: int) -> tuple[Response, int]:
    return jsonify(ok=False, line=line), status
