"""The reference searcher of a result in time: its lines, walked at the paces of the rule sheet. No Dash, no files."""

import numpy as np

from analyzer.geo.slope_plane import SlopePlane
from analyzer.ideal.alongside import Timed, timed_coarse, timed_fine, timed_signal
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Slope
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL
from analyzer.model.result import Phase, RunResult
from dashboard.stretches import ReferenceStretch


def reference_walk(result: RunResult) -> tuple[ReferenceStretch, ...]:
    """Return the stretches of the reference searcher in the order of the run's phases.

    A phase without a reference (no area, no ideal line, or a result that does not hold its sheet's paces) has no
    stretch; where the reference searcher starts with the run it then waits until the searcher has done that phase.
    """
    plane = SlopePlane(Slope(*result.slope))
    begin_s = result.phases[0].start_s if result.phases else 0.0
    stretches = []
    for phase in result.phases:
        timed = _timed(result, phase, plane)
        if timed is None:
            begin_s = max(begin_s, phase.end_s)
            continue
        time_s, line = timed
        place = plane.to_horizontal(line)
        stretches.append(
            ReferenceStretch(phase.phase, phase.transmitter, time_s, place[:, 0], place[:, 1], begin_s, phase.start_s)
        )
        begin_s += float(time_s[-1])
    return tuple(stretches)


def _timed(result: RunResult, phase: Phase, plane: SlopePlane) -> Timed | None:
    """Return the timed line of one phase in the slope plane, None where there is no reference for it."""
    timed = _walked(result, phase, plane)
    return timed if timed is not None and len(timed[0]) and np.isfinite(timed[0]).all() else None


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
