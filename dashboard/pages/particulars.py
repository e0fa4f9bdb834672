"""A run's particulars, to look over and change: `/particulars/<drill>/<run>`; `?said=<token>` is what was answered."""

from typing import Any
from urllib.parse import unquote

from dash import Input, Output, State, callback, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from dashboard import ids
from dashboard.components.particulars import (
    changed_lines,
    forms,
    measured_panel,
    progress_words,
    said_lines,
    stale_notice,
)
from dashboard.components.shell import message_page, panel
from dashboard.pages._here import runs
from dashboard.pages._runs import address
from dashboard.services.named_in_events import InEvents, NamedInEvents
from dashboard.services.runs import Runs, RunView, Said

register_page(__name__, path_template="/particulars/<drill>/<run>", title="Particulars")

TICK_MS = 700


def layout(drill: str = "", run: str = "", said: Any = "", entry: Any = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none, with what was typed."""
    found = runs()
    if found is None:
        return message_page(
            "Nothing can be changed here",
            "Only results were opened, and there is no workspace with the files of this run.",
            "Start searchwake serve WORKSPACE with the folder of its drills.",
        )
    answer = found.said(str(said))
    try:
        view = _view(found, drill, run)
    except AnalyzerError as error:
        return html.Div([message_page("This run cannot be changed", str(error)), *said_lines(answer), *_typed(answer)])
    at, changed = view.at_hand, answer.entry if answer is not None else str(entry)
    busy = found.measuring.busy(at.drill)
    tick = [
        dcc.Store(id=ids.RUN_AT, data=[at.drill, at.run, changed]),
        dcc.Interval(id=ids.RUN_TICK, interval=TICK_MS, disabled=not busy),
    ]
    going = [
        dcc.Link("To the debrief", href=address("run", at.drill, at.run), className="button"),
        dcc.Link("Bin", href="/bin", className="button"),
    ]
    title = [
        html.H1(at.info.title or at.run),
        html.P(f"Particulars of the run {at.run} of {at.drill}", className="quiet"),
    ]
    problems = [panel("What is wrong with it", html.Ul([html.Li(p) for p in view.problems], className="load-bad"))]
    return html.Div(
        [
            html.Div(title, className="title"),
            html.Div(going, className="run-pages"),
            *said_lines(answer),
            measured_panel(_measured(found, at.drill, at.run, changed)),
            *(problems if view.problems else []),
            *forms(view, answer, _events(found, view)),
            *tick,
        ],
        className="load particulars",
    )


def _events(found: Runs, view: RunView) -> InEvents:
    return NamedInEvents(found.workspace).warnings(view.at_hand.drill, view.at_hand.run, view.at_hand.info.bib)


def _view(found: Runs, drill: str, run: str) -> RunView:
    """Return the run that an address names, by its parts as they are or as they stand in an address."""
    try:
        return found.view(unquote(drill), unquote(run))
    except AnalyzerError:
        if (drill, run) == (unquote(drill), unquote(run)):
            raise
        return found.view(drill, run)


def _measured(found: Runs, drill: str, run: str, entry: str) -> list[Any]:
    """Return how far the measuring is; where it has ended, what a change did, and whether the result is outdated."""
    words = progress_words(found.measuring.progress(drill))
    if found.measuring.busy(drill):
        return words
    return [
        *words,
        *changed_lines(found.changed(drill, run, entry)),
        *stale_notice((drill, run), found.stale(drill, run)),
        html.P(found.measured_with(drill, run) or "This run is not measured yet.", className="quiet"),
    ]


def _typed(answer: Said | None) -> list[Any]:
    """Return what was typed for a run that is gone, so that it is not lost."""
    lines = [f"{key}: {value}" for key, value in (answer.words or {}).items() if key != "seen"] if answer else []
    kept = [line for line in lines if line.partition(": ")[2]]
    return [panel("What you typed", html.Ul([html.Li(line) for line in kept], className="load-left"))] if kept else []


@callback(
    Output(ids.RUN_MEASURED, "children"),
    Output(ids.RUN_TICK, "disabled"),
    Input(ids.RUN_TICK, "n_intervals"),
    State(ids.RUN_AT, "data"),
    prevent_initial_call=True,
)
def look(_: int | None, at: list[str]) -> tuple[Any, Any]:
    """Show how far the measuring is, until it has ended; then what the change did."""
    found = runs()
    if found is None:
        return no_update, True
    drill, run, entry = at
    return _measured(found, drill, run, entry), not found.measuring.busy(drill)
