"""Answers to a request for a file: a download under its name, or a line that says why there is none."""

import re
import unicodedata
from urllib.parse import quote

from flask import Response

LONGEST_PART = 50
"""Letters: three parts of four bytes a letter stay below the 255 bytes or letters that file systems take."""


def download(data: bytes, kind: str, name: str) -> Response:
    """Return a file that a browser keeps under a name, and that nothing between keeps."""
    response = Response(data, content_type=kind)
    response.headers["Content-Disposition"] = _named(name)
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "no-store"
    return response


def file_name(*parts: str, what: str) -> str:
    """Return a name for a file that every system takes: its parts with "-" in and "_" between them, and `what` last.

    `what`: with the ending, such as "sheet.pdf". Parts that come to nothing are left out; long ones are cut.
    """
    clean = (re.sub(r"[\W_]+", "-", unicodedata.normalize("NFC", part)).strip("-")[:LONGEST_PART] for part in parts)
    named = [part.strip("-").lower() for part in clean if part.strip("-")]
    # what Windows keeps for itself (CON, NUL, COM1, ...) is so only before the first dot, which `what` brings
    return "_".join([*named, what])


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
