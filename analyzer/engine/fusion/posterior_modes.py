"""The modes that one run allows, and their shares of the posterior."""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.error_courses import error_courses
from analyzer.engine.fusion.evidence import run_evidence
from analyzer.engine.fusion.mode_guesses import near_distance, near_parts, shifted
from analyzer.engine.fusion.problem import RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.solve import FitStart, Solution, solve_each
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import prior_of

SOFT_STEPS_M = (2.0, 0.7)
FIRST_ROUNDS, FIRST_GAIN = 6, 0.1  # a fit that is only to be compared need not be polished
LOOK_ROUNDS, HOPELESS = 3, 20.0  # after so many rounds a start that is so much worse is given up
SIDE_STARTS = 6
SAME_M = 0.3  # modes closer than this are one
REACH, MOST = 8.0, 6  # modes whose log posterior is this near are kept, so many at most
LEAST_SHARE = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class PosteriorMode:
    """One answer of a run: its state, the drill's globals that go with it, and its log posterior or evidence."""

    state: RunState
    shared: DrillParameters
    value: float


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


def soft_fits(
    problem: RunProblem, state: RunState, worlds: list[DrillParameters], stated: SharedPrior
) -> list[Solution]:
    """Return a fit of one run from each of `worlds`, the readings trusted little by little. Without their systems."""
    prior = (prior_of(problem),)
    starts: list[FitStart] = [((state,), world) for world in worlds]
    for doubt_m in SOFT_STEPS_M if problem.readings is not None else ():
        half = solve_each((_softened(problem, doubt_m),), prior, starts, stated, rounds=2, light=True)
        starts = [(h.states, h.shared) for h in half]
    return solve_each((problem,), prior, starts, stated, rounds=FIRST_ROUNDS, tolerance=FIRST_GAIN, light=True)


def run_modes(
    problem: RunProblem, state: RunState, worlds: list[DrillParameters], stated: SharedPrior, only: int | None = None
) -> list[list[Solution]]:
    """Return the distinct modes of one run from each of `worlds`, best first: the soft fit, and fits from other sides
    of the rings; of those of transmitter `only` where the others have been looked at before. Without their systems."""
    if not worlds:
        return []
    found = [[soft] for soft in soft_fits(problem, state, worlds, stated)]
    for part in near_parts(problem):
        if only is not None and part.transmitter != only:
            continue
        starts: list[FitStart] = []
        known: list[list[Solution]] = []
        for modes in found:
            best = min(modes, key=lambda s: s.cost)
            for course in error_courses(problem, best.states[0], best.shared, part, SIDE_STARTS):
                starts.append(((shifted(problem, best.states[0], course.time_s, course.error_m),), best.shared))
                known.append(modes)
        for modes, trial in zip(known, _looked(problem, starts, known, stated), strict=True):
            _add(problem, modes, trial)
    return [sorted(modes, key=lambda s: s.cost) for modes in found]


def _looked(
    problem: RunProblem, starts: list[FitStart], known: list[list[Solution]], stated: SharedPrior
) -> list[Solution]:
    """Return a fit from each start; those that lead to nothing new are left after a few rounds."""
    prior = (prior_of(problem),)
    trials = solve_each((problem,), prior, starts, stated, rounds=LOOK_ROUNDS, tolerance=FIRST_GAIN, light=True)
    going = [
        i for i, t in enumerate(trials) if t.rounds == LOOK_ROUNDS and _promising(problem, t, known[i], trials[:i])
    ]
    onward = [(trials[i].states, trials[i].shared) for i in going]
    further = solve_each((problem,), prior, onward, stated, rounds=LOOK_ROUNDS, tolerance=FIRST_GAIN, light=True)
    for i, trial in zip(going, further, strict=True):
        trials[i] = trial
    return trials


def _add(problem: RunProblem, modes: list[Solution], trial: Solution) -> None:
    """Add a fit to the modes in place: as a new one, or for a worse one at the same place."""
    near = [s for s in modes if near_distance(problem, s.states[0], trial.states[0]) < SAME_M]
    if not near:
        modes.append(trial)
    elif trial.cost < near[0].cost:
        modes[modes.index(near[0])] = trial


def _promising(problem: RunProblem, trial: Solution, found: list[Solution], earlier: list[Solution]) -> bool:
    """Return whether a fit under way is neither hopeless nor on its way to a mode known or looked for already."""
    others = [*found, *(t for t in earlier if t.cost <= trial.cost)]
    known = any(near_distance(problem, s.states[0], trial.states[0]) < SAME_M for s in others)
    return not known and trial.cost < min(s.cost for s in found) + HOPELESS


def worth_keeping(solutions: list[Solution]) -> list[PosteriorMode]:
    """Return the modes near the best one, best first."""
    best = min(s.cost for s in solutions)
    near = sorted((s for s in solutions if s.cost <= best + REACH), key=lambda s: s.cost)
    return [PosteriorMode(s.states[0], s.shared, -s.cost) for s in near[:MOST]]


def weigh(
    problem: RunProblem, found_modes: list[PosteriorMode], stated: SharedPrior
) -> list[tuple[float, PosteriorMode]]:
    """Return distinct modes, fitted again, with their shares of the posterior (Laplace), largest first."""
    prior = prior_of(problem)
    found: list[PosteriorMode] = []
    starts = [((answer.state,), answer.shared) for answer in found_modes]
    for trial in solve_each((problem,), (prior,), starts, stated, rounds=FIRST_ROUNDS, tolerance=FIRST_GAIN):
        if all(near_distance(problem, a.state, trial.states[0]) > SAME_M for a in found):
            found.append(PosteriorMode(trial.states[0], trial.shared, run_evidence(trial, float(prior.log_det))))
    share = np.exp([a.value - max(b.value for b in found) for a in found])
    share /= np.sum(share)
    return [(float(share[i]), found[i]) for i in np.argsort(-share) if share[i] > LEAST_SHARE]
