"""The reference searcher of a result in time: its lines, walked at the paces of the rule sheet. No Dash, no files."""

from analyzer.engine.ideal.result_timing import timed_phase
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.drill import Slope
from analyzer.model.result import RunResult
from dashboard.view_models.reference_stretch import ReferenceStretch


def reference_walk(result: RunResult) -> tuple[ReferenceStretch, ...]:
    """Return the stretches of the reference searcher in the order of the run's phases.

    A phase without a reference (no area, no ideal line, or a result that does not hold its sheet's paces) has no
    stretch; where the reference searcher starts with the run it then waits until the searcher has done that phase.
    """
    plane = SlopePlane(Slope(*result.slope))
    begin_s = result.phases[0].start_s if result.phases else 0.0
    stretches = []
    for phase in result.phases:
        timed = timed_phase(result, phase, plane)
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
