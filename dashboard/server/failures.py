"""What is answered where an address outside the pages fails in a way that nobody thought of: one line."""

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException

from dashboard.services.failures import failed_line


def add_failures(server: Flask, *, missing: type[Exception]) -> None:
    """Let a server answer with one line where an address outside the pages fails.

    `missing`: raised by the library of the pages for a file of its own that there is not.
    """
    server.register_error_handler(Exception, _answer)
    server.register_error_handler(missing, _missing)


def _answer(error: Exception) -> Response | HTTPException:
    if isinstance(error, HTTPException):
        return error
    return Response(f"{failed_line(request.path, error)}\n", 500, content_type="text/plain; charset=utf-8")


def _missing(_: Exception) -> Response:
    return Response("There is no such file.\n", 404, content_type="text/plain; charset=utf-8")
