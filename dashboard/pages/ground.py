"""The picture under a drill's plans: `/ground/<drill>`; `?said=<token>` is what was answered."""

from typing import Any

from dash import html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.ground import ground_parts
from dashboard.components.particulars import said_lines
from dashboard.components.shell import message_page
from dashboard.pages._here import config, grounds, runs

register_page(__name__, path_template="/ground/<drill>", title="Ground")


def layout(drill: str = "", said: Any = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    found = runs()
    answer = None if found is None else found.said(str(said))
    try:
        view = grounds().view(drill)
    except AnalyzerError as error:
        return html.Div([message_page("There is no ground to show", str(error)), *said_lines(answer)])
    title = [html.H1("Ground"), html.P(f"The picture under the plans of {view.name}", className="quiet")]
    parts = ground_parts(view, can_change=config().workspace is not None)
    return html.Div([html.Div(title, className="title"), *said_lines(answer), *parts], className="load ground")
