"""The first page: the drills and runs of the results folder."""

from typing import Any

from dash import html, register_page

from dashboard.components.run_list import drill_card
from dashboard.components.shell import message_page, notice
from dashboard.pages._here import config, service

register_page(__name__, path="/", title="Runs")


def layout(**_: Any) -> html.Div:
    """Return the list of runs, or what to do where there is none."""
    drills = service().drills()
    if not drills:
        return message_page(
            "No runs yet",
            f"There is no result in {config().results}.",
            "Analyze a drill first: searchwake analyze DRILL --out DIR",
        )
    note = [notice(config().note)] if config().note else []
    return html.Div([html.H1("Drills and runs"), *note, *[drill_card(drill) for drill in drills]])
