"""The page for an address that leads nowhere."""

from typing import Any

from dash import html, register_page

from dashboard.components.shell import message_page

register_page(__name__, title="No such page")


def layout(**_: Any) -> html.Div:
    """Return the message."""
    return message_page("There is no such page", "The address leads nowhere. Nothing is lost.")
