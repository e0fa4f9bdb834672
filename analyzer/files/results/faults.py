"""What keeps a result that is whole by its format from being shown: unknown names, places beyond all bounds."""

import math
from collections.abc import Iterator

import numpy as np

from analyzer.errors import quoted
from analyzer.model.account import ACTIVITIES, FAULT_CAUSES, OTHER_CAUSES
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import PHASES
from analyzer.model.result import RunResult

MOST_M = 10_000.0
"""Our choice: five times as far from the drill as a track may lie. Steps along a line grow in number with it."""
MOST_S = 1_000_000.0
"""Our choice: eleven days, far more than any practice."""
STEEPEST_DEG = 89.0


def result_faults(result: RunResult) -> Iterator[tuple[str, str]]:
    """Yield place and words of what keeps a result from being shown."""
    yield from _unlikely(result)
    if len(result.path.time_s) == 0 or not np.isfinite(result.path.time_s).all():
        yield "path.time_s", "the result is damaged (the path has no times)"
    if not result.duration_s > 0.0:
        yield "run.duration_s", f"the result is damaged (the run lasts {result.duration_s} s)"
    if not all(math.isfinite(knot.range_m + knot.pace_mps) for knot in result.rules.pace):
        yield "scores.rules.pace", "the result is damaged (a pace has no number)"
    rows = {
        "phases": [(row.phase, row.start_s, row.end_s) for row in result.phases],
        "account": [(row.phase, 0.0, 0.0) for row in result.account],
        "timeline": [(row.phase, row.from_s, row.to_s) for row in result.timeline],
        "findings": [(row.phase, row.from_s, row.to_s) for row in result.findings],
    }
    for part, spans in rows.items():
        for number, (phase, from_s, to_s) in enumerate(spans):
            if phase not in PHASES:
                yield f"{part}[{number}].phase", f"the result is damaged (unknown phase {quoted(phase)})"
            if not (math.isfinite(from_s) and math.isfinite(to_s)):
                yield f"{part}[{number}]", "the result is damaged (it has no times)"
    names = (
        ("account", "cause", [row.cause for row in result.account], (*FAULT_CAUSES, *OTHER_CAUSES)),
        ("timeline", "activity", [row.activity for row in result.timeline], ACTIVITIES),
    )
    for part, key, said, known in names:
        for number, name in enumerate(said):
            if name not in known:
                yield f"{part}[{number}].{key}", f"the result is damaged (unknown {key} {quoted(name)})"
    for number, item in enumerate(result.transmitters):
        if not all(map(math.isfinite, (item.east_m, item.north_m, item.sigma_m))):
            yield f"transmitters[{number}]", "the result is damaged (it has no place)"


def _unlikely(result: RunResult) -> Iterator[tuple[str, str]]:
    """Yield what lies beyond all bounds; NaN stands for what is not known and is within them."""
    angle_deg, aspect_deg = result.slope
    if not (abs(angle_deg) <= STEEPEST_DEG and math.isfinite(aspect_deg)):
        yield "slope", f"the result is damaged (a slope of {angle_deg:g} degrees that falls to {aspect_deg:g} degrees)"
    table, nowhere = result.path, np.empty(0)
    metres = {f"path.{key}": getattr(table, key) for key in ("east_m", "north_m", "sigma_m", "range_m")}
    metres["area.corners_m"] = nowhere if result.corners_m is None else result.corners_m
    metres |= {f"lines[{number}].points_m": line.points_m for number, line in enumerate(result.lines)}
    places = [(item.east_m, item.north_m, item.sigma_m) for item in result.transmitters]
    metres |= {f"transmitters[{number}]": np.array(place) for number, place in enumerate(places)}
    for place, values in metres.items():
        yield from _beyond(place, values, MOST_M, "m")
    yield from _beyond("path.time_s", table.time_s, MOST_S, "s")
    yield from _beyond("run.duration_s", np.array([result.duration_s]), MOST_S, "s")
    for number, row in enumerate(result.account):
        cost = row.seconds
        yield from _beyond(f"account[{number}].seconds", np.array([cost.value, cost.low, cost.high]), MOST_S, "s")
    for number, done in enumerate(result.timeline):
        yield from _beyond(f"timeline[{number}]", np.array([done.from_s, done.to_s, done.seconds]), MOST_S, "s")


def _beyond(place: str, values: FloatArray, most: float, unit: str) -> Iterator[tuple[str, str]]:
    far = np.abs(values) > most
    if far.any():
        yield place, f"the result is damaged ({values[far][0]:g} {unit} is more than {most:g} {unit})"
