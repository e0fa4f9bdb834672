"""The pages for phones: come in with a code, hand in, see what became of it. Plain forms, no script, nothing of others.

It is an application of its own on a socket of its own: no address of the dashboard exists here. Sources: RFC 6265bis
(SameSite, HttpOnly), the Fetch standard (Origin), W3C Content Security Policy Level 3.
"""

import contextlib
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, Response, redirect, render_template, request
from werkzeug.datastructures import FileStorage
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from analyzer.errors import AnalyzerError
from dashboard.config import PHONE_COOKIE as COOKIE
from dashboard.server.compress import packed_answer
from dashboard.services.failures import failed_line
from dashboard.services.phones.devices import DEVICE_LIFE_S, Device
from dashboard.services.phones.phones import HAND_IN_BYTES, MOST_NAME, Phones, Sent
from dashboard.wording import NAME, SAFETY

CHUNK = 1 << 20
MOST_AT_ONCE = 12
"""Files of one form; our choice, twice what a run has."""
FORM_BYTES = HAND_IN_BYTES + 1_000_000
POLICY = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
DEBRIEF_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox allow-scripts allow-downloads"
)
"""Of the one-file debrief: its scripts stand in the file, and run as those of nobody's site: no cookie, no request."""
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # without any, browsers send the forms of our own pages with Origin "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
COME_IN = "Come in with the code that the coach's screen shows."


def phones_app(phones: Phones) -> Flask:
    """Return the web application for phones; it answers under the address of `phones` alone."""
    app = Flask("dashboard.server.phones", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = FORM_BYTES
    host = urlsplit(phones.address).netloc
    secure = phones.address.startswith("https:")

    def refuse() -> Response | None:
        origin = request.headers.get("Origin")
        told = origin is None or origin == phones.address.rstrip("/")
        if request.host == host and (told if request.method == "POST" else True):
            return None
        return Response("This was not asked by a page of this address.\n", 403, content_type="text/plain")

    def with_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        return response

    app.before_request(refuse)
    app.after_request(packed_answer)
    app.after_request(with_headers)
    app.register_error_handler(Exception, _failed)
    pages = _Pages(phones, secure)
    app.add_url_rule("/", "first", pages.first, methods=["GET"])
    app.add_url_rule("/join/<code>", "joining", pages.joining, methods=["GET"])
    app.add_url_rule("/join", "join", pages.join, methods=["POST"])
    app.add_url_rule("/mine", "mine", pages.mine, methods=["GET"])
    app.add_url_rule("/hand-in", "hand-in", pages.hand_in, methods=["POST"])
    app.add_url_rule("/debrief/<drill>/<run>", "debrief", pages.debrief, methods=["GET"])
    app.add_url_rule("/leave", "leave", pages.leave, methods=["POST"])
    app.add_url_rule("/phone.css", "style", _style, methods=["GET"])
    return app


class _Pages:
    """The pages over one set of phones."""

    def __init__(self, phones: Phones, secure: bool) -> None:
        self.phones, self.secure = phones, secure

    def first(self) -> Any:
        """Show the way in, or what a phone that is in has handed in."""
        return redirect("/mine", 303) if self._device() is not None else _page("join.html", code="", most=MOST_NAME)

    def joining(self, code: str) -> Any:
        """Show the way in with the code filled in; looking alone, as a camera's preview does, uses no code up."""
        return _page("join.html", code=code[:20], most=MOST_NAME)

    def join(self) -> Any:
        """Let a phone in."""
        form = request.form
        code, name = form.get("code", ""), form.get("name", "")
        try:
            token = self.phones.join(
                code,
                name,
                agreed="agreed" in form,
                named="named" in form,
                guardian="guardian" in form,
                source=request.remote_addr or "",
            )
        except AnalyzerError as error:
            shown = {"code": code[:20], "name": name[:MOST_NAME], "problem": _plain(error)}
            return _page("join.html", 422, most=MOST_NAME, named="named" in form, agreed="agreed" in form, **shown)
        answer = redirect("/mine", 303)
        answer.set_cookie(
            COOKIE, token, max_age=int(DEVICE_LIFE_S), httponly=True, samesite="Strict", secure=self.secure
        )
        return answer

    def mine(self) -> Any:
        """Show what this phone handed in, and a way to hand in more."""
        device = self._device()
        if device is None:
            return _page("join.html", 401, code="", most=MOST_NAME, problem=COME_IN)
        return self._mine(device)

    def hand_in(self) -> Any:
        """Take the files of a form."""
        device = self._device()
        if device is None:
            return _page("join.html", 401, code="", most=MOST_NAME, problem=COME_IN)
        with contextlib.ExitStack() as opened:
            files = [opened.enter_context(contextlib.closing(f)) for f in request.files.getlist("files")]
            files = [f for f in files if f.filename]
            if not files or len(files) > MOST_AT_ONCE:
                what = "No file was chosen." if not files else f"Choose at most {MOST_AT_ONCE} files at once."
                return self._mine(device, what, 422)
            try:
                self.phones.hand_in(device, [Sent(f.filename or "", _size(f), _chunks(f)) for f in files])
            except AnalyzerError as error:
                return self._mine(device, _plain(error), 422)
        return redirect("/mine", 303)

    def debrief(self, drill: str, run: str) -> Any:
        """Show the debrief of a run that this phone handed in; of any other it says the same as of one that is not."""
        from dashboard.export.standalone import standalone_page

        device = self._device()
        if device is None:
            return _page("join.html", 401, code="", most=MOST_NAME, problem=COME_IN)
        try:
            result = self.phones.result(device, drill, run)
        except AnalyzerError as error:
            return self._mine(device, str(error), 422)
        if result is None:
            return self._mine(device, "This phone handed in no such run.", 404)
        answer = Response(standalone_page(result), content_type="text/html; charset=utf-8")
        answer.headers["Content-Security-Policy"] = DEBRIEF_POLICY
        return answer

    def leave(self) -> Any:
        """Forget this phone; what it handed in stays with the coach."""
        device = self._device()
        if device is not None:
            self.phones.take_back(device.id)
        answer = redirect("/", 303)
        answer.delete_cookie(COOKIE)
        return answer

    def _device(self) -> Device | None:
        return self.phones.device(request.cookies.get(COOKIE, ""))

    def _mine(self, device: Device, problem: str = "", status: int = 200) -> Response:
        return _page("mine.html", status, device=device, files=self.phones.own_files(device), problem=problem)


def _page(template: str, status: int = 200, **values: Any) -> Response:
    text = render_template(template, brand=NAME, safety=SAFETY, megabytes=HAND_IN_BYTES // 1_000_000, **values)
    return Response(text, status, content_type="text/html; charset=utf-8")


def _failed(error: Exception) -> Response | HTTPException:
    if isinstance(error, RequestEntityTooLarge):
        return _page("failed.html", 413, line=f"At most {HAND_IN_BYTES // 1_000_000} MB are taken at once.")
    if isinstance(error, AnalyzerError):
        return _page("failed.html", 422, line=str(error))
    if isinstance(error, HTTPException):
        return _page("failed.html", error.code or 500, line="There is no such page here.")
    return _page("failed.html", 500, line=failed_line("a page for phones", error))


def _style() -> Response:
    return Response(render_template("phone.css"), content_type="text/css; charset=utf-8")


def _chunks(file: FileStorage) -> Iterator[bytes]:
    while chunk := file.stream.read(CHUNK):
        yield chunk


def _size(file: FileStorage) -> int:
    end = file.stream.seek(0, 2)
    file.stream.seek(0)
    return end


def _plain(error: AnalyzerError) -> str:
    """Return what is wrong and what to do as sentences for somebody who holds a phone in gloves."""
    what, do = getattr(error, "what", str(error)), getattr(error, "do", "")
    where = getattr(error, "where", "")
    return f"{where.capitalize()}: {what}. {do[:1].upper()}{do[1:]}." if do else str(error)
