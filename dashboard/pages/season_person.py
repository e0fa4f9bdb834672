"""One person over a season: every measure in a sentence and a chart."""

from typing import Any
from urllib.parse import quote, unquote

from dash import dcc, html, register_page

from analyzer.errors import AnalyzerError
from analyzer.seasons.model import CLEAR, HINT, NONE, TOO_FEW, PersonSeason, Trend
from dashboard import ids
from dashboard.components.charts import chart
from dashboard.components.season import cause_list, measure_panel, runs_table, season_choice
from dashboard.components.shell import message_page, panel
from dashboard.figures.season import trend_figure
from dashboard.pages._here import config
from dashboard.pages._stale import MOST_LOOKED, changed_part
from dashboard.services.seasons import PersonMissingError, Seasons
from dashboard.wording import counted

register_page(__name__, path_template="/season/<person>", title="Season of a person")

ORDER = (CLEAR, HINT, NONE, TOO_FEW)
COSTLIEST = 3
HOW_TO_READ = (
    "Clear: of people who do not change, at most one in twenty is told so of any measure, and one in a hundred that it "
    "got worse. Perhaps: one in five. Circles are runs with their 90 % interval, the star is the best one. The line is "
    "the trend (full: clear, dashed: perhaps, dotted: no clear change), the green dashes are the reference searcher, "
    "and what lies in the green band is as good as it needs to be."
)


def layout(person: str = "", to: str = "", **more: Any) -> html.Div:
    """Return the season of a person, or a page that says that there is none; `from` and `to` are its bounds."""
    name = unquote(person)
    try:
        view = Seasons(config().results, config().workspace).person(name, more.get("from", ""), to)
    except PersonMissingError:
        return message_page(
            "This person has no run here",
            f"No run names {name!r}.",
            "The season of the group names everybody who has agreed to be named.",
        )
    except AnalyzerError as error:
        return message_page("No such season", str(error), "Choose a winter on the page of the season.")
    season = view.season
    choice = season_choice(f"/season/{quote(season.name, safe='')}", view.winters, view.period, across=False)
    back = html.P(dcc.Link("To the season of the group", href="/season"))
    if not season.runs:
        title = html.Div([html.H1(season.name)], className="title")
        return html.Div([title, back, choice, html.P("No run lies in these days.")])
    return _page(season, [back, choice, *changed_part(view.places[:MOST_LOOKED])])


def _page(season: PersonSeason, ways: list[Any]) -> html.Div:
    trends = sorted(season.trends, key=lambda t: ORDER.index(t.state))
    facts = (
        f"{counted(season.runs, 'run')} on {counted(len(season.dates), 'day')} of practice, {season.dates[0]} to "
        f"{season.dates[-1]}"
    )
    few = [t for t in trends if t.state == TOO_FEW]
    return html.Div(
        [
            html.Div([html.H1(season.name), html.P(facts, className="quiet")], className="title"),
            *ways,
            panel(
                "What cost most",
                cause_list(season.causes[:COSTLIEST], season.runs),
                note="Seconds lost against the reference searcher in all runs.",
            ),
            *([] if len(few) == len(trends) else [html.P(HOW_TO_READ, className="quiet")]),
            *([html.P(_too_few(few, len(trends)))] if few else []),
            html.Div([measure_panel(t, _chart(t, season)) for t in trends if t.points], className="views season-views"),
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


def _too_few(few: list[Trend], every: int) -> str:
    seen = sum(bool(t.points) for t in few)
    said = []
    if seen:
        which = "any measure" if len(few) == every else f"{counted(seen, 'measure')} below"
        said.append(f"Too few days of practice for a trend of {which}: it needs six.")
    if seen < len(few):
        said.append(f"No run has a figure for: {'; '.join(t.measure.name for t in few if not t.points)}.")
    return " ".join(said)


def _chart(trend: Trend, season: PersonSeason) -> html.Div | None:
    if not trend.points:
        return None
    return chart(
        trend_figure(trend, season.dates),
        chart_id=ids.season_chart(trend.measure.key),
        kind="season",
        label=f"{trend.measure.name} over the days of practice; the numbers are in the table below",
    )
