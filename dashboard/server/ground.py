"""The addresses of pictures of the ground: fetching one, and the forms that change it. See `guard` for who may."""

from collections.abc import Callable
from urllib.parse import quote, urlencode

from flask import Flask, Response, current_app, redirect, request
from werkzeug.wrappers import Response as Answer

from analyzer.errors import AnalyzerError
from dashboard.config import GROUNDS_KEY, RUNS_KEY
from dashboard.server.run_changes import MOST_FORM_BYTES, refusal
from dashboard.services.ground import MOST_BYTES, Grounds
from dashboard.services.runs import Runs, Said

UNDER, WHOLE = "under.jpg", "whole.jpg"
TOO_LONG = f"What was sent is larger than a picture may be ({MOST_BYTES // 1_000_000} MB). Go back and cut it.\n"


def add_grounds(server: Flask) -> None:
    """Let a dashboard's server give and take pictures of the ground."""
    server.add_url_rule("/ground-picture/<drill>/<name>", "ground-picture", give, methods=["GET"])
    for name, act in (("picture", picture), ("pins", pins), ("shown", shown)):
        server.add_url_rule(f"/change-ground/{name}", f"change-ground-{name}", act, methods=["POST"])


def give(drill: str, name: str) -> Response:
    """Return the picture under a drill's plans, or the whole one, small; or a line that says that there is none."""
    try:
        if name == WHOLE:
            return _jpeg(_grounds().whole(drill))
        found = _grounds().picture(drill) if name == UNDER else None
    except AnalyzerError as error:
        return _line(f"{error}\n", 404)
    return _line("There is no such picture.\n", 404) if found is None else _jpeg(found.jpeg)


def picture() -> Answer:
    """Take a picture."""
    sent = request.files.get("picture") if refusal(MOST_BYTES + MOST_FORM_BYTES) is None else None
    if sent is None or not sent.filename:
        return _done(MOST_BYTES + MOST_FORM_BYTES, _no_file)
    name, data, words = sent.filename, sent.stream.read(MOST_BYTES + 1), request.form
    take = _grounds().take
    return _done(
        MOST_BYTES + MOST_FORM_BYTES,
        lambda drill: take(drill, name, data, credit=words.get("credit", ""), seen=words.get("seen", "")),
    )


def _no_file(_: str) -> str:
    return "No file was chosen."


def pins() -> Answer:
    """Pin a picture."""
    return _done(MOST_FORM_BYTES, lambda drill: _grounds().pin(drill, request.form.to_dict()))


def shown() -> Answer:
    """Lay a picture under the plans, or take it from there."""
    return _done(MOST_FORM_BYTES, lambda drill: _grounds().show(drill, request.form.to_dict()))


def _done(most: int, act: Callable[[str], str]) -> Answer:
    refused = refusal(most, too_long=TOO_LONG)
    if refused is not None:
        return refused
    drill = request.args.get("drill", "")
    try:
        said = Said(act(drill))
    except AnalyzerError as error:
        said = Said(faults=(str(error),))
    return redirect(f"/ground/{quote(drill, safe='')}?{urlencode({'said': _runs().keep(said)})}", 303)


def _jpeg(data: bytes) -> Response:
    return Response(data, 200, content_type="image/jpeg")


def _line(words: str, status: int) -> Response:
    return Response(words, status, content_type="text/plain; charset=utf-8")


def _grounds() -> Grounds:
    found: Grounds = current_app.config[GROUNDS_KEY]
    return found


def _runs() -> Runs:
    found: Runs = current_app.config[RUNS_KEY]
    return found
