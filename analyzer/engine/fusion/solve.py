"""Gauss-Newton over one or several runs that share the transmitters of a drill.

Each run is eliminated down to what it says of the globals; the small sum is solved; every run is filled in again.
"""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.problem import OWN, RunProblem
from analyzer.engine.fusion.rows import DrillParameters, RunState, tangents
from analyzer.engine.fusion.system import Prior, SchurSystem, cost, linearise
from analyzer.model.arrays import FloatArray

SCALE_MEAN, SCALE_SIGMA = 0.08, 0.15
"""Prior of ln(reading scale): between a receiver calibrated broadside (0) and coaxial (0.23), k known within 15 %."""


@dataclass(frozen=True, slots=True, eq=False)
class SharedPrior:
    """What the drill states: positions (k, 2) with sigma (k,), axes (k, 3) with sigma in rad (k,), inf if not given."""

    transmitter_m: FloatArray
    position_sigma_m: FloatArray
    axis: FloatArray
    axis_sigma_rad: FloatArray

    def cost(self, shared: DrillParameters) -> float:
        """Return the negative log prior up to a constant."""
        place = np.sum((shared.transmitter_m - self.transmitter_m) ** 2, axis=1) / self.position_sigma_m**2
        turn = np.sum(np.cross(self.axis, shared.axis) ** 2, axis=1) / self.axis_sigma_rad**2
        return 0.5 * float(np.sum(place) + np.sum(turn))

    def information(self, shared: DrillParameters) -> tuple[FloatArray, FloatArray]:
        """Return information (4k, 4k) and vector (4k,) for increments at `shared`."""
        k = len(self.transmitter_m)
        info, vector = np.zeros(4 * k), np.zeros(4 * k)
        info[: 2 * k] = np.repeat(1.0 / self.position_sigma_m**2, 2)
        vector[: 2 * k] = info[: 2 * k] * (self.transmitter_m - shared.transmitter_m).ravel()
        sign = np.sign(np.sum(self.axis * shared.axis, axis=1, keepdims=True)) + 0.0
        toward = np.einsum("kji,ki->kj", tangents(shared.axis), np.where(sign == 0, 1.0, sign) * self.axis)
        info[2 * k :] = np.repeat(1.0 / self.axis_sigma_rad**2, 2)
        vector[2 * k :] = info[2 * k :] * toward.ravel()
        return np.diag(info + 1e-6), vector  # the small ridge keeps an axis no reading speaks of at its start


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Converged states, the last bordered systems, total cost, and the information on the shared globals from all."""

    states: tuple[RunState, ...]
    shared: DrillParameters
    systems: tuple[SchurSystem, ...]
    cost: float
    shared_information: FloatArray
    own_information: tuple[FloatArray, ...]
    rounds: int


def own_prior(problem: RunProblem, state: RunState) -> tuple[FloatArray, FloatArray]:
    """Return information (2, 2) and vector (2,) of scale and clock offset at `state`."""
    offset_sigma = 1e-3 if problem.offset_known else problem.offset_prior_s
    info = np.array([1.0 / SCALE_SIGMA**2, 1.0 / offset_sigma**2])
    return np.diag(info), info * np.array([SCALE_MEAN - state.log_scale, -state.offset_s])


def own_cost(problem: RunProblem, state: RunState) -> float:
    """Return the negative log prior of scale and clock offset."""
    info, _ = own_prior(problem, state)
    return 0.5 * float(info[0, 0] * (state.log_scale - SCALE_MEAN) ** 2 + info[1, 1] * state.offset_s**2)


def apply_shared(shared: DrillParameters, step: FloatArray) -> DrillParameters:
    """Return the globals moved by increments (4k,)."""
    k = len(shared.transmitter_m)
    axis = shared.axis + np.einsum("kj,kji->ki", step[2 * k :].reshape(k, 2), tangents(shared.axis))
    return DrillParameters(
        shared.transmitter_m + step[: 2 * k].reshape(k, 2), axis / np.linalg.norm(axis, axis=1, keepdims=True)
    )


def total_cost(
    problems: tuple[RunProblem, ...],
    priors: tuple[Prior, ...],
    states: tuple[RunState, ...],
    shared: DrillParameters,
    stated: SharedPrior,
) -> float:
    """Return the negative log posterior of all runs."""
    total = stated.cost(shared)
    for problem, prior, state in zip(problems, priors, states, strict=True):
        total += cost(problem, prior, state, shared) + own_cost(problem, state)
    return total


def eliminate(problem: RunProblem, state: RunState, system: SchurSystem) -> tuple[FloatArray, ...]:
    """Return own information and vector, coupling, and what is left for the shared globals."""
    info, vector = own_prior(problem, state)
    own = system.schur[:OWN, :OWN] + info
    coupling = system.schur[:OWN, OWN:]
    own_vector = system.vector[:OWN] + vector
    gain = np.linalg.solve(own, np.column_stack([coupling, own_vector]))
    left = system.schur[OWN:, OWN:] - coupling.T @ gain[:, :-1]
    return own, coupling, own_vector, left, system.vector[OWN:] - coupling.T @ gain[:, -1]


def _step(
    problems: tuple[RunProblem, ...],
    states: tuple[RunState, ...],
    shared: DrillParameters,
    systems: list[SchurSystem],
    stated: SharedPrior,
) -> tuple[list[FloatArray], FloatArray, FloatArray, list[FloatArray]]:
    info, vector = stated.information(shared)
    parts = [eliminate(p, s, b) for p, s, b in zip(problems, states, systems, strict=True)]
    for part in parts:
        info, vector = info + part[3], vector + part[4]
    info = 0.5 * (info + info.T)
    move = np.asarray(np.linalg.solve(info, vector), np.float64)
    moves = [
        np.concatenate([np.linalg.solve(own, own_vector - coupling @ move), move])
        for own, coupling, own_vector, _, _ in parts
    ]
    return moves, move, info, [part[0] for part in parts]


def _moved(state: RunState, system: SchurSystem, move: FloatArray, share: float) -> RunState:
    nodes = state.nodes + share * (system.nodes_at(move) - state.nodes)
    return RunState(nodes, state.log_scale + share * float(move[0]), state.offset_s + share * float(move[1]))


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
    current = total_cost(problems, priors, states, shared, stated)
    done = 0
    while True:
        done += 1
        systems = [linearise(p, q, s, shared) for p, q, s in zip(problems, priors, states, strict=True)]
        moves, move, info, own = _step(problems, states, shared, systems, stated)
        gain = 0.0
        for share in (1.0, 0.5, 0.2, 0.05):
            trial = tuple(_moved(s, b, m, share) for s, b, m in zip(states, systems, moves, strict=True))
            world = apply_shared(shared, share * move)
            gain = current - total_cost(problems, priors, trial, world, stated)
            if gain > 0:
                states, shared, current = trial, world, current - gain
                break
        if gain < tolerance or done >= rounds:
            break
    return Solution(
        states=states,
        shared=shared,
        systems=tuple(systems),
        cost=float(current),
        shared_information=info,
        own_information=tuple(own),
        rounds=done,
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
