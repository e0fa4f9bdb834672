"""The laying plan on a page: area with numbered corners, start, origin, transmitters, and the ways to tape."""

import numpy as np

from dashboard.figures.layout_plan import area_trace, axis_mark, joined, placed, start_trace
from dashboard.figures.plan import Box, plan_layout, roomy
from dashboard.figures.shapes import bounds
from dashboard.figures.theme import INK, QUIET, FigureDict
from dashboard.figures.traces import line, transmitter_traces
from dashboard.view_models.laying_plan import LayingPlan


def laying_box(plan: LayingPlan) -> Box:
    """Return west, east, south, north of all that the laying plan shows, with room around it for names."""
    drill = plan.drill
    spots = np.array([[t.east_m, t.north_m] for t in drill.transmitters] + [[0.0, 0.0]])
    corners = np.empty((0, 2)) if drill.corners_m is None else drill.corners_m
    start = np.array([drill.start_m] if drill.start_m else []).reshape(-1, 2)
    return roomy(bounds(np.vstack([spots, corners, start])), least_m=20.0, share=0.12)


def laying_figure(plan: LayingPlan) -> FigureDict:
    """Return the plan in horizontal metres, with north, uphill and a scale."""
    drill, begin = plan.drill, np.array(plan.drill.start_m or (0.0, 0.0))
    ways = [np.vstack([begin, (t.east_m, t.north_m)]) for t in drill.transmitters]
    data = [
        area_trace(drill),
        line("to tape", joined(ways), line={"color": QUIET, "width": 1.5, "dash": "dash"}),
        line("antenna axis", joined([axis_mark(t) for t in drill.transmitters]), line={"color": INK, "width": 4}),
        _numbers(plan),
        *[trace | {"showlegend": False} for trace in transmitter_traces(tuple(placed(t) for t in drill.transmitters))],
        _origin(),
        *([start_trace(begin)] if plan.start else []),
    ]
    slope = drill.slope.angle_deg, drill.slope.aspect_deg
    return {"data": data, "layout": plan_layout(laying_box(plan), slope=slope)}


def _words(name: str, points_m: np.ndarray, texts: list[str]) -> FigureDict:
    return line(
        name,
        points_m,
        mode="markers+text",
        text=texts,
        textposition="bottom right",
        textfont={"size": 15, "color": INK},
        showlegend=False,
        marker={"symbol": "square", "size": 8, "color": INK},
    )


def _numbers(plan: LayingPlan) -> FigureDict:
    corners = np.empty((0, 2)) if plan.drill.corners_m is None else plan.drill.corners_m
    return _words("corners", corners, [str(number) for number in range(1, len(corners) + 1)])


def _origin() -> FigureDict:
    return _words("origin", np.zeros((1, 2)), ["origin"]) | {
        "textposition": "top right",
        "marker": {"symbol": "cross-thin", "size": 16, "line": {"width": 2.5, "color": INK}},
    }
