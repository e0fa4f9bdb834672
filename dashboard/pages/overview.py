"""The first page: the drills and runs of the results folder."""

from typing import Any

from dash import html, register_page

from dashboard.components.run_list import drill_card, waiting_card
from dashboard.components.shell import message_page, notice
from dashboard.pages._here import config, intake, service

register_page(__name__, path="/", title="Runs")


def layout(**_: Any) -> html.Div:
    """Return the list of runs, or what to do where there is none."""
    drills = service().drills()
    measured = {drill.key for drill in drills}
    waiting = [place for place in intake().places() if place.key not in measured]
    if not drills and not waiting:
        words = (
            "Load files, or open results: searchwake serve DIR"
            if config().workspace is not None
            else "Analyze a drill first: searchwake analyze DRILL --out DIR"
        )
        return message_page("No runs yet", f"There is no result in {config().results}.", words)
    note = [notice(config().note)] if config().note else []
    cards = [*[drill_card(drill) for drill in drills], *[waiting_card(place.key, place.name) for place in waiting]]
    return html.Div([html.H1("Drills and runs"), *note, *cards])
