"""truth.json: the truth of a run in the frame of the files (horizontal metres from the drill's origin)."""

import dataclasses
import json
import math
from typing import Any

import numpy as np

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.bracketing import TrueLeg
from analyzer.lab.simulate.motion import STEP_S
from analyzer.lab.simulate.truth import FORMAT, TrueSearch, Truth
from analyzer.lab.simulate.world import Source

PATH_STEP_S = 0.2


def truth_text(truth: Truth, plane: SlopePlane, *, step_s: float = PATH_STEP_S) -> str:
    """Return truth.json, a line per key; the path is thinned to one point per `step_s` seconds."""
    values = truth_values(truth, plane, step_s=step_s)
    lines = [f"{json.dumps(key)}: {json.dumps(value, allow_nan=False)}" for key, value in values.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def truth_values(truth: Truth, plane: SlopePlane, *, step_s: float = PATH_STEP_S) -> dict[str, Any]:
    """Return the truth as plain values; what is not defined is None."""
    rows = slice(None, None, max(1, round(step_s / STEP_S)))
    practice = [_rounded(dataclasses.asdict(one)) for one in truth.practice]
    return {
        "format": FORMAT,
        "seed": truth.seed,
        "faults": [_rounded(dataclasses.asdict(f)) for f in truth.faults],
        "clock_offset_s": truth.clock_offset_s,
        "reading_scale": round(truth.reading_scale, 5),
        "reception_m": round(truth.reception_m, 2),
        "noise": {name: _round(value) for name, value in truth.noise},
        "transmitters": [_source(s, plane) for s in truth.sources],
        "phases": [_rounded(dataclasses.asdict(p)) for p in truth.phases],
        "searches": [_search(s, plane) for s in truth.searches],
        **({"practice": practice} if practice else {}),
        "time_s": _column(truth.time_s[rows], 2),
        "east_m": _column(truth.east_m[rows], 3),
        "north_m": _column(truth.north_m[rows], 3),
        "height_m": _column(truth.height_m[rows], 2),
    }


def _column(values: np.ndarray, decimals: int) -> list[float]:
    return [round(float(v), decimals) for v in values]


def _round(value: Any) -> Any:
    if not isinstance(value, float):
        return value
    return round(float(value), 4) if math.isfinite(value) else None


def _rounded(values: dict[str, Any]) -> dict[str, Any]:
    return {name: _round(value) for name, value in values.items()}


def _point(point: tuple[float, float], plane: SlopePlane) -> dict[str, float]:
    east, north = plane.to_horizontal(point)
    return {"east_m": round(float(east), 3), "north_m": round(float(north), 3)}


def _source(source: Source, plane: SlopePlane) -> dict[str, Any]:
    bearing, tilt = plane.axis_angles(source.axis)
    return {
        "id": source.id,
        **_point((source.x, source.y), plane),
        "depth_m": source.depth_m,
        "axis_bearing_deg": round(bearing, 2),
        "axis_tilt_deg": round(tilt, 2),
    }


def _leg(leg: TrueLeg, plane: SlopePlane) -> dict[str, Any]:
    a, b = _point(leg.from_m, plane), _point(leg.to_m, plane)
    return {
        "line": leg.line,
        "from_s": round(leg.from_s, 2),
        "to_s": round(leg.to_s, 2),
        "length_m": round(math.dist(leg.from_m, leg.to_m), 3),
        "past_m": round(leg.past_m, 3),
        "from_east_m": a["east_m"],
        "from_north_m": a["north_m"],
        "to_east_m": b["east_m"],
        "to_north_m": b["north_m"],
    }


def _search(s: TrueSearch, plane: SlopePlane) -> dict[str, Any]:
    coarse = {
        "acquired": _point(s.acquired_m, plane),
        "walked_m": s.coarse_walked_m,
        "field_line_m": s.field_line_m,
        "path_ratio": s.path_ratio,
        "wrong_way_m": s.wrong_way_m,
        "standing_s": s.standing_s,
        "speed_at_10_m": s.speed_at_10_m,
        "speed_at_3_m": s.speed_at_3_m,
    }
    fine = {
        "crossing_angle_deg": s.crossing_angle_deg,
        "reach_m": s.reach_m,
        "overshoot_m": s.overshoot_m,
        "lowest_reading_m": s.lowest_reading_m,
        "ended_on_lowest_m": s.ended_on_lowest_m,
        "final_offset_m": s.final_offset_m,
    }
    return {
        "transmitter": s.transmitter,
        "coarse": {
            **_rounded(coarse),
            "wrong_way_events": [_rounded(dataclasses.asdict(e)) for e in s.wrong_way],
            "stops": [{"from_s": round(a, 2), "to_s": round(b, 2)} for a, b in s.stops],
        },
        "fine": {
            **_rounded(fine),
            "arms_m": _column(np.array(s.arms_m), 3),
            "lowest": _point(s.lowest_m, plane),
            "ended": _point(s.settled_m, plane),
            "legs": [_leg(leg, plane) for leg in s.legs],
        },
        "probe_hit_s": round(s.probe_hit_s, 2),
    }
