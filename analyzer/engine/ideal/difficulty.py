"""How hard a drill is: the ideal search and the reference searcher's time from a start, before anyone has searched.

The same ideal paths and the same reference searcher as in a debrief. What a debrief takes from the run, how far away
the signal was heard, is here half the strip width unless said otherwise: what the strips promise to cover.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from analyzer.engine.ideal.bracket import bracket_ideal
from analyzer.engine.ideal.coarse import AXES_WHERE_UNKNOWN, coarse_ideal
from analyzer.engine.ideal.reference import reference_times
from analyzer.engine.ideal.strips import ideal_strips, length_to_range
from analyzer.geometry.polyline import cumulative_length, inside_polygon, length, nearest, point_at
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.difficulty import DrillDifficulty, ReadingGrid, SearchOutlook, Surroundings
from analyzer.model.drill import Drill, Transmitter
from analyzer.model.figure import Figure, Measured, bounds
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.rules import Rules
from analyzer.physics.constants import COAXIAL_OVER_BROADSIDE
from analyzer.physics.field_lines import even_axes, falling_direction, trace_lines
from analyzer.physics.lowest_reading import lowest_reading
from analyzer.physics.receiver import offsets, reading_m

CARRY_HEIGHT_M, FINE_HEIGHT_M = 1.0, 0.1
READING_SCALE = math.sqrt(COAXIAL_OVER_BROADSIDE)
"""Half way (in logarithms) between a receiver calibrated broadside, 1, and one calibrated coaxially, 2^(1/3)."""
DIRECTIONS, LINES, GRID_POINTS = 36, 16, 8000
STEP_SHARE, MOST_STEPS, LINE_ENDS_M = 0.05, 90, 0.7
NO_POINTS = np.empty((0, 2))


def drill_difficulty(
    drill: Drill,
    start_m: ArrayLike,
    rules: Rules,
    *,
    reach_m: float | None = None,
    reading_scale: float = READING_SCALE,
) -> DrillDifficulty:
    """Return the difficulty of a drill for a searcher with three antennas.

    Parameters
    ----------
    drill : Drill
        With one transmitter or more.
    start_m : array_like, shape (2,)
        Where the searcher starts: horizontal east, north metres from the origin.
    rules : Rules
        The reference searcher's paces and the fine-search radius.
    reach_m : float, optional
        Distance over the surface at which a signal is heard first; by default half the strip width.
    reading_scale : float
        Of the receiver, see `analyzer.physics.receiver`.
    """
    plane, start = SlopePlane(drill.slope), np.asarray(start_m, float)
    reach = 0.5 * drill.strip_width_m if reach_m is None else reach_m
    corners = None if drill.corners_m is None else plane.to_plane(drill.corners_m)
    strips = (
        NO_POINTS
        if corners is None
        else ideal_strips(corners, plane.to_plane(start), strip_width_m=drill.strip_width_m)
    )
    searches, left, at = [], list(drill.transmitters), plane.to_plane(start)
    while left:
        walk, found, heard = _signal(at, left, plane, corners, drill.strip_width_m, reach)
        searches.append(_search(walk, found, heard, plane, rules, reading_scale))
        left.remove(found)
        at = _place(found, plane)
    lines = _lines(drill.transmitters, plane, reach)
    return DrillDifficulty(
        start_m=start,
        reach_m=reach,
        strips_m=plane.to_horizontal(strips),
        searches=tuple(searches),
        around=tuple(
            _around(t, plane, corners, rules, reach, reading_scale, lines.get(t.id, ())) for t in drill.transmitters
        ),
        grid=_grid(drill, start, plane, reading_scale),
        fine_radius_m=rules.fine_radius_m,
    )


def _place(item: Transmitter, plane: SlopePlane) -> FloatArray:
    return plane.to_plane([item.east_m, item.north_m])


def _axis(item: Transmitter, plane: SlopePlane) -> FloatArray | None:
    """Return the antenna's unit vector in the slope frame, None where it is not given."""
    if item.axis_bearing_deg is None or item.axis_tilt_deg is None:
        return None
    return plane.axis_vector(item.axis_bearing_deg, item.axis_tilt_deg)


def _signal(
    at: FloatArray,
    left: list[Transmitter],
    plane: SlopePlane,
    corners: FloatArray | None,
    strip_width_m: float,
    reach_m: float,
) -> tuple[FloatArray, Transmitter, bool]:
    """Return the walk (p, 2) in the slope plane until a transmitter is heard, that transmitter, and whether it is."""
    away = [float(np.hypot(*(_place(t, plane) - at))) for t in left]
    if min(away) <= reach_m or corners is None:
        return at[None], left[int(np.argmin(away))], True
    strips = ideal_strips(corners, at, strip_width_m=strip_width_m)
    heard_at = [length_to_range(strips, _place(t, plane), reach_m) for t in left]
    first = int(np.argmin(heard_at))
    along = cumulative_length(strips)
    walk = np.vstack([strips[along < heard_at[first]], point_at(strips, [heard_at[first]])])
    heard = bool(np.hypot(*(walk[-1] - _place(left[first], plane))) <= reach_m + 1e-6)
    if not heard:
        first = int(np.argmin([np.hypot(*(_place(t, plane) - walk[-1])) for t in left]))
    return walk, left[first], heard


def _search(
    walk: FloatArray, item: Transmitter, heard: bool, plane: SlopePlane, rules: Rules, reading_scale: float
) -> SearchOutlook:
    """Return the search that follows a walk (p, 2) in the slope plane."""
    place, axis = _place(item, plane), _axis(item, plane)
    coarse = coarse_ideal(
        walk[-1],
        place[None],
        np.array([[1.0, 0.0, 0.0]]) if axis is None else axis[None],
        transmitter=item.id,
        depth_m=item.depth_m,
        height_m=CARRY_HEIGHT_M,
        fine_radius_m=rules.fine_radius_m,
        reading_scale=reading_scale,
        axis_known=axis is not None,
    )
    spread = (
        None
        if axis is not None
        else _ratios(walk[-1], place, even_axes(AXES_WHERE_UNKNOWN), item.depth_m, rules.fine_radius_m, reading_scale)
    )
    lowest = place + _lowest_offset(item, axis)
    bracket = bracket_ideal(coarse.line_m[-1], lowest, transmitter=item.id, arm_m=rules.bracket_arm_m)
    signal_m = float(length(walk)) if len(walk) > 1 else None
    reference = reference_times(
        transmitter=item.id, rules=rules, transmitter_m=place, signal_m=signal_m, coarse=coarse, bracket=bracket
    )
    return SearchOutlook(
        transmitter=item.id,
        from_m=plane.to_horizontal(walk[0]),
        walk_m=plane.to_horizontal(walk),
        walk_length_m=signal_m or 0.0,
        heard=heard,
        field_line_m=plane.to_horizontal(coarse.line_m),
        field_line_length_m=coarse.length_m,
        straight_length_m=coarse.straight_m,
        ratio=_ratio(coarse, spread),
        cross_m=plane.to_horizontal(bracket.cross_m),
        reference=reference,
    )


def _ratio(coarse: CoarseIdeal, spread: FloatArray | None) -> Measured:
    """Return the field line's length over the straight way; 1 where the search begins inside the radius.

    `spread` (n,): the ratio for every axis where the axis is not given, each with the straight way of its own.
    """
    figure, straight = coarse.length_m, coarse.straight_m
    if not isinstance(figure, Figure):
        return figure
    if not straight > 0.0:
        return Figure(1.0, 1.0, 1.0, "1")
    if spread is not None and len(spread):
        return Figure(float(np.median(spread)), *bounds(spread), "1")
    return Figure(figure.value / straight, figure.low / straight, figure.high / straight, "1")


def _lowest_offset(item: Transmitter, axis: FloatArray | None) -> FloatArray:
    """Return where the lowest reading lies from the transmitter, (2,); zero where the axis is not given."""
    if axis is None:
        return np.zeros(2)
    offset = lowest_reading(axis, depth_m=item.depth_m, height_m=FINE_HEIGHT_M, antennas=3).offset_m[0]
    return np.asarray(offset, np.float64)


def _around(
    item: Transmitter,
    plane: SlopePlane,
    corners: FloatArray | None,
    rules: Rules,
    reach_m: float,
    reading_scale: float,
    lines: tuple[FloatArray, ...],
) -> Surroundings:
    place, axis = _place(item, plane), _axis(item, plane)
    lowest = place + _lowest_offset(item, axis)
    outside = 0.0
    if corners is not None and not inside_polygon(place[None], corners)[0]:
        outside = float(nearest(place[None], np.vstack([corners, corners[:1]]))[0][0])
    low = high = math.nan
    if axis is not None:
        ring = _ring(place, reach_m, DIRECTIONS)
        ratios = _ratios(ring, place, axis, item.depth_m, rules.fine_radius_m, reading_scale)
        if len(ratios):
            low, high = float(ratios.min()), float(ratios.max())
    return Surroundings(
        item.id,
        lines,
        low,
        high,
        plane.to_horizontal(lowest),
        float(np.hypot(*(lowest - place))),
        axis is not None,
        outside,
    )


def _ring(place: FloatArray, reach_m: float, count: int) -> FloatArray:
    angle = 2.0 * np.pi * np.arange(count) / count
    return place + reach_m * np.column_stack([np.cos(angle), np.sin(angle)])


def _ratios(
    start: FloatArray, place: FloatArray, axis: FloatArray, depth_m: float, stop_m: float, reading_scale: float
) -> FloatArray:
    """Return length over straight way for many starts or axes, without those that lie inside the fine-search radius."""
    lines = trace_lines(
        start, place, axis, depth_m=depth_m, height_m=CARRY_HEIGHT_M, stop_m=stop_m, scale=reading_scale
    )
    straight = np.hypot(*(np.atleast_2d(start) - place).T) - np.hypot(*(lines.end_m - place).T)
    usable = np.isfinite(lines.length_m) & (straight > 0.0)
    return np.asarray(lines.length_m[usable] / straight[usable], np.float64)


def _lines(items: tuple[Transmitter, ...], plane: SlopePlane, reach_m: float) -> dict[str, tuple[FloatArray, ...]]:
    """Return by transmitter the lines along which a receiver leads from all round, for the eye: second order, all at
    once; none for a transmitter whose axis is not given.
    """
    known = [(item, axis) for item in items if (axis := _axis(item, plane)) is not None]
    if not known:
        return {}
    place = np.repeat([_place(item, plane) for item, _ in known], LINES, axis=0)
    axis = np.repeat([axis for _, axis in known], LINES, axis=0)
    depth_m = np.repeat([item.depth_m for item, _ in known], LINES)
    at = np.concatenate([_ring(_place(item, plane), reach_m, LINES) for item, _ in known])
    points, moving = [at], np.ones(len(at), bool)
    for _ in range(MOST_STEPS):
        away = np.hypot(*(at - place).T)
        moving = moving & (away > LINE_ENDS_M)
        if not moving.any():
            break
        step = np.where(moving, STEP_SHARE * away, 0.0)[:, None]
        half = at + 0.5 * step * _falling(at, place, axis, depth_m)
        at = at + step * _falling(half, place, axis, depth_m)
        points.append(at)
    lines = plane.to_horizontal(np.stack(points, axis=1))
    return {item.id: tuple(lines[LINES * k : LINES * (k + 1)]) for k, (item, _) in enumerate(known)}


def _falling(at: FloatArray, place: FloatArray, axis: FloatArray, depth_m: FloatArray) -> FloatArray:
    return np.nan_to_num(falling_direction(at, place, axis, depth_m=depth_m, height_m=CARRY_HEIGHT_M))


def _grid(drill: Drill, start: FloatArray, plane: SlopePlane, reading_scale: float) -> ReadingGrid:
    """Return readings over the area, the transmitters and the start, with room around them."""
    spots = [start[None], np.array([[t.east_m, t.north_m] for t in drill.transmitters])]
    every = np.vstack([*spots, *([] if drill.corners_m is None else [drill.corners_m])])
    middle, size = 0.5 * (every.min(axis=0) + every.max(axis=0)), np.maximum(np.ptp(every, axis=0), 10.0) * 1.3 + 10.0
    step = math.sqrt(float(np.prod(size)) / GRID_POINTS)
    east, north = (np.linspace(m - s / 2, m + s / 2, max(int(s / step), 8)) for m, s in zip(middle, size, strict=True))
    ground = plane.to_plane(np.stack(np.meshgrid(east, north), axis=-1))
    lowest = np.full(ground.shape[:2], np.inf)
    for item in drill.transmitters:
        axis = _axis(item, plane)
        if axis is not None:
            away = offsets(ground, CARRY_HEIGHT_M, _place(item, plane), item.depth_m)
            lowest = np.minimum(lowest, reading_m(away, axis, scale=reading_scale))
    return ReadingGrid(east, north, lowest)
