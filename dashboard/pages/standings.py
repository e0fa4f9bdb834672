"""The events of the workspace."""

from typing import Any

from dash import html, register_page

from dashboard.components.shell import message_page
from dashboard.components.standings import event_card
from dashboard.pages._here import config
from dashboard.services.events import Events

register_page(__name__, path="/standings", title="Standings")


def layout(**_: Any) -> html.Div:
    """Return the list of events, or how to make one."""
    entries = Events(config().workspace).entries()
    if not entries:
        return message_page(
            "No events yet",
            "An event is a file events/NAME/event.toml in the workspace: classes, fields, entries, and a rule sheet.",
            "docs/standings.md has an example; searchwake standings WORKSPACE/events/NAME scores it.",
        )
    cards = html.Ul([event_card(entry) for entry in entries], className="runs")
    return html.Div(
        [
            html.Div(html.H1("Standings"), className="title"),
            html.Section(cards, className="panel", **{"aria-label": "Events"}),
        ]
    )
