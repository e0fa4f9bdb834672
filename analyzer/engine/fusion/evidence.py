"""Noise levels from the data: the level whose evidence (marginal likelihood, Laplace) is highest, held by a prior."""

from dataclasses import replace

import numpy as np

from analyzer.engine.fusion.banded import factorize
from analyzer.engine.fusion.problem import RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.solve import Solution, solve, solve_each
from analyzer.engine.fusion.state import DrillParameters
from analyzer.engine.fusion.system import FIX_PATTERN, axis_prior, prior_of, stacked_priors
from analyzer.physics.recorder_noise import (
    CONSUMER,
    SURVEY_DEFAULT_SIGMA_M,
    SURVEY_MIXES,
    WORST_LEVEL,
    FixNoise,
    survey_noise,
)

QUICK_S = 0.3  # consumer recorders log about once a second
CARRIER_PART, CARRIER_WHITE_M = 0.1, 0.02  # carrier-smoothed fixes: the fast error is all but gone
CARRIER_WORTH = 12.0  # a walk alone seldom shows that
FINER_WORTH, FINER_ROUNDS = 10.0, 6
WORTH = 2.0  # log evidence that another level must gain
WHITE_LEVELS_M = (0.08, 0.15, 0.4, 1.0, 2.0)
STEEP = 20.0  # log evidence lost from one level of white noise to the next: further levels are not tried
NEAR_LEVELS = 3  # of white noise, at which another kind is tried
ROUGH_LEVELS = (0.5, 1.0, 2.0)
STEADY_INTENSITY = 0.02  # of whole walks, m^2/s^3: simulated ones have 0.003 (fine search) to 0.014 (coarse search)
MOTION_LEVELS = (0.35, 2.8)
SURVEY_MOTION_LEVELS = (4.0, 16.0)  # positions this good show the sway of every step
LEVEL_STEP = 1.5  # ratio between neighbouring levels of the moving error
LEVEL_SPREAD = 0.6  # standard deviation of ln(level) between runs; our own choice
LONGEST_LADDER = 5


def fixes_evidence(problem: RunProblem) -> float:
    """Return the log evidence of the fixes alone, spikes left out, constants dropped."""
    prior = axis_prior(np.diff(problem.node_s), problem.noise, problem.intensity, problem.damping)
    good = problem.fix_start_weight > 0.5
    info = 1.0 / problem.noise.white_m**2
    n = problem.nodes
    per_node = np.bincount(problem.fix_node[good], minlength=n) * info
    factor = factorize(prior.diagonal + per_node[:, None, None] * np.outer(FIX_PATTERN, FIX_PATTERN), prior.lower)
    fixes = problem.fix_m[good]
    pull = np.stack([np.bincount(problem.fix_node[good], weights=info * fixes[:, j], minlength=n) for j in (0, 1)], -1)
    rhs = (pull[:, None, :] * FIX_PATTERN[:, None]).reshape(-1, 2)
    explained = float(np.sum(rhs * factor.solve(rhs)))
    count = 2 * int(np.count_nonzero(good))
    return float(
        0.5 * (explained - info * float(np.sum(fixes**2)))
        + 0.5 * count * np.log(info)
        + prior.log_det
        - factor.log_determinant()
    )


def _value(problem: RunProblem) -> float:
    return fixes_evidence(replace(problem, fix_m=problem.fix_m - np.median(problem.fix_m, axis=0)))


def choose_noise(problem: RunProblem) -> RunProblem:
    """Return the problem with the noise of the fixes that the track itself asks for: how white, then of which kind.

    A kind is tried at the white noise found and at the levels next to it: an error that moves unsmoothly looks white to
    a model that is smooth. The walk is taken to be as steady as walks are on the whole: a looser one would pass fixes
    that wander off as a searcher who wanders.
    """
    loose = problem.intensity
    problem = problem if problem.survey_grade else replace(problem, intensity=np.full(loose.size, STEADY_INTENSITY))
    best, top = _climbed(problem, _value(problem), _whites(problem))
    levels = (*WHITE_LEVELS_M, problem.noise.white_m, best.noise.white_m)
    near = sorted(set(levels), key=lambda white: abs(np.log(white / best.noise.white_m)))[:NEAR_LEVELS]
    for noise, worth in _kinds(problem):
        for white in near if worth == WORTH else (noise.white_m,):
            trial = replace(problem, noise=replace(noise, white_m=white))
            level = _value(trial)
            if level > top + worth:
                best, top = trial, level
    return replace(best, intensity=loose)


def _climbed(problem: RunProblem, top: float, noises: list[FixNoise]) -> tuple[RunProblem, float]:
    """Return the best of a ladder of noises and its evidence; the ladder is left where it leads down steeply."""
    best = problem
    for noise in noises:
        trial = replace(problem, noise=noise)
        level = _value(trial)
        if level > top + WORTH:
            best, top = trial, level
        elif level < top - STEEP and noise.white_m > best.noise.white_m:
            break
    return best, top


def choose_motion(problem: RunProblem) -> RunProblem:
    """Return the problem with the intensity of the walk that the track itself asks for."""
    best, top = problem, _value(problem)
    for step in SURVEY_MOTION_LEVELS if problem.survey_grade else MOTION_LEVELS:
        trial = replace(problem, intensity=problem.intensity * step)
        level = _value(trial)
        if level > top + WORTH:
            best, top = trial, level
    return best


def _whites(problem: RunProblem) -> list[FixNoise]:
    """Return other shares of white noise to try: for survey-grade fixes white against smooth, else more."""
    noise = problem.noise
    if problem.survey_grade:
        sigma = noise.fast_m / SURVEY_MIXES[1][1]
        return [survey_noise(sigma, mix) for mix in SURVEY_MIXES]
    return [replace(noise, white_m=white) for white in WHITE_LEVELS_M if white > 1.5 * noise.white_m]


def _kinds(problem: RunProblem) -> list[tuple[FixNoise, float]]:
    """Return other kinds of consumer noise and the log evidence that each must gain."""
    noise = problem.noise
    if problem.survey_grade:
        return []
    worst = max(WORST_LEVEL * CONSUMER.fast_m / noise.fast_m, 1.0)  # the recorder itself may have said that it is bad
    carrier = replace(noise.with_moving_error(CARRIER_PART), white_m=min(noise.white_m, CARRIER_WHITE_M))
    return [
        (carrier, CARRIER_WORTH),
        (noise.scaled(min(2.0, worst)), WORTH),
        *((noise.scaled(min(level, worst)).rough(), WORTH) for level in ROUGH_LEVELS),
    ]


def run_evidence(solution: Solution, priors_log_det: float) -> float:
    """Return the log evidence of a one-run solution: its cost, and how tightly it is held."""
    own = np.linalg.slogdet(solution.own_information[0])[1] + np.linalg.slogdet(solution.shared_information)[1]
    return -solution.cost - 0.5 * (solution.systems[0].factor.log_determinant() + float(own)) + priors_log_det


def finer_than_stated(problem: RunProblem, solution: Solution, stated: SharedPrior) -> RunProblem | None:
    """Return the problem as survey-grade where a recorder that states no accuracy fits its readings far better so.

    Readings know the place to decimetres: fixes that agree with them that well are not from a consumer receiver.
    """
    quick = float(np.median(np.diff(problem.node_s))) <= QUICK_S
    if problem.accuracy_stated or problem.survey_grade or problem.readings is None or not quick:
        return None
    finer = choose_motion(choose_noise(replace(problem, noise=survey_noise(SURVEY_DEFAULT_SIGMA_M), survey_grade=True)))
    values = []
    for candidate in (problem, finer):
        prior = prior_of(candidate)
        found = solve((candidate,), (prior,), solution.states, solution.shared, stated, rounds=FINER_ROUNDS)
        fixes = 2 * np.count_nonzero(candidate.fix_start_weight > 0.5)
        values.append(run_evidence(found, float(prior.log_det)) - fixes * np.log(candidate.noise.white_m))
    return finer if values[1] > values[0] + FINER_WORTH else None


def choose_moving_level(problem: RunProblem, solution: Solution, stated: SharedPrior, shared: DrillParameters) -> float:
    """Return the factor on the moving error of one run, the drill's globals near `shared`.

    The levels of a geometric ladder are weighed by their evidence and a prior; the factor is the root of the mean
    square. A run tells its level to a third only, and the claims are those of the mean variance, not of the likeliest.
    """

    def valued(steps: list[int]) -> dict[int, float]:
        priors = stacked_priors([prior_of(problem, LEVEL_STEP**step) for step in steps])
        starts = [(solution.states, shared)] * len(steps)
        found = solve_each((problem,), (priors,), starts, stated, rounds=2)
        held = [0.5 * (step * np.log(LEVEL_STEP) / LEVEL_SPREAD) ** 2 for step in steps]
        log_det = np.asarray(priors.log_det).tolist()
        return {step: run_evidence(found[i], log_det[i]) - held[i] for i, step in enumerate(steps)}

    values = valued([-1, 0, 1])
    for _ in range(LONGEST_LADDER):
        best = max(values, key=values.__getitem__)
        missing = [step for step in (best - 1, best + 1) if step not in values]
        if not missing:
            break
        values.update(valued(missing))
    steps = np.array(sorted(values))
    share = np.exp([values[step] - max(values.values()) for step in steps.tolist()])
    return float(np.sqrt(np.sum(share * LEVEL_STEP ** (2.0 * steps)) / np.sum(share)))
