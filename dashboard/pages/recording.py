"""How to record a run: `/recording`. It prints as it stands."""

from typing import Any

from dash import dcc, html, register_page

from dashboard.components.recording_guide import guide_parts, rung_table
from dashboard.view_models.recording_guide import LEAD

register_page(__name__, path="/recording", title="What to record")


def layout(**_: Any) -> html.Div:
    """Return the guide."""
    head = html.Div([html.H1("What to record"), html.P(LEAD, className="quiet")], className="title")
    back = dcc.Link("Load what you recorded", href="/load", className="button")
    return html.Div([head, rung_table(), *guide_parts(), back], className="recording")
