"""The page of a joint signal search: the answer in words, the plan, and a row a searcher."""

from typing import Any

from dash import html

from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.shell import panel
from dashboard.figures.team import team_figure
from dashboard.services.team import TeamView
from dashboard.view_models.team import covered_sentence, first_sentence, member_words

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
        html.Li([html.Strong(member.name), f" {member_words(member, view.set_out_s)}"]) for member in search.members
    ]
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
            html.Ul(rows, className="files"),
            note="Until the first signal that is known of; times count from when the first set out.",
        ),
    ]
