"""The fused paths of all runs of a drill, which share its transmitters."""

from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np

from analyzer.engine.fusion.decimated import filled
from analyzer.engine.fusion.draws import globals_covariance, mixed_worlds, path_sigma, spread_sigma, widened
from analyzer.engine.fusion.evidence import choose_moving_level, finer_than_stated
from analyzer.engine.fusion.posterior_modes import PosteriorMode, run_modes, soft_fits, weigh, worth_keeping
from analyzer.engine.fusion.problem import AXIS_STATES, P, RunProblem
from analyzer.engine.fusion.reading_doubts import (
    NO_DOUBTS,
    NO_WEIGHT,
    Doubts,
    doubts_again,
    doubts_of,
    grown_doubts,
    with_doubted,
    without_doubted,
)
from analyzer.engine.fusion.rows import reading_residuals, robust_weight
from analyzer.engine.fusion.search_each import look_at_each, other_modes
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.solve import Solution, solve, solve_each, view, without
from analyzer.engine.fusion.start import FusionSettings, Start, axis_starts, start_run, stated_shared
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import fix_weights, prior_of
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.path import FAR_SIGMAS, USABLE_WEIGHT, FixUse, FusedPath, UsedReadings
from analyzer.model.recording import Recording, Track
from analyzer.physics.recorder_noise import fix_noise

JOINT_ROUNDS, GAIN_PER_RUN = 8, 0.05
EACH_ROUNDS = 30  # of the joint fit that begins at parts put together, not at a fit of the whole; our choice
MANY = 6  # transmitters from which each is looked for in its own time; our choice: five at once still take seconds
MODEL_DOUBT = 1.07  # what no model of consumer fixes and of people holds, measured on simulated runs of two kinds
LEVEL_BELIEF = 10.0  # readings' worth of trust in the assumed reading noise
LEVEL_RANGE = (0.8, 3.0)
LEAST_READINGS = 2  # a single one shows neither that it is right nor that it is wrong


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """What the search on the decimated copies found: modes per run, best first, and the joint fit."""

    found_modes: list[list[PosteriorMode]]
    joint: Solution


def fuse_drill(
    recordings: list[Recording], drill: Drill, plane: SlopePlane, settings: FusionSettings
) -> list[FusedPath | AnalyzerError]:
    """Return the fused path of each run, or the error that kept a run out; the other runs are unharmed.

    Where stretches of a log fit no path, all are fitted without them: twice to find which readings they are, and once
    for good. A run that the first fit could place is not lost by it.
    """
    first = _fuse(recordings, drill, plane, settings)
    doubts = [doubts_of(path) if isinstance(path, FusedPath) else NO_DOUBTS for path in first]
    if not any(found for found, _ in doubts):
        return first

    def without_readings(doubts: list[Doubts]) -> list[FusedPath | AnalyzerError]:
        left = [without_doubted(r, m) if found else r for r, (found, m) in zip(recordings, doubts, strict=True)]
        return _fuse(left, drill, plane, settings)

    narrow, wide = without_readings(doubts), without_readings(grown_doubts(doubts, first))
    for i, before in enumerate(first):
        if doubts[i][0] and isinstance(before, FusedPath):
            found = [path for path in (narrow[i], wide[i]) if isinstance(path, FusedPath)]
            doubts[i] = doubts_again(found, before)
    if not any(found for found, _ in doubts):
        return first
    last = without_readings(doubts)
    return [
        with_doubted(now, before, *own) if isinstance(now, FusedPath) and isinstance(before, FusedPath) else before
        for now, before, own in zip(last, first, doubts, strict=True)
    ]


def _fuse(
    recordings: list[Recording], drill: Drill, plane: SlopePlane, settings: FusionSettings
) -> list[FusedPath | AnalyzerError]:
    stated, given = stated_shared(drill, plane)
    shared = DrillParameters(stated.transmitter_m, stated.axis)
    out: list[FusedPath | AnalyzerError | None] = [None] * len(recordings)
    starts: list[Start] = []
    for i, recording in enumerate(recordings):
        try:
            starts.append(start_run(recording, drill, plane, shared, settings))
        except AnalyzerError as error:
            out[i] = error
    if starts:
        found = fits(starts, shared, stated, given)
        paths = (_path(start, drill, modes, i, given, settings) for i, (start, modes) in enumerate(found))
        return [item if item is not None else next(paths) for item in out]
    return [item for item in out if item is not None]


def fits(
    starts: list[Start], shared: DrillParameters, stated: SharedPrior, given: FloatArray
) -> list[tuple[Start, list[tuple[float, Solution]]]]:
    """Return each run with its noise levels set, and its modes with their shares of the posterior, largest first."""
    search = _search if len(given) < MANY else _search_each
    found = search(starts, axis_starts(starts, shared, given), shared, stated)
    decimated = tuple(s.decimated for s in starts)
    helds = [without(found.joint, decimated, i, stated) for i in range(len(starts))]
    starts = [_calibrated(s, found.joint.states[i], found.joint, helds[i]) for i, s in enumerate(starts)]
    weighed = [
        weigh(
            s.decimated,
            [PosteriorMode(found.joint.states[i], found.joint.shared, 0.0), *found.found_modes[i]],
            helds[i],
        )
        for i, s in enumerate(starts)
    ]
    first = tuple(filled(s.problem, s.state, s.decimated, w[0][1].state) for s, w in zip(starts, weighed, strict=True))
    problems = tuple(s.problem for s in starts)
    world = weighed[0][0][1].shared if len(starts) == 1 else found.joint.shared
    joint = solve(problems, tuple(prior_of(p) for p in problems), first, world, stated, **_effort(problems))
    out = []
    for i, (start, shares) in enumerate(zip(starts, weighed, strict=True)):
        modes = [view(joint, i), *_alone(start, [m for _, m in shares[1:]], without(joint, problems, i, stated))]
        out.append((start, [(s, f) for (s, _), f in zip(shares, modes, strict=True)]))
    return out


def _effort(problems: tuple[RunProblem, ...]) -> dict[str, Any]:
    """Return how long a joint fit is worth going on: a gain that no figure of any run would show is none."""
    return {"rounds": JOINT_ROUNDS, "tolerance": GAIN_PER_RUN * len(problems)}


def _alone(start: Start, modes: list[PosteriorMode], held: SharedPrior) -> list[Solution]:
    """Return the fits on all nodes from modes found on few."""
    full = start.problem
    starts = [((filled(full, start.state, start.decimated, m.state),), m.shared) for m in modes]
    return solve_each((full,), (prior_of(full),), starts, held, rounds=3)


def _search(
    starts: list[Start], options: list[list[FloatArray]], shared: DrillParameters, stated: SharedPrior
) -> _Found:
    """Return the best joint mode on the decimated copies and every run's own modes. `options`: axes per transmitter.

    The first transmitter's axes are tried with the best guess of all others, then those of the next with what was best
    so far: the work grows with the number of transmitters and not with their combinations.
    """
    axes = np.array([own[0] for own in options])
    tried: list[list[list[Solution]]] = []
    best = 0
    for k, own in enumerate(options):
        states = [s.decimated_state for s in starts] if k == 0 else [run[0].states[0] for run in tried[best]]
        worlds = [
            DrillParameters(shared.transmitter_m, np.where(np.arange(len(axes))[:, None] == k, axis, axes))
            for axis in (own if k == 0 else own[1:])
        ]
        only = None if k == 0 else k
        by_run = [run_modes(s.decimated, x, worlds, stated, only) for s, x in zip(starts, states, strict=True)]
        tried += [[modes[a] for modes in by_run] for a in range(len(worlds))]
        before, best = best, min(range(len(tried)), key=lambda i: sum(run[0].cost for run in tried[i]))
        if k == 0 or best != before:
            axes = worlds[best - (len(tried) - len(worlds))].axis
    return _joint(starts, tried, best, stated)


def _joint(starts: list[Start], tried: list[list[list[Solution]]], which: int, stated: SharedPrior) -> _Found:
    """Return the fit of all runs together from the best of what was `tried`, and the modes that each run may have."""
    best = tried[which]
    surest = min((run[0] for run in best), key=lambda m: float(np.trace(np.linalg.inv(m.shared_information))))
    problems = tuple(s.decimated for s in starts)
    priors = tuple(prior_of(p) for p in problems)
    first = tuple(run[0].states[0] for run in best)
    joint = solve(problems, priors, first, surest.shared, stated, **_effort(problems))
    # A run alone may have its antenna either way; with others the drill's best axis stands.
    pools = [
        list(chain.from_iterable(modes[i] for modes in tried)) if len(starts) == 1 else best[i]
        for i in range(len(starts))
    ]
    return _Found(found_modes=[worth_keeping(pool) for pool in pools], joint=joint)


def _search_each(
    starts: list[Start], options: list[list[FloatArray]], shared: DrillParameters, stated: SharedPrior
) -> _Found:
    """Return what `_search` returns, each transmitter looked for in its own time: for many transmitters."""
    problems = tuple(s.decimated for s in starts)
    world = DrillParameters(shared.transmitter_m, np.array([own[0] for own in options]))
    priors, effort = tuple(prior_of(p) for p in problems), _effort(problems) | {"rounds": EACH_ROUNDS}
    states = tuple(soft_fits(s.decimated, s.decimated_state, [world], stated)[0].states[0] for s in starts)
    each = look_at_each(problems, states, options, world, stated)
    joint = solve(problems, priors, each.states, each.shared, stated, **effort)
    alone = len(starts) == 1
    return _Found([other_modes(each, i, joint, any_axis=alone) for i in range(len(starts))], joint)


def _calibrated(start: Start, state: RunState, joint: Solution, stated: SharedPrior) -> Start:
    """Return the start with noise levels set by the data: readings by their residuals, the fast error by evidence."""
    problem = start.problem
    if problem.readings is not None:
        residual, information = reading_residuals(start.decimated, state, joint.shared)
        weight = robust_weight(residual, information, np.ones(residual.size, bool)) * (information > 0)
        spread = float(np.sum(weight * residual**2 * information)) + LEVEL_BELIEF
        ratio = spread / (max(int(np.count_nonzero(weight)) - 8, 1) + LEVEL_BELIEF)
        sigma = problem.readings.sigma * float(np.clip(np.sqrt(ratio), *LEVEL_RANGE))
        start = start.with_levels(replace(problem, readings=replace(problem.readings, sigma=sigma)))
    if start.problem.readings is None and not len(problem.anchors.over):
        return start
    own = replace(joint, states=(filled(start.problem, start.state, start.decimated, state),))
    finer = finer_than_stated(start.problem, own, stated)
    if finer is not None:
        return start.with_levels(finer)
    factor = choose_moving_level(start.decimated, replace(joint, states=(state,)), stated, joint.shared)
    return start.with_levels(replace(start.problem, noise=start.problem.noise.with_moving_error(factor)))


def _path(
    start: Start,
    drill: Drill,
    found_modes: list[tuple[float, Solution]],
    run: int,
    given: FloatArray,
    settings: FusionSettings,
) -> FusedPath:
    """Return the fused path: the likeliest mode, with the spread within and between all modes."""
    problem, solution = start.problem, found_modes[0][1]
    covariances = [globals_covariance(s, 0) for _, s in found_modes]
    sigmas = [path_sigma(s, 0, c) for (_, s), c in zip(found_modes, covariances, strict=True)]
    draws = mixed_worlds(found_modes, covariances, np.random.default_rng([settings.seed, run]), settings.draws)
    doubt = 1.0 if problem.survey_grade else MODEL_DOUBT
    used, height = _used(problem, solution, start.recording.info.carry_height_m)
    log = start.recording.readings
    refused = 0 if log is None or used is not None else log.time_s.size  # nobody can have walked so
    set_aside = refused if used is None else int(np.count_nonzero(used.weight <= USABLE_WEIGHT))
    if used is not None and len(used.time_s) - set_aside < LEAST_READINGS:
        used = None  # a log that fits the track nowhere has told nothing, and nothing is said to rest on it
    source = "given" if np.all(given) else ("estimated" if used is not None else "unknown")
    place = np.diag(covariances[0])[2 : 2 + 2 * len(given)].reshape(-1, 2)
    return FusedPath(
        time_s=problem.node_s,
        sigma_m=doubt * spread_sigma(found_modes, sigmas),
        height_m=height,
        draws=widened(draws, doubt),
        readings=used,
        transmitter_ids=tuple(t.id for t in drill.transmitters),
        depth_m=problem.depth_m,
        transmitter_sigma_m=np.sqrt(np.mean(place, axis=1)),
        axis_source=source,
        antennas=problem.antennas,
        survey_grade=problem.survey_grade,
        dropped=((NO_WEIGHT, set_aside),) if set_aside else (),
        fixes=_fix_use(problem, solution, start.recording.track),
    )


def _fix_use(problem: RunProblem, solution: Solution, track: Track) -> FixUse:
    """Return what became of the fixes. The noise that the data chose is no measure of what is far: it gave way."""
    nodes = solution.states[0].nodes
    stated = np.where(np.isfinite(track.sigma_m) & (track.sigma_m > 0), track.sigma_m, np.nan)
    sigma = np.where(np.isnan(stated), fix_noise(track, survey_grade=problem.survey_grade).total_m, stated)
    off = np.linalg.norm(problem.fix_m - nodes[problem.fix_node][:, [P, AXIS_STATES + P]], axis=1)
    without_s = track.time_s[fix_weights(problem, nodes) <= USABLE_WEIGHT]
    step_s = float(np.median(np.diff(track.time_s)))
    return FixUse(len(off), tuple(without_s.tolist()), int(np.count_nonzero(off > FAR_SIGMAS * sigma)), step_s)


def _used(problem: RunProblem, solution: Solution, carry_m: float) -> tuple[UsedReadings | None, FloatArray]:
    """Return the readings on the track's clock with the trust the fit put in them, and the receiver's height (n,)."""
    height, r, state = np.full(problem.nodes, carry_m), problem.readings, solution.states[0]
    if r is None:
        return None, height
    residual, information = reading_residuals(problem, state, solution.shared)
    trust = np.minimum(robust_weight(residual, information, np.ones(residual.size, bool)), 1.0) * (information > 0)
    for low, high in r.low_spans_s + state.offset_s:
        height[(problem.node_s >= low) & (problem.node_s <= high)] = r.fine_height_m
    return UsedReadings(r.time_s + state.offset_s, np.exp(r.log_reading), r.transmitter, trust), height
