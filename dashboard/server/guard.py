"""What every address of the dashboard is behind: who may ask, and what browsers are told of each answer.

A page of another site can make the user's browser ask this machine, and with a name of its own that leads here it could
read the answers too (DNS rebinding). So the name asked for, where a request comes from and what it is for are looked
at before anything is done. Sources: the Fetch standard (Origin), W3C Fetch Metadata (Sec-Fetch-*), W3C Content
Security Policy Level 3, RFC 9110 section 7.2 (Host).
"""

import re
from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import urlsplit

from flask import Flask, Response, request

OUR_HOSTS = ("127.0.0.1", "localhost", "::1")
"""Names under which this machine alone is reached: a page elsewhere cannot stand under one of them."""
OWN_SITES = ("same-origin", "none")
LASTING = ("/_dash-component-suites/", "/assets/")
"""Addresses of the program's own files, which hold nothing of anybody and may be kept."""
CALLBACK = "/_dash-update-component"
ANY_PAGE = ("/", "/<path:path>")
"""Endpoints that answer with the same frame for every page, and for addresses that are none."""
REFUSED = "This was not asked by a page of this dashboard.\n"
MALFORMED = "This is no request that a page of this dashboard makes.\n"
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # without any, browsers send the forms of our own pages with Origin "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def add_guard(
    server: Flask, *, scripts: Callable[[], Iterable[str]], pages: Iterable[str], callbacks: dict[str, Any]
) -> None:
    """Put a server behind the guard.

    Parameters
    ----------
    server : Flask
    scripts : callable
        Gives the hashes of the scripts that stand in the page itself, as a content policy names them ('sha256-...');
        asked for each answer, for the first request adds some.
    pages : iterable of str
        Addresses of the pages, parts that vary in angle brackets ("/debrief/<drill>/<run>").
    callbacks : dict
        The callbacks of the pages by their output; it may be filled later.
    """
    known = re.compile("|".join(f"(?:{_pattern(page)})" for page in pages))

    def refuse() -> Response | None:
        if foreign():
            return Response(REFUSED, 403, content_type="text/plain")
        called = request.path == CALLBACK and request.method == "POST"
        if called and not _is_call(_body(), callbacks):
            return Response(MALFORMED, 400, content_type="text/plain")
        return None

    def told(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Content-Security-Policy", content_policy(scripts()))  # a file's own is stricter
        if not request.path.startswith(LASTING):
            response.headers["Cache-Control"] = "no-store"
        any_page = response.status_code == 200 and request.endpoint in ANY_PAGE
        if any_page and not known.fullmatch(request.path):
            response.status_code = 404
        return response

    server.before_request_funcs.setdefault(None, []).insert(0, refuse)  # before the dashboard sets anything up
    server.after_request(told)


def foreign() -> bool:
    """Return whether a request comes under another name than this machine's own, or from a page elsewhere.

    A link elsewhere may lead to a page here: that shows the page to the user alone.
    """
    host = urlsplit(f"//{request.host}")
    if host.hostname not in OUR_HOSTS:
        return True
    origin = request.headers.get("Origin")
    if origin is not None:
        return origin != f"http://{request.host}"
    if request.headers.get("Sec-Fetch-Site", "same-origin") in OWN_SITES:
        return False
    asked = (request.method, request.headers.get("Sec-Fetch-Mode"), request.headers.get("Sec-Fetch-Dest"))
    return asked != ("GET", "navigate", "document")


def content_policy(scripts: Iterable[str]) -> str:
    """Return the content policy: nothing from elsewhere, no script in the page but `scripts`, no frame around it.

    Styles stand in the elements of plans and figures, which the drawing library sets.
    """
    return "; ".join(
        (
            "default-src 'self'",
            " ".join(("script-src 'self'", *scripts)),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "media-src blob:",  # a film that the user chose, played where it lies; none is ever fetched
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


def _pattern(page: str) -> str:
    """Return the regular expression of a page's address; a name in it may hold anything, slashes too."""
    return "".join(".+" if part.startswith("<") else re.escape(part) for part in re.split(r"(<[^<>]*>)", page))


def _body() -> Any:
    try:
        return request.get_json(silent=True)
    except RecursionError:  # brackets in brackets, thousands deep
        return None


def _is_call(body: Any, callbacks: dict[str, Any]) -> bool:
    """Return whether the body of a callback's request has the form that the dashboard's own pages send."""
    if not isinstance(body, dict) or not isinstance(body.get("output"), str):
        return False
    if callbacks and body["output"] not in callbacks:
        return False
    changed, outputs = body.get("changedPropIds", []), body.get("outputs", {})
    return (
        _are_places(body.get("inputs"))
        and _are_places(body.get("state", []))
        and (_is_place(outputs) or _are_places(outputs))
        and isinstance(changed, list)
        and all(isinstance(one, str) for one in changed)
    )


def _are_places(values: Any) -> bool:
    """Return whether values are a list of places in a page, or of lists of such where a pattern names several."""
    if not isinstance(values, list):
        return False
    return all(_are_places(one) if isinstance(one, list) else _is_place(one) for one in values)


def _is_place(value: Any) -> bool:
    return (
        isinstance(value, dict) and isinstance(value.get("id"), str | dict) and isinstance(value.get("property"), str)
    )
