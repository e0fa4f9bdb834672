"""One recording, many runs: `/cut?batch=<token>&track=<id>`; `?said=<token>` is what was answered."""

from typing import Any

from dash import dcc, html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.cuts import cuts_page
from dashboard.components.shell import message_page
from dashboard.pages._here import cuts, runs
from dashboard.view_models.cuts import typed_cuts

register_page(__name__, path="/cut", title="Cut")


def layout(batch: Any = "", track: Any = "", said: Any = "", drill: Any = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    found = runs()
    if found is None:
        return message_page(
            "Nothing can be cut here", "There is no workspace.", "Start searchwake serve WORKSPACE with a folder."
        )
    answer = found.said(str(said))
    typed = typed_cuts(answer.words) if answer is not None and answer.words else None
    try:
        view = cuts().view(str(batch), str(track), typed, drill=str(drill))
    except AnalyzerError as error:
        return html.Div([message_page("This cannot be cut", str(error)), dcc.Link("To Load", href="/load")])
    title = [html.H1("Cut a recording into runs"), html.P(view.path, className="quiet")]
    faults = answer.faults if answer is not None else ()
    return html.Div([html.Div(title, className="title"), *cuts_page(view, faults)], className="load cut")
