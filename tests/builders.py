"""Small drills, walks and recordings with known truth, for tests that need more than a literal.

The walk is a polyline walked at a stated pace; readings come from `analyzer.physics.receiver`, which is checked on its
own. Nothing here knows of the estimator but the values it takes.
"""

import datetime as dt
import math
from dataclasses import replace

import numpy as np

from analyzer.engine.fusion.problem import Anchors, ReadingRows, RunProblem
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.path import Draws, FusedPath, UsedReadings
from analyzer.model.recording import Mark, Readings, Recording, RunInfo, Track
from analyzer.physics.receiver import offsets, reading_m
from analyzer.physics.recorder_noise import CONSUMER

ZERO = dt.datetime(2026, 2, 14, 9, 0, tzinfo=dt.UTC)


def a_drill(*, at=((0.0, 0.0),), slope=(0.0, 180.0), axis=(40.0, 10.0), depth_m=1.0, area=True) -> Drill:
    """Return a drill with transmitters A, B, ... over horizontal points `at`, in an area of 80 by 80 m."""
    bearing, tilt = axis if axis is not None else (None, None)
    spots = tuple(Transmitter("ABCDEF"[i], e, n, depth_m, bearing, tilt) for i, (e, n) in enumerate(at))
    corners = np.array([[-40.0, -40.0], [40.0, -40.0], [40.0, 40.0], [-40.0, 40.0]]) if area else None
    return Drill("built", ZERO.date(), Origin(46.5, 8.0, 2100.0), Slope(*slope), spots, corners)


def walk(knots, *, pace=1.0, step_s=1.0):
    """Return times (n,) and points (n, 2) of a walk along `knots`; `pace`: one value or one per leg, m/s."""
    knots = np.asarray(knots, float)
    legs = np.linalg.norm(np.diff(knots, axis=0), axis=1)
    seconds = np.concatenate([[0.0], np.cumsum(legs / np.broadcast_to(pace, legs.shape))])
    time_s = np.arange(0.0, seconds[-1] + 1e-9, step_s)
    return time_s, np.column_stack([np.interp(time_s, seconds, knots[:, j]) for j in (0, 1)])


SEARCH = (
    (25.0, 30.0),
    (20.0, 18.0),
    (12.0, 12.0),
    (5.0, 6.0),
    (1.5, 1.8),
    (-1.2, -1.0),
    (0.1, 0.1),
    (1.4, -1.2),
    (-1.3, 1.3),
    (0.2, 0.1),
    (0.1, 0.2),
)
PACE = (1.3, 1.2, 1.0, 0.7, 0.25, 0.25, 0.25, 0.25, 0.25, 0.02)


def a_search(*, to=(0.0, 0.0), step_s=1.0):
    """Return times and points of a plain search that ends over the point `to`: in, through, across, settle, probe."""
    time_s, points = walk(SEARCH, pace=PACE, step_s=step_s)
    return time_s, points + np.asarray(to, float)


def track_of(time_s, horizontal_m, *, sigma_m=np.nan, survey=False) -> Track:
    """Return a track through (n, 2) horizontal points."""
    blank = np.full(len(time_s), np.nan)
    return Track(
        time_s, horizontal_m[:, 0], horizontal_m[:, 1], blank, np.full(len(time_s), sigma_m), blank, survey_grade=survey
    )


def readings_along(
    drill, time_s, plane_m, *, which=0, offset_s=0.0, scale=1.0, from_m=30.0, height_m=None, antennas=3
) -> Readings:
    """Return noise-free readings of one transmitter along a walk, from `from_m` of reading on.

    `offset_s`: to be added to the readings' times to get track time. `height_m`: None for 1.0 m outside the first fall
    to a reading of 3 m and 0.1 m after it.
    """
    plane, t = SlopePlane(drill.slope), drill.transmitters[which]
    place = plane.to_plane([t.east_m, t.north_m])
    axis = plane.axis_vector(t.axis_bearing_deg, t.axis_tilt_deg)

    def shown(height):
        return reading_m(offsets(plane_m, height, place, t.depth_m), axis, scale=scale, antennas=antennas)

    if height_m is None:
        carried = shown(1.0)
        low = np.maximum.accumulate(carried <= 3.0)
        values = np.where(low, shown(0.1), carried)
    else:
        values = shown(height_m)
    heard = np.maximum.accumulate(values <= from_m)
    blank = np.full(int(np.sum(heard)), np.nan)
    return Readings(time_s[heard] - offset_s, values[heard], (t.id,) * len(blank), blank, blank)


def recording_of(track, *, readings=None, marks=(), run_id="run-1", info=None) -> Recording:
    """Return a recording."""
    return Recording(run_id, info or RunInfo(), ZERO, track, readings, tuple(marks))


def probe_hit(time_s, transmitter="A") -> Mark:
    """Return a probe hit."""
    return Mark(float(time_s), "probe_hit", transmitter)


def turned(drill, recording, *, degrees=0.0, by=(0.0, 0.0)):
    """Return drill and recording turned clockwise by `degrees` about the origin and then shifted by `by` metres.

    All that has a place or a direction turns with it: transmitters, axes, area, downhill direction, fixes, headings.
    """
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])

    def moved(points):
        return np.asarray(points, float) @ turn + np.asarray(by, float)

    placed = []
    for t in drill.transmitters:
        east, north = moved([t.east_m, t.north_m])
        bearing = None if t.axis_bearing_deg is None else (t.axis_bearing_deg + degrees) % 360.0
        placed.append(replace(t, east_m=float(east), north_m=float(north), axis_bearing_deg=bearing))
    slope = replace(drill.slope, aspect_deg=(drill.slope.aspect_deg + degrees) % 360.0)
    corners = None if drill.corners_m is None else moved(drill.corners_m)
    points = moved(np.column_stack([recording.track.east_m, recording.track.north_m]))
    track = replace(recording.track, east_m=points[:, 0], north_m=points[:, 1])
    readings = recording.readings
    if readings is not None:
        readings = replace(readings, heading_deg=(readings.heading_deg + degrees) % 360.0)
    return (
        replace(drill, transmitters=tuple(placed), slope=slope, corners_m=corners),
        replace(recording, track=track, readings=readings),
    )


def exact_path(
    time_s,
    plane_m,
    *,
    transmitter_m=((0.0, 0.0),),
    axis=((1.0, 0.0, 0.0),),
    readings=None,
    rows=1,
    spread_m=0.0,
    seed=0,
    scale=1.0,
    height_m=0.1,
) -> FusedPath:
    """Return a fused path that is known: all draws equal, or shifted as a whole by `spread_m` (one sigma, per axis)."""
    rng = np.random.default_rng(seed)
    shifts = np.vstack([np.zeros((1, 2)), spread_m * rng.standard_normal((rows - 1, 2))])[:, None, :]
    plane_m = np.asarray(plane_m, float)
    velocity = np.gradient(plane_m, time_s, axis=0)
    spots, axes = np.asarray(transmitter_m, float), np.asarray(axis, float)
    k = len(spots)
    used = None
    if readings is not None:
        times, values, which = readings
        used = UsedReadings(
            np.asarray(times, float), np.asarray(values, float), np.asarray(which, float), np.ones(len(times))
        )
    return FusedPath(
        time_s=time_s,
        sigma_m=np.full(len(time_s), max(spread_m, 1e-6)),
        height_m=np.full(len(time_s), height_m),
        draws=Draws(
            plane_m + shifts,
            np.broadcast_to(velocity, (rows, *velocity.shape)),
            np.broadcast_to(spots, (rows, k, 2)),
            np.broadcast_to(axes, (rows, k, 3)),
            np.full(rows, scale),
            np.zeros(rows),
        ),
        readings=used,
        transmitter_ids=tuple("ABCDEF"[:k]),
        depth_m=np.ones(k),
        transmitter_sigma_m=np.full(k, 0.2),
        axis_source="given",
        antennas=3,
        survey_grade=False,
    )


def no_anchors() -> Anchors:
    """Return anchors of a run without marks."""
    return Anchors(over=np.zeros((0, 3)), at=np.zeros((0, 4)), still=np.zeros(0))


def a_problem(
    node_s, fix_node, fix_m, *, noise=CONSUMER, intensity=0.05, readings=None, anchors=None, antennas=3, depth_m=(1.0,)
) -> RunProblem:
    """Return an estimation problem straight from its arrays."""
    return RunProblem(
        node_s=np.asarray(node_s, float),
        fix_node=np.asarray(fix_node),
        fix_m=np.asarray(fix_m, float),
        fix_start_weight=np.ones(len(fix_m)),
        noise=noise,
        intensity=np.broadcast_to(np.asarray(intensity, float), (len(node_s) - 1,)),
        readings=readings,
        anchors=anchors or no_anchors(),
        antennas=antennas,
        depth_m=np.asarray(depth_m, float),
    )


def reading_rows_of(readings: Readings, *, sigma=0.05, low_spans=(), which=None, doubt=0.0) -> ReadingRows:
    """Return readings as the fit takes them, low inside `low_spans`, with one `doubt` of the height for all."""
    n = len(readings.time_s)
    spans = np.array(low_spans, float).reshape(-1, 2)
    low = np.any((readings.time_s[:, None] >= spans[:, 0]) & (readings.time_s[:, None] <= spans[:, 1]), axis=1)
    return ReadingRows(
        time_s=readings.time_s,
        log_reading=np.log(readings.reading_m),
        transmitter=np.zeros(n, int) if which is None else np.asarray(which),
        sigma=np.full(n, sigma),
        height_m=np.where(low, 0.1, 1.0),
        doubt=np.full(n, doubt),
        carry_height_m=1.0,
        fine_height_m=0.1,
        low_spans_s=spans,
    )


def irregular(rng, n, *, least=0.3, most=3.5):
    """Return n rising times with uneven steps, seconds."""
    return np.concatenate([[0.0], np.cumsum(rng.uniform(least, most, n - 1))])
