"""Measures of the fine search and the pinpoint, in every draw."""

import numpy as np

from analyzer.engine.measures.intervals import ENOUGH_SAMPLES, POSTERIOR_DOUBT, figure_of
from analyzer.engine.measures.legs import Lines, axial_difference, lines_of, shape_sigma_m
from analyzer.engine.measures.low_point import READING_FIGURES, reading_figures, shown_in
from analyzer.engine.measures.window import Window, interpolate, walked_draws
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import walked_between
from analyzer.model.account import Leg
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable, bounds
from analyzer.model.path import LINE_STEP_S, FusedPath
from analyzer.model.reference_solution import ReferenceSolution
from analyzer.physics.lowest_reading import lowest_reading

WIDEST_CROSSING_DEG = 18.0
CROSSING_SPREAD_DEG = 5.0  # a line is not straight: two directions of a person's legs differ by this, our estimate
OBLIQUE_DEG = 65.0  # a crossing line under this is oblique; our choice: 25 degrees off is seen without measuring
REACH_SPREAD_M = 0.05
WIDEST_REACH_M = 0.8
WIDEST_OFFSET_M = 2.5
NEAR_SPREAD_S = 0.2
FIRST_PROBING_S = 10.0  # no probing is over sooner
SELDOM = NotAssessable("fixes so far apart do not show the pace of lines of a few seconds each")
TURNED = NotAssessable("one antenna's readings also rise and fall with how it is turned")
UNSETTLED = NotAssessable("neither fixes nor readings tell when the searcher settled")


def fine_figures(
    fused: FusedPath,
    window: Window,
    solution: ReferenceSolution,
    *,
    plane: SlopePlane,
    fine_height_m: float,
    probed_s: float | None = None,
) -> tuple[dict[str, Measured], tuple[Leg, ...], Lines | None]:
    """Return the fine-search figures by name, its legs, and its lines.

    `probed_s`: end of the pinpoint; the window reaches that far. When the searcher settled is the least certain bound
    of all: a crossing line that is missing before it is looked for after it.
    """
    lines = None if fused.lines_hidden else lines_of(window)
    if lines is not None and lines.crossing_axis is None and probed_s is not None:
        lines = lines_of(window, until_s=probed_s) or lines
    figures: dict[str, Measured] = {"duration_s": duration_figure(fused, window)}
    figures |= _cross(fused, window, lines)
    if lines is not None and lines.count:
        figures["lines_seen"] = Figure(float(lines.count), float(lines.count), float(lines.count), "1")
    told = fused.antennas > 1
    figures |= reading_figures(shown_in(fused, window)) if told else dict.fromkeys(READING_FIGURES, TURNED)
    figures["final_offset_m"] = _final_offset(window)
    figures["final_offset_physics_m"] = _physics(fused, window, solution, fine_height_m)
    walked = walked_draws(window)
    figures["walked_m"] = figure_of(walked, "m", rough=True, least=0.0)
    seldom = fused.fixes.step_s > LINE_STEP_S
    figures["pace_mps"] = SELDOM if seldom else figure_of(_pace(window), "m/s", rough=True, least=0.0)
    legs = () if lines is None else tuple(_leg(window, plane, a, b) for a, b in lines.legs)
    return figures, legs, lines


def _pace(window: Window) -> FloatArray:
    """Return the pace of the legs (S,): the speed that is not exceeded in 60 % of the time, pauses included.

    The run-in from the coarse search is short and does not move it.
    """
    inside = window.best
    if inside.stop - inside.start < 3:
        return np.full(len(window.path_m), np.nan)
    pace: FloatArray = np.quantile(window.speed_mps[:, inside], 0.6, axis=1)
    return pace


def _cross(fused: FusedPath, window: Window, lines: Lines | None) -> dict[str, Measured]:
    if lines is None:
        why = NotAssessable(_why_no_legs(fused, window))
        return {"crossing_angle_deg": why, "reach_m": why}
    if lines.first_axis is None or lines.reach_m is None:
        why = NotAssessable("no straight line was walked")
        return {"crossing_angle_deg": why, "reach_m": why}
    reach = figure_of(lines.reach_m, "m", rough=True, least=0.0, widest=WIDEST_REACH_M, spread=REACH_SPREAD_M)
    if lines.crossing_axis is None:
        return {"crossing_angle_deg": NotAssessable("no line across the first one can be made out"), "reach_m": reach}
    bounded = crossing_figure(lines.first_axis, lines.crossing_axis)
    angle = crossing_figure(lines.first_axis, lines.crossing_axis, widest=WIDEST_CROSSING_DEG)
    if isinstance(bounded, Figure) and (bounded.high < OBLIQUE_DEG or bounded.low > OBLIQUE_DEG):
        angle = bounded  # however wide, it tells on which side of the limit the angle lies
    return {
        "crossing_angle_deg": angle,
        "crossing_bounds_deg": bounded,
        "oblique_share": oblique_share(lines.first_axis, lines.crossing_axis),
        "reach_m": reach,
    }


def crossing_figure(first_axis: FloatArray, crossing_axis: FloatArray, *, widest: float = np.inf) -> Measured:
    """Return the acute angle between two lines from their directions (S,) in radians.

    The interval is taken of the angle 0..180 degrees, so that one about a right angle is not folded onto one side.
    """
    turn = np.degrees(crossing_axis - first_axis) % 180.0
    turn = turn[0] + (turn - turn[0] + 90.0) % 180.0 - 90.0
    whole = figure_of(turn, "deg", spread=CROSSING_SPREAD_DEG)
    if not isinstance(whole, Figure):
        return whole
    if whole.high - whole.low > 2.0 * widest:
        half = (whole.high - whole.low) / 2.0
        return NotAssessable(f"the angle between the two lines is known to {half:.0f} degrees either way only")
    ends = [acute(whole.low), acute(whole.high)]
    right_inside = whole.low <= 90.0 <= whole.high
    same_inside = whole.low <= 0.0 or whole.high >= 180.0
    return Figure(acute(whole.value), 0.0 if same_inside else min(ends), 90.0 if right_inside else max(ends), "deg")


def oblique_share(first_axis: FloatArray, crossing_axis: FloatArray) -> Measured:
    """Return how likely it is, by the draws, that two lines cross at less than `OBLIQUE_DEG`: 0..1.

    This can be certain enough for a remark where the angle itself is known too poorly for a figure.
    """
    under = np.degrees(axial_difference(first_axis, crossing_axis)) < OBLIQUE_DEG
    share = float(np.mean(under[1:])) if len(under) > ENOUGH_SAMPLES else float(under[0])
    return Figure(share, share, share, "1")


def acute(angle_deg: float) -> float:
    """Return the acute angle 0..90 of an angle between lines."""
    a = angle_deg % 180.0
    return min(a, 180.0 - a)


def _why_no_legs(fused: FusedPath, window: Window) -> str:
    if fused.lines_hidden:
        return fused.lines_hidden
    sigma = shape_sigma_m(window)
    return f"the shape of the path is known to {sigma:.1f} m only, too coarse for legs of a metre or two"


def _leg(window: Window, plane: SlopePlane, a: int, b: int) -> Leg:
    part = window.path_m[0, a : b + 1]
    chord = part[-1] - part[0]
    length = float(np.hypot(*chord))
    normal = np.array([-chord[1], chord[0]]) / max(length, 1e-9)
    side = (part - part[0]) @ normal
    return Leg(
        float(window.time_s[a]),
        float(window.time_s[b]),
        length,
        float(plane.bearing_deg(chord)),
        float(np.sqrt(np.mean(side**2))),
    )


def _final_offset(window: Window) -> Measured:
    if np.isnan(window.transmitter_m).any():
        return NotAssessable("the transmitter's place is not known")
    return offset_figure(window.at(window.end_s) - window.transmitter_m)


def offset_figure(offset_m: FloatArray) -> Measured:
    """Return the length of an offset (S, 2) as a figure.

    The length of an estimate with error is too long, on average, as the error has a length too: of an offset with
    standard deviation s per axis the mean square is 2 s^2 too large. The value is taken as for the maximum of Rice's
    distribution, |offset|^2 - s^2; a sample carries the error twice.
    """
    length = np.hypot(offset_m[:, 0], offset_m[:, 1])
    if len(length) < 3:
        return figure_of(length, "m", least=0.0)
    variance = float(np.mean(np.var(offset_m[1:], axis=0)))
    figure = figure_of(length, "m", least=0.0, widest=WIDEST_OFFSET_M)
    if not isinstance(figure, Figure):
        return figure
    value = float(np.sqrt(max(length[0] ** 2 - variance, 0.0)))
    low, _ = bounds(np.sqrt(np.maximum(length[1:] ** 2 - 2.0 * variance, 0.0)))
    return Figure(value, min(low, value), max(figure.high, value), "m")


def _physics(fused: FusedPath, window: Window, solution: ReferenceSolution, fine_height_m: float) -> Measured:
    """Return how far physics puts the lowest reading from the point over the transmitter."""
    if np.isnan(window.transmitter_m).any():
        return NotAssessable("the transmitter's place is not known")
    if solution.lowest_draws_m is not None:
        return figure_of(_distance(solution.lowest_draws_m, window.transmitter_m), "m", least=0.0)
    if fused.antennas == 1:
        return NotAssessable("with one antenna it depends on how the receiver was turned")
    k = fused.transmitter_ids.index(window.span.transmitter)
    low = lowest_reading(
        fused.draws.axis[:, k], depth_m=float(fused.depth_m[k]), height_m=fine_height_m, antennas=fused.antennas
    )
    return figure_of(low.distance_m, "m", rough=fused.axis_source == "unknown", least=0.0)


def duration_figure(fused: FusedPath, window: Window) -> Measured:
    """Return how long a phase took that begins or ends with settling.

    On positions alone the draws are too sure of when the searcher settled: their spread is doubted there.
    """
    if not np.isfinite(window.span.start_sigma_s) or not np.isfinite(window.span.end_sigma_s):
        return UNSETTLED
    doubt = POSTERIOR_DOUBT if fused.readings is None else 0.0
    return figure_of(window.end_s - window.start_s, "s", least=0.0, spread=NEAR_SPREAD_S, doubt=doubt)


def pinpoint_figures(fused: FusedPath, window: Window, probe_hit_s: float | None) -> dict[str, Measured]:
    """Return the pinpoint figures by name. `probe_hit_s`: time of the probe hit, None without that mark."""
    duration = duration_figure(fused, window)
    if probe_hit_s is None:
        return {"duration_s": duration, "probe_offset_m": NotAssessable("no probe hit was marked")}
    if np.isnan(window.transmitter_m).any():
        return {"duration_s": duration, "probe_offset_m": NotAssessable("the transmitter's place is not known")}
    when = np.full(len(window.path_m), probe_hit_s)
    off = interpolate(window.time_s, window.path_m, when) - window.transmitter_m
    return {"duration_s": duration, "probe_offset_m": offset_figure(off)}


def probing_walk(window: Window) -> tuple[Measured, Measured]:
    """Return the metres walked in the first seconds of the pinpoint, and those walked in it beyond the shift.

    Who probes stands: where many metres were walked, part of the bracketing was taken for probing.
    """
    t, path = window.time_s, window.path_m[0]
    a, b = window.span.start_s, window.span.end_s
    first = walked_between(t, path, a, min(a + FIRST_PROBING_S, b))
    shifts = _distance(window.at(window.start_s), window.at(window.end_s))
    shift = float(np.median(shifts[1:])) if len(shifts) > 1 else float(shifts[0])
    whole = max(walked_between(t, path, a, b) - shift, 0.0)
    return Figure(first, first, first, "m"), Figure(whole, whole, whole, "m")


def probing_shift(window: Window) -> Measured:
    """Return how far the searcher shifted from where the probing began to where it ended, over the surface."""
    return offset_figure(window.at(window.start_s) - window.at(window.end_s))


def _distance(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1])
