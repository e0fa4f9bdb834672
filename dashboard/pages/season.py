"""A group over a season: people by measures, and what cost the group most."""

from typing import Any

from dash import html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.season import cause_list, changes_table, group_choice, group_table, season_choice
from dashboard.components.shell import message_page, notice, panel
from dashboard.pages._here import config
from dashboard.pages._stale import MOST_LOOKED, changed_part
from dashboard.services.seasons import Seasons, SeasonView
from dashboard.wording import counted

register_page(__name__, path="/season", title="Season")

NOBODY = (
    "Nobody here has agreed to be named in lists. Whoever does is entered in people.toml: "
    "searchwake people WORKSPACE add NAME --consent DAY."
)


def layout(group: str = "", to: str = "", across: str = "", **more: Any) -> html.Div:
    """Return the table of everybody or of one group, or what to do where there is no run.

    `from` and `to` in the address are the bounds of a season, `across` shows all winters side by side.
    """
    seasons = Seasons(config().results, config().workspace)
    try:
        view = seasons.across(group) if across else seasons.group(group, more.get("from", ""), to)
    except AnalyzerError as error:
        return message_page("No such season", str(error), "Choose a winter on the page of the season.")
    if not view.winters:
        return message_page(
            "No season yet",
            "A season is made of measured runs: there are none in the results folder.",
            "Load runs, or make an invented season: searchwake simulate OUT --season",
        )
    season, shown = view.season, view.period
    choice = [season_choice("/season", view.winters, shown, group=view.group)]
    if view.groups:
        choice.append(group_choice(view.groups, view.group, shown, across=shown is None))
    facts = f"{counted(season.runs, 'run')} on {counted(season.days, 'day')} of practice"
    title = "All seasons" if shown is None else f"Season {shown.name}"
    head = html.Div([html.H1(title), html.P(facts, className="quiet")], className="title")
    notices = [notice(text) for text in (*view.problems, *_near(view.near))]
    notices += changed_part(view.places[:MOST_LOOKED], named=False)
    if not season.runs:
        return html.Div([head, *notices, *choice, html.P("No run lies in these days.")])
    return html.Div([head, *notices, *choice, _people(view), _measures(view), _causes(view)])


def _near(pairs: int) -> list[str]:
    if not pairs:
        return []
    what = "One pair of names looks" if pairs == 1 else f"{pairs} pairs of names look"
    return [f"{what} like one person spelt twice. searchwake people WORKSPACE list names them, and how to join them."]


def _people(view: SeasonView) -> html.Section:
    season = view.season
    table = changes_table(season, view.period)
    content: list[Any] = [table] if season.rows else [html.P(NOBODY)]
    left_out = []
    if season.others:
        left_out.append(
            f"{season.others} {'person has' if season.others == 1 else 'people have'} not agreed to be "
            "named (people.toml)"
        )
    if season.unnamed:
        left_out.append(f"{season.unnamed} {'run names' if season.unnamed == 1 else 'runs name'} nobody")
    if left_out:
        content.append(html.P(f"Not in the table: {'; '.join(left_out)}.", className="quiet season-aside"))
    note = (
        "Clear changes first. Of people who do not change, at most one in twenty is told so of anything clearly, and "
        "one in a hundred that it got worse; perhaps: one in five. A trend needs six days of practice."
    )
    return panel("Who changed", *content, note=note)


def _measures(view: SeasonView) -> html.Details:
    over = "the whole winter" if view.period is None else "the last three days of practice"
    return html.Details(
        [
            html.Summary("Where everybody stands, measure by measure"),
            html.P(f"Median of {over}; below it the change over the season, where there is one.", className="quiet"),
            html.Div(
                group_table(view.season, view.period),
                className="scroll",
                tabIndex="0",
                role="region",
                **{"aria-label": "People by measures"},
            ),
        ],
        className="panel more",
    )


def _causes(view: SeasonView) -> html.Section:
    season = view.season
    note = f"Of {season.lost_s:.0f} s lost against the reference searcher in all of {counted(season.runs, 'run')}."
    return panel("What cost the group most", cause_list(season.causes, season.runs), note=note)
