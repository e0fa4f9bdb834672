"""The checks before a drill: `/checks/<drill>`; `?said=<token>` is what was answered."""

from typing import Any
from urllib.parse import unquote

from dash import dcc, html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.checks import checks_form
from dashboard.components.particulars import said_lines
from dashboard.components.shell import message_page, panel
from dashboard.pages._here import runs
from dashboard.services.checks import Checks

register_page(__name__, path_template="/checks/<drill>", title="Checks before the drill")


def layout(drill: str = "", said: Any = "", **_: Any) -> html.Div:
    """Return the form with what is noted, or a page that says why there is none."""
    found = runs()
    if found is None:
        return message_page("Nothing can be noted here", "Only results were opened, and there is no workspace.")
    answer = found.said(str(said))
    try:
        view = Checks(found).view(unquote(drill))
    except AnalyzerError as error:
        return message_page("This drill has no checks", str(error))
    title = [html.H1("Checks before the drill"), html.P(f"{view.name or view.drill} ({view.drill})", className="quiet")]
    wrong = [panel("checks.toml cannot be read", html.P(view.problem, className="load-bad"))] if view.problem else []
    going = [
        dcc.Link("Range check of a receiver", href="/range-check", className="button"),
        dcc.Link("To the list of runs", href="/", className="button"),
    ]
    return html.Div(
        [
            html.Div(title, className="title"),
            *said_lines(answer),
            *wrong,
            checks_form(view, answer.words if answer is not None else None),
            html.Div(going, className="run-pages"),
        ],
        className="load checks",
    )
