"""Phones that hand in files: `/phones`, for the coach; the pages of the phones are a server of their own."""

from typing import Any

from dash import Input, Output, State, callback, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from dashboard import ids
from dashboard.components.phones import closed, phone_list, way_in
from dashboard.components.shell import notice
from dashboard.pages._here import phones

register_page(__name__, path="/phones", title="Phones")

TICK_MS = 3000


def layout(**_: Any) -> html.Div:
    """Return how a phone comes in, and which are in."""
    here = phones()
    parts, shown = _body()
    tick = [dcc.Interval(id=ids.PHONES_TICK, interval=TICK_MS)] if here is not None and here.address else []
    return html.Div(
        [
            html.Div(html.H1("Phones"), className="title"),
            html.Div(parts, id=ids.PHONES_LIST),
            dcc.Store(id=ids.PHONES_SHOWN, data=shown),
            *tick,
        ],
        className="phones-page",
    )


def _body() -> tuple[list[Any], str]:
    """Return the parts of the page, and what they depend on as text."""
    here = phones()
    if here is None or not here.address:
        return [closed()], ""
    try:
        found = [(device, here.own_files(device)) for device in here.devices()]
    except AnalyzerError as error:
        return [notice(str(error))], str(error)
    code = here.code()
    return [way_in(here.address, code), phone_list(found)], f"{code} {found!r}"


@callback(
    Output(ids.PHONES_LIST, "children"),
    Output(ids.PHONES_SHOWN, "data"),
    Input(ids.PHONES_TICK, "n_intervals"),
    State(ids.PHONES_SHOWN, "data"),
    prevent_initial_call=True,
)
def look(_: int | None, before: str) -> tuple[Any, Any]:
    """Show the code that counts now, and who came in; where nothing changed the page stays, and what has the focus."""
    parts, shown = _body()
    return (no_update, no_update) if shown == before else (parts, shown)
