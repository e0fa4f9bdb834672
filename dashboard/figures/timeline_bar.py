"""The timeline as one bar: what the searcher did, where it happened, over a strip of the phases."""

import numpy as np

from analyzer.model.account import TimelineRow
from analyzer.model.result import RunResult
from dashboard.figures.theme import (
    INK,
    PHASE_STYLES,
    FigureDict,
    axis_length_ms,
    axis_ms,
    base_layout,
    pattern_marker,
    plain,
    time_axis,
)
from dashboard.view_models.order import splits_within
from dashboard.view_models.selection import Window, widened
from dashboard.wording import ACTIVITIES, PHASES, PHASES_SHORT, SPLITS, clock, span

LETTER_SHARE = 0.025
"""Share of the run from which a piece carries its letter; narrower ones are named on hover and in the table."""


def timeline_figure(result: RunResult, window: Window | None = None) -> FigureDict:
    """Return the bar; each activity is one trace, each piece carries the bounds of its row as customdata."""
    rows = result.timeline
    found = [activity for activity in ACTIVITIES if any(row.activity == activity for row in rows)]
    data = [_activity_trace(activity, [row for row in rows if row.activity == activity]) for activity in found]
    layout = base_layout(
        barmode="overlay",
        bargap=0.0,
        showlegend=False,
        margin={"l": 10, "r": 10, "t": 30, "b": 48},
        xaxis=time_axis(result.duration_s, range=[axis_ms(0.0), axis_ms(result.duration_s)]),
        hovermode="closest",
        uniformtext={"mode": "hide", "minsize": 12},
        yaxis={"type": "linear", "range": [-0.28, 1.02], "visible": False, "fixedrange": True},
        shapes=[timeline_window_shape(window)],
        annotations=_letters(rows, result.duration_s),
    )
    return {"data": [*data, _phase_strip(result), *_marks(result)], "layout": layout}


def _marks(result: RunResult) -> list[FigureDict]:
    """Return a triangle for each mark of the run that bounds no phase; none where there is none within the run."""
    inside = splits_within(result)
    if not inside:
        return []
    windows = [widened(split.at_s, split.at_s) for split in inside]
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "mark",
            "x": np.array([axis_ms(split.at_s) for split in inside]),
            "y": np.full(len(inside), 0.2),
            "customdata": [[window.from_s, window.to_s] for window in windows],
            "hovertext": [
                f"<b>{SPLITS[split.mark]}</b>, {clock(split.at_s)}{_for(split.transmitter or '')}" for split in inside
            ],
            "hoverinfo": "text",
            "marker": {"symbol": "triangle-up", "size": 13, "color": "#ffffff", "line": {"color": INK, "width": 2}},
        }
    ]


def _activity_trace(activity: str, rows: list[TimelineRow]) -> FigureDict:
    name = ACTIVITIES[activity][1]
    texts = [
        f"<b>{name}, {row.seconds:.0f} s</b><br>{phase_words(row)}{span(row.from_s, row.to_s)}"
        f"<br>{row.metres:.1f} m walked{_for(row.transmitter)}"
        for row in rows
    ]
    return {
        "type": "bar",
        "orientation": "h",
        "name": name,
        "y": np.full(len(rows), 0.55),
        "width": 0.9,
        "base": np.array([axis_ms(row.from_s) for row in rows]),
        "x": np.array([axis_length_ms(row.seconds) for row in rows]),
        "customdata": [
            [row.from_s, row.to_s] for row in rows
        ],  # a list: rows of a typed array reach the server as objects
        "hovertext": texts,
        "hoverinfo": "text",
        "marker": pattern_marker(activity),
    }


def phase_words(row: TimelineRow) -> str:
    """Return the phase of a row before its time, "Pinpoint, "; "" outside all phases."""
    return f"{PHASES[row.phase]}, " if row.phase in PHASES else ""


def _for(transmitter: str) -> str:
    return f", transmitter {plain(transmitter)}" if transmitter else ""


def _phase_strip(result: RunResult) -> FigureDict:
    phases = result.phases
    return {
        "type": "bar",
        "orientation": "h",
        "name": "phase",
        "y": np.full(len(phases), -0.12),
        "width": 0.26,
        "base": np.array([axis_ms(p.start_s) for p in phases]),
        "x": np.array([axis_length_ms(p.end_s - p.start_s) for p in phases]),
        "customdata": [[p.start_s, p.end_s] for p in phases],
        "text": [PHASES_SHORT[p.phase] for p in phases],
        "textposition": "inside",
        "insidetextanchor": "start",
        "textangle": 0,
        "textfont": {"color": [PHASE_STYLES[p.phase].line for p in phases], "size": 14},
        "hovertext": [f"{PHASES[p.phase]}, {span(p.start_s, p.end_s)}" for p in phases],
        "hoverinfo": "text",
        "marker": {
            "color": [PHASE_STYLES[p.phase].tint for p in phases],
            "line": {"color": [PHASE_STYLES[p.phase].line for p in phases], "width": 1.5},
        },
    }


def _letters(rows: tuple[TimelineRow, ...], duration_s: float) -> list[FigureDict]:
    """Return the letter of its activity over each piece that is wide enough for one."""
    return [
        {
            "xref": "x",
            "yref": "y",
            "x": axis_ms(row.from_s + row.seconds / 2.0),
            "y": 1.0,
            "yanchor": "bottom",
            "text": f"<b>{ACTIVITIES[row.activity][0]}</b>",
            "showarrow": False,
            "font": {"size": 16, "color": INK},
        }
        for row in rows
        if row.seconds >= LETTER_SHARE * duration_s
    ]


def timeline_window_shape(window: Window | None) -> FigureDict:
    """Return the frame of the window around the bar; invisible for the whole run."""
    shown = window or Window(0.0, 1.0)
    return {
        "type": "rect",
        "xref": "x",
        "yref": "paper",
        "x0": axis_ms(shown.from_s),
        "x1": axis_ms(shown.to_s),
        "y0": 0.0,
        "y1": 0.99,
        "fillcolor": "rgba(0,0,0,0)",
        "line": {"color": INK, "width": 4},
        "layer": "above",
        "visible": window is not None,
    }
