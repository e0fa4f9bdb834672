"""Gauss-Newton over one or several runs that share the transmitters of a drill.

Each run is eliminated down to what it says of the globals; the small sum is solved; every run is filled in again.
Several starts are one stacked problem: copies that share nothing but the work.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.problem import OWN, RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior, apply_shared
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import Prior, SchurSystem, cost, linearise
from analyzer.model.arrays import FloatArray, IndexArray

FitStart = tuple[tuple[RunState, ...], DrillParameters]
"""Where a fit begins: a state per run, and the globals."""
_Step = tuple[list[FloatArray], FloatArray, FloatArray, list[FloatArray]]
"""Moves of each run's globals, the move of the shared ones, the information on them, and on each run's own."""
STACK_NODES = 4000  # at once, so that a stack stays in the cache and a long run in memory
SHARES = (1.0, 0.5, 0.2, 0.05)  # of a step that are tried


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Converged states, the last bordered systems (none where not asked for), total cost, and the information on the
    shared globals from all."""

    states: tuple[RunState, ...]
    shared: DrillParameters
    systems: tuple[SchurSystem, ...]
    cost: float
    shared_information: FloatArray
    own_information: tuple[FloatArray, ...]
    rounds: int


def own_prior(problem: RunProblem, state: RunState) -> tuple[FloatArray, FloatArray]:
    """Return information (2, 2) and vector (..., 2) of scale and clock offset at `state`."""
    offset_sigma = 1e-3 if problem.offset_known else problem.offset_prior_s
    info = np.array([1.0 / problem.scale_prior[1] ** 2, 1.0 / offset_sigma**2])
    return np.diag(info), info * np.stack(
        [problem.scale_prior[0] - np.asarray(state.log_scale), -np.asarray(state.offset_s)], -1
    )


def own_cost(problem: RunProblem, state: RunState) -> FloatArray:
    """Return the negative log prior (...) of scale and clock offset."""
    info, _ = own_prior(problem, state)
    away, offset_s = np.asarray(state.log_scale) - problem.scale_prior[0], np.asarray(state.offset_s)
    return np.asarray(0.5 * (info[0, 0] * away**2 + info[1, 1] * offset_s**2), np.float64)


def total_cost(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    states: tuple[RunState, ...],
    shared: DrillParameters,
    stated: SharedPrior,
) -> FloatArray:
    """Return the negative log posterior (...) of all runs."""
    total = stated.cost(shared)
    for problem, prior, state in zip(problems, priors, states, strict=True):
        total = total + cost(problem, prior, state, shared) + own_cost(problem, state)
    return total


def eliminate(problem: RunProblem, state: RunState, system: SchurSystem) -> tuple[FloatArray, ...]:
    """Return own information and vector, coupling, and what is left for the shared globals."""
    info, vector = own_prior(problem, state)
    own = system.schur[..., :OWN, :OWN] + info
    coupling = system.schur[..., :OWN, OWN:]
    own_vector = system.vector[..., :OWN] + vector
    gain = np.linalg.solve(own, np.concatenate([coupling, own_vector[..., None]], axis=-1))
    taken = np.swapaxes(coupling, -1, -2) @ gain
    left = system.schur[..., OWN:, OWN:] - taken[..., :-1]
    return own, coupling, own_vector, left, system.vector[..., OWN:] - taken[..., -1]


def _solved(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.solve(matrix, vector[..., None])[..., 0], np.float64)


def _step(
    problems: tuple[RunProblem, ...],
    states: tuple[RunState, ...],
    shared: DrillParameters,
    systems: list[SchurSystem],
    stated: SharedPrior,
) -> _Step:
    info, vector = stated.information(shared)
    parts = [eliminate(p, s, b) for p, s, b in zip(problems, states, systems, strict=True)]
    for part in parts:
        info, vector = info + part[3], vector + part[4]
    info = 0.5 * (info + np.swapaxes(info, -1, -2))
    move = _solved(info, vector)
    moves = [
        np.concatenate([_solved(own, own_vector - (coupling @ move[..., None])[..., 0]), move], axis=-1)
        for own, coupling, own_vector, _, _ in parts
    ]
    return moves, move, info, [part[0] for part in parts]


def _moved(state: RunState, target: FloatArray, move: FloatArray, share: float) -> RunState:
    nodes = state.nodes + share * (target - state.nodes)
    return RunState(nodes, state.log_scale + share * move[..., 0], state.offset_s + share * move[..., 1])


def solve(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    states: tuple[RunState, ...],
    shared: DrillParameters,
    stated: SharedPrior,
    *,
    rounds: int = 20,
    tolerance: float = 0.02,
) -> Solution:
    """Iterate to the mode. Stops when a round gains less than `tolerance` of log posterior; never takes a step that
    loses."""
    one = [(states, shared)]
    return solve_each(problems, priors, one, stated, rounds=rounds, tolerance=tolerance)[0]


def solve_each(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    starts: Sequence[FitStart],
    stated: SharedPrior,
    *,
    rounds: int = 20,
    tolerance: float = 0.02,
    light: bool = False,
) -> list[Solution]:
    """Iterate from each start to its mode, as `solve` does, in stacks. `priors`: of all starts, or one for each.

    `light`: solutions without their systems, of which many would fill the memory.
    """
    most = max(STACK_NODES // sum(p.nodes for p in problems), 1)
    out: list[Solution] = []
    for at in range(0, len(starts), most):
        own = tuple(p.of(np.arange(at, min(at + most, len(starts)))) for p in priors)
        part = _solve_stack(problems, own, starts[at : at + most], stated, rounds, tolerance)
        out += [replace(s, systems=()) for s in part] if light else part
    return out


def _solve_stack(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    starts: Sequence[FitStart],
    stated: SharedPrior,
    rounds: int,
    tolerance: float,
) -> list[Solution]:
    stack = _Stack(
        np.arange(len(starts)),
        tuple(_stacked_states([states[i] for states, _ in starts]) for i in range(len(problems))),
        DrillParameters(*(np.stack(v) for v in zip(*((w.transmitter_m, w.axis) for _, w in starts), strict=True))),
    )
    found: dict[int, Solution] = {}
    current = total_cost(problems, priors, stack.states, stack.shared, stated)
    for done in range(1, rounds + 1):
        own_priors = tuple(p.of(stack.copies) for p in priors)
        systems = [linearise(p, q, s, stack.shared) for p, q, s in zip(problems, own_priors, stack.states, strict=True)]
        step = _step(problems, stack.states, stack.shared, systems, stated)
        stack, gain = _searched(problems, own_priors, stack, systems, step, current, stated)
        current = current - gain
        ended = (gain < tolerance) | (done == rounds)
        for i in np.flatnonzero(ended).tolist():
            found[int(stack.copies[i])] = _solution(stack, i, systems, step, float(current[i]), done)
        if np.all(ended):
            break
        stack, current = stack.of(np.flatnonzero(~ended)), current[~ended]
    return [found[i] for i in range(len(starts))]


@dataclass(frozen=True, slots=True, eq=False)
class _Stack:
    """Fits under way: the numbers of their starts (b,), the states of each run, and the globals, all stacked."""

    copies: IndexArray
    states: tuple[RunState, ...]
    shared: DrillParameters

    def of(self, pick: IndexArray) -> "_Stack":
        return _Stack(self.copies[pick], tuple(s.of(pick) for s in self.states), self.shared.of(pick))


def _stacked_states(states: list[RunState]) -> RunState:
    columns = zip(*((s.nodes, s.log_scale, s.offset_s) for s in states), strict=True)
    return RunState(*(np.stack([np.asarray(v, float) for v in column]) for column in columns))


def _searched(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    stack: _Stack,
    systems: list[SchurSystem],
    step: _Step,
    current: FloatArray,
    stated: SharedPrior,
) -> tuple[_Stack, FloatArray]:
    """Return the stack after the longest step that gains in each copy, and the gain (b,): not positive without one."""
    moves, move = step[0], step[1]
    targets = [b.nodes_at(m) for b, m in zip(systems, moves, strict=True)]
    gain = np.zeros(len(stack.copies))
    left = np.arange(len(stack.copies))
    for share in SHARES:
        part = stack.of(left)
        trial = tuple(_moved(s, t[left], m[left], share) for s, t, m in zip(part.states, targets, moves, strict=True))
        world = apply_shared(part.shared, share * move[left])
        gained = current[left] - total_cost(problems, tuple(p.of(left) for p in priors), trial, world, stated)
        gain[left] = gained
        better = np.flatnonzero(gained > 0)
        stack = _with(stack, left[better], _Stack(part.copies, trial, world).of(better))
        left = left[gained <= 0]
        if not left.size:
            break
    return stack, np.maximum(gain, 0.0)


def _with(stack: _Stack, at: IndexArray, moved: _Stack) -> _Stack:
    """Return the stack with the copies `at` replaced."""
    if at.size == len(stack.copies):
        return moved

    def put(old: FloatArray, new: FloatArray) -> FloatArray:
        out = np.array(old)
        out[at] = new
        return out

    states = tuple(
        RunState(*(put(np.asarray(getattr(a, n)), getattr(b, n)) for n in ("nodes", "log_scale", "offset_s")))
        for a, b in zip(stack.states, moved.states, strict=True)
    )
    shared = DrillParameters(
        put(stack.shared.transmitter_m, moved.shared.transmitter_m), put(stack.shared.axis, moved.shared.axis)
    )
    return _Stack(stack.copies, states, shared)


def _solution(stack: _Stack, copy: int, systems: list[SchurSystem], step: _Step, cost_: float, rounds: int) -> Solution:
    _, _, info, own = step
    states = tuple(s.of(copy) for s in stack.states)
    return Solution(
        states=states,
        shared=stack.shared.of(copy),
        systems=tuple(b.of(copy) for b in systems),
        cost=cost_,
        shared_information=info[copy],
        own_information=tuple(o[copy] for o in own),
        rounds=rounds,
    )


def without(joint: Solution, problems: tuple[RunProblem, ...], run: int, stated: SharedPrior) -> SharedPrior:
    """Return what the drill file and all runs but one say of the drill's globals, as a prior for that one."""
    if len(problems) == 1:
        return stated
    own = eliminate(problems[run], joint.states[run], joint.systems[run])
    others = joint.shared_information - 0.5 * (own[3] + own[3].T)
    covariance = np.linalg.inv(others)
    k = len(stated.position_sigma_m)
    # At the joint mode the vectors of all runs cancel, so the others pull back by what this run pulls.
    shared = apply_shared(joint.shared, -covariance @ own[4])
    variance = np.diag(covariance)
    place = np.sqrt(np.mean(variance[: 2 * k].reshape(k, 2), axis=1))
    turn = np.sqrt(np.mean(variance[2 * k :].reshape(k, 2), axis=1))
    return SharedPrior(shared.transmitter_m, place, shared.axis, turn)


def view(joint: Solution, run: int) -> Solution:
    """Return a joint solution as one run sees it: its own state and system, and all runs' evidence on the globals."""
    return replace(
        joint, states=(joint.states[run],), systems=(joint.systems[run],), own_information=(joint.own_information[run],)
    )
