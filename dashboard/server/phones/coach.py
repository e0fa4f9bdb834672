"""What the coach decides about phones, sent by the dashboard's own page: see `guard` for who may send."""

import html
from collections.abc import Callable

from flask import Flask, Response, current_app, redirect, request
from werkzeug.wrappers import Response as Answer

from analyzer.errors import AnalyzerError
from dashboard.config import PHONES_KEY
from dashboard.services.phones.phones import Phones

PAGE = """<!DOCTYPE html><html lang="en"><title>Phones</title><meta name="viewport" content="width=device-width">
<body style="font: 1.2rem/1.5 system-ui, sans-serif; margin: 2rem auto; max-width: 40rem; padding: 0 1rem">
<h1>This could not be done</h1><p>{}</p><p><a href="/phones">Back to the phones</a></p></body></html>"""


def add_phones(server: Flask) -> None:
    """Let a dashboard's server hear what the coach decides about phones."""
    server.add_url_rule("/phones/take-back", "phones-take-back", take_back, methods=["POST"])
    server.add_url_rule("/phones/people", "phones-people", add_to_people, methods=["POST"])


def take_back() -> Answer:
    """Let a phone in no more."""
    return _then_page(Phones.take_back)


def add_to_people() -> Answer:
    """Put the owner of a phone into people.toml."""
    return _then_page(Phones.add_to_people)


def _then_page(do: Callable[[Phones, str], object]) -> Answer:
    phones: Phones | None = current_app.config[PHONES_KEY]
    try:
        if phones is not None:
            do(phones, request.form.get("device", ""))
    except AnalyzerError as error:
        return Response(PAGE.format(html.escape(str(error))), 422, content_type="text/html")
    return redirect("/phones", 303)
