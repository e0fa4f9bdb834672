"""The fine search close up: its legs, the ideal cross, where physics puts the lowest reading, and the probe."""

import numpy as np

from analyzer.model.account import Search
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import COARSE, FINE, PINPOINT
from analyzer.model.result import Phase, RunResult
from dashboard.figures.plan import Box, plan_layout, roomy
from dashboard.figures.shapes import bounds, position_at, stretch
from dashboard.figures.theme import ALARM, INK, PAPER, PHASE_STYLES, FigureDict
from dashboard.figures.traces import band_trace, highlight_trace, ideal_traces, line, phase_trace, transmitter_traces
from dashboard.view_models.selection import Window
from dashboard.wording import clock

IN_LEGEND = ("ideal cross", "lowest should be here", "lowest reading seen", "probe hit", "transmitter")
"""What the legend names; the rest is said under the drawing."""
LEAD_S = 8.0
"""Seconds of coarse search that are shown before the fine search, for the direction of entry."""


def closeup_figure(result: RunResult, search: Search, window: Window | None = None) -> FigureDict | None:
    """Return the close-up of the fine search of one transmitter; None where the run has no such phase."""
    phases = fine_phases(result, search.transmitter)
    if not phases:
        return None
    from_s, to_s = phases[0].start_s, phases[-1].end_s
    placed = tuple(t for t in result.transmitters if t.id == search.transmitter)
    lead = stretch(result.path, from_s - LEAD_S, from_s)
    data = [
        line("coming in", lead, line={"color": PHASE_STYLES[COARSE].line, "width": 3}),
        band_trace(result, from_s=from_s, to_s=to_s),
        highlight_trace(result, window),
        *ideal_traces(result, ("bracket", "lowest"), transmitter=search.transmitter),
        *[phase_trace(result, phase, first=True) for phase in phases],
        *_legs(result, search),
        *_lowest_reading(result, search.transmitter, from_s, to_s),
        *_probe(result, search.transmitter),
        *transmitter_traces(placed, labels=False),
    ]
    for trace in data:
        trace["showlegend"] = trace["name"] in IN_LEGEND and trace.get("showlegend", True)
    return {"data": data, "layout": plan_layout(closeup_box(result, search.transmitter), slope=result.slope)}


def fine_phases(result: RunResult, transmitter: str) -> tuple[Phase, ...]:
    """Return the fine search of a transmitter and the pinpointing that follows."""
    return tuple(p for p in result.phases if p.transmitter == transmitter and p.phase in (FINE, PINPOINT))


def closeup_box(result: RunResult, transmitter: str) -> Box:
    """Return what the close-up shows: the path of the fine search, the ideal cross and the transmitter."""
    parts: list[FloatArray] = [stretch(result.path, p.start_s, p.end_s) for p in fine_phases(result, transmitter)]
    parts += [ln.points_m for ln in result.lines if ln.transmitter == transmitter and ln.kind in ("bracket", "lowest")]
    parts += [np.array([[t.east_m, t.north_m]]) for t in result.transmitters if t.id == transmitter]
    return roomy(bounds(*parts), least_m=5.0, share=0.06)


def _legs(result: RunResult, search: Search) -> list[FigureDict]:
    """Return the straight legs, numbered in the middle."""
    if not search.legs:
        return []
    gap = np.full((1, 2), np.nan)
    ends = [np.array([position_at(result.path, leg.from_s), position_at(result.path, leg.to_s)]) for leg in search.legs]
    middles = np.array([position_at(result.path, (leg.from_s + leg.to_s) / 2.0) for leg in search.legs])
    drawn = line(
        "leg",
        np.vstack([part for pair in ends for part in (pair, gap)]),
        line={"color": INK, "width": 1.5, "dash": "3px,3px"},
    )
    numbers: FigureDict = {
        "type": "scatter",
        "mode": "markers+text",
        "name": "leg number",
        "showlegend": False,
        "x": middles[:, 0],
        "y": middles[:, 1],
        "text": [str(i + 1) for i in range(len(search.legs))],
        "textfont": {"size": 14, "color": INK},
        "hoverinfo": "text",
        "hovertext": [
            f"leg {i + 1}: {leg.length_m:.1f} m towards {leg.bearing_deg:.0f}°, straight to "
            f"{leg.straightness_m:.2f} m, {clock(leg.from_s)} to {clock(leg.to_s)}"
            for i, leg in enumerate(search.legs)
        ],
        "marker": {"symbol": "square", "size": 20, "color": PAPER, "line": {"color": INK, "width": 1.5}},
    }
    return [drawn, numbers]


def lowest_reading_at(result: RunResult, transmitter: str, from_s: float, to_s: float) -> tuple[float, float] | None:
    """Return time and metres of the lowest reading between two times; None without one of this transmitter."""
    if result.readings is None:
        return None
    ids = [t.id for t in result.transmitters]
    own = [-1.0, float(ids.index(transmitter))] if transmitter in ids else [-1.0]
    time_s = result.readings[:, 0]
    heard = np.isin(result.readings[:, 3], own) if result.readings.shape[1] > 3 else True
    inside = result.readings[(time_s >= from_s) & (time_s <= to_s) & heard]
    if not len(inside):
        return None
    at_s, reading_m = (float(value) for value in inside[np.argmin(inside[:, 1]), :2])
    return at_s, reading_m


def _lowest_reading(result: RunResult, transmitter: str, from_s: float, to_s: float) -> list[FigureDict]:
    """Return where the lowest reading of the fine search was seen; nothing without readings."""
    lowest = lowest_reading_at(result, transmitter, from_s, to_s)
    if lowest is None:
        return []
    at_s, reading_m = lowest
    east, north = position_at(result.path, at_s)
    return [
        _spot(
            "lowest reading seen",
            east,
            north,
            f"lowest reading {reading_m:.1f} m at {clock(at_s)}",
            {"symbol": "triangle-down", "size": 15, "color": "#d9730d", "line": {"color": INK, "width": 2}},
        )
    ]


def _probe(result: RunResult, transmitter: str) -> list[FigureDict]:
    spots = [(position_at(result.path, at), at) for name, at in result.probe_hits_s if name == transmitter]
    return [
        _spot(
            "probe hit",
            east,
            north,
            f"probe hit at {clock(at)}",
            {"symbol": "x", "size": 14, "color": ALARM, "line": {"color": PAPER, "width": 1.5}},
        )
        for (east, north), at in spots
    ]


def _spot(name: str, east_m: float, north_m: float, text: str, marker: FigureDict) -> FigureDict:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": np.array([east_m]),
        "y": np.array([north_m]),
        "hovertext": [text],
        "hoverinfo": "text",
        "marker": marker,
    }
