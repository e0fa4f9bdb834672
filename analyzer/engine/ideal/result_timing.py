"""The reference searcher of a finished result: its lines as they stand there, walked at the paces of the rule sheet.

Slope-plane metres; seconds from the start of each phase.
"""

import math

import numpy as np

from analyzer.engine.ideal.reference_timing import Timed, timed_coarse, timed_fine, timed_signal
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL
from analyzer.model.result import Phase, RunResult


def timed_phase(result: RunResult, phase: Phase, plane: SlopePlane) -> Timed | None:
    """Return the timed line of one phase in the slope plane, None where there is no reference for it.

    There is none without an area (signal search), without an ideal line, or where the result does not hold the paces
    of its rule sheet.
    """
    timed = _walked(result, phase, plane)
    return timed if timed is not None and len(timed[0]) and np.isfinite(timed[0]).all() else None


def reference_s(result: RunResult, phase: Phase, plane: SlopePlane) -> float | None:
    """Return the seconds that the reference searcher spends in a phase, None where there is no reference for it."""
    if phase.phase == PINPOINT:
        seconds = result.rules.pinpoint_reference_s
        return seconds if math.isfinite(seconds) else None
    timed = timed_phase(result, phase, plane)
    return None if timed is None else float(timed[0][-1])


def _walked(result: RunResult, phase: Phase, plane: SlopePlane) -> Timed | None:
    place = next(((t.east_m, t.north_m) for t in result.transmitters if t.id == phase.transmitter), None)
    kind = {SIGNAL: "strips", COARSE: "field_line", FINE: "bracket", PINPOINT: "bracket"}[phase.phase]
    line = _line(result, kind, phase.transmitter, plane)
    if place is None or line is None:
        return None
    centre = plane.to_plane(np.array(place))
    if phase.phase == SIGNAL:
        return timed_signal(line, centre, _heard_m(result, phase, plane, centre), result.rules)
    if phase.phase == COARSE:
        return timed_coarse(line, centre, result.rules) if result.rules.pace else None
    if phase.phase == FINE:
        return timed_fine(line, result.rules)
    return np.array([0.0, result.rules.pinpoint_reference_s]), np.vstack([line[-1], line[-1]])


def _line(result: RunResult, kind: str, transmitter: str, plane: SlopePlane) -> FloatArray | None:
    """Return a line in the slope plane; lines that belong to no transmitter count for all."""
    for line in result.lines:
        if line.kind == kind and line.transmitter in (transmitter, "") and len(line.points_m) > 1:
            return plane.to_plane(line.points_m)
    return None


def _heard_m(result: RunResult, phase: Phase, plane: SlopePlane, centre: FloatArray) -> float:
    """Return the range at which this searcher acquired the signal; the reference searcher has the same receiver."""
    path = result.path
    at = [np.interp(phase.end_s, path.time_s, column) for column in (path.east_m, path.north_m)]
    return float(np.linalg.norm(plane.to_plane(np.array(at)) - centre))
