"""Range check: `/range-check`; `?said=<token>` is what was typed, and what came of it."""

from typing import Any

from dash import dcc, html, register_page

from dashboard.components.particulars import said_lines
from dashboard.components.range_check import range_form
from dashboard.components.shell import message_page
from dashboard.pages._here import runs
from dashboard.services.range_check import RangeChecks
from dashboard.services.runs import Said

register_page(__name__, path="/range-check", title="Range check")


def layout(said: Any = "", **_: Any) -> html.Div:
    """Return the form with what was typed, and what it tells."""
    found = runs()
    if found is None:
        return message_page(
            "No range check here",
            "Only results were opened, and there is no workspace to use it in.",
            "Start searchwake serve WORKSPACE with the folder of its drills, or use searchwake range-check.",
        )
    checks, answer = RangeChecks(found), found.said(str(said))
    values = dict(answer.words or {}) if answer is not None else {}
    check, faults = None, answer.faults if answer is not None else ()
    if any(key.startswith("r0.") for key in values):
        check, wrong = checks.answer(values)
        faults = faults or wrong
    shown = Said(answer.done, faults, entry=answer.entry) if answer is not None else None
    drills = [(d.key, d.name, checks.seen(d.key)) for d in found.intake.places() if not d.problem]
    title = [html.H1("Range check"), html.P("Taped distances, and what a receiver showed there", className="quiet")]
    back = dcc.Link("To the list of runs", href="/", className="button")
    return html.Div(
        [html.Div(title, className="title"), *said_lines(shown), *range_form(values, check, drills), back],
        className="load range-check",
    )
