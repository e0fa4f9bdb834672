"""The plan of a drill before it is dug: area, strips, transmitters, field lines, readings, and the ideal search."""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.difficulty import DrillDifficulty
from analyzer.model.drill import Drill, Transmitter
from analyzer.model.result import PlacedTransmitter
from dashboard.figures.plan import plan_layout, roomy
from dashboard.figures.shapes import bounds
from dashboard.figures.theme import ALARM, EDGE, IDEAL, INK, PAPER, PHASE_STYLES, QUIET, FigureDict
from dashboard.figures.traces import line, transmitter_traces

READING_STEP_M, FARTHEST_READING_M = 5.0, 40.0
AXIS_MARK_M = 3.0


def layout_figure(drill: Drill, drill_difficulty: DrillDifficulty) -> FigureDict:
    """Return the plan in horizontal metres, with north, uphill and a scale."""
    data = [
        area_trace(drill),
        _contours(
            drill_difficulty,
            "readings, every 5 m",
            first=READING_STEP_M,
            last=FARTHEST_READING_M,
            style={"color": EDGE, "width": 1.2, "dash": "dot"},
        ),
        _contours(
            drill_difficulty,
            f"fine search from {drill_difficulty.fine_radius_m:g} m",
            first=drill_difficulty.fine_radius_m,
            last=drill_difficulty.fine_radius_m,
            style={"color": PHASE_STYLES["fine_search"].line, "width": 2},
        ),
        line("strips", drill_difficulty.strips_m, line={"color": QUIET, "width": 1.5, "dash": "5px,6px"}),
        line(
            "field lines",
            joined([points for a in drill_difficulty.around for points in a.lines_m]),
            line={"color": IDEAL, "width": 1},
        ),
        *_searches(drill_difficulty),
        line(
            "antenna axis",
            joined([axis_mark(t) for t in drill.transmitters]),
            line={"color": INK, "width": 4},
            showlegend=False,
        ),
        _lowest(drill_difficulty),
        *[trace | {"showlegend": False} for trace in transmitter_traces(tuple(placed(t) for t in drill.transmitters))],
        start_trace(drill_difficulty.start_m),
    ]
    return {"data": data, "layout": plan_layout(_box(drill, drill_difficulty), slope=_slope(drill))}


def _slope(drill: Drill) -> tuple[float, float]:
    return drill.slope.angle_deg, drill.slope.aspect_deg


def _box(drill: Drill, drill_difficulty: DrillDifficulty) -> tuple[float, float, float, float]:
    spots = np.array([[t.east_m, t.north_m] for t in drill.transmitters])
    corners = np.empty((0, 2)) if drill.corners_m is None else drill.corners_m
    return roomy(bounds(np.vstack([spots, corners, drill_difficulty.start_m[None]])), least_m=20.0)


def area_trace(drill: Drill) -> FigureDict:
    """Return the outline of the area; an empty trace where the drill has none."""
    closed = np.vstack([drill.corners_m, drill.corners_m[:1]]) if drill.corners_m is not None else np.empty((0, 2))
    return line("area", closed, showlegend=False, line={"color": INK, "width": 2.5})


def _contours(
    drill_difficulty: DrillDifficulty, name: str, *, first: float, last: float, style: FigureDict
) -> FigureDict:
    """Return lines of equal reading; an empty trace where no transmitter's axis is given."""
    grid = drill_difficulty.grid
    known = bool(np.isfinite(grid.reading_m).all())
    nothing = np.empty(0)
    return {
        "type": "contour",
        "name": name,
        "x": grid.east_m if known else nothing,
        "y": grid.north_m if known else nothing,
        "z": grid.reading_m if known else np.empty((0, 0)),
        "contours": {
            "coloring": "none",
            "start": first,
            "end": last,
            "size": READING_STEP_M,
            "showlabels": True,
            "labelfont": {"size": 13, "color": INK},
            "labelformat": ".0f",
        },
        "line": style,
        "showscale": False,
        "showlegend": known,
        "hoverinfo": "skip",
    }


def _searches(drill_difficulty: DrillDifficulty) -> list[FigureDict]:
    """Return the walk of the reference searcher, and the straight way that it is compared with."""
    searches = drill_difficulty.searches
    straight = [np.vstack([s.field_line_m[0], s.field_line_m[-1]]) for s in searches if len(s.field_line_m)]
    signal, coarse = PHASE_STYLES["signal_search"], PHASE_STYLES["coarse_search"]
    return [
        line(
            "search until heard",
            joined([s.walk_m for s in searches if len(s.walk_m) > 1]),
            line={"color": signal.line, "width": 3, "dash": signal.dash},
        ),
        line("straight line", joined(straight), line={"color": INK, "width": 1.5, "dash": "dash"}),
        line("ideal path", joined([s.field_line_m for s in searches]), line={"color": coarse.line, "width": 5}),
        line("ideal bracket", joined([s.cross_m for s in searches]), line={"color": IDEAL, "width": 3}),
    ]


def joined(lines: list[FloatArray]) -> FloatArray:
    """Return lines as one (p, 2), with a row of NaN between them."""
    gap = np.full((1, 2), np.nan)
    parts = [part for points in lines if len(points) for part in (points, gap)]
    return np.vstack(parts) if parts else np.empty((0, 2))


def axis_mark(item: Transmitter) -> FloatArray:
    """Return a short line along the antenna as seen from above; an upright one has none."""
    if item.axis_bearing_deg is None or item.axis_tilt_deg is None:
        return np.empty((0, 2))
    bearing = np.radians(item.axis_bearing_deg)
    half = 0.5 * AXIS_MARK_M * np.cos(np.radians(item.axis_tilt_deg)) * np.array([np.sin(bearing), np.cos(bearing)])
    place = np.array([item.east_m, item.north_m])
    return np.vstack([place - half, place + half])


def _lowest(drill_difficulty: DrillDifficulty) -> FigureDict:
    spots = np.array([a.lowest_m for a in drill_difficulty.around if a.axis_known]).reshape(-1, 2)
    return line(
        "lowest reading should be here",
        spots,
        mode="markers",
        hoverinfo="name",
        marker={"symbol": "circle-open", "size": 12, "color": IDEAL, "line": {"width": 3}},
    )


def placed(item: Transmitter) -> PlacedTransmitter:
    """Return a transmitter of a drill as one of a result."""
    return PlacedTransmitter(
        item.id,
        item.east_m,
        item.north_m,
        item.position_sigma_m,
        item.depth_m,
        item.axis_bearing_deg,
        item.axis_tilt_deg,
    )


def start_trace(start_m: FloatArray) -> FigureDict:
    """Return the cross at the start of the search, (2,) east and north in metres."""
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": "start",
        "x": start_m[:1],
        "y": start_m[1:],
        "text": ["<b>start</b>"],
        "textposition": "bottom center",
        "textfont": {"size": 16, "color": INK},
        "hoverinfo": "name",
        "showlegend": False,
        "marker": {"symbol": "x", "size": 15, "color": ALARM, "line": {"color": PAPER, "width": 1.5}},
    }
