"""What the drill file states, and a run before its readings are fitted: first path, clock offset, axes to try."""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.clock import axis_misfits, distinct, guess_offset
from analyzer.engine.fusion.decimated import decimated_nodes, decimated_problem
from analyzer.engine.fusion.evidence import choose_motion, choose_noise
from analyzer.engine.fusion.pointing import pointing_of
from analyzer.engine.fusion.prepare import (
    MotionSettings,
    anchors_of,
    around_hits,
    calibrated_near,
    first_problem,
    intensity_of,
    on_foot,
    with_readings,
)
from analyzer.engine.fusion.problem import AXIS_STATES, P, RunProblem, V, with_gaps
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import fixes_only
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.recording import Recording, on_track_clock
from analyzer.model.settings import CLOCK_REACH_S, DRAWS, SEED
from analyzer.physics.field_lines import even_axes

AXIS_GIVEN_SIGMA_RAD = np.radians(4.0)  # a bearing read off a compass; our own choice
CANDIDATE_AXES = 72  # 20 degrees apart and less: a fit from the nearest finds its way
OTHER_WAY_ROUND = (1.0, -1.0, 1.0)  # as even, and the starts from which every result so far was fitted
AXIS_STARTS = 3
UNKNOWN_AXIS_RAD = 10.0
CONSUMER_DOUBT_M, SURVEY_DOUBT_M = 2.0, 0.5  # of a path from fixes alone


@dataclass(frozen=True, slots=True)
class FusionSettings:
    """Settings of the fit. `clock_reach_s`: largest clock offset that is searched for."""

    fine_radius_m: float = 3.0
    clock_reach_s: float = CLOCK_REACH_S
    motion: MotionSettings = MotionSettings()  # noqa: RUF009 - a frozen value
    draws: int = DRAWS
    seed: int = SEED


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """A run before its readings are fitted, and its decimated copy for searching."""

    recording: Recording
    problem: RunProblem
    state: RunState
    decimated: RunProblem
    decimated_state: RunState

    def with_levels(self, full: RunProblem) -> "Start":
        """Return the start with the noise levels of `full` in both copies."""
        decimated = replace(self.decimated, noise=full.noise, readings=full.readings, survey_grade=full.survey_grade)
        return replace(self, problem=full, decimated=decimated)


def stated_shared(drill: Drill, plane: SlopePlane) -> tuple[SharedPrior, FloatArray]:
    """Return what the drill file says of the transmitters, and which axes (k,) it gives."""
    place = plane.to_plane(np.array([[t.east_m, t.north_m] for t in drill.transmitters]))
    given = np.array([t.axis_bearing_deg is not None and t.axis_tilt_deg is not None for t in drill.transmitters])
    axis = np.array(
        [
            [1.0, 0.0, 0.0]
            if t.axis_bearing_deg is None or t.axis_tilt_deg is None
            else plane.axis_vector(t.axis_bearing_deg, t.axis_tilt_deg)
            for t in drill.transmitters
        ]
    )
    sigma = np.array([max(t.position_sigma_m, 1e-3) for t in drill.transmitters])
    turn = np.where(given, AXIS_GIVEN_SIGMA_RAD, UNKNOWN_AXIS_RAD)
    return SharedPrior(place, sigma, axis, turn), given


def place_doubt_m(problem: RunProblem) -> float:
    """Return how far a path from fixes alone may be off."""
    return SURVEY_DOUBT_M if problem.survey_grade else CONSUMER_DOUBT_M


def start_run(
    recording: Recording, drill: Drill, plane: SlopePlane, shared: DrillParameters, settings: FusionSettings
) -> Start:
    """Return a run with its first path from fixes alone, and a first clock offset where it has readings."""
    problem = choose_noise(first_problem(recording, drill, plane))
    state = fixes_only(problem, shared)
    velocity = state.nodes[:, [V, AXIS_STATES + V]]
    seen = intensity_of(problem.node_s, velocity, settings.motion)
    problem = choose_motion(replace(problem, intensity=with_gaps(seen, problem.damping)))
    state = fixes_only(problem, shared)
    readings = recording.readings
    if readings is None or readings.time_s.size < 2 or not on_foot(readings):
        problem = around_hits(problem, state.nodes[:, [V, AXIS_STATES + V]])
    else:
        problem, offset_s = _with_log(problem, state, recording, readings.time_s, drill, shared, settings)
        if any(mark.on_readings_clock for mark in recording.marks):
            marked = on_track_clock(recording, offset_s)
            problem = replace(problem, anchors=anchors_of(marked, drill, plane, problem.node_s))
        state = replace(state, offset_s=offset_s)
        if problem.antennas == 1:
            bearing = readings.heading_deg
            ways = plane.direction(np.nan_to_num(bearing)) + np.where(np.isfinite(bearing), 0.0, np.nan)[:, None]
            pointing = pointing_of(problem.node_s, state.nodes[:, [V, AXIS_STATES + V]], problem.log, offset_s, ways)
            problem = replace(problem, pointing=pointing)
        problem = calibrated_near(problem, offset_s)
    keep = decimated_nodes(problem, float(state.offset_s))
    return Start(recording, problem, state, decimated_problem(problem, keep), replace(state, nodes=state.nodes[keep]))


def _with_log(
    problem: RunProblem,
    state: RunState,
    recording: Recording,
    time_s: FloatArray,
    drill: Drill,
    shared: DrillParameters,
    settings: FusionSettings,
) -> tuple[RunProblem, float]:
    """Return the problem with its readings, taken at `time_s` (m,) on their clock, and a first clock offset."""
    path = state.nodes[:, [P, AXIS_STATES + P]]

    def at(offset: float) -> FloatArray:
        t = time_s + offset
        return place_at(problem.node_s, path, t)

    problem = with_readings(problem, recording, drill, at(0.0), shared.transmitter_m, settings.fine_radius_m)
    offset = guess_offset(
        problem.log,
        problem.node_s,
        path,
        shared.transmitter_m,
        problem.depth_m,
        reach_s=settings.clock_reach_s,
        place_doubt_m=place_doubt_m(problem),
        shift_sigma_m=float(np.hypot(problem.noise.fast_m, problem.noise.slow_m)),
    )
    if len(drill.transmitters) > 1:
        problem = with_readings(problem, recording, drill, at(offset), shared.transmitter_m, settings.fine_radius_m)
    return problem, offset


def axis_starts(starts: list[Start], shared: DrillParameters, given: FloatArray) -> list[list[FloatArray]]:
    """Return for each transmitter axes (3,) to start from: the stated one, else the best few of a search of the half
    sphere, best first."""
    axes = even_axes(CANDIDATE_AXES) * OTHER_WAY_ROUND
    picks: list[list[FloatArray]] = []
    for k, known in enumerate(given):
        if known:
            picks.append([shared.axis[k]])
            continue
        value = np.zeros(len(axes))
        for s in starts:
            if s.problem.readings is not None:
                value += axis_misfits(
                    s.problem.readings,
                    k,
                    float(s.state.offset_s),
                    s.problem.node_s,
                    s.state.nodes[:, [P, AXIS_STATES + P]],
                    shared.transmitter_m,
                    s.problem.depth_m,
                    axes,
                    s.problem.held,
                    place_doubt_m=place_doubt_m(s.problem),
                )
        picks.append([axes[i] for i in distinct(axes, value, AXIS_STARTS)] if np.any(value) else [shared.axis[k]])
    return picks
