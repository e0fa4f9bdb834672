"""One person over a season: every measure in a sentence and a chart."""

from typing import Any
from urllib.parse import unquote

from dash import dcc, html, register_page

from analyzer.seasons.model import CLEAR, HINT, NONE, TOO_FEW, PersonSeason, Trend
from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.season import cause_list, measure_panel, runs_table
from dashboard.components.shell import message_page, panel
from dashboard.figures.season import trend_figure
from dashboard.pages._here import config
from dashboard.services.seasons import PersonMissingError, Seasons
from dashboard.wording import counted

register_page(__name__, path_template="/season/<person>", title="Season of a person")

ORDER = (CLEAR, HINT, NONE, TOO_FEW)
COSTLIEST = 3


def layout(person: str = "", **_: Any) -> html.Div:
    """Return the season of a person, or a page that says that there is none."""
    try:
        season = Seasons(config().results, config().workspace).person(unquote(person))
    except PersonMissingError:
        return message_page(
            "This person has no run here",
            f"No run names {unquote(person)!r}.",
            "The season of the group names everybody who has agreed to be named.",
        )
    trends = sorted(season.trends, key=lambda t: ORDER.index(t.state))
    facts = (
        f"{counted(season.runs, 'run')} on {counted(len(season.dates), 'day')} of practice, {season.dates[0]} to "
        f"{season.dates[-1]}"
    )
    return html.Div(
        [
            html.Div([html.H1(season.name), html.P(facts, className="quiet")], className="title"),
            html.P(dcc.Link("To the season of the group", href="/season")),
            panel(
                "What cost most",
                cause_list(season.causes[:COSTLIEST], season.runs),
                note="Seconds lost against the reference searcher in all runs.",
            ),
            html.P(_how_to_read(sum(t.state != TOO_FEW for t in trends)), className="quiet"),
            html.Div([measure_panel(t, _chart(t, season)) for t in trends], className="views season-views"),
            html.Details(
                [
                    html.Summary("All figures of all runs"),
                    html.Div(
                        runs_table(season),
                        className="scroll",
                        tabIndex="0",
                        role="region",
                        **{"aria-label": "All figures of all runs"},
                    ),
                ],
                className="panel more",
            ),
        ]
    )


def _how_to_read(asked: int) -> str:
    return (
        f"Clear: chance alone gives that in any of the {asked} measures in at most 5 % of cases. Perhaps: one "
        "measure by itself in at most 10 %. Circles are runs with their 90 % interval, the star is the best one. "
        "The line is the trend (full: clear, dashed: perhaps, dotted: no clear change), the green dashes are the "
        "reference searcher."
    )


def _chart(trend: Trend, season: PersonSeason) -> html.Div | None:
    if not trend.points:
        return None
    return chart(
        trend_figure(trend, season.dates),
        chart_id=ids.season_chart(trend.measure.key),
        kind="season",
        label=f"{trend.measure.name} over the days of practice; the numbers are in the table below",
    )
