"""The rule sheet in force for a drill: which one it is, buttons that put another one there, and what came of it."""

from typing import Any
from urllib.parse import quote

from dash import dcc, html

from dashboard import ids
from dashboard.components.shell import notice
from dashboard.view_models.entries import SheetEntry
from dashboard.wording import counted

NOTE = "Runs of this drill are measured with it, those that come later too. Other drills and events stay as they are."


def in_force_lines(entry: SheetEntry, measured: str) -> list[Any]:
    """Return which sheet is in force, and with which the runs were `measured`, in a sentence."""
    if entry.problem:
        return [notice(f"The sheet in force cannot be used: {entry.problem}. The runs stay as they were measured.")]
    name = html.Strong(f"{entry.name}, version {entry.version}")
    return [html.P([name, html.Span(f" ({entry.sha256[:8]}, {entry.place})", className="quiet")]), html.P(measured)]


def put_button(entry: SheetEntry, place: str, words: str) -> html.Button:
    """Return the button that puts a sheet in force; `place`: list | undo."""
    name = f"{words}: {entry.name}, version {entry.version}"
    more = {"aria-label": name} if place == "list" else {}
    text = words if place == "list" else name
    button = ids.put_in_force(place, entry.sha256)
    return html.Button(text, id=button, type="button", className="button", **more)


def said_in_force(before: SheetEntry, now: SheetEntry, drill: str, runs: int) -> html.Div:
    """Return what came of putting a sheet in force, with the way back."""
    what = f"{now.name}, version {now.version}, is in force for this drill now."
    work = f" Its {counted(runs, 'run')} {'is' if runs == 1 else 'are'} measured with it."
    link = dcc.Link("See how far it is", href=f"/measured/{quote(drill, safe='')}", className="button")
    back = [] if before.problem else [put_button(before, "undo", "Take this back")]
    return html.Div(
        [html.P(what + work, role="status"), html.Div([link, *back], className="run-pages")], className="notice said"
    )
