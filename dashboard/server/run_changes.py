"""The addresses that changes of runs are sent to, by plain forms. Only our own pages may send: see `guard`."""

from collections.abc import Callable, Iterator, Mapping
from urllib.parse import quote, urlencode

from flask import Flask, Response, current_app, redirect, request
from werkzeug.datastructures import FileStorage
from werkzeug.wrappers import Response as Answer

from analyzer.errors import AnalyzerError
from dashboard.config import RUNS_KEY
from dashboard.services.intake import MAX_UPLOAD
from dashboard.services.named_in_events import NamedInEvents
from dashboard.services.runs import Runs, Said
from dashboard.view_models.run_form import RunForm, filled

CHUNK = 1 << 20
MOST_FORM_BYTES = 200_000
"""Of a form without files; our choice: its longest field has 4000 characters."""
TOO_LONG = "What was sent is longer than this form can be. Go back, shorten it, and save again.\n"
NO_WORKSPACE = "There is no workspace here whose runs could be changed.\n"


def add_run_changes(server: Flask) -> None:
    """Let a dashboard's server take changes of runs."""
    for name, act in (
        ("particulars", particulars),
        ("words", words),
        ("files", files),
        ("move", move),
        ("delete", delete),
        ("restore", restore),
        ("measure", measure),
        ("cut", cut),
    ):
        server.add_url_rule(f"/change-run/{name}", f"change-run-{name}", act, methods=["POST"])


def particulars() -> Answer:
    """Save who searched, with what, and what the run is called."""
    drill, run = _names()
    return _saved(drill, run, Runs.save_particulars)


def words() -> Answer:
    """Save the coach's words."""
    drill, run = _names()
    return _saved(drill, run, Runs.save_words)


def files() -> Answer:
    """Give a run readings or marks that came later."""
    drill, run = _names()
    refused = refusal(MAX_UPLOAD + MOST_FORM_BYTES)
    if refused is not None:
        return refused
    sent = [(one.filename or "", chunks_of(one)) for one in request.files.getlist("files") if one.filename]
    try:
        said = _runs().add_files(drill, run, sent)
    except AnalyzerError as error:
        said = Said(faults=(str(error),))
    return _to_run(drill, run, said)


def move() -> Answer:
    """Move a run to another drill."""
    drill, run = _names()
    refused = refusal()
    if refused is not None:
        return refused
    to = request.form.get("to", "")
    named = _named(drill, run)
    if named:
        return _to_run(drill, run, Said(faults=named))
    try:
        said, name = _runs().move(drill, run, to)
    except AnalyzerError as error:
        return _to_run(drill, run, Said(faults=(str(error),)))
    return _to_run(to, name, said)


def delete() -> Answer:
    """Put a run into the bin, and show the bin."""
    drill, run = _names()
    refused = refusal()
    if refused is not None:
        return refused
    named = _named(drill, run)
    if named:
        return _to_run(drill, run, Said(faults=named))
    try:
        said = _runs().delete(drill, run)
    except AnalyzerError as error:
        said = Said(faults=(str(error),))
    return _to("/bin", said)


def restore() -> Answer:
    """Put something of the bin back, and show the run that it is of."""
    refused = refusal()
    if refused is not None:
        return refused
    try:
        back, said = _runs().restore(request.args.get("entry", ""))
    except AnalyzerError as error:
        return _to("/bin", Said(faults=(str(error),)))
    return _to_run(back.drill, back.run, said) if back.run else _to("/bin", said)


def measure() -> Answer:
    """Have a drill measured whose files have changed."""
    drill, run = _names()
    refused = refusal()
    if refused is not None:
        return refused
    _runs().measuring.start(drill)
    return _to_run(drill, run, Said("Being measured with its files as they are now."))


def cut() -> Answer:
    """Load a run's recording once more, and show where it is cut into several runs."""
    drill, run = _names()
    refused = refusal()
    if refused is not None:
        return refused
    try:
        batch, track = _runs().recording(drill, run)
    except AnalyzerError as error:
        return _to_run(drill, run, Said(faults=(str(error),)))
    return redirect(f"/cut?{urlencode({'batch': batch, 'track': track, 'drill': drill})}", 303)


def _named(drill: str, run: str) -> tuple[str, ...]:
    """Return why a run that events name is not moved or deleted yet; nothing where it may be."""
    return NamedInEvents(_runs().workspace).refused(drill, run, request.form.get("sure", ""))


def _saved(drill: str, run: str, save: Callable[[Runs, str, str, Mapping[str, str]], Said]) -> Answer:
    refused = refusal()
    if refused is not None:
        return refused
    values = {key: request.form.get(key, "") for key in request.form}
    try:
        said = save(_runs(), drill, run, values)
    except AnalyzerError as error:  # the run is gone: what was typed is shown once more
        said = Said(faults=(str(error),), form=filled(values, RunForm()), words=values)
    return _to_run(drill, run, said)


def _names() -> tuple[str, str]:
    return request.args.get("drill", ""), request.args.get("run", "")


def refusal(most: int = MOST_FORM_BYTES, *, too_long: str = TOO_LONG) -> Response | None:
    """Return the answer to what is too long, or asked where there is no workspace; None where it can be done."""
    if current_app.config[RUNS_KEY] is None:
        return Response(NO_WORKSPACE, 409, content_type="text/plain; charset=utf-8")
    unknown = request.content_length is None and "Transfer-Encoding" in request.headers
    if unknown or (request.content_length or 0) > most:
        return Response(too_long, 413, content_type="text/plain; charset=utf-8")
    return None


def _to_run(drill: str, run: str, said: Said) -> Answer:
    return _to(f"/particulars/{quote(drill, safe='')}/{quote(run, safe='')}", said)


def _to(page: str, said: Said) -> Answer:
    return redirect(f"{page}?{urlencode({'said': _runs().keep(said)})}", 303)


def chunks_of(sent: FileStorage) -> Iterator[bytes]:
    while chunk := sent.stream.read(CHUNK):
        yield chunk


def _runs() -> Runs:
    found: Runs = current_app.config[RUNS_KEY]
    return found
