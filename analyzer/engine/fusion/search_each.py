"""The search for the right mode where there are many transmitters: each by itself, then all together.

Modes are of single transmitters: a ring's other side, an antenna the other way. Looking for them in the whole run costs
as much per transmitter as the run is long and the globals are many; looking in the time in which it is received
(`own_window`) does not. So the work of the search grows with the number of transmitters, and a few fits of the whole
run remain.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.mode_guesses import near_distance
from analyzer.engine.fusion.own_window import OwnWindow, begun_with, exchanged, known_of, own_window, with_own
from analyzer.engine.fusion.posterior_modes import MOST, REACH, SAME_M, PosteriorMode, run_modes
from analyzer.engine.fusion.problem import RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.solve import Solution
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What one run says of one transmitter: its window, and the fits of it from each axis, best first."""

    window: OwnWindow
    fits: list[list[Solution]]


@dataclass(frozen=True, slots=True, eq=False)
class EachLook:
    """What was found of each transmitter: runs' looks `of_run` [run][transmitter] (None without readings of it), the
    best axis `best` [transmitter], and where a fit of all runs together may start: `states`, `shared`."""

    of_run: list[list[Look | None]]
    best: list[int]
    states: tuple[RunState, ...]
    shared: DrillParameters


def look_at_each(
    problems: tuple[RunProblem, ...],
    states: tuple[RunState, ...],
    options: list[list[FloatArray]],
    world: DrillParameters,
    stated: SharedPrior,
) -> EachLook:
    """Return what every run says of every transmitter, looked for in the order in which they were found, each with what
    is known from those before it. `options`: axes (3,) to try per transmitter."""
    of_run: list[list[Look | None]] = [[None] * len(options) for _ in problems]
    best, now = [0] * len(options), list(states)
    for k in _in_order(problems, len(options)):
        for i, problem in enumerate(problems):
            of_run[i][k] = _look(problem, now[i], k, options[k], world, stated)
        looks = [(i, look) for i, look in enumerate(run[k] for run in of_run) if look is not None]
        if not looks:
            continue
        costs = [sum(look.fits[a][0].cost for _, look in looks) for a in range(len(options[k]))]
        best[k] = int(np.argmin(costs))
        found = [(i, look.window, look.fits[best[k]][0]) for i, look in looks]
        for i, window, fit in found:
            now[i] = exchanged(now[i], window, now=window.state, then=fit.states[0])
        world = with_own(world, k, min((fit for _, _, fit in found), key=_doubt).shared)
    return EachLook(of_run, best, tuple(now), world)


def _in_order(problems: tuple[RunProblem, ...], count: int) -> list[int]:
    """Return the numbers of the transmitters in the order in which the runs first read them; unread ones last."""
    first_s = np.full((len(problems), count), np.inf)
    for times, problem in zip(first_s, problems, strict=True):
        if problem.readings is not None:
            np.minimum.at(times, problem.readings.transmitter, problem.readings.time_s - problem.readings.time_s[0])
    return [int(k) for k in np.argsort(np.median(first_s, axis=0), kind="stable")]


def _doubt(fit: Solution) -> float:
    """Return how badly a fit knows the transmitter that is searched."""
    known, count = np.linalg.inv(fit.shared_information), len(fit.shared.transmitter_m)
    return float(np.sum(np.diag(known)[[0, 1, 2 * count, 2 * count + 1]]))


def _look(
    problem: RunProblem,
    state: RunState,
    which: int,
    axes: list[FloatArray],
    world: DrillParameters,
    stated: SharedPrior,
) -> Look | None:
    window = own_window(problem, state, which)
    if window is None:
        return None
    begun = [begun_with(stated, world, window, axis) for axis in axes]
    return Look(window, run_modes(window.problem, window.state, begun, known_of(stated, world, window), only=0))


def _among(problem: RunProblem, known: list[Solution], fit: Solution) -> bool:
    """Return whether the path of a fit is one that is known."""
    return any(near_distance(problem, other.states[0], fit.states[0]) < SAME_M for other in known)


def other_modes(each: EachLook, run: int, joint: Solution, *, any_axis: bool) -> list[PosteriorMode]:
    """Return the modes of a run beside the joint one, likeliest first: in each one transmitter's part is another.

    `any_axis`: with any antenna axis that was tried, not only with the drill's best one.
    """
    found: list[tuple[float, Look, Solution, Solution]] = []
    for k, look in enumerate(each.of_run[run]):
        if look is None:
            continue
        own = look.fits[each.best[k]]
        known = [own[0]]
        for fit in sorted((f for fits in look.fits for f in fits) if any_axis else own, key=lambda f: f.cost):
            if fit.cost <= own[0].cost + REACH and not _among(look.window.problem, known, fit):
                known.append(fit)
                found.append((fit.cost - own[0].cost, look, own[0], fit))
    out = []
    for worse, look, now, then in sorted(found, key=lambda item: item[0])[:MOST]:
        state = exchanged(joint.states[run], look.window, now=now.states[0], then=then.states[0])
        shared = with_own(joint.shared, look.window.transmitter, then.shared)
        out.append(PosteriorMode(state, shared, -worse))
    return out
