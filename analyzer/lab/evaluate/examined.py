"""The examiner's runs as what the engine reads and what its results are judged by: the one place that meets it.

Its files go through the readers that a user's files go through. Its truth is taken by its own definitions and only put
into the words of the first simulator; what it does not tell is NaN.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run
from analyzer.files.names import TRUTH_FILE
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.examiner.runs import examine
from analyzer.lab.examiner.scene import Choices
from analyzer.lab.simulate.searcher import Done
from analyzer.lab.simulate.truth import TruePhase, TrueSearch, TrueWrongWay, Truth
from analyzer.lab.simulate.world import Source
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.recording import Recording

LOGGED = Choices(marks="full", cadence="pulse")
KINDS: Mapping[str, Choices] = {
    "readings": LOGGED,
    "track": replace(LOGGED, readings=False),
    "survey": replace(LOGGED, survey=True),
    "axis": replace(LOGGED, axis_given=False),
    "by_hand": replace(LOGGED, cadence="film", tick_s=1.0),
    "three": replace(LOGGED, transmitters=3),
    "three_track": replace(LOGGED, transmitters=3, readings=False),
    "two_antennas": replace(LOGGED, antennas=2),
    "one_antenna": replace(LOGGED, antennas=1),
}
"""Kinds of runs asked of the examiner. Its phones, people, displays and ground are drawn by itself."""


@dataclass(frozen=True, slots=True, eq=False)
class ExaminedRun:
    """One run of the examiner. `cost_s`: what its fault cost beside the same person without, NaN without a fault."""

    recording: Recording
    truth: Truth
    drill: Drill
    cost_s: float


def examined_run(kind: str, fault: str | None, *, seed: int, number: int) -> ExaminedRun:
    """Return a run of one of KINDS with a fault or none."""
    made = examine(replace(KINDS[kind], fault=fault or "none"), seed, number)
    drill = parse_drill_toml(made.drill_toml.encode())
    files = {name: text.encode() for name, text in made.run.files.items() if name != TRUTH_FILE}
    recording = parse_run("run-1", files, drill)
    truth = _truth(made.run.truth, SlopePlane(drill.slope), seed + number)
    return ExaminedRun(recording, truth, drill, math.nan if made.cost_s is None else made.cost_s)


def _truth(told: Mapping[str, Any], plane: SlopePlane, seed: int) -> Truth:
    time_s, east, north = (np.array(told[key], float) for key in ("time_s", "east_m", "north_m"))
    path = plane.to_plane(np.column_stack([east, north]))
    phases = tuple(_phase(p, time_s, path) for p in told["phases"])
    searches = tuple(_search(s, time_s, path) for s in told["searches"])
    offset = told["clock_offset_s"]
    return Truth(
        seed=seed,
        faults=tuple(_done(name, s) for s in told["searches"] for name in dict.fromkeys(s["planted"])),
        time_s=time_s,
        plane_m=path,
        east_m=east,
        north_m=north,
        height_m=np.array(told["height_m"], float),
        phases=phases,
        searches=searches,
        sources=tuple(_source(t, plane) for t in told["transmitters"]),
        clock_offset_s=math.nan if offset is None else offset,
        reading_scale=told["reading_scale"],
        reception_m=told["range_m"],
    )


def _at(time_s: FloatArray, path: FloatArray, t: float) -> tuple[float, float]:
    return float(np.interp(t, time_s, path[:, 0])), float(np.interp(t, time_s, path[:, 1]))


def _phase(told: Mapping[str, Any], time_s: FloatArray, path: FloatArray) -> TruePhase:
    inside = (time_s >= told["start_s"]) & (time_s <= told["end_s"])
    walked = float(np.sum(np.hypot(*np.diff(path[inside], axis=0).T)))
    return TruePhase(told["phase"], told["transmitter"], told["start_s"], told["end_s"], walked)


def _done(name: str, search: Mapping[str, Any]) -> Done:
    return Done(name, search["transmitter"], search["signal_start_s"], search["probe_hit_s"], search["planted_s"], "s")


def _source(told: Mapping[str, Any], plane: SlopePlane) -> Source:
    x, y = plane.to_plane([told["east_m"], told["north_m"]])
    a, b, c = plane.axis_vector(told["axis_bearing_deg"], told["axis_tilt_deg"])
    return Source(told["id"], float(x), float(y), told["depth_m"], (float(a), float(b), float(c)))


def _search(told: Mapping[str, Any], time_s: FloatArray, path: FloatArray) -> TrueSearch:
    ways = tuple(TrueWrongWay(w["from_s"], w["turn_s"], w["to_s"], w["rise_m"]) for w in told["wrong_way"])

    def number(key: str) -> float:
        return math.nan if told[key] is None else float(told[key])

    return TrueSearch(
        transmitter=told["transmitter"],
        acquired_m=_at(time_s, path, told["coarse_start_s"]),
        coarse_walked_m=number("walked_m"),
        field_line_m=number("field_line_m"),
        path_ratio=number("path_ratio"),
        wrong_way=ways,
        wrong_way_m=sum(w["metres"] for w in told["wrong_way"]),
        standing_s=number("standing_s"),
        stops=(),
        speed_at_10_m=number("speed_at_10_m"),
        speed_at_3_m=number("speed_at_3_m"),
        legs=(),
        crossing_angle_deg=number("crossing_angle_deg"),
        reach_m=number("reach_m"),
        arms_m=(),
        overshoot_m=number("overshoot_m"),
        lowest_reading_m=number("lowest_reading_m"),
        lowest_m=(math.nan, math.nan),
        ended_on_lowest_m=number("ended_on_lowest_m"),
        settled_m=_at(time_s, path, told["settled_s"]),
        final_offset_m=number("final_offset_m"),
        probe_hit_s=number("probe_hit_s"),
    )
