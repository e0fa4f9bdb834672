"""The page of a joint signal search: the answer in words, the plan, and a row a searcher."""

from typing import Any

from dash import html

from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.shell import panel
from dashboard.figures.team import team_figure
from dashboard.services.team import TeamView
from dashboard.view_models.team import HEADS, covered_sentence, first_sentence, member_row

NOTE = (
    "A searcher covers what lies within half the drill's strip width of the path. A second pass of one searcher over "
    "the same ground is in that searcher's own debrief."
)


def team_parts(view: TeamView) -> list[Any]:
    """Return the parts of the page."""
    search, grid_m = view.search, view.grid_m
    if search is None or grid_m is None:
        return [html.P(view.why, className="big")]
    said = covered_sentence(search, view.set_out_s)
    figure = team_figure(view.results, grid_m, search.count, view.paths_m)
    rows = [
        html.Tr([html.Th(cells[0], scope="row"), *[html.Td(cell) for cell in cells[1:]]])
        for cells in (member_row(member, view.set_out_s) for member in search.members)
    ]
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in HEADS]))
    return [
        panel(
            "What the team covered",
            html.P(said, className="big"),
            html.P(first_sentence(search), className="big"),
            kind="answer",
        ),
        panel("Plan", chart(figure, chart_id=ids.TEAM_PLAN, label=said, kind="plan"), note=NOTE),
        panel(
            "Searchers",
            html.Div(html.Table([head, html.Tbody(rows)]), className="scroll", tabIndex="0"),
            note="Shares of the area, until the first signal of all. Times count from when the first set out.",
        ),
    ]
