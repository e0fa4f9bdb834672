"""The addresses that files and decisions are sent to. Only our own pages may send: see `guard`."""

import html
from collections.abc import Callable, Iterator
from urllib.parse import quote

from flask import Flask, Response, current_app, jsonify, redirect, request
from werkzeug.wrappers import Response as Answer

from analyzer.errors import AnalyzerError
from dashboard.config import INTAKE_KEY
from dashboard.services.intake import MAX_UPLOAD, Intake

CHUNK = 1 << 20
PAGE = """<!DOCTYPE html><html lang="en"><title>Load</title><meta name="viewport" content="width=device-width">
<body style="font: 1.2rem/1.5 system-ui, sans-serif; margin: 2rem auto; max-width: 40rem; padding: 0 1rem">
<h1>This could not be done</h1><p>{}</p><p><a href="{}">Back to Load</a></p></body></html>"""


def add_intake(server: Flask) -> None:
    """Let a dashboard's server take in files."""
    server.add_url_rule("/take-in", "take-in", take_in, methods=["POST"])
    server.add_url_rule("/take-in/known", "take-in-known", known, methods=["GET"])
    server.add_url_rule("/take-in/settle", "take-in-settle", settle, methods=["POST"])
    server.add_url_rule("/take-in/reopen", "take-in-reopen", reopen, methods=["POST"])


def take_in() -> tuple[Response, int]:
    """Take one file, sent as it is: `?batch=<token>&name=<path>&size=<bytes>`; answer with a line about it.

    A browser that sees a file too large sends its size alone, so that the refusal is noted with the rest.
    """
    size = max(request.args.get("size", 0, type=int), request.content_length or 0)
    try:
        line = _intake().take(request.args.get("batch", ""), request.args.get("name", ""), size, _chunks())
    except AnalyzerError as error:
        return jsonify(ok=False, line=str(error)), 413 if size > MAX_UPLOAD else 422
    return jsonify(ok=True, line=line), 200


def known() -> tuple[Response, int]:
    """Tell whether there is a basket under a token."""
    try:
        found = _intake().basket(request.args.get("batch", "")) is not None
    except AnalyzerError:
        found = True  # its page says what is wrong with it
    return jsonify(ok=found), 200 if found else 404


def settle() -> Answer:
    """Note the decisions of a form and show the page of the basket again."""
    return _then_page(lambda intake, token: intake.settle(token, request.form, drill=request.args.get("drill", "")))


def reopen() -> Answer:
    """Open what was left out of a basket, and show its page again."""
    return _then_page(lambda intake, token: intake.reopen(token))


def _then_page(do: Callable[[Intake, str], None]) -> Answer:
    token = request.args.get("batch", "")
    back = f"/load?batch={quote(token, safe='')}"
    try:
        do(_intake(), token)
    except AnalyzerError as error:
        return Response(PAGE.format(html.escape(str(error)), html.escape(back)), 422, content_type="text/html")
    return redirect(back, 303)


def _chunks() -> Iterator[bytes]:
    while chunk := request.stream.read(CHUNK):
        yield chunk


def _intake() -> Intake:
    found: Intake = current_app.config[INTAKE_KEY]
    return found
