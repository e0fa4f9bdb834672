"""The linear system of one run: prior of motion and errors, fixes, linearised rows, bordered by the globals."""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.banded import BandFactor, block_product, factorize
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, F, P, RunProblem, S
from analyzer.engine.fusion.rows import STUDENT_DOF, Rows, all_rows, robust_weight, rows_cost
from analyzer.engine.fusion.state import PLACES, DrillParameters, RunState, picked
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.recorder_noise import FixNoise, gauss_markov_step, matern32_step, walking_step

FIX_PATTERN = np.zeros(AXIS_STATES)
FIX_PATTERN[[P, F, S]] = 1.0
START_SPEED_MPS = 3.0  # standard deviation of the unknown first velocity
START_PLACE_M = 1e4  # and place: the fixes decide


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """Information of one axis before any measurement: blocks (..., n, 5, 5) and (..., n-1, 5, 5), ln determinant."""

    diagonal: FloatArray
    lower: FloatArray
    log_det: float | FloatArray

    def of(self, pick: IndexArray | int) -> "Prior":
        """Return the priors of some copies, or of one; one prior may be that of all copies."""
        if self.diagonal.ndim == 3:
            return self
        return Prior(self.diagonal[pick], self.lower[pick], np.asarray(self.log_det)[pick])


def stacked_priors(priors: list[Prior]) -> Prior:
    """Return the priors of copies as one."""
    columns = zip(*((p.diagonal, p.lower, p.log_det) for p in priors), strict=True)
    return Prior(*(np.stack([np.asarray(v) for v in column]) for column in columns))


def axis_prior(dt_s: FloatArray, noise: FixNoise, intensity: FloatArray, damping: FloatArray | float = 0.0) -> Prior:
    """Return the joint information of walking and both error parts along one axis."""
    n = dt_s.size + 1
    step = np.zeros((n - 1, AXIS_STATES, AXIS_STATES))
    info = np.zeros_like(step)
    log_det = 0.0
    for at, (f, q) in (
        (P, walking_step(dt_s, intensity, damping)),
        (F, matern32_step(dt_s, noise.fast_m, noise.fast_s)),
    ):
        det = q[:, 0, 0] * q[:, 1, 1] - q[:, 0, 1] ** 2
        step[:, at : at + 2, at : at + 2] = f
        info[:, at, at], info[:, at + 1, at + 1] = q[:, 1, 1] / det, q[:, 0, 0] / det
        info[:, at, at + 1] = info[:, at + 1, at] = -q[:, 0, 1] / det
        log_det -= float(np.sum(np.log(det)))
    f, q = gauss_markov_step(dt_s, noise.slow_m, noise.slow_s)
    step[:, S, S], info[:, S, S] = f, 1.0 / q
    log_det -= float(np.sum(np.log(q)))
    start = (
        1.0 / np.array([START_PLACE_M, START_SPEED_MPS, noise.fast_m, noise.fast_m / noise.fast_s, noise.slow_m]) ** 2
    )
    log_det += float(np.sum(np.log(start)))
    lower = -info @ step
    diagonal = np.zeros((n, AXIS_STATES, AXIS_STATES))
    diagonal[0] = np.diag(start)
    diagonal[1:] += info
    diagonal[:-1] -= np.swapaxes(step, 1, 2) @ lower
    return Prior(diagonal=diagonal, lower=lower, log_det=log_det)


def prior_of(problem: RunProblem, factor: float = 1.0) -> Prior:
    """Return the prior of a run with its moving error scaled by `factor`."""
    noise = problem.noise.with_moving_error(factor)
    return axis_prior(np.diff(problem.node_s), noise, problem.intensity, problem.damping)


def fix_residuals(problem: RunProblem, nodes: FloatArray) -> FloatArray:
    """Return (..., m, 2) fix minus place and errors."""
    at = nodes[..., problem.fix_node, :]
    return np.asarray(problem.fix_m - at[..., P::AXIS_STATES] - at[..., F::AXIS_STATES] - at[..., S::AXIS_STATES])


def fix_weights(problem: RunProblem, nodes: FloatArray) -> FloatArray:
    """Return robust weights (..., m) of fixes: Student-t in two dimensions."""
    squared = np.sum(fix_residuals(problem, nodes) ** 2, axis=-1) / problem.noise.white_m**2
    return np.asarray((STUDENT_DOF + 2.0) / (STUDENT_DOF + squared), np.float64)


def cost(problem: RunProblem, prior: Prior, state: RunState, shared: DrillParameters) -> FloatArray:
    """Return the negative log posterior (...) of a run up to a constant, the globals' priors left out."""
    total = np.asarray(rows_cost(problem, state, shared), np.float64)
    for axis in (0, 1):
        x = state.nodes[..., AXIS_STATES * axis : AXIS_STATES * (axis + 1)]
        total = total + 0.5 * np.sum(x * block_product(prior.diagonal, prior.lower, x), axis=(-2, -1))
    squared = np.sum(fix_residuals(problem, state.nodes) ** 2, axis=-1) / problem.noise.white_m**2
    return np.asarray(total + 0.5 * (STUDENT_DOF + 2.0) * np.sum(np.log1p(squared / STUDENT_DOF), axis=-1), np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SchurSystem:
    """A factored run with its border: what the run knows of increments d of the globals is the information `schur`
    (..., q, q) with vector `vector` (..., q). `half` (..., nodes * NODE_STATES, 1 + q): right-hand side and border,
    solved forward only: a fit needs the nodes at one d a round, which is a single solve backward. Copies of a run
    follow each other in `factor`, and nothing couples them."""

    factor: BandFactor
    half: FloatArray
    schur: FloatArray
    vector: FloatArray

    def nodes_at(self, move: FloatArray) -> FloatArray:
        """Return the nodes (..., n, NODE_STATES) for increments `move` (..., q) of the globals."""
        target = self.half[..., 0] - np.einsum("...nq,...q->...n", self.half[..., 1:], move)
        return self.factor.backward(target.ravel()).reshape(*target.shape[:-1], -1, NODE_STATES)

    def slope(self) -> FloatArray:
        """Return by how much the nodes (nodes * NODE_STATES, q) of one copy fall as the globals rise."""
        return self.factor.backward(self.half[:, 1:])

    def of(self, copy: int) -> "SchurSystem":
        """Return one copy of a stack."""
        nodes = self.half.shape[1] // NODE_STATES
        return SchurSystem(self.factor.part(copy * nodes, nodes), self.half[copy], self.schur[copy], self.vector[copy])


def border(
    problem: RunProblem, prior: Prior, state: RunState, shared: DrillParameters, weights: FloatArray, rows: Rows | None
) -> SchurSystem:
    """Linearise a run at `state` and eliminate its nodes. `weights` (..., m): robust weights of the fixes."""
    n, q, lead = problem.nodes, 2 + shared.size, state.nodes.shape[:-2]
    diagonal, lower = (np.zeros((*lead, n, NODE_STATES, NODE_STATES)) for _ in range(2))
    rhs, edge = np.zeros((*lead, n, NODE_STATES)), np.zeros((*lead, n, NODE_STATES, q))
    corner, vector = np.zeros((*lead, q, q)), np.zeros((*lead, q))
    per_node, pull = _fixes_on_nodes(problem, np.broadcast_to(weights, (*lead, len(problem.fix_m))))
    for axis in (0, 1):
        cut = slice(AXIS_STATES * axis, AXIS_STATES * (axis + 1))
        diagonal[..., cut, cut] = prior.diagonal + per_node[..., None, None] * np.outer(FIX_PATTERN, FIX_PATTERN)
        lower[..., :-1, cut, cut] = prior.lower
        rhs[..., cut] = pull[..., axis, None] * FIX_PATTERN
    if rows is not None:
        _add_rows(rows, state, diagonal, lower, rhs, edge, corner, vector)
    square = (-1, NODE_STATES, NODE_STATES)
    factor = factorize(diagonal.reshape(square), lower.reshape(square)[:-1])
    both = np.concatenate([rhs[..., None], edge], axis=-1)
    half = factor.forward(both.reshape(-1, 1 + q)).reshape(*lead, -1, 1 + q)
    known = np.swapaxes(half[..., 1:], -1, -2) @ half
    return SchurSystem(factor=factor, half=half, schur=corner - known[..., 1:], vector=vector - known[..., 0])


def _fixes_on_nodes(problem: RunProblem, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the information (..., n) of the fixes on each node, and their pull (..., n, 2)."""
    weight = weights / problem.noise.white_m**2
    information = np.zeros((*weights.shape[:-1], problem.nodes))
    pull = np.zeros((*information.shape, 2))
    if np.unique(problem.fix_node).size == problem.fix_node.size:  # far quicker, and so it is in all but double times
        information[..., problem.fix_node] = weight
        pull[..., problem.fix_node, :] = weight[..., None] * problem.fix_m
    else:
        for i, node in enumerate(problem.fix_node.tolist()):
            information[..., node] += weight[..., i]
            pull[..., node, :] += weight[..., i, None] * problem.fix_m[i]
    return information, pull


def _by_node(flat: IndexArray) -> tuple[IndexArray, IndexArray, IndexArray]:
    """Return the order of rows (m,) by node, where each node's begin in it, and those nodes (g, 1)."""
    order: IndexArray = np.argsort(flat, kind="stable")
    firsts = np.flatnonzero(np.diff(flat[order], prepend=-1))
    return order, firsts, flat[order][firsts][:, None]


def _over_states(rows: Rows) -> FloatArray:
    """Return the gradient of rows over the PLACES of their two nodes (..., m, 8)."""
    by_end = rows.basis.reshape(*rows.node.shape, 2, 1, 2)  # row, this node or the next, axis, place or velocity
    return np.asarray((rows.gradient[..., None, :, None] * by_end).reshape(*rows.node.shape, 2 * PLACES.size))


def _add_rows(
    rows: Rows,
    state: RunState,
    diagonal: FloatArray,
    lower: FloatArray,
    rhs: FloatArray,
    edge: FloatArray,
    corner: FloatArray,
    vector: FloatArray,
) -> None:
    """Add the rows' information in place to a system that `border` has just made."""
    jac = _over_states(rows)
    info = rows.information * robust_weight(rows.residual, rows.information, rows.robust)
    here = np.concatenate([picked(state.nodes, rows.node + i) for i in (0, 1)], axis=-1)
    target = rows.residual + np.sum(jac * here, axis=-1)  # rows are linear in the nodes themselves, not in increments
    weighted = jac * info[..., None]
    lead, n = state.nodes.shape[:-2], state.nodes.shape[-2]
    flat = (rows.node + (n * np.arange(int(np.prod(lead))).reshape(*lead, 1))).ravel()
    order, firsts, node, b = *_by_node(flat), PLACES.size

    def gathered(values: FloatArray) -> FloatArray:
        """Return the sums of `values` (..., m, :, :) over the rows of each node that has any."""
        return np.add.reduceat(values.reshape(-1, *values.shape[len(lead) + 1 :])[order], firsts, axis=0)

    outer = gathered(weighted[..., :, None] * jac[..., None, :])
    own, below = (values.reshape(-1, NODE_STATES, NODE_STATES) for values in (diagonal, lower))
    at = node[:, :, None], PLACES[:, None], PLACES
    after = at[0] + 1, *at[1:]
    own[at] += outer[:, :b, :b]
    own[after] += outer[:, b:, b:]
    below[at] += outer[:, b:, :b]
    pulled, pull = rhs.reshape(-1, NODE_STATES), gathered(weighted * target[..., None])
    pulled[node, PLACES] += pull[:, :b]
    pulled[node + 1, PLACES] += pull[:, b:]
    edges, cross = edge.reshape(-1, *edge.shape[-2:]), gathered(weighted[..., :, None] * rows.globals_[..., None, :])
    edges[node, PLACES] += cross[:, :b]
    edges[node + 1, PLACES] += cross[:, b:]
    both = np.concatenate([rows.globals_, target[..., None]], axis=-1)
    known = np.swapaxes(rows.globals_ * info[..., None], -1, -2) @ both
    corner += known[..., :-1]
    vector += known[..., -1]


def fixes_only(problem: RunProblem, shared: DrillParameters) -> RunState:
    """Return the state that fixes and motion alone give, the smooth errors at their prior mean as far as they allow.

    Two robust rounds: spikes lose their weight before any reading is looked at.
    """
    prior = prior_of(problem)
    state = RunState(nodes=np.zeros((problem.nodes, NODE_STATES)), log_scale=0.0, offset_s=0.0)
    weights = problem.fix_start_weight
    for _ in range(3):
        solved = border(problem, prior, state, shared, weights, None)
        state = RunState(nodes=solved.nodes_at(np.zeros(2 + shared.size)), log_scale=0.0, offset_s=0.0)
        weights = np.minimum(fix_weights(problem, state.nodes), 1.0)
    return state


def linearise(problem: RunProblem, prior: Prior, state: RunState, shared: DrillParameters) -> SchurSystem:
    """Return the bordered system at `state`."""
    rows = all_rows(problem, state, shared)
    return border(problem, prior, state, shared, fix_weights(problem, state.nodes), rows)
