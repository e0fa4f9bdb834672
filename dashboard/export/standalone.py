"""The debrief as one file that opens without internet and without the dashboard, with its views still linked."""

import dataclasses
import html
import json
from typing import Any

from dash import html as components
from dash.development.base_component import Component

from analyzer.model.result import RunResult, SharedRun
from dashboard import ids
from dashboard.components.charts import packed
from dashboard.components.coach import coach_part
from dashboard.components.debrief import debrief_page, window_caption
from dashboard.export.own_files import chart_library, page_script, style_sheet
from dashboard.export.tree import attributes, markup
from dashboard.figures.changes import Changes, closeup_changes, over_time_changes, plan_changes, timeline_changes
from dashboard.view_models.ground import Under
from dashboard.view_models.order import window_of_button, windows_of_page
from dashboard.view_models.selection import Window
from dashboard.wording import NAME, SAFETY, counted

POLICY = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:"
"""What a browser may load for the file: nothing but what is in it."""
WHOLE = ""


def standalone_page(result: RunResult, under: Under | None = None) -> bytes:
    """Return the whole file, UTF-8. `under`: a picture of the ground that is its own address."""
    charts: list[Any] = []
    result = _of_nobody_else(result)
    page = debrief_page(result, ("", ""), None, links=components.Div(coach_part(result)), under=under)
    body = markup([_head(), components.Main(page), _foot()], _special(result, charts))
    title = html.escape(f"{result.searcher or result.run_id}, {result.drill}: {NAME}")
    parts = (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{title}</title>',
        f'<link rel="icon" href="data:,"><style>{style_sheet()}</style></head><body>{body}',
        f'<script type="application/json" id="debrief">{_data(result, charts)}</script>',
        f"<script>{chart_library()}</script><script>{page_script()}</script></body></html>",
    )
    return "".join(parts).encode()


def _of_nobody_else(result: RunResult) -> RunResult:
    """Return a result for the one whose run it is: how many other runs it rests on, but not their names, which are
    people's."""
    if result.shared is None:
        return result
    own = [run for run in result.shared.runs if run.run == result.run_id]
    others = len(result.shared.runs) - len(own)
    told = [SharedRun(f"{counted(others, 'other run')} of the drill", "")] if others else []
    return dataclasses.replace(result, shared=dataclasses.replace(result.shared, runs=(*own, *told)))


def _head() -> components.Header:
    """Return the head: who reads on a phone sees the foot, with all safety words, after a long way only."""
    safety = components.Span(SAFETY[0], className="head-said")
    return components.Header([components.Span(NAME, className="brand"), safety], className="head")


def _foot() -> components.Footer:
    return components.Footer([components.P(words) for words in SAFETY], className="foot")


def _special(result: RunResult, charts: list[Any]) -> Any:
    """Return what makes a chart a numbered place, and a button of a window one that names its window.

    `charts`: takes the charts that are met. Their properties are no attributes that a type checker knows of.
    """

    def special(node: Component) -> str | None:
        if type(node).__name__ == "Graph":
            charts.append(node)
            return f'<div class="chart-body" data-chart="{len(charts) - 1}"></div>'
        own = getattr(node, "id", None)
        if isinstance(own, dict) and own.get("type") == ids.SHOW_WINDOW:
            name = _key(window_of_button(result, own))
            inner = markup(node.children, special)
            return f'<button{attributes(node)} data-window="{name}">{inner}</button>'
        return None

    return special


def _key(window: Window | None) -> str:
    return WHOLE if window is None else f"{window.from_s:.1f},{window.to_s:.1f}"


def _data(result: RunResult, charts: list[Any]) -> str:
    """Return the charts and what changes in them for every window, as JSON that cannot end the script element."""
    shown = {_key(window): window for window in (None, *windows_of_page(result))}
    values = {
        "charts": [{"figure": chart.figure, "config": chart.config} for chart in charts],
        "windows": {
            name: {"caption": window_caption(window), "changes": [_changes(result, c.id, window) for c in charts]}
            for name, window in shown.items()
        },
    }
    return json.dumps(values, separators=(",", ":")).replace("<", "\\u003c")


def _changes(result: RunResult, chart_id: Any, window: Window | None) -> list[list[Any]]:
    return [[list(path), packed(value)] for path, value in _own_changes(result, chart_id, window)]


def _own_changes(result: RunResult, chart_id: Any, window: Window | None) -> Changes:
    if chart_id == ids.TIMELINE:
        return timeline_changes(window)
    if chart_id == ids.OVER_TIME:
        return over_time_changes(result, window)
    return plan_changes(result, window) if chart_id == ids.PLAN else closeup_changes(result, window)
