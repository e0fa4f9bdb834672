"""A group over a season: people by measures, and what cost the group most."""

from typing import Any

from dash import html, register_page

from dashboard.components.season import cause_list, group_choice, group_table
from dashboard.components.shell import message_page, notice, panel
from dashboard.pages._here import config
from dashboard.services.seasons import Seasons, SeasonView
from dashboard.wording import counted

register_page(__name__, path="/season", title="Season")


def layout(group: str = "", **_: Any) -> html.Div:
    """Return the table of everybody or of one group, or what to do where there is no run."""
    view = Seasons(config().results, config().workspace).group(group)
    if not view.season.runs:
        return message_page(
            "No season yet",
            "A season is made of measured runs: there are none in the results folder.",
            "Load runs, or make an invented season: searchwake simulate OUT --season",
        )
    season = view.season
    choice = [group_choice(view.groups, view.group)] if view.groups else []
    facts = f"{counted(season.runs, 'run')} on {counted(season.days, 'day')} of practice"
    head = html.Div([html.H1("Season"), html.P(facts, className="quiet")], className="title")
    return html.Div([head, *[notice(text) for text in view.problems], *choice, _table(view), _causes(view)])


def _table(view: SeasonView) -> html.Section:
    season = view.season
    table = html.Div(
        group_table(season), className="scroll", tabIndex="0", role="region", **{"aria-label": "People by measures"}
    )
    content: list[Any] = [table] if season.rows else [html.P("Nobody here has agreed to be named in lists.")]
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
        "Median of each person's last three days of practice, and how it changed over the season. A change is "
        "called better or worse where it is clear among all measures of the person, perhaps where it could be "
        "chance."
    )
    return panel("People by measures", *content, note=note)


def _causes(view: SeasonView) -> html.Section:
    season = view.season
    note = f"Of {season.lost_s:.0f} s lost against the reference searcher in all of {counted(season.runs, 'run')}."
    return panel("What cost the group most", cause_list(season.causes, season.runs), note=note)
