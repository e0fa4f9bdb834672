"""From the fixes of a file to the track of a run: checked against the drill, in its frame, from its time zero."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyproj

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import METRES_PER_DEGREE, Fixes
from analyzer.files.tracks.habits import BACKWARDS, MAX_BACKWARD_SHARE, clock_was_set, forward, placeless
from analyzer.files.tracks.settling import BEFORE_SETTLED, unsettled
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.recording import Track

MAX_FROM_DRILL_M = 2000.0
MAX_STRAY_SHARE = 0.2
MAX_UNTIMED_SHARE = 0.2
MAX_CONFLICT_SHARE = 0.05
SAME_PLACE_M = 1.0
APART_S = 3600.0
"""Fixes farther from the others are another recording, or have a wrong date."""
MARK_REACH_S = 600.0
"""A mark speaks for a part of the track up to so far before and after it."""
FAR_IN_TIME = "more than an hour from the rest"
MIN_FIXES = 10
SURVEY_COARSEST_SIGMA_M = 0.3
"""A track is survey-grade where more than half of its fixes state no more than this; our choice: between what survey
equipment states (centimetres, a few decimetres with a float solution) and what consumer receivers do (metres)."""
FINEST_STEP_M = 1e-3

Counts = tuple[tuple[str, int], ...]


def timed(fixes: Fixes, moments_s: Sequence[float] = ()) -> tuple[Fixes, Counts]:
    """Return the fixes that have a time, checked to run forwards, one per time, and what was set aside.

    Of parts more than an hour apart, the one with most of `moments_s` (times of day in which the run was) is kept, else
    the one with most fixes: a wrong date, or a recorder left running, makes no run of hours.

    Raises
    ------
    InputError
        Where too many fixes have no time, times run backwards, or one time has many places.
    """
    fixes, nowhere = _placed_at_all(fixes)
    has_time = np.isfinite(fixes.time_s)
    without = int(np.sum(~has_time))
    if without == len(has_time):
        raise InputError(
            where=fixes.name,
            what="the track has no time stamps",
            do="export the track as it was recorded, with times: a plan, or a line drawn on a map, has none",
        )
    if without > MAX_UNTIMED_SHARE * len(has_time):
        raise InputError(
            where=fixes.where(int(np.argmin(has_time))),
            what=f"{without} of {len(has_time)} points have no time, this is the first",
            do="export the recorded track with all times",
        )
    clock_was_set(fixes)
    kept, apart = _one_part(subset(fixes, has_time), np.asarray(moments_s, np.float64))
    kept, backwards = _forward(kept)
    distinct, same, conflicting = _without_doubles(kept)
    early = unsettled(distinct)
    return subset(distinct, ~early), _counts(
        {
            **nowhere,
            "no time": without,
            FAR_IN_TIME: apart,
            BACKWARDS: backwards,
            "the same point again": same,
            "a second place at the same time": conflicting,
            BEFORE_SETTLED: int(np.sum(early)),
        }
    )


def _placed_at_all(fixes: Fixes) -> tuple[Fixes, dict[str, int]]:
    """Return the fixes that hold a position, and how many hold none, by reason."""
    found = placeless(fixes)
    none = np.any([*found.values(), np.zeros(len(fixes.time_s), bool)], axis=0)
    if len(none) and np.all(none):
        raise InputError(
            where=fixes.name,
            what="no point has a position: all lie at latitude and longitude 0 or stand for a pause",
            do="wait for a fix before the start, and record with positioning switched on",
        )
    return subset(fixes, ~none), {reason: int(np.sum(flags)) for reason, flags in found.items()}


def _forward(fixes: Fixes) -> tuple[Fixes, int]:
    """Return the fixes whose times run forwards, and how many do not."""
    keep = forward(fixes.time_s)
    backwards = int(np.sum(~keep))
    if backwards > MAX_BACKWARD_SHARE * len(keep):
        step = np.diff(fixes.time_s)
        at = int(np.argmax(step < 0.0)) + 1
        raise InputError(
            where=fixes.where(at),
            what=f"the time runs back by {_seconds(-step[at - 1])}, as {backwards} of {len(keep)} points do",
            do="two recordings may be in the file, or the clock was set on the way: export this run alone",
        )
    return subset(fixes, keep), backwards


def _seconds(seconds: float) -> str:
    return f"{seconds:.3g} s" if seconds < 100.0 else f"{seconds:.0f} s"


def _one_part(fixes: Fixes, moments_s: FloatArray) -> tuple[Fixes, int]:
    """Return the part of the fixes that is the run, and how many lie in others, wherever in the file they stand."""
    ordered = np.sort(fixes.time_s)
    edges = np.flatnonzero(np.diff(ordered) > APART_S) + 1
    if not len(edges):
        return fixes, 0
    parts = np.split(ordered, edges)
    spoken = [
        int(np.count_nonzero((moments_s >= p[0] - MARK_REACH_S) & (moments_s <= p[-1] + MARK_REACH_S))) for p in parts
    ]
    best = max(range(len(parts)), key=lambda i: (spoken[i], len(parts[i])))
    kept = (fixes.time_s >= parts[best][0]) & (fixes.time_s <= parts[best][-1])
    return subset(fixes, kept), len(ordered) - len(parts[best])


def _without_doubles(fixes: Fixes) -> tuple[Fixes, int, int]:
    repeats = np.concatenate([[False], np.diff(fixes.time_s) == 0.0])
    if not np.any(repeats):
        return fixes, 0, 0
    # The first fix of each time is kept: its index, for every fix.
    kept_index = np.maximum.accumulate(np.where(repeats, 0, np.arange(len(repeats))))
    places = np.column_stack([fixes.first, fixes.second])
    apart = places - places[kept_index]
    if fixes.geographic:
        apart = apart * METRES_PER_DEGREE
        apart[:, 1] *= np.cos(np.radians(fixes.first))
    elsewhere = repeats & ~(np.hypot(apart[:, 0], apart[:, 1]) <= SAME_PLACE_M)
    conflicting = int(np.sum(elsewhere))
    if conflicting > MAX_CONFLICT_SHARE * len(repeats):
        at = int(np.argmax(elsewhere))
        raise InputError(
            where=fixes.where(at),
            what=f"{conflicting} of {len(repeats)} points give a second place at the same time, this is the first",
            do="keep one recorder per track",
        )
    return subset(fixes, ~repeats), int(np.sum(repeats)) - conflicting, conflicting


def place(fixes: Fixes, drill: Drill) -> tuple[Fixes, Counts]:
    """Return the fixes in horizontal metres from the drill's origin, those far from the drill set aside and counted.

    Raises
    ------
    InputError
        Where coordinates are out of range or swapped, or the track is nowhere near the drill.
    """
    centre = _centre(drill)
    frame = LocalFrame(drill.origin)
    if fixes.geographic:
        home = home_of(drill)
        _check_degrees(fixes, home)
        away = _distance_m(fixes.first, fixes.second, home)
    else:
        away = np.hypot(fixes.first - centre[0], fixes.second - centre[1])
    far = ~(away <= MAX_FROM_DRILL_M)
    median = float(np.median(away))
    if median > MAX_FROM_DRILL_M:
        raise InputError(
            where=fixes.name,
            what=f"the track is {shown_distance(median)} from the drill",
            do="check that it belongs to this drill, and the drill's origin",
        )
    if np.mean(far) >= MAX_STRAY_SHARE:
        raise InputError(
            where=fixes.where(int(np.argmax(far))),
            what=f"{int(far.sum())} of {len(far)} points are over {MAX_FROM_DRILL_M / 1000:g} km from the "
            "drill, this is the first",
            do="check the recording, and cut it to this run",
        )
    near = subset(fixes, ~far)
    if fixes.geographic:
        east_north = frame.to_metres(near.first, near.second)
        near = _with_metres(near, east_north)
    return near, _counts({"far from the drill": int(far.sum())})


def _centre(drill: Drill) -> FloatArray:
    return np.asarray(np.median([[t.east_m, t.north_m] for t in drill.transmitters] or [[0.0, 0.0]], axis=0))


def home_of(drill: Drill) -> FloatArray:
    """Return latitude and longitude of the middle of a drill's transmitters, shape (2,)."""
    east_m, north_m = _centre(drill)
    return np.asarray(LocalFrame(drill.origin).to_degrees(east_m, north_m)[0])


def middle_of(fixes: Fixes) -> tuple[float, float] | None:
    """Return the median latitude and longitude of fixes, degrees; None where they are in metres."""
    return (float(np.median(fixes.first)), float(np.median(fixes.second))) if fixes.geographic else None


def metres_between(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the distance of two places, latitude and longitude in degrees, along the Earth's surface."""
    return float(_distance_m(np.array([a[0]]), np.array([a[1]]), np.array(b))[0])


def _check_degrees(fixes: Fixes, home: FloatArray) -> None:
    in_range = (np.abs(fixes.first) <= 90.0) & (np.abs(fixes.second) <= 180.0)
    swappable = np.abs(fixes.second) <= 90.0
    if np.mean(swappable) > 0.5:
        swapped = _distance_m(fixes.second[swappable], fixes.first[swappable], home)
        straight = _distance_m(fixes.first[in_range], fixes.second[in_range], home)
        if np.median(swapped) <= MAX_FROM_DRILL_M and not (len(straight) and np.median(straight) <= MAX_FROM_DRILL_M):
            raise InputError(
                where=fixes.name,
                what="latitude and longitude are swapped: the other way round the track lies at the drill",
                do="exchange the two columns",
            )
    if not np.all(in_range):
        at = int(np.argmin(in_range))
        raise InputError(
            where=fixes.where(at),
            what=f"latitude {fixes.first[at]:g}, longitude {fixes.second[at]:g} is not on Earth",
            do="mend or remove the point",
        )


def _distance_m(latitude: FloatArray, longitude: FloatArray, home: FloatArray) -> FloatArray:
    n = len(latitude)
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(np.full(n, home[1]), np.full(n, home[0]), longitude, latitude)
    return np.asarray(metres, float)


def shown_distance(metres: float) -> str:
    """Return a distance in words: metres below one kilometre."""
    if metres < 1000.0:
        return f"{metres:.0f} m"
    return f"{metres / 1000.0:.1f} km" if metres < 1e5 else f"{metres / 1000.0:.0f} km"


def to_track(placed: Fixes, *, time_zero_s: float, degrees_step: float) -> tuple[Track, Counts]:
    """Return the track from time zero on; `degrees_step`: step of the coordinates in degrees, 0 for metres.

    Raises
    ------
    InputError
        Where fewer than 10 fixes are left.
    """
    late = placed.time_s >= time_zero_s - 5e-4  # marks are written to milliseconds
    kept = subset(placed, late)
    if len(kept.time_s) < MIN_FIXES:
        raise InputError(
            where=placed.name,
            what=f"only {len(kept.time_s)} usable fixes from the start of the run on, {MIN_FIXES} are needed",
            do="check the start mark's time, and record at one fix per second",
        )
    step = degrees_step * METRES_PER_DEGREE if degrees_step else placed.step
    stated = kept.sigma_m[np.isfinite(kept.sigma_m)]
    track = Track(
        time_s=kept.time_s - time_zero_s,
        east_m=kept.first,
        north_m=kept.second,
        elevation_m=kept.elevation_m,
        sigma_m=kept.sigma_m,
        hdop=kept.hdop,
        resolution_m=step if step >= FINEST_STEP_M else 0.0,
        survey_grade=bool(np.sum(stated <= SURVEY_COARSEST_SIGMA_M) > 0.5 * len(kept.time_s)),
    )
    return track, _counts({"before the start": int(np.sum(~late))})


def subset(fixes: Fixes, keep: np.ndarray) -> Fixes:
    """Return the fixes where `keep` is true; the counts of the file stay."""
    return replace(
        fixes,
        time_s=fixes.time_s[keep],
        first=fixes.first[keep],
        second=fixes.second[keep],
        elevation_m=fixes.elevation_m[keep],
        sigma_m=fixes.sigma_m[keep],
        hdop=fixes.hdop[keep],
        number=fixes.number[keep],
    )


def _with_metres(fixes: Fixes, east_north: FloatArray) -> Fixes:
    return replace(fixes, geographic=False, first=east_north[:, 0], second=east_north[:, 1])


def _counts(by_reason: dict[str, int]) -> Counts:
    return tuple((reason, n) for reason, n in by_reason.items() if n and not math.isnan(n))
