"""The replay of one run: `/replay/<drill>/<run>?at=168.0&speed=4&view=run&start=run`; the script reads the address."""

from typing import Any

from dash import ClientsideFunction, Input, Output, clientside_callback, dcc, html, register_page

from dashboard import ids
from dashboard.components.replay import replay_player
from dashboard.figures.replay import replay_data
from dashboard.pages._here import grounds, service
from dashboard.pages._runs import address, run_or_message
from dashboard.pages._stale import stale_part
from dashboard.view_models.sheets_used import sheet_line, sheet_of
from dashboard.wording import clock

register_page(__name__, path_template="/replay/<drill>/<run>", title="Replay")


def layout(drill: str = "", run: str = "", **_: Any) -> html.Div:
    """Return the replay, or a page that says why there is none."""
    result, message = run_or_message(drill, run)
    if result is None:
        return message
    back = dcc.Link("Back to the debrief", href=address("run", drill, run), className="button")
    title = html.Div(
        [
            html.H1(f"Replay: {result.searcher or result.called}"),
            html.P(f"{result.drill}, run {result.called}, {clock(result.duration_s)}", className="quiet"),
            html.P(sheet_line([sheet_of(result.rules)]), className="quiet"),
        ],
        className="title",
    )
    player = replay_player(replay_data(result, service().reference(result), grounds().under(drill)))
    head = html.Div([title, back], className="title-row")
    return html.Div([head, *stale_part(drill, run), html.Section(player, className="panel")])


clientside_callback(
    ClientsideFunction("replay", "mount"), Output(ids.REPLAY_READY, "children"), Input(ids.REPLAY_DATA, "data")
)
