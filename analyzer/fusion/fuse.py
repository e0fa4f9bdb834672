"""The fused paths of all runs of a drill, which share its transmitters."""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.errors import AnalyzerError
from analyzer.fusion.clock import axis_misfits, distinct, guess_offset, sphere
from analyzer.fusion.draws import globals_covariance, mixed_worlds, path_sigma, spread_sigma
from analyzer.fusion.evidence import choose_fast_level, choose_motion, choose_white, finer_than_stated, run_evidence
from analyzer.fusion.modes import good_shifts, near_distance, near_parts, shifted
from analyzer.fusion.prepare import MotionSettings, around_hits, first_problem, intensity_of, with_readings
from analyzer.fusion.problem import AXIS_STATES, P, RunProblem, V
from analyzer.fusion.rows import RunState, Shared, reading_rows, robust_weight
from analyzer.fusion.solve import SharedPrior, Solution, solve
from analyzer.fusion.system import fixes_only, prior_of
from analyzer.geo.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.path import FusedPath, UsedReadings
from analyzer.model.recording import Recording

AXIS_GIVEN_SIGMA_RAD = np.radians(4.0)  # a bearing read off a compass; our own choice
AXIS_STARTS = 3
SOFT_STEPS_M = (2.0, 1.0, 0.5, 0.25)
FIRST_ROUNDS = 6
SIDE_STARTS = 4
SAME_M = 0.3  # answers closer than this are one
MODE_REACH, MOST_MODES = 8.0, 4  # answers whose log posterior is this near are kept, so many at most
LEAST_SHARE = 0.02
UNKNOWN_AXIS_RAD = 10.0


@dataclass(frozen=True, slots=True)
class FusionSettings:
    """Settings of the fit. `clock_reach_s`: largest clock offset that is searched for."""

    fine_radius_m: float = 3.0
    clock_reach_s: float = 90.0
    motion: MotionSettings = MotionSettings()
    draws: int = 64
    seed: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class _Start:
    """A run before the readings are fitted."""

    recording: Recording
    problem: RunProblem
    state: RunState


def stated_shared(drill: Drill, plane: SlopePlane) -> tuple[SharedPrior, FloatArray]:
    """Return what the drill file says of the transmitters, and which axes (k,) it gives."""
    place = plane.to_plane(np.array([[t.east_m, t.north_m] for t in drill.transmitters]))
    given = np.array([t.axis_bearing_deg is not None and t.axis_tilt_deg is not None for t in drill.transmitters])
    axis = np.array(
        [
            plane.axis_vector(t.axis_bearing_deg, t.axis_tilt_deg) if g else [1.0, 0.0, 0.0]
            for t, g in zip(drill.transmitters, given, strict=True)
        ]
    )
    sigma = np.array([max(t.position_sigma_m, 1e-3) for t in drill.transmitters])
    return SharedPrior(
        transmitter_m=place,
        position_sigma_m=sigma,
        axis=axis,
        axis_sigma_rad=np.where(given, AXIS_GIVEN_SIGMA_RAD, UNKNOWN_AXIS_RAD),
    ), given


def _start(recording: Recording, drill: Drill, plane: SlopePlane, shared: Shared, settings: FusionSettings) -> _Start:
    problem = choose_white(first_problem(recording, drill, plane))
    state = fixes_only(replace(problem, anchors=replace(problem.anchors)), shared)
    velocity = state.nodes[:, [V, AXIS_STATES + V]]
    problem = choose_motion(replace(problem, intensity=intensity_of(problem.node_s, velocity, settings.motion)))
    state = fixes_only(problem, shared)
    if recording.readings is None or recording.readings.time_s.size < 2:
        return _Start(recording, around_hits(problem, state.nodes[:, [V, AXIS_STATES + V]]), state)
    path = state.nodes[:, [P, AXIS_STATES + P]]

    def at(offset: float) -> FloatArray:
        t = recording.readings.time_s + offset
        return np.column_stack([np.interp(t, problem.node_s, path[:, j]) for j in (0, 1)])

    problem = with_readings(problem, recording, drill, at(0.0), shared.transmitter_m, settings.fine_radius_m)
    doubt = 0.5 if problem.survey_grade else 2.0
    offset = guess_offset(
        problem.readings,
        problem.node_s,
        path,
        shared.transmitter_m,
        problem.depth_m,
        reach_s=settings.clock_reach_s,
        place_doubt_m=doubt,
    )
    if len(drill.transmitters) > 1:
        problem = with_readings(problem, recording, drill, at(offset), shared.transmitter_m, settings.fine_radius_m)
    return _Start(recording, problem, RunState(state.nodes, state.log_scale, offset))


def axis_starts(starts: list[_Start], shared: Shared, given: FloatArray) -> list[FloatArray]:
    """Return candidate axes (k, 3) to start from: the stated ones, else the best few of a search over the half sphere."""
    axes = sphere()
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
                    s.state.offset_s,
                    s.problem.node_s,
                    s.state.nodes[:, [P, AXIS_STATES + P]],
                    shared.transmitter_m,
                    s.problem.depth_m,
                    axes,
                    s.problem.antennas,
                    place_doubt_m=0.5 if s.problem.survey_grade else 2.0,
                )
        picks.append([axes[i] for i in distinct(axes, value, AXIS_STARTS)] if np.any(value) else [shared.axis[k]])
    first = np.array([p[0] for p in picks])
    out = [first]
    for k, options in enumerate(picks):
        for other in options[1:]:
            out.append(np.where(np.arange(len(picks))[:, None] == k, other, first))
    return out


def _softened(problem: RunProblem, doubt_m: float) -> RunProblem:
    """Return the problem with readings trusted only as far as a place in doubt by `doubt_m` allows.

    Far from the answer a near reading pulls to the nearest side of its ring, which may be the wrong one; trusting the
    readings little by little lets the shape of the track decide the side.
    """
    if problem.readings is None:
        return problem
    r = problem.readings
    sigma = np.hypot(r.sigma, doubt_m / np.maximum(np.exp(r.log_reading), 1.0))
    return replace(problem, readings=replace(r, sigma=sigma))


def _soft_solve(start: _Start, shared: Shared, stated: SharedPrior) -> Solution:
    prior = (prior_of(start.problem),)
    states, world = (start.state,), shared
    for doubt_m in SOFT_STEPS_M:
        half = solve((_softened(start.problem, doubt_m),), prior, states, world, stated, rounds=2)
        states, world = half.states, half.shared
    return solve((start.problem,), prior, states, world, stated, rounds=FIRST_ROUNDS)


def run_modes(start: _Start, shared: Shared, stated: SharedPrior) -> list[Solution]:
    """Return the distinct answers of one run, best first: the soft fit, and fits from other sides of the rings."""
    problem = start.problem
    prior = (prior_of(problem),)
    found = [_soft_solve(start, shared, stated)]
    for part in near_parts(problem):
        best = min(found, key=lambda s: s.cost)
        for shift in good_shifts(problem, best.states[0], best.shared, part, SIDE_STARTS):
            state = shifted(problem, best.states[0], part, shift)
            trial = solve((problem,), prior, (state,), best.shared, stated, rounds=FIRST_ROUNDS)
            near = [s for s in found if near_distance(problem, s.states[0], trial.states[0]) < SAME_M]
            if not near:
                found.append(trial)
            elif trial.cost < near[0].cost:
                found[found.index(near[0])] = trial
    return sorted(found, key=lambda s: s.cost)


def _best(
    starts: list[_Start], axes: list[FloatArray], shared: Shared, stated: SharedPrior
) -> tuple[Solution, list[list[RunState]]]:
    """Return the best joint answer, and the states of every run's distinct answers, best first."""
    problems = tuple(s.problem for s in starts)
    priors = tuple(prior_of(p) for p in problems)
    found = []
    for axis in axes:
        modes = [run_modes(s, Shared(shared.transmitter_m, axis), stated) for s in starts]
        found.append((sum(m[0].cost for m in modes), modes))
    modes = min(found, key=lambda pair: pair[0])[1]
    surest = min((m[0] for m in modes), key=lambda m: float(np.trace(np.linalg.inv(m.shared_information))))
    joint = solve(problems, priors, tuple(m[0].states[0] for m in modes), surest.shared, stated)
    near = [[m.states[0] for m in run if m.cost < run[0].cost + MODE_REACH][:MOST_MODES] for run in modes]
    return joint, near


def _weighed(
    start: _Start, states: list[RunState], joint: Solution, run: int, stated: SharedPrior
) -> list[tuple[float, Solution]]:
    """Return the answers of one run with their shares of the posterior (Laplace), largest first.

    The drill's globals are held where all runs together put them.
    """
    prior = prior_of(start.problem)
    others = joint.shared_information if len(joint.states) > 1 else None
    held = stated if others is None else _held(joint, stated)
    found: list[tuple[float, Solution]] = []
    for state in [joint.states[run], *states]:
        trial = solve((start.problem,), (prior,), (state,), joint.shared, held, rounds=FIRST_ROUNDS)
        if all(near_distance(start.problem, s.states[0], trial.states[0]) > SAME_M for _, s in found):
            found.append((run_evidence(trial, prior.log_det), trial))
    top = max(value for value, _ in found)
    share = np.exp([value - top for value, _ in found])
    share /= np.sum(share)
    order = np.argsort(-share)
    return [(float(share[i]), found[i][1]) for i in order if share[i] > LEAST_SHARE]


def _held(joint: Solution, stated: SharedPrior) -> SharedPrior:
    """Return the drill's globals as known from all runs together."""
    sigma = np.sqrt(np.diag(np.linalg.inv(joint.shared_information)))
    k = len(stated.position_sigma_m)
    place = np.sqrt(np.mean(sigma[: 2 * k].reshape(k, 2) ** 2, axis=1))
    turn = np.sqrt(np.mean(sigma[2 * k :].reshape(k, 2) ** 2, axis=1))
    return SharedPrior(joint.shared.transmitter_m, place, joint.shared.axis, turn)


def fuse_drill(
    recordings: list[Recording], drill: Drill, plane: SlopePlane, settings: FusionSettings
) -> list[FusedPath | AnalyzerError]:
    """Return the fused path of each run, or the error that kept a run out; the other runs are unharmed."""
    stated, given = stated_shared(drill, plane)
    shared = Shared(stated.transmitter_m, stated.axis)
    out: list[FusedPath | AnalyzerError | None] = [None] * len(recordings)
    starts: list[_Start] = []
    for i, recording in enumerate(recordings):
        try:
            starts.append(_start(recording, drill, plane, shared, settings))
        except AnalyzerError as error:
            out[i] = error
    if starts:
        paths = iter(_fused(starts, drill, shared, stated, given, settings))
        out = [item if item is not None else next(paths) for item in out]
    return out


def _fused(
    starts: list[_Start],
    drill: Drill,
    shared: Shared,
    stated: SharedPrior,
    given: FloatArray,
    settings: FusionSettings,
) -> list[FusedPath]:
    solution, others = _best(starts, axis_starts(starts, shared, given), shared, stated)
    starts = [_levelled(s, solution, i, stated) for i, s in enumerate(starts)]
    problems = tuple(s.problem for s in starts)
    priors = tuple(prior_of(p) for p in problems)
    solution = solve(problems, priors, solution.states, solution.shared, stated)
    answers = [_weighed(s, others[i], solution, i, stated) for i, s in enumerate(starts)]
    return [_path(s, drill, answers[i], i, given, settings) for i, s in enumerate(starts)]


def _levelled(start: _Start, solution: Solution, run: int, stated: SharedPrior) -> _Start:
    """Return the start with its noise levels set by the data: readings by their residuals, smooth errors by evidence."""
    problem, state = start.problem, solution.states[run]
    if problem.readings is not None:
        rows = reading_rows(problem, state, solution.shared)
        weight = robust_weight(rows.residual, rows.information, rows.robust) * (rows.information > 0)
        ratio = (np.sum(weight * rows.residual**2 * rows.information) + 10.0) / (
            max(np.count_nonzero(weight) - 8, 1) + 10.0
        )
        problem = replace(
            problem,
            readings=replace(problem.readings, sigma=problem.readings.sigma * float(np.clip(np.sqrt(ratio), 0.6, 3.0))),
        )
    if problem.readings is not None or len(problem.anchors.over):
        own = replace(solution, states=(state,))
        finer = finer_than_stated(problem, own, stated)
        if finer is not None:
            return replace(start, problem=finer, state=state)
        factor = choose_fast_level(problem, own, stated, solution.shared)
        problem = replace(problem, noise=problem.noise.quickened(factor))
    return replace(start, problem=problem, state=state)


def _path(
    start: _Start,
    drill: Drill,
    answers: list[tuple[float, Solution]],
    run: int,
    given: FloatArray,
    settings: FusionSettings,
) -> FusedPath:
    """Return the fused path: the likeliest answer, with the spread within and between all answers."""
    problem, solution = start.problem, answers[0][1]
    state = solution.states[0]
    covariances = [globals_covariance(s, 0) for _, s in answers]
    sigmas = [path_sigma(s, 0, c) for (_, s), c in zip(answers, covariances, strict=True)]
    rng = np.random.default_rng([settings.seed, run])
    draws = mixed_worlds([(share, s) for share, s in answers], covariances, rng, settings.draws)
    used, height = None, np.full(problem.nodes, start.recording.info.carry_height_m)
    if problem.readings is not None:
        r = problem.readings
        rows = reading_rows(problem, state, solution.shared)
        trust = np.minimum(robust_weight(rows.residual, rows.information, rows.robust), 1.0)
        used = UsedReadings(
            time_s=r.time_s + state.offset_s,
            reading_m=np.exp(r.log_reading),
            transmitter=r.transmitter,
            weight=trust * (rows.information > 0),
        )
        for low, high in r.low_spans_s + state.offset_s:
            height[(problem.node_s >= low) & (problem.node_s <= high)] = r.fine_height_m
    source = "given" if np.all(given) else ("estimated" if used is not None else "unknown")
    place = np.diag(covariances[0])[2 : 2 + 2 * len(given)].reshape(-1, 2)
    return FusedPath(
        time_s=problem.node_s,
        sigma_m=spread_sigma(answers, sigmas),
        height_m=height,
        draws=draws,
        readings=used,
        transmitter_ids=tuple(t.id for t in drill.transmitters),
        depth_m=problem.depth_m,
        transmitter_sigma_m=np.sqrt(np.mean(place, axis=1)),
        axis_source=source,
        antennas=problem.antennas,
        survey_grade=problem.survey_grade,
    )
