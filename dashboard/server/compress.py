"""Answers packed for the way: a page on a club's wireless network is a third of its size. No Dash.

Own, because it is forty lines: what can be packed is known here, and the dashboard's own files are packed once.
"""

import functools
import gzip

from flask import Flask, Response, request

from dashboard.server.guard import LASTING

LEAST_BYTES = 1_000
KINDS = ("text/", "application/json", "application/javascript", "image/svg+xml")
ONCE_LEVEL, ALWAYS_LEVEL = 9, 5
KEPT_FILES = 64


def add_compression(server: Flask) -> None:
    """Let a server pack its answers for browsers that take gzip."""
    server.after_request(packed_answer)


def packed_answer(response: Response) -> Response:
    """Return the answer packed, or as it is where the browser does not take gzip or it would gain nothing."""
    if not (response.content_type or "").startswith(KINDS):
        return response
    response.vary.add("Accept-Encoding")
    if response.status_code != 200 or "Content-Encoding" in response.headers or not request.accept_encodings["gzip"]:
        return response
    response.direct_passthrough = False  # a file is read whole, so that it can be packed
    data = response.get_data()
    if len(data) < LEAST_BYTES:
        return response
    response.set_data(packed_once(data) if request.path.startswith(LASTING) else packed(data, ALWAYS_LEVEL))
    response.headers["Content-Encoding"] = "gzip"
    tag, _ = response.get_etag()
    if tag:
        response.set_etag(tag, weak=True)  # the same content, other bytes
    return response


@functools.lru_cache(maxsize=KEPT_FILES)
def packed_once(data: bytes) -> bytes:
    """Return a file packed as small as can be; the same bytes are packed once."""
    return packed(data, ONCE_LEVEL)


def packed(data: bytes, level: int) -> bytes:
    """Return data packed; equal data give equal bytes."""
    return gzip.compress(data, level, mtime=0)
