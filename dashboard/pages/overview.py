"""The first page: the drills and runs of the results folder."""

from typing import Any

from dash import MATCH, Input, Output, callback, ctx, html, no_update, register_page

from analyzer.errors import AnalyzerError
from dashboard import ids
from dashboard.components.run_list import drill_card, moved_list, waiting_card
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
    at_hand = {folder.resolve().name for folder in intake().folders()}
    note = [notice(config().note)] if config().note else []
    measured_cards = [drill_card(drill, at_hand=drill.key in at_hand) for drill in drills]
    cards = [*measured_cards, *[waiting_card(place.key, place.name, place.problem) for place in waiting]]
    return html.Div([html.H1("Drills and runs"), *note, *cards])


@callback(
    Output({"type": ids.ANEW_SAID, "drill": MATCH}, "children"),
    Input({"type": ids.ANEW, "drill": MATCH}, "n_clicks"),
    prevent_initial_call=True,
)
def measure_anew(clicks: int | None) -> Any:
    """Measure all runs of a drill together, and say what moved."""
    if not clicks:
        return no_update
    try:
        return moved_list(intake().measure_anew(ctx.triggered_id["drill"]))
    except AnalyzerError as error:
        return notice(f"Not measured. {error}.")
