"""Runs side by side: `/side-by-side/<drill>?run=mara-1&run=ilo-1&align=first_reading&base=mara-1`."""

from typing import Any

from dash import ALL, Input, Output, State, callback, ctx, dcc, html, no_update, register_page
from dash.exceptions import PreventUpdate

from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.components.account_comparison import account_comparison
from dashboard.components.charts import chart
from dashboard.components.comparison import chooser, comparison_table, hidden, order_table, score_table, split_table
from dashboard.components.shell import message_page, notice, panel
from dashboard.figures.side_by_side import plans_figure, ranges_figure, timelines_figure
from dashboard.pages._here import service
from dashboard.pages._runs import drill_of, unusable_lines, usable_runs
from dashboard.pages._stale import stale_names
from dashboard.view_models.alignment import Alignment, by_phases, joined, moved
from dashboard.view_models.comparison import (
    ALIGNMENTS,
    BY_PHASES,
    LEAST,
    Selection,
    asked_by_address,
    chosen,
    place_of,
    pressed,
    reference_of,
    selection_of,
    transmitters_of,
    zero_of,
)
from dashboard.view_models.differences import elsewhere, most_different, pairs_of
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.sheets_used import sheet_line, sheet_of

OTHER_DRILLS = (
    "These runs are of different drills: compare each with its reference searcher. Paths and the measures of one "
    "transmitter do not compare, and are left out."
)

register_page(__name__, path_template="/side-by-side/<drill>", title="Side by side")


def layout(drill: str = "", **asked: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    entry = drill_of(drill)
    if entry is None:
        return message_page("This drill is not here", "There are no results under this name in the folder.")
    selection, said = _chosen(entry, asked)
    return html.Div(
        [
            dcc.Store(id=ids.COMPARED_DRILL, data=entry.key),
            dcc.Store(id=ids.COMPARED_SHOWN, data=selection.query()),
            dcc.Location(id=ids.COMPARED_ADDRESS, refresh=False),
            html.Div([html.H1("Side by side"), html.P(entry.name, className="quiet")], className="title"),
            html.Section(
                chooser(entry, _elsewhere(entry), selection), className="panel", **{"aria-label": "What is compared"}
            ),
            html.Div(_body(entry, selection, said), id=ids.COMPARED_BODY),
        ]
    )


def _body(entry: DrillEntry, selection: Selection, said: list[str]) -> list[Any]:
    """Return all views of a selection."""
    warnings = [notice(text) for text in (*said, *unusable_lines(entry))]
    if len(selection.runs) < LEAST:
        return [*warnings, notice(f"Choose at least {LEAST} runs above.")]
    places = [place_of(reference, entry.key) for reference in selection.runs]
    results = [service().result(*place) for place in places]
    aligned, lost = _aligned(results, selection.align)
    for drill in dict.fromkeys(drill for drill, _ in places):
        warnings += stale_names(drill, tuple(run for own, run in places if own == drill))
    warnings += [notice(OTHER_DRILLS)] if len({drill for drill, _ in places}) > 1 else []
    warnings += [notice(lost)] if lost else []
    line = sheet_line(sheet_of(r.rules) for r in results)
    used = notice(line) if len({r.rules.sha256 for r in results}) > 1 else html.P(line, className="quiet")
    return [*warnings, used, *_views(results, aligned, selection)]


def _elsewhere(entry: DrillEntry) -> list[RunEntry]:
    return elsewhere(entry, service().drills())


def _known(entry: DrillEntry) -> tuple[str, ...]:
    """Return how a selection may name runs: those of this drill before the same searchers' in other drills."""
    return (*usable_runs(entry), *(reference_of(run, entry.key) for run in _elsewhere(entry)))


def _chosen(entry: DrillEntry, asked: dict[str, Any]) -> tuple[Selection, list[str]]:
    """Return the selection of an address; one that names no runs means the first pair that is offered."""
    offered = next((pair.runs for pair in pairs_of(entry.runs)), ())
    return selection_of(asked, known=_known(entry), offered=offered)


def _aligned(results: list[RunResult], align: str) -> tuple[Alignment, str]:
    """Return where the runs stand on the axis, and what could not be aligned, in words."""
    if align == BY_PHASES:
        kept = ", ".join(result.called for result in results if joined(result))
        said = f"Where one phase ended and the next began is not assessable in {kept}: there they stay together."
        return by_phases(results), said if kept else ""
    zeros = [zero_of(result, align) for result in results]
    lost = ", ".join(result.called for result, zero in zip(results, zeros, strict=True) if zero is None)
    said = f"When the {ALIGNMENTS[align].lower()} was is not assessable in {lost}: aligned on the start."
    return moved(results, [zero or 0.0 for zero in zeros]), said if lost else ""


def _drawings(results: list[RunResult], aligned: Alignment, place: str, *, one_drill: bool) -> list[Any]:
    paths = panel(
        "Paths",
        chart(
            plans_figure(results), chart_id=ids.PLANS, kind="plan", label="Plan with the paths of the runs, by number"
        ),
    )
    return [
        *([paths] if one_drill else []),
        panel(
            "Range over time",
            chart(
                ranges_figure(results, aligned),
                chart_id=ids.RANGES,
                kind="time",
                label="Range over time of the runs, by number",
            ),
            note=f"{place[0].upper()}{place[1:]}.",
        ),
    ]


def _views(results: list[RunResult], aligned: Alignment, selection: Selection) -> list[Any]:
    base, one_drill = selection.runs.index(selection.base), not any("/" in run for run in selection.runs)
    by_moment = f"zero is the {ALIGNMENTS[selection.align].lower()}"
    place = "each phase of all runs begins at one place" if aligned.begins else by_moment
    order = order_table(results, base) if one_drill else None
    most = most_different(results, base) if one_drill else ""  # another drill asks for other seconds
    return [
        panel(
            "Splits",
            *([html.P(most, className="big most-different")] if most else []),
            _scrolled("Splits", split_table(results, base)),
            *([_scrolled("Transmitters in the order found", order)] if order is not None else []),
            note="Time of each phase; below it the reference searcher's, and what was lost against it.",
        ),
        panel(
            "Timelines",
            html.Ol([html.Li(f"{r.searcher or r.called} ({r.called})") for r in results], className="run-key"),
            chart(
                timelines_figure(results, aligned),
                chart_id=ids.TIMELINES,
                kind=f"timelines chart-timelines-{len(results)}",
                label="Timelines of the runs one under the other",
            ),
            note=f"What was done in each run; {place}. Letters as in the debrief.",
        ),
        html.Div(_drawings(results, aligned, place, one_drill=one_drill), className="views"),
        panel(
            "Accounts and differences",
            _scrolled("Accounts", account_comparison(results, base)),
            note="Time of each run by cause against the reference searcher, whole seconds that add up.",
        ),
        panel(
            "Measures and differences",
            *[_scrolled(name, table) for name, table in _tables(results, base, one_drill=one_drill)],
            note="A difference is called clear where its 90 % interval, of both runs' uncertainty, leaves out zero.",
        ),
    ]


def _scrolled(name: str, table: html.Table) -> html.Div:
    return html.Div(table, className="scroll", tabIndex="0", role="region", **{"aria-label": name})


def _tables(results: list[RunResult], base: int, *, one_drill: bool) -> list[tuple[str, html.Table]]:
    if not one_drill:
        return [("Scores", score_table(results, base))]
    searched = [(f"Search for transmitter {t}", comparison_table(results, t, base)) for t in transmitters_of(results)]
    return [("Scores", score_table(results, base)), *searched]


@callback(
    Output(ids.COMPARED_ADDRESS, "search"),
    Input({"type": ids.COMPARE, "kind": ALL, "value": ALL}, "n_clicks"),
    State(ids.COMPARED_DRILL, "data"),
    State(ids.COMPARED_SHOWN, "data"),
    prevent_initial_call=True,
)
def choose(_clicks: list[int | None], drill: str, shown: str) -> Any:
    """Put the selection that a button leads to into the address."""
    entry = drill_of(drill)
    if entry is None or not any(trigger["value"] for trigger in ctx.triggered):
        return no_update
    known = _known(entry)
    selection, _ = _chosen(entry, asked_by_address(shown))
    return chosen(selection, ctx.triggered_id["kind"], ctx.triggered_id["value"], known=known).query()


@callback(
    Output(ids.COMPARED_SHOWN, "data"),
    Output(ids.COMPARED_BODY, "children"),
    Output({"type": ids.COMPARE, "kind": ALL, "value": ALL}, "aria-pressed"),
    Output({"type": ids.COMPARE, "kind": ALL, "value": ALL}, "hidden"),
    Input(ids.COMPARED_ADDRESS, "search"),
    State(ids.COMPARED_DRILL, "data"),
    State(ids.COMPARED_SHOWN, "data"),
    prevent_initial_call=True,
)
def show(search: str | None, drill: str, shown: str) -> tuple[Any, ...]:
    """Show the selection of the address, where it is not the one that is shown already."""
    entry = drill_of(drill)
    if entry is None:
        raise PreventUpdate
    selection, said = _chosen(entry, asked_by_address(search))
    if selection.query() == shown:
        raise PreventUpdate
    buttons = [item["id"] for item in ctx.outputs_list[2]]
    return (
        selection.query(),
        _body(entry, selection, said),
        [str(pressed(selection, item["kind"], item["value"])).lower() for item in buttons],
        [hidden(selection, item["kind"], item["value"]) for item in buttons],
    )
