"""The plan of a run in metres: area, transmitters, ideal lines and the path by phase, with north, uphill and scale."""

import math

import numpy as np

from analyzer.model.result import RunResult
from dashboard.figures.beside import beside_shift, drawn_path
from dashboard.figures.ground import ground_image
from dashboard.figures.losses import loss_numbers, loss_trace
from dashboard.figures.shapes import bounds, path_points
from dashboard.figures.theme import INK, QUIET, FigureDict, axis, base_layout
from dashboard.figures.traces import (
    band_trace,
    highlight_points,
    highlight_trace,
    ideal_traces,
    line,
    phase_start_trace,
    phase_traces,
    transmitter_traces,
)
from dashboard.view_models.ground import Under
from dashboard.view_models.selection import Window

Box = tuple[float, float, float, float]


def plan_figure(result: RunResult, window: Window | None = None, under: Under | None = None) -> FigureDict:
    """Return the plan; `window` marks and frames a stretch of the path, `under` is a picture of the ground."""
    path, (shift_m, _) = result.path, beside_shift(result)
    drawn = drawn_path(result)
    data = [
        _area(result, filled=under is None),
        band_trace(result, from_s=float(path.time_s[0]), to_s=float(path.time_s[-1])),
        highlight_trace(drawn, window),
        *ideal_traces(result, ("strips", "field_line", "bracket", "lowest"), in_legend=("strips", "field_line")),
        loss_trace(drawn),
        *phase_traces(result, shift_m),
        phase_start_trace(result),
        *transmitter_traces(result.transmitters),
    ]
    layout = plan_layout(shown_box(result, window), slope=result.slope)
    layout["legend"] = layout["legend"] | {"font": {"size": 13}, "itemwidth": 30}
    layout["annotations"] += loss_numbers(drawn)
    if under is not None:
        layout["images"] = [ground_image(under)]
    return {"data": data, "layout": layout}


def _area(result: RunResult, *, filled: bool) -> FigureDict:
    """Return the outline of the area; an empty trace where the drill has none, so that trace numbers stay."""
    corners = np.empty((0, 2)) if result.corners_m is None else result.corners_m
    closed = np.vstack([corners, corners[:1]])
    return line(
        "area",
        closed,
        fill="toself" if filled else "none",
        fillcolor="rgba(238,241,236,0.9)",
        showlegend=False,
        line={"color": QUIET, "width": 2},
    )


def plan_box(result: RunResult, window: Window | None) -> Box:
    """Return west, east, south, north of what the plan shows: the marked stretch, or the path and the transmitters.

    The area may be much larger; it is drawn, and zooming out shows it.
    """
    if window is not None:
        part = highlight_points(result, window)
        if len(part):
            return roomy(bounds(part), least_m=8.0)
    spots = np.array([[t.east_m, t.north_m] for t in result.transmitters]).reshape(-1, 2)
    return roomy(bounds(path_points(result.path), spots), least_m=8.0)


def shown_box(result: RunResult, window: Window | None) -> Box:
    """Return `plan_box` with room for the names of what lies at its border."""
    return roomy(plan_box(result, window), least_m=8.0, share=0.06)


def roomy(box: Box, *, least_m: float, share: float = 0.08) -> Box:
    """Return a box grown by a share of its size on every side, and to `least_m` in both directions."""
    west, east, south, north = box
    half_x = max((east - west) / 2.0, least_m / 2.0) * (1.0 + 2.0 * share)
    half_y = max((north - south) / 2.0, least_m / 2.0) * (1.0 + 2.0 * share)
    mid_x, mid_y = (west + east) / 2.0, (south + north) / 2.0
    return mid_x - half_x, mid_x + half_x, mid_y - half_y, mid_y + half_y


def plan_layout(box: Box, *, slope: tuple[float, float]) -> FigureDict:
    """Return a layout with equal axes in metres, a scale bar, and arrows to the north and uphill."""
    west, east, south, north = box
    bar, label = scale_bar(box)
    return base_layout(
        xaxis=axis("east, m", range=[west, east], constrain="range"),
        yaxis=axis("north, m", range=[south, north], scaleanchor="x", scaleratio=1, constrain="range"),
        shapes=[bar],
        annotations=[label, *arrows(slope)],
        hovermode="closest",
        margin={"l": 56, "r": 12, "t": 50, "b": 48},
    )


def scale_length(width_m: float) -> float:
    """Return a round length, 1, 2 or 5 times a power of ten, of a tenth to a quarter of `width_m`."""
    target = 0.25 * max(width_m, 1e-3)
    power = 10.0 ** math.floor(math.log10(target))
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= target * (1.0 + 1e-9))


def scale_bar(box: Box) -> tuple[FigureDict, FigureDict]:
    """Return the scale bar, a shape in metres, and its label."""
    west, east, south, north = box
    length = scale_length(min(east - west, north - south))
    x0, y0 = west + 0.02 * (east - west), south + 0.01 * (north - south)
    bar = {"type": "line", "x0": x0, "x1": x0 + length, "y0": y0, "y1": y0, "line": {"color": INK, "width": 6}}
    label = {
        "x": x0 + length / 2.0,
        "y": y0,
        "yshift": 14,
        "text": f"{length:g} m",
        "showarrow": False,
        "font": {"size": 15, "color": INK},
        "bgcolor": "rgba(255,255,255,0.8)",
    }
    return bar, label


def arrows(slope: tuple[float, float]) -> list[FigureDict]:
    """Return, over the plan, the arrow to the north and on sloping ground the arrow uphill with the angle.

    `slope`: angle in degrees, true bearing of the downhill direction in degrees.
    """
    angle_deg, aspect_deg = slope
    north = [_arrow(0.0, at_px=12, colour=INK), _label("N", at_px=22)]
    if abs(angle_deg) < 0.5:
        return [*north, _label("level ground", at_px=54)]
    uphill = [_arrow(aspect_deg + 180.0, at_px=62, colour=QUIET), _label(f"uphill {angle_deg:.0f}°", at_px=82)]
    return [*north, *uphill]


def _arrow(bearing_deg: float, *, at_px: float, colour: str) -> FigureDict:
    """Return an arrow of 32 px in the upper margin, `at_px` from the left; screen up is north."""
    bearing, half = math.radians(bearing_deg), 16.0
    return {
        "xref": "paper",
        "yref": "paper",
        "x": 0.0,
        "y": 1.0,
        "text": "",
        "showarrow": True,
        "xshift": at_px + half * math.sin(bearing),
        "yshift": 18 + half * math.cos(bearing),
        "ax": -2.0 * half * math.sin(bearing),
        "ay": 2.0 * half * math.cos(bearing),
        "arrowhead": 2,
        "arrowsize": 1.2,
        "arrowwidth": 3,
        "arrowcolor": colour,
    }


def _label(text: str, *, at_px: float) -> FigureDict:
    """Return a word in the upper margin, beginning `at_px` from the left."""
    return {
        "xref": "paper",
        "yref": "paper",
        "x": 0.0,
        "y": 1.0,
        "xanchor": "left",
        "yanchor": "middle",
        "xshift": at_px,
        "yshift": 18,
        "text": f"<b>{text}</b>",
        "showarrow": False,
        "font": {"size": 15, "color": INK},
    }
