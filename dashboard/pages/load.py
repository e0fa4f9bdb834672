"""Files in: `/load`, and `/load?batch=<token>` for what was dropped. `?drill=<name>` chooses the drill beforehand."""

from typing import Any

from dash import Input, Output, State, callback, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from analyzer.workspace.intake.model import OLD, Basket
from dashboard import ids
from dashboard.components.drop_zone import drop_zone
from dashboard.components.format_list import format_list
from dashboard.components.load_review import Said, came_in, progress, result, review_form, unused_lines
from dashboard.components.shell import message_page, notice, panel
from dashboard.pages._here import intake
from dashboard.services.intake import DONE, MAX_UPLOAD, OPEN, seconds_since
from dashboard.services.loadable import track_formats

register_page(__name__, path="/load", title="Load")

TICK_MS = 700
LEAD = (
    "Drop the files of one drill: any number, a folder, or a zip of it. Tracks ({}), reading "
    "logs and marks (tables or spreadsheets), drill.toml, run.toml, rule sheets. Each is recognised by its content."
)


def layout(batch: Any = "", drill: Any = "", **_: Any) -> html.Div:
    """Return the drop zone, what came in, or what became of it."""
    if intake().workspace is None:
        return message_page(
            "Nothing can be loaded here",
            "Only results were opened, and there is no workspace to put files into.",
            "Start searchwake serve WORKSPACE with a folder of drills, or with a new one.",
        )
    if not batch:
        return _page(
            panel("Files", _zone(intake().new_token(), str(drill)), note=LEAD.format(", ".join(track_formats()))),
            format_list(),
            html.P(dcc.Link("Searchers hand in with their phones", href="/phones")),
            html.P(dcc.Link("Type readings from a film", href="/from-film")),
        )
    try:
        basket = intake().basket(str(batch))
    except AnalyzerError as error:
        return message_page("This load cannot be shown", str(error))
    if basket is None:
        return message_page(
            "This load is not here",
            "The link is damaged, or older than the workspace that is shown.",
            "Files that were taken in are in its folder originals. Open Load in the head of the page to drop files.",
        )
    return _page(html.Div(_body(basket, str(drill)), id=ids.LOAD_WORK), basket=basket)


def _page(*content: Any, basket: Basket | None = None) -> html.Div:
    tick = []
    if basket is not None and basket.state not in (OPEN, DONE):
        tick = [dcc.Store(id=ids.LOAD_REF, data=basket.token), dcc.Interval(id=ids.LOAD_TICK, interval=TICK_MS)]
    return html.Div([html.Div(html.H1("Load"), className="title"), *content, *tick], className="load")


def _zone(token: str, drill: str, *, more: bool = False) -> html.Div:
    return drop_zone(token, drill=drill, most_bytes=MAX_UPLOAD, more=more)


def _body(basket: Basket, drill: str) -> list[Any]:
    if basket.state == DONE:
        return [result(basket), came_in(basket), dcc.Link("Load more", href="/load", className="button")]
    if basket.state != OPEN:
        return [
            panel("At work", progress(basket, seconds_since(basket)), note="This page may be closed; the work goes on.")
        ]
    plan, places = intake().plan(basket, drill), intake().places()
    titles = intake().titles(plan.drill.removeprefix(OLD))
    said = Said(intake().new_runs(plan, basket), intake().people(), titles, basket.token, drill)
    form = review_form(plan, basket.token, places, said, drill=drill, unused=len(unused_lines(basket)))
    return [
        came_in(basket),
        panel("Where it goes", form),
        panel("Add more files", _zone(basket.token, drill, more=True)),
    ]


@callback(
    Output(ids.LOAD_WORK, "children"),
    Output(ids.LOAD_TICK, "disabled"),
    Input(ids.LOAD_TICK, "n_intervals"),
    State(ids.LOAD_REF, "data"),
    prevent_initial_call=True,
)
def look(_: int | None, token: str) -> tuple[Any, Any]:
    """Show how far the work is, until it is done."""
    try:
        basket = intake().basket(token)
    except AnalyzerError as error:
        return notice(str(error)), True
    if basket is None:
        return no_update, True
    return _body(basket, ""), basket.state in (OPEN, DONE)
