"""The first page: the drills and runs of the results folder."""

from typing import Any

from dash import MATCH, Input, Output, callback, ctx, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from dashboard import ids
from dashboard.components.run_list import (
    all_days,
    counts,
    day_card,
    failed_card,
    finder,
    moved_list,
    pager,
    waiting_card,
)
from dashboard.components.shell import message_page, notice
from dashboard.pages._here import config, intake, runs, service
from dashboard.pages._stale import changed_part
from dashboard.view_models.run_days import ListPage, list_page

register_page(__name__, path="/", title="Runs")

BEGIN = (
    "First say where the transmitters lie. Where there is a drill.toml already, load it with the other files.",
    "Then load the track of each run, with readings and marks where there are any.",
)
WAYS = (("1. Lay out a drill", "/lay-out"), ("2. Load files", "/load"), ("What to record", "/recording"))
"""What somebody with an empty workspace does next."""


def layout(find: str = "", page: str = "", **_: Any) -> html.Div:
    """Return a page of the list of runs, or what to do where there is none; `find`, `page`: of the address."""
    drills = service().drills()
    waiting = intake().places(beside={drill.key for drill in drills})
    if not drills and not waiting:
        if config().workspace is None:
            none = f"There is no result in {config().results}."
            return message_page("No runs yet", none, "Analyze a drill first: searchwake analyze DRILL --out DIR")
        return message_page("No runs yet", *BEGIN, ways=WAYS)
    shown = list_page(drills, find=" ".join(str(find).split()), page=str(page))
    note = [notice(config().note)] if config().note else []
    beside = [waiting_card(place.key, place.name, place.problem) for place in waiting]
    beside += [failed_card(shown.failed)] if shown.failed else []
    top = [finder(shown), counts(shown)] if drills else []
    return html.Div(
        [
            html.H1("Drills and runs"),
            *note,
            *top,
            *_changed(shown),
            *_days(shown),
            pager(shown),
            all_days(shown),
            *([] if shown.find or shown.page > 1 else beside),
            *_bin(),
        ]
    )


def _changed(shown: ListPage) -> list[Any]:
    """Return the line on runs of this page that changed after they were measured."""
    entries = [entry for part in shown.parts for entry in part.runs if entry.problem is None]
    return changed_part(
        [(e.drill, e.run) for e in entries], {(e.drill, e.run): f"{e.called} ({e.drill})" for e in entries}
    )


def _bin() -> list[Any]:
    """Return the way to a range check, and to the bin where there is anything in it; nothing without a workspace."""
    found = runs()
    if found is None:
        return []
    check = dcc.Link("Range check of a receiver", href="/range-check")
    return [check, dcc.Link("Bin: put back what was deleted or replaced", href="/bin")] if found.bin() else [check]


def _days(shown: ListPage) -> list[html.Section]:
    at_hand = {folder.resolve().name for folder in intake().folders()}
    keys = [part.day.drill.key for part in shown.parts]
    return [
        day_card(part, at_hand=key in at_hand, told=key in keys[:number])
        for number, (part, key) in enumerate(zip(shown.parts, keys, strict=True))
    ]


@callback(
    Output({"type": ids.ANEW_SAID, "drill": MATCH}, "children"),
    Input({"type": ids.ANEW, "drill": MATCH}, "n_clicks"),
    prevent_initial_call=True,
)
def measure_anew(clicks: int | None) -> Any:
    """Measure all runs of a drill together, and say what moved."""
    if not clicks:
        return no_update
    try:
        return moved_list(intake().measure_anew(ctx.triggered_id["drill"]))
    except AnalyzerError as error:
        return notice(f"Not measured. {error}.")
