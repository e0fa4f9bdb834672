"""Reading, range and pace over time, with the phases as bands behind them."""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.pace import pace_at
from analyzer.model.phases import COARSE, SIGNAL
from analyzer.model.result import RunResult
from dashboard.figures.shapes import pace_mps
from dashboard.figures.theme import (
    ALARM,
    IDEAL,
    INK,
    PHASE_STYLES,
    FigureDict,
    axis,
    axis_ms,
    axis_seconds,
    base_layout,
    time_axis,
)
from dashboard.view_models.selection import Window
from dashboard.wording import PHASES_SHORT

LABEL_SHARE = 0.045
"""Share of the shown time from which a phase carries its word; a narrower one keeps its band and border."""
DOUBT_ROOM_S = 0.5
TRUSTED = 0.5
"""Weight from which a reading is drawn as used; below it the robust fit trusted it less than half."""


def over_time_figure(result: RunResult, window: Window | None = None) -> FigureDict:
    """Return range with readings above, pace below, on one time axis; `window` frames a stretch."""
    data = [*_range_traces(result), *_reading_traces(result), *_wrong_way_traces(result), *_pace_traces(result)]
    layout = base_layout(
        xaxis=time_axis(result.duration_s, range=time_range(result, window), anchor="y2"),
        yaxis=axis("distance and reading, m", domain=[0.36, 0.87], range=range_limits(result, window)),
        yaxis2=axis("pace, m/s", domain=[0.0, 0.30], rangemode="tozero"),
        shapes=[window_shape(window), *_phase_bands(result), *_phase_borders(result), *_doubts(result)],
        annotations=phase_labels(result, window),
        hovermode="closest",
    )
    return {"data": data, "layout": layout}


def time_range(result: RunResult, window: Window | None) -> list[float]:
    """Return the limits of the time axis: the run, or the window with a quarter (5 s at least) on both sides."""
    if window is None:
        return [axis_ms(min(0.0, float(result.path.time_s[0]))), axis_ms(result.duration_s)]
    room = max(5.0, 0.25 * (window.to_s - window.from_s))
    return [axis_ms(window.from_s - room), axis_ms(window.to_s + room)]


def range_limits(result: RunResult, window: Window | None) -> list[float]:
    """Return the limits of the range axis: from zero to over the largest range or reading of the window or run."""
    low, high = (window.from_s, window.to_s) if window else (-np.inf, np.inf)
    path = result.path
    shown = [path.range_m[(path.time_s >= low) & (path.time_s <= high)]]
    if result.readings is not None:
        shown.append(result.readings[(result.readings[:, 0] >= low) & (result.readings[:, 0] <= high), 1])
    values = np.concatenate(shown)
    values = values[np.isfinite(values)]
    return [0.0, max(1.0, 1.08 * float(values.max()))] if len(values) else [0.0, 60.0]


def window_shape(window: Window | None) -> FigureDict:
    """Return the frame around the window, over the full height; invisible for the whole run."""
    shown = window or Window(0.0, 1.0)
    return {
        "type": "rect",
        "xref": "x",
        "yref": "paper",
        "x0": axis_ms(shown.from_s),
        "x1": axis_ms(shown.to_s),
        "y0": 0,
        "y1": 1,
        "fillcolor": "rgba(255,194,26,0.28)",
        "line": {"color": INK, "width": 2},
        "layer": "below",
        "visible": window is not None,
    }


def _phase_bands(result: RunResult) -> list[FigureDict]:
    return [
        {
            "type": "rect",
            "xref": "x",
            "yref": "paper",
            "x0": axis_ms(p.start_s),
            "x1": axis_ms(p.end_s),
            "y0": 0,
            "y1": 1,
            "fillcolor": PHASE_STYLES[p.phase].tint,
            "opacity": 0.75,
            "line": {"width": 0},
            "layer": "below",
        }
        for p in result.phases
    ]


def _phase_borders(result: RunResult) -> list[FigureDict]:
    return [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": axis_ms(p.start_s),
            "x1": axis_ms(p.start_s),
            "y0": 0,
            "y1": 1,
            "line": {"color": PHASE_STYLES[p.phase].line, "width": 1.5, "dash": "dot"},
        }
        for p in result.phases[1:]
    ]


def _doubts(result: RunResult) -> list[FigureDict]:
    """Return a frame around the readings of each stretch that is set aside."""
    return [
        {
            "type": "rect",
            "xref": "x",
            "yref": "y domain",
            "x0": axis_ms(d.start_s - DOUBT_ROOM_S),
            "x1": axis_ms(d.end_s + DOUBT_ROOM_S),
            "y0": 0,
            "y1": 1,
            "line": {"color": ALARM, "width": 1.5, "dash": "dash"},
            "label": {"text": "set aside", "textposition": "top left", "font": {"color": ALARM, "size": 12}},
        }
        for d in result.evidence.doubts
    ]


def phase_labels(result: RunResult, window: Window | None) -> list[FigureDict]:
    """Return a word, written upwards, at the first shown moment of each phase that is wide enough for one."""
    low, high = (axis_seconds(value) for value in time_range(result, window))
    labels = []
    for phase in result.phases:
        begin, end = max(phase.start_s, low), min(phase.end_s, high)
        if end - begin >= LABEL_SHARE * (high - low):
            labels.append(_phase_label(phase.phase, begin))
    return labels


def _phase_label(phase: str, at_s: float) -> FigureDict:
    return {
        "xref": "x",
        "yref": "paper",
        "x": axis_ms(at_s),
        "y": 1.0,
        "xanchor": "left",
        "yanchor": "top",
        "text": f"<b>{PHASES_SHORT[phase]}</b>",
        "textangle": -90,
        "showarrow": False,
        "font": {"size": 14, "color": PHASE_STYLES[phase].line},
    }


def _curve(name: str, time_s: FloatArray, values: FloatArray, **more: object) -> FigureDict:
    base: FigureDict = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": axis_ms(np.asarray(time_s)),
        "y": np.asarray(values),
    }
    return base | more


def _range_traces(result: RunResult) -> list[FigureDict]:
    path = result.path
    return [
        _curve(
            "distance to the transmitter",
            path.time_s,
            path.range_m,
            line={"color": INK, "width": 3},
            hovertemplate="%{x|%-M:%S}, distance %{y:.1f} m<extra></extra>",
        )
    ]


def _reading_traces(result: RunResult) -> list[FigureDict]:
    if result.readings is None or not len(result.readings):
        return []
    time_s, reading_m, weight = result.readings[:, :3].T
    used = weight >= TRUSTED
    kinds = [
        ("reading", used, {"symbol": "circle", "size": 7, "color": "#d9730d", "line": {"color": INK, "width": 1}}),
        ("reading hardly trusted", ~used, {"symbol": "x-thin", "size": 10, "line": {"color": ALARM, "width": 2.5}}),
    ]
    return [
        _curve(
            name,
            time_s[chosen],
            reading_m[chosen],
            mode="markers",
            marker=marker,
            hovertemplate="%{x|%-M:%S}, reading %{y:.1f} m<extra></extra>",
        )
        for name, chosen, marker in kinds
        if chosen.any()
    ]


def _wrong_way_traces(result: RunResult) -> list[FigureDict]:
    """Return the stretches of range where the searcher walked away, drawn over the range."""
    path, traces = result.path, []
    events = [event for search in result.searches for event in search.wrong_way_events]
    for number, event in enumerate(events):
        inside = (path.time_s >= event.from_s) & (path.time_s <= event.turn_s)
        traces.append(
            _curve(
                "wrong way",
                path.time_s[inside],
                path.range_m[inside],
                legendgroup="wrong way",
                showlegend=number == 0,
                line={"color": ALARM, "width": 8, "dash": "2px,3px"},
                hovertemplate=f"wrong way, {event.metres:.1f} m<extra></extra>",
            )
        )
    return traces


def _pace_traces(result: RunResult) -> list[FigureDict]:
    path = result.path
    pace = pace_mps(path, slope_deg=result.slope[0], aspect_deg=result.slope[1])
    own = _curve(
        "pace",
        path.time_s,
        pace,
        yaxis="y2",
        line={"color": "#2667a5", "width": 3},
        hovertemplate="%{x|%-M:%S}, pace %{y:.2f} m/s<extra></extra>",
    )
    wanted = reference_pace(result)
    if not np.isfinite(wanted).any():
        return [own]
    sheet = _curve(
        "pace of the rule sheet",
        path.time_s,
        wanted,
        yaxis="y2",
        line={"color": IDEAL, "width": 2.5, "dash": "10px,4px"},
        hovertemplate="%{x|%-M:%S}, rule sheet %{y:.2f} m/s<extra></extra>",
    )
    return [own, sheet]


def reference_pace(result: RunResult) -> FloatArray:
    """Return the (n,) pace of the rule sheet at every time of the path, NaN where it names none (fine, pinpoint)."""
    path, rules = result.path, result.rules
    pace = np.full(len(path.time_s), np.nan)
    for phase in result.phases:
        inside = (path.time_s >= phase.start_s) & (path.time_s < phase.end_s)
        if phase.phase == SIGNAL:
            pace[inside] = rules.signal_pace_mps
        elif phase.phase == COARSE and rules.pace:
            pace[inside] = pace_at(rules, path.range_m[inside])
    return pace
