"""Answers to a request for a file: a download under its name, or a line that says why there is none."""

import re
import unicodedata
from urllib.parse import quote

from flask import Response


def download(data: bytes, kind: str, name: str) -> Response:
    """Return a file that a browser keeps under a name, and that nothing between keeps."""
    response = Response(data, content_type=kind)
    response.headers["Content-Disposition"] = _named(name)
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "no-store"
    return response


def refused(text: str, status: int) -> Response:
    """Return one line of plain text."""
    response = Response(text + "\n", status=status, content_type="text/plain; charset=utf-8")
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response


def _named(name: str) -> str:
    """Return the header that names a download: plain letters for old browsers, the name as it is for others."""
    clean = re.sub(r"[^\w .()-]+", "-", unicodedata.normalize("NFC", name)).strip()
    plain = re.sub(r"[^\w .()-]+", "-", clean.encode("ascii", "replace").decode())
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(clean)}"
