"""How far the measuring of a drill is, run by run: `/measured/<drill>`."""

from typing import Any
from urllib.parse import quote, unquote

from dash import Input, Output, State, callback, dcc, html, no_update, register_page

from dashboard import ids
from dashboard.components.particulars import progress_words
from dashboard.components.shell import message_page, panel
from dashboard.pages._here import in_force, runs, service
from dashboard.services.runs import Runs, day_of
from dashboard.view_models.sheets_used import sheet_line

register_page(__name__, path_template="/measured/<drill>", title="Measuring")

TICK_MS = 700


def layout(drill: str = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    found, key = runs(), unquote(drill)
    if found is None or key not in {place.key for place in found.intake.places()}:
        return message_page("This drill is not here", f"There is no drill {key} in the workspace that is shown.")
    tick = [
        dcc.Store(id=ids.DRILL_AT, data=key),
        dcc.Interval(id=ids.DRILL_TICK, interval=TICK_MS, disabled=not found.measuring.busy(key)),
    ]
    title = html.Div([html.H1("Measuring"), html.P(f"The runs of {key}", className="quiet")], className="title")
    return html.Div([title, html.Div(_body(found, key), id=ids.DRILL_MEASURED), *tick], className="load")


def _body(found: Runs, drill: str) -> list[Any]:
    words = progress_words(found.measuring.progress(drill))
    if found.measuring.busy(drill):
        return [panel("At work", *words, note="This page may be closed; the work goes on.")]
    entry = next((one for one in service().drills() if one.key == drill), None)
    listed = [
        html.Li(dcc.Link(_line(one.called, one.searcher), href=one.href)) for one in (entry.runs if entry else ())
    ]
    used = html.P(sheet_line(one.sheet for one in (entry.runs if entry else ()) if one.sheet is not None))
    done = html.Ul(listed, className="load-open") if listed else html.P("It has no run that could be measured.")
    failed = [panel("What did not work", *words)] if words else []
    anew = dcc.Link("Lay out this drill", href=f"/lay-out/{quote(drill, safe='')}", className="button")
    return [panel("Measured with the files as they are now", used, done), *failed, *_moved(drill), anew]


def _moved(drill: str) -> list[Any]:
    """Return what moved when all runs of the drill were last measured anew; nothing where they never were."""
    found = in_force()
    at, lines = found.moved(drill) if found is not None else ("", ())
    if not lines:
        return []
    listed = html.Ul([html.Li(line) for line in lines], className="load-open")
    return [panel("What moved", listed, note=f"All runs were measured anew on {day_of(at)}.")]


def _line(called: str, searcher: str) -> str:
    return f"{searcher}, {called}" if searcher and searcher != called else called


@callback(
    Output(ids.DRILL_MEASURED, "children"),
    Output(ids.DRILL_TICK, "disabled"),
    Input(ids.DRILL_TICK, "n_intervals"),
    State(ids.DRILL_AT, "data"),
    prevent_initial_call=True,
)
def look(_: int | None, drill: str) -> tuple[Any, Any]:
    """Show how far the measuring is, until it has ended; then the runs."""
    found = runs()
    if found is None:
        return no_update, True
    return _body(found, drill), not found.measuring.busy(drill)
