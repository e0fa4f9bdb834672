"""Readings typed while a film plays: `/from-film`, or `/from-film?run=<drill>/<run>` for a run of the workspace."""

import json
from typing import Any

from dash import dcc, html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.shell import message_page, panel
from dashboard.pages._here import runs
from dashboard.pages._runs import address
from dashboard.services.runs import Runs
from dashboard.services.typed_log import runs_to_type_for, transmitters_of
from dashboard.wording import counted

register_page(__name__, path="/from-film", title="From a film")

LEAD = (
    "Play the film on any screen, or open it here: it stays on this machine. Start the clock, and type what "
    "the display shows. What you type is kept in this browser until you clear it."
)
CHOOSE_NOTE = "Or begin without one: the two files can be downloaded, and put in later."


def layout(run: Any = "", **_: Any) -> html.Div:
    """Return the page; the scripts `typed_log*.js` fill its tool in."""
    found, (drill, _slash, name) = runs(), str(run).partition("/")
    ids: tuple[str, ...] = ()
    if run and found is not None:
        try:
            ids = transmitters_of(found, drill, name)
        except AnalyzerError as error:
            return message_page("No log can be typed for this run", str(error))
    saves = bool(run) and found is not None
    told = {"data-drill": drill if saves else "", "data-run": name if saves else "", "data-ids": json.dumps(ids)}
    title = [html.H1("From a film"), html.P(f"For the run {name} of {drill}" if saves else LEAD, className="quiet")]
    links = [dcc.Link("To the run's particulars", href=address("particulars", drill, name))] if saves else []
    choice = [] if found is None else [_choice(found, str(run))]
    tool = html.Div(className="film-log", **told)
    return html.Div(
        [html.Div([*title, *([html.P(LEAD, className="quiet")] if saves else [])], className="title"), tool, *choice,
         *map(html.P, links)],
        className="load",
    )  # fmt: skip


def _choice(found: Runs, chosen: str) -> html.Section:
    """Return the form that chooses the run the log is for."""
    there, more = runs_to_type_for(found)
    options = [html.Option(f"{run} of {drill}", value=f"{drill}/{run}") for drill, run in there]
    select = html.Select([html.Option("choose …", value=""), *options], name="run", className="film-run")
    left = f" {counted(more, 'more run')}: open the run, then Particulars, From a film." if more else ""
    form = html.Form(
        [html.Label([html.Span("Run"), select], className="load-field"), html.Button("Type for this run", type="submit",
         className="button")],
        action="/from-film", method="get", className="load-form",
    )  # fmt: skip
    words = "Another run" if chosen else "Which run is it?"
    return panel(words, form, note=CHOOSE_NOTE + left)
