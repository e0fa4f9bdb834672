"""The truth of a simulated run: where the searcher was, what the phases were, and every figure by its definition.

Computed from the walk itself at its own step, never by what is judged with it.
"""

import itertools
import math
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from analyzer.geometry.polyline import cumulative_length, length
from analyzer.geometry.timed_path import place_at
from analyzer.lab.simulate.bracketing import TrueLeg
from analyzer.lab.simulate.motion import STANDING_MPS, STEP_S
from analyzer.lab.simulate.searcher import Done, Found, Walk
from analyzer.lab.simulate.shown import true_readings
from analyzer.lab.simulate.world import Receiver, Source, trace_line
from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.recording import Recording

FORMAT = "searchwake-truth/1"
RISE_AT_LEAST_M = 0.3
STOP_AT_LEAST_S = 1.0


@dataclass(frozen=True, slots=True)
class TruePhase:
    """One phase and the metres walked in it, in the slope plane."""

    phase: str
    transmitter: str
    start_s: float
    end_s: float
    walked_m: float


@dataclass(frozen=True, slots=True)
class TrueWrongWay:
    """The range over the surface rising: turned away at `from_s`, turned back at `turn_s`, regained at `to_s`."""

    from_s: float
    turn_s: float
    to_s: float
    metres: float


@dataclass(frozen=True, slots=True)
class TrueSearch:
    """The figures of the search for one transmitter.

    `reach_m`: half the width of the crossing line, `arms_m`: how far beyond the lowest reading each of the first three
    legs went. `lowest_m`: slope-plane point of the lowest reading (without noise) met in the fine search.
    Speeds are those at the first time the range over the surface falls to 10 and 3 m; NaN where it began closer.
    """

    transmitter: str
    acquired_m: tuple[float, float]
    coarse_walked_m: float
    field_line_m: float
    path_ratio: float
    wrong_way: tuple[TrueWrongWay, ...]
    wrong_way_m: float
    standing_s: float
    stops: tuple[tuple[float, float], ...]
    speed_at_10_m: float
    speed_at_3_m: float
    legs: tuple[TrueLeg, ...]
    crossing_angle_deg: float
    reach_m: float
    arms_m: tuple[float, ...]
    overshoot_m: float
    lowest_reading_m: float
    lowest_m: tuple[float, float]
    ended_on_lowest_m: float
    settled_m: tuple[float, float]
    final_offset_m: float
    probe_hit_s: float


@dataclass(frozen=True, slots=True)
class TruePractice:
    """What was done at one transmitter beside the walk, seconds from time zero. `probings_s`: without a hit; None: not
    noted."""

    transmitter: str
    probings_s: tuple[float, ...]
    marking_end_s: float | None = None
    dig_begin_s: float | None = None
    airway_free_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """All that is true of a run. Arrays (n,) at the walk's step; `plane_m` (n, 2) slope plane; times from time zero.

    `clock_offset_s`: to add to reading times to get track time.
    """

    seed: int
    faults: tuple[Done, ...]
    time_s: FloatArray
    plane_m: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    height_m: FloatArray
    phases: tuple[TruePhase, ...]
    searches: tuple[TrueSearch, ...]
    sources: tuple[Source, ...]
    clock_offset_s: float
    reading_scale: float
    reception_m: float
    noise: tuple[tuple[str, Any], ...] = ()
    practice: tuple[TruePractice, ...] = ()

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), plane_m=(n, 2), east_m=(n,), north_m=(n,), height_m=(n,))


class KnownRun(Protocol):
    """A run with its truth, whoever made it."""

    @property
    def recording(self) -> Recording:
        """What was recorded."""

    @property
    def truth(self) -> Truth:
        """What is true."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The walk as arrays: times, slope-plane positions, speeds, metres walked since the start."""

    time_s: FloatArray
    plane_m: FloatArray
    height_m: FloatArray
    speed_mps: FloatArray
    walked_m: FloatArray

    def rows(self, start_s: float, end_s: float) -> slice:
        """Return the rows from `start_s` up to and including the one at `end_s`."""
        return slice(int(np.searchsorted(self.time_s, start_s - 1e-9)), int(np.searchsorted(self.time_s, end_s + 1e-9)))

    def walked_between(self, start_s: float, end_s: float) -> float:
        """Return the metres walked between two times."""
        return float(np.interp(end_s, self.time_s, self.walked_m) - np.interp(start_s, self.time_s, self.walked_m))

    def at(self, t: float) -> tuple[float, float]:
        """Return the slope-plane position at a time."""
        x, y = place_at(self.time_s, self.plane_m, t)
        return float(x), float(y)


def course_of(walk: Walk) -> Course:
    """Return the walk as arrays."""
    table = np.array(walk.states)
    plane = table[:, 1:3]
    walked = cumulative_length(plane)
    return Course(table[:, 0], plane, table[:, 7], np.hypot(table[:, 3], table[:, 4]), walked)


def true_phases(walk: Walk, course: Course, first_readings: tuple[float, ...]) -> tuple[TruePhase, ...]:
    """Return the phases by their definitions, without gap or overlap, from 0 to the last probe hit."""
    phases: list[TruePhase] = []
    begin = 0.0
    for found, first in zip(walk.found, first_readings, strict=True):
        acquired = begin if found.at_once else min(first, found.radius_s)
        bounds = (begin, acquired, found.radius_s, found.fine.settled_s, found.fine.hit_s)
        names = ("signal_search", "coarse_search", "fine_search", "pinpoint")
        for name, (start, end) in zip(names, itertools.pairwise(bounds), strict=True):
            if name != "signal_search" or not found.at_once:
                phases.append(TruePhase(name, found.source.id, start, end, course.walked_between(start, end)))
        begin = found.fine.hit_s
    return tuple(phases)


def wrong_ways(
    time_s: FloatArray, range_m: FloatArray, *, at_least_m: float = RISE_AT_LEAST_M
) -> tuple[TrueWrongWay, ...]:
    """Return the stretches in which the range (n,) rises above its lowest so far by `at_least_m` and more."""
    lowest = np.minimum.accumulate(range_m)
    away = np.concatenate([[False], range_m > lowest + 1e-9, [False]])
    edges = np.flatnonzero(np.diff(away.astype(int)))
    events = []
    for begin, end in edges.reshape(-1, 2):
        turn = begin + int(np.argmax(range_m[begin:end]))
        metres = float(range_m[turn] - lowest[turn])
        if metres >= at_least_m:
            events.append(
                TrueWrongWay(
                    float(time_s[max(begin - 1, 0)]),
                    float(time_s[turn]),
                    float(time_s[min(end, len(time_s) - 1)]),
                    metres,
                )
            )
    return tuple(events)


def stops_in(
    time_s: FloatArray, speed_mps: FloatArray, *, at_least_s: float = STOP_AT_LEAST_S
) -> tuple[tuple[float, float], ...]:
    """Return (from, to) of the stretches slower than STANDING_MPS that last `at_least_s` and more."""
    still = np.concatenate([[False], speed_mps < STANDING_MPS, [False]])
    edges = np.flatnonzero(np.diff(still.astype(int))).reshape(-1, 2)
    spans = [(float(time_s[a]), float(time_s[min(b, len(time_s) - 1)])) for a, b in edges]
    return tuple((a, b) for a, b in spans if b - a >= at_least_s - 1e-9)


def true_search(
    found: Found, walk: Walk, course: Course, receiver: Receiver, phases: tuple[TruePhase, ...]
) -> TrueSearch:
    """Return the figures of one search."""
    source = found.source
    coarse = next(p for p in phases if p.transmitter == source.id and p.phase == "coarse_search")
    rows = course.rows(coarse.start_s, coarse.end_s)
    ranges = np.hypot(*(course.plane_m - (source.x, source.y)).T)
    events = wrong_ways(course.time_s[rows], ranges[rows])
    stops = stops_in(course.time_s[rows], course.speed_mps[rows])
    settings = walk.person.settings
    acquired = course.at(coarse.start_s)
    line = trace_line(source, receiver, acquired, height_m=settings.carry_height_m, radius_m=settings.fine_radius_m)
    line_m = float(length(line))
    return TrueSearch(
        transmitter=source.id,
        acquired_m=acquired,
        coarse_walked_m=coarse.walked_m,
        field_line_m=line_m,
        path_ratio=coarse.walked_m / line_m if line_m > 0.0 else math.nan,
        wrong_way=events,
        wrong_way_m=sum(e.metres for e in events),
        standing_s=sum(b - a for a, b in stops),
        stops=stops,
        speed_at_10_m=_speed_when(10.0, ranges, course, rows),
        speed_at_3_m=_speed_when(3.0, ranges, course, rows),
        **_fine_figures(found, walk, course, receiver),
    )


def _speed_when(range_m: float, ranges: FloatArray, course: Course, rows: slice) -> float:
    """Return the speed when the range first falls to `range_m` (at most 2 s after the coarse search)."""
    part = ranges[rows.start : rows.stop + round(2.0 / STEP_S)]
    below = np.flatnonzero(part <= range_m)
    return float(course.speed_mps[rows.start + below[0]]) if len(below) and below[0] > 0 else math.nan


def _fine_figures(found: Found, walk: Walk, course: Course, receiver: Receiver) -> dict[str, Any]:
    fine, source = found.fine, found.source
    readings = true_readings(walk, source, receiver)
    rows = course.rows(found.radius_s, fine.settled_s)
    lowest = rows.start + int(np.argmin(readings[rows]))
    settled = int(np.searchsorted(course.time_s, fine.settled_s - 1e-9))
    entry = course.rows(fine.legs[0].from_s, fine.legs[0].to_s)
    crossing = [leg for leg in fine.legs if leg.line == 1]
    return {
        "legs": fine.legs,
        "crossing_angle_deg": acute_angle_deg(fine.legs[0], crossing[-1]),
        "reach_m": 0.5 * math.dist(crossing[-1].from_m, crossing[-1].to_m),
        "arms_m": tuple(leg.past_m for leg in fine.legs[:3]),
        "overshoot_m": float(readings[entry][-1] - np.min(readings[entry])),
        "lowest_reading_m": float(readings[lowest]),
        "lowest_m": (float(course.plane_m[lowest, 0]), float(course.plane_m[lowest, 1])),
        "ended_on_lowest_m": float(readings[settled] - readings[lowest]),
        "settled_m": fine.settled_m,
        "final_offset_m": math.dist(fine.settled_m, (source.x, source.y)),
        "probe_hit_s": fine.hit_s,
    }


def acute_angle_deg(one: TrueLeg, other: TrueLeg) -> float:
    """Return the acute angle between two legs in the slope plane, 0..90 degrees."""
    ax, ay = one.to_m[0] - one.from_m[0], one.to_m[1] - one.from_m[1]
    bx, by = other.to_m[0] - other.from_m[0], other.to_m[1] - other.from_m[1]
    return math.degrees(math.atan2(abs(ax * by - ay * bx), abs(ax * bx + ay * by)))
