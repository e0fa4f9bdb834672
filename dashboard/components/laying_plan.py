"""The laying plan on a page: how it is to be read, the plan, and what lies where."""

from typing import Any
from urllib.parse import quote

from dash import dcc, html

from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.shell import notice, panel
from dashboard.figures.laying_plan import laying_figure
from dashboard.view_models.laying_plan import HEADS, HOW, NO_START, ONLY, LayingPlan, Spot, axis_words

PLAN = "laying-plan"


def laying_page(plan: LayingPlan) -> list[Any]:
    """Return the parts of the page under its title."""
    key = quote(plan.key, safe="")
    sheet = html.A("Sheet to print (PDF)", href=f"/take-drill/{key}/laying-plan.pdf", download=True, className="button")
    back = dcc.Link("Change the drill", href=ids.lay_out_address(plan.key), className="button")
    outline = [*([plan.start] if plan.start else []), *plan.corners]
    label = "Plan of what is laid where; its words are around it, its numbers in the tables"
    return [
        html.P(ONLY, className="notice laying-only"),
        *([] if plan.start else [notice(NO_START)]),
        html.Div([sheet, back], className="lay-buttons"),
        panel("The plan", chart(laying_figure(plan), chart_id=PLAN, kind="plan chart-lay", label=label)),
        panel("Lay", *[_transmitter(spot) for spot in plan.transmitters], note=HOW),
        *([panel("Flag", _table("Start and corners of the area", outline))] if outline else []),
    ]


def _transmitter(spot: Spot) -> html.Div:
    facts = (
        [] if spot.transmitter is None else [f"{spot.transmitter.depth_m:.2f} m deep, {axis_words(spot.transmitter)}."]
    )
    lines = [html.P(text) for text in (*facts, f"Latitude, longitude: {spot.place}")]
    return html.Div([html.H3(spot.name), *lines, _table(f"Ways to {spot.name}", [spot], named=False)])


def _table(caption: str, spots: list[Spot], *, named: bool = True) -> html.Div:
    """Return the ways to places, a row each; of a place among others only the first way."""
    heads = html.Tr([html.Th(text, scope="col") for text in ("", *HEADS)])
    rows = [
        html.Tr([html.Th(f"{spot.name}, {whence}" if named else whence, scope="row"), *map(html.Td, found.cells())])
        for spot in spots
        for whence, found in (spot.ways[:1] if named else spot.ways)
    ]
    table = html.Table([html.Thead(heads), html.Tbody(rows)], className="table")
    return html.Div(table, className="laying-table", tabIndex="0", role="region", **{"aria-label": caption})
