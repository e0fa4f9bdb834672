"""Traces that the plan and the close-up of the fine search share. Positions: (east, north) metres."""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import HALF_90
from analyzer.model.phases import COARSE, SIGNAL
from analyzer.model.result import Phase, PlacedTransmitter, RunResult
from dashboard.figures.shapes import AROUND_90, band, circle, path_points, position_at, stretch
from dashboard.figures.theme import IDEAL, INK, PAPER, PHASE_STYLES, QUIET, SELECT, FigureDict, plain
from dashboard.view_models.selection import Window
from dashboard.wording import PHASES, PHASES_SHORT, amount, clock

HIGHLIGHT = 2
"""Index of the trace that marks the shown window in every plan-like figure: over the ground, under the path."""


def line(name: str, points_m: FloatArray, **more: object) -> FigureDict:
    """Return a line trace through (p, 2) points; without hover unless `more` says otherwise."""
    base: FigureDict = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": points_m[:, 0],
        "y": points_m[:, 1],
        "hoverinfo": "skip",
    }
    return base | more


def highlight_points(result: RunResult, window: Window | None) -> FloatArray:
    """Return the (p, 2) stretch of the path in the window, empty for the whole run."""
    return np.empty((0, 2)) if window is None else stretch(result.path, window.from_s, window.to_s)


def highlight_trace(result: RunResult, window: Window | None) -> FigureDict:
    """Return the broad marker under the part of the path that lies in the window."""
    return line("shown window", highlight_points(result, window), line={"color": SELECT, "width": 22}, showlegend=False)


def band_trace(result: RunResult, *, from_s: float, to_s: float) -> FigureDict:
    """Return the ground that holds the path with 90 % across its direction."""
    path = result.path
    inside = (path.time_s >= from_s) & (path.time_s <= to_s)
    outline = band(path_points(path)[inside], HALF_90 * path.sigma_m[inside])
    return line(
        "path, 90 %",
        outline,
        fill="toself",
        fillcolor="rgba(67,83,78,0.17)",
        line={"width": 0, "color": "rgba(67,83,78,0.17)"},
    )


def phase_trace(result: RunResult, phase: Phase, *, first: bool, shift_m: FloatArray | None = None) -> FigureDict:
    """Return the path of one phase, with time, range and sigma on hover. `first`: shown in the legend.

    `shift_m` (n, 2): how far each row of the path is moved in the drawing.
    """
    path, style = result.path, PHASE_STYLES[phase.phase]
    shift = np.zeros((len(path.time_s), 2)) if shift_m is None else shift_m
    inside = path.time_s[(path.time_s > phase.start_s) & (path.time_s < phase.end_s)]
    times = np.concatenate([[phase.start_s], inside, [phase.end_s]])
    columns = [
        np.interp(times, path.time_s, values)
        for values in (path.east_m + shift[:, 0], path.north_m + shift[:, 1], path.range_m, path.sigma_m)
    ]
    label = [
        f"{clock(t)}, {amount(r, 'm') if np.isfinite(r) else 'distance not known'}, ± {s:.1f} m"
        for t, r, s in zip(times, columns[2], columns[3], strict=True)
    ]
    return line(
        PHASES_SHORT[phase.phase],
        np.column_stack(columns[:2]),
        text=label,
        hoverinfo="text+name",
        legendgroup=phase.phase,
        showlegend=first,
        line={"color": style.line, "dash": style.dash, "width": 4},
        customdata=times,
    )


def phase_traces(result: RunResult, shift_m: FloatArray | None = None) -> list[FigureDict]:
    """Return the paths of the phases in time order, without entries in the legend: a word stands where each begins."""
    return [phase_trace(result, phase, first=False, shift_m=shift_m) for phase in result.phases]


def phase_start_trace(result: RunResult) -> FigureDict:
    """Return a symbol where every phase begins, and a word at the first signal and coarse search.

    Fine search and pinpoint begin so close to the transmitter that words would hide it.
    """
    spots = np.array([position_at(result.path, p.start_s) for p in result.phases]).reshape(-1, 2)
    order = [p.phase for p in result.phases]
    words = [
        PHASES_SHORT[phase] if phase in (SIGNAL, COARSE) and order.index(phase) == number else ""
        for number, phase in enumerate(order)
    ]
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": "phase begins",
        "showlegend": False,
        "x": spots[:, 0],
        "y": spots[:, 1],
        "text": words,
        "textposition": ["middle right" if p.phase == SIGNAL else "top left" for p in result.phases],
        "textfont": {"size": 15, "color": [PHASE_STYLES[p.phase].line for p in result.phases]},
        "hovertext": [f"{PHASES[p.phase]} from {clock(p.start_s)}" for p in result.phases],
        "hoverinfo": "text",
        "marker": {
            "symbol": [PHASE_STYLES[p.phase].symbol for p in result.phases],
            "size": 13,
            "color": [PHASE_STYLES[p.phase].line for p in result.phases],
            "line": {"color": PAPER, "width": 2},
        },
    }


def transmitter_traces(transmitters: tuple[PlacedTransmitter, ...], *, labels: bool = True) -> list[FigureDict]:
    """Return the outline that holds each transmitter with 90 %, and its place with its name.

    With labels both go without entries in the legend: the name stands beside the place.
    """
    if not transmitters:
        return []
    gap = np.full((1, 2), np.nan)
    outline = np.vstack(
        [part for t in transmitters for part in (circle(t.east_m, t.north_m, AROUND_90 * t.sigma_m), gap)]
    )
    where = line("transmitter, 90 %", outline, line={"color": INK, "width": 1.5, "dash": "dot"})
    where["showlegend"] = not labels
    spots: FigureDict = {
        "type": "scatter",
        "mode": "markers+text" if labels else "markers",
        "name": "transmitter",
        "showlegend": not labels,
        "x": np.array([t.east_m for t in transmitters]),
        "y": np.array([t.north_m for t in transmitters]),
        "text": [f"<b>{plain(t.id)}</b>" for t in transmitters],
        "textposition": "top right",
        "textfont": {"size": 17, "color": INK},
        "hovertext": [_transmitter_text(t) for t in transmitters],
        "hoverinfo": "text",
        "marker": {"symbol": "star-diamond", "size": 17, "color": SELECT, "line": {"color": INK, "width": 2}},
    }
    return [where, spots]


def _transmitter_text(t: PlacedTransmitter) -> str:
    return f"transmitter {plain(t.id)}, {amount(t.depth_m, 'm')} deep, placed to ± {t.sigma_m:.1f} m per axis"


def ideal_traces(
    result: RunResult,
    kinds: tuple[str, ...],
    *,
    transmitter: str | None = None,
    in_legend: tuple[str, ...] | None = None,
) -> list[FigureDict]:
    """Return the ideal lines of the given kinds, each kind of `in_legend` (all, where left out) one entry there."""
    traces: list[FigureDict] = []
    for kind in kinds:
        chosen = [ln for ln in result.lines if ln.kind == kind and transmitter in (None, ln.transmitter)]
        for number, ideal in enumerate(chosen):
            told = number == 0 and (in_legend is None or kind in in_legend)
            traces.append(
                line(_IDEAL_NAMES[kind], ideal.points_m, legendgroup=kind, showlegend=told) | _ideal_style(kind)
            )
    return traces


_IDEAL_NAMES = {
    "strips": "strips",
    "field_line": "ideal way",
    "bracket": "ideal cross",
    "lowest": "lowest should be here",
}


def _ideal_style(kind: str) -> FigureDict:
    if kind == "lowest":
        return {
            "mode": "markers",
            "hoverinfo": "name",
            "marker": {"symbol": "circle-open", "size": 14, "color": IDEAL, "line": {"width": 3}},
        }
    if kind == "strips":
        return {"line": {"color": QUIET, "width": 1.5, "dash": "5px,6px"}}
    return {"line": {"color": IDEAL, "width": 3, "dash": "10px,3px" if kind == "field_line" else "solid"}}
