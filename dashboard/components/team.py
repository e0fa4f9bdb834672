"""The page of a joint signal search: the answer in words, the plan, and a row a searcher."""

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.shell import panel
from dashboard.figures.team import team_figure
from dashboard.services.team import TeamView
from dashboard.view_models.team import covered_sentence, first_sentence, member_sentence, member_words, with_words

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


def team_line(view: TeamView, result: RunResult, results: Sequence[RunResult], href: str) -> html.Div:
    """Return one line for the debrief of a member: with whom, who had the first reading, and the way to the team."""
    said = view.why if view.search is None else member_sentence(view.search, result.run_id)
    others = [one.searcher or one.called for one in results if one.run_id != result.run_id]
    words = [html.Strong(f"{with_words(others)}."), f" {said} "]
    return html.Div(
        [html.P(words), dcc.Link("What the team covered", href=href, className="button")], className="notice team-line"
    )
