"""Several searchers of one burial: `/team/<drill>`."""

from typing import Any

from dash import dcc, html, register_page

from dashboard.components.shell import message_page, notice
from dashboard.components.team import team_parts
from dashboard.pages._here import intake, service
from dashboard.pages._runs import drill_of, unusable_lines, usable_runs
from dashboard.services.team import Teams
from dashboard.view_models.sheets_used import sheet_line, sheet_of

register_page(__name__, path_template="/team/<drill>", title="Team")


def layout(drill: str = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    entry = drill_of(drill)
    if entry is None:
        return message_page("This drill is not here", "There are no results under this name in the folder.")
    results = [service().result(entry.key, run) for run in usable_runs(entry)]
    view = Teams(intake().folders).view(entry.key, results)
    return html.Div(
        [
            html.Div([html.H1("Team"), html.P(entry.name, className="quiet")], className="title"),
            html.P(sheet_line(sheet_of(result.rules) for result in results), className="quiet"),
            *[notice(line) for line in unusable_lines(entry)],
            *team_parts(view),
            dcc.Link("To the list of runs", href="/", className="button"),
        ]
    )
