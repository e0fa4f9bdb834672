"""The bin: `/bin`."""

from typing import Any

from dash import dcc, html, register_page

from dashboard.components.bin_list import bin_panel
from dashboard.components.particulars import said_lines
from dashboard.components.shell import message_page
from dashboard.pages._here import runs

register_page(__name__, path="/bin", title="Bin")


def layout(said: Any = "", **_: Any) -> html.Div:
    """Return what can be put back, and what came of the last change."""
    found = runs()
    if found is None:
        return message_page("There is no bin here", "Only results were opened, and there is no workspace.")
    title = html.Div(html.H1("Bin"), className="title")
    back = dcc.Link("To the list of runs", href="/", className="button")
    return html.Div([title, *said_lines(found.said(str(said))), bin_panel(found.bin()), back], className="load bin")
