"""Noise levels from the data: the level whose evidence (marginal likelihood, Laplace) is highest, held by a prior."""

from dataclasses import replace

import numpy as np

from analyzer.fusion.banded import factorize
from analyzer.fusion.problem import RunProblem
from analyzer.fusion.rows import Shared
from analyzer.fusion.solve import SharedPrior, Solution, solve
from analyzer.fusion.system import FIX_PATTERN, axis_prior, prior_of

WHITE_LEVELS_M = (0.15, 0.5)
MOTION_LEVELS = (0.35, 2.8)
FAST_STEP = 1.5  # ratio between neighbouring levels of the fast error
FAST_SPREAD = 0.35  # standard deviation of ln(level) between runs; our own choice


def fixes_evidence(problem: RunProblem) -> float:
    """Return the log evidence of the fixes alone, spikes left out, constants dropped."""
    prior = axis_prior(np.diff(problem.node_s), problem.noise, problem.intensity)
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
    return (
        0.5 * (explained - info * float(np.sum(fixes**2)))
        + 0.5 * count * np.log(info)
        + prior.log_det
        - factor.log_determinant()
    )


def choose_motion(problem: RunProblem) -> RunProblem:
    """Return the problem with the white level of the fixes and the intensity of the walk that the track itself asks for."""
    centred = replace(problem, fix_m=problem.fix_m - np.median(problem.fix_m, axis=0))
    base = problem.noise.white_m
    best, top = problem, fixes_evidence(centred)
    for white in WHITE_LEVELS_M:
        if white > 1.5 * base:
            noise = replace(problem.noise, white_m=white)
            value = fixes_evidence(replace(centred, noise=noise))
            if value > top + 2.0:
                best, top = replace(problem, noise=noise), value
    found = best
    for level in MOTION_LEVELS:
        value = fixes_evidence(replace(centred, noise=best.noise, intensity=best.intensity * level))
        if value > top + 2.0:
            found, top = replace(best, intensity=best.intensity * level), value
    return found


def run_evidence(solution: Solution, priors_log_det: float) -> float:
    """Return the log evidence of a one-run solution: its cost, and how tightly it is held."""
    own = np.linalg.slogdet(solution.own_information[0])[1] + np.linalg.slogdet(solution.shared_information)[1]
    return -solution.cost - 0.5 * (solution.systems[0].factor.log_determinant() + float(own)) + priors_log_det


def choose_fast_level(problem: RunProblem, solution: Solution, stated: SharedPrior, shared: Shared) -> float:
    """Return the factor on the fast error of one run with the highest evidence, the drill's globals near `shared`.

    A walk over a geometric ladder from 1, then a parabola through the best three.
    """

    def level(step: int) -> float:
        factor = FAST_STEP**step
        prior = prior_of(problem, factor)
        found = solve((problem,), (prior,), solution.states, shared, stated, rounds=2)
        return run_evidence(found, prior.log_det) - 0.5 * (step * np.log(FAST_STEP) / FAST_SPREAD) ** 2

    values = {step: level(step) for step in (-1, 0, 1)}
    for _ in range(3):
        best = max(values, key=values.__getitem__)
        missing = [step for step in (best - 1, best + 1) if step not in values]
        if not missing:
            break
        values.update({step: level(step) for step in missing})
    best = max(values, key=values.__getitem__)
    if best - 1 not in values or best + 1 not in values:
        return FAST_STEP**best
    left, mid, right = values[best - 1], values[best], values[best + 1]
    bend = left - 2.0 * mid + right
    shift = 0.5 * (left - right) / bend if bend < -1e-9 else 0.0
    return float(FAST_STEP ** (best + np.clip(shift, -0.5, 0.5)))
