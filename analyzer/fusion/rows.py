"""Measurement rows between nodes: readings, marks over a transmitter, standing still.

A row touches the positions and velocities of two neighbouring nodes through the cubic Hermite basis, which is the exact
conditional mean of a path driven by white acceleration, and the globals: [ln scale, clock offset, transmitters (2k),
axis tangents (2k)].
"""

from dataclasses import dataclass

import numpy as np

from analyzer.field.receiver import offsets, seen_amplitude
from analyzer.fusion.problem import AXIS_STATES, OWN, P, RunProblem, V
from analyzer.model.arrays import FloatArray

STUDENT_DOF = 4.0  # tails of readings and fixes; between a normal distribution and one that ignores spikes
STEP_M = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """Globals of the drill: transmitters (k, 2) and unit axes (k, 3) in the slope frame."""

    transmitter_m: FloatArray
    axis: FloatArray

    @property
    def size(self) -> int:
        """Number of shared globals."""
        return 4 * len(self.transmitter_m)


@dataclass(frozen=True, slots=True, eq=False)
class RunState:
    """State of one run: nodes (n, 10), ln of the reading scale, clock offset in seconds."""

    nodes: FloatArray
    log_scale: float
    offset_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Linearised rows, m of them: first node, Hermite basis (m, 4), gradient over the plane (m, 2), gradient over the
    globals (m, q), residual (m,) and information (m,) before robust weights; `robust` says which rows get one."""

    node: FloatArray
    basis: FloatArray
    gradient: FloatArray
    globals_: FloatArray
    residual: FloatArray
    information: FloatArray
    robust: FloatArray


def hermite(node_s: FloatArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return first node (m,), basis (m, 4) for [p_i, v_i, p_i+1, v_i+1] and its derivative (m, 4)."""
    i = np.clip(np.searchsorted(node_s, time_s, side="right") - 1, 0, node_s.size - 2)
    h = node_s[i + 1] - node_s[i]
    u = np.clip((time_s - node_s[i]) / h, -2.0, 3.0)
    u2, u3 = u * u, u * u * u
    basis = np.stack([2 * u3 - 3 * u2 + 1, (u3 - 2 * u2 + u) * h, -2 * u3 + 3 * u2, (u3 - u2) * h], -1)
    rate = np.stack([(6 * u2 - 6 * u) / h, 3 * u2 - 4 * u + 1, (-6 * u2 + 6 * u) / h, 3 * u2 - 2 * u], -1)
    return i, basis, rate


def at_times(nodes: FloatArray, first: FloatArray, basis: FloatArray) -> FloatArray:
    """Return (m, 2) positions (or velocities, with the derivative basis) between nodes (n, 10)."""
    out = np.empty((len(first), 2))
    for axis in (0, 1):
        p, v = nodes[:, AXIS_STATES * axis + P], nodes[:, AXIS_STATES * axis + V]
        out[:, axis] = (
            basis[:, 0] * p[first] + basis[:, 1] * v[first] + basis[:, 2] * p[first + 1] + basis[:, 3] * v[first + 1]
        )
    return out


def heights(problem: RunProblem) -> tuple[FloatArray, FloatArray]:
    """Return height above the surface (m,) of each reading and a 0..1 doubt where the receiver is being lowered."""
    r = problem.readings
    low, doubt = np.zeros(r.time_s.size, bool), np.zeros(r.time_s.size)
    for start, end in r.low_spans_s:
        low |= (r.time_s >= start) & (r.time_s <= end)
        for edge in (start + 0.5, end):
            doubt = np.maximum(doubt, np.clip(1.0 - np.abs(r.time_s - edge) / 2.0, 0.0, 1.0))
    return np.where(low, r.fine_height_m, r.carry_height_m), doubt


def log_prediction(
    problem: RunProblem, shared: Shared, place_m: FloatArray, height_m: FloatArray, heading: FloatArray | None
) -> FloatArray:
    """Return ln of the reading at unit scale (m,) at `place_m` (m, 2)."""
    k = problem.readings.transmitter
    d = offsets(place_m, height_m, shared.transmitter_m[k], problem.depth_m[k])
    seen = seen_amplitude(d, shared.axis[k], antennas=problem.antennas, heading=heading)
    return np.log(np.maximum(seen, 1e-12)) / -3.0


def tangents(axis: FloatArray) -> FloatArray:
    """Return (k, 2, 3) two unit vectors at right angles to each axis (k, 3)."""
    helper = np.where(np.abs(axis[:, 2:3]) < 0.8, np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))
    first = np.cross(helper, axis)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return np.stack([first, np.cross(axis, first)], axis=1)


def reading_rows(problem: RunProblem, state: RunState, shared: Shared) -> Rows:
    """Return the rows of all readings; derivatives by central differences, so every antenna count takes one way."""
    r = problem.readings
    k, q = r.transmitter, OWN + shared.size
    count = len(shared.transmitter_m)
    first, basis, rate = hermite(problem.node_s, r.time_s + state.offset_s)
    place, velocity = at_times(state.nodes, first, basis), at_times(state.nodes, first, rate)
    height, doubt = heights(problem)
    heading = None
    if problem.antennas == 1:
        heading = velocity / np.maximum(np.linalg.norm(velocity, axis=1, keepdims=True), 1e-3)

    def predict(place_m: FloatArray, world: Shared, height_m: FloatArray = height) -> FloatArray:
        return log_prediction(problem, world, place_m, height_m, heading)

    base = predict(place, shared)
    gradient = np.empty((k.size, 2))
    for axis in (0, 1):
        step = STEP_M * np.eye(2)[axis]
        gradient[:, axis] = (predict(place + step, shared) - predict(place - step, shared)) / (2 * STEP_M)
    lowered = np.abs(
        predict(place, shared, np.full_like(height, r.carry_height_m))
        - predict(place, shared, np.full_like(height, r.fine_height_m))
    )
    jac = np.zeros((k.size, q))
    jac[:, 0] = 1.0
    jac[:, 1] = np.sum(gradient * velocity, axis=1)
    row = np.arange(k.size)
    t = tangents(shared.axis)
    for j in (0, 1):
        jac[row, OWN + 2 * k + j] = -gradient[:, j]
        up = Shared(shared.transmitter_m, shared.axis + STEP_M * t[:, j])
        down = Shared(shared.transmitter_m, shared.axis - STEP_M * t[:, j])
        jac[row, OWN + 2 * count + 2 * k + j] = (predict(place, up) - predict(place, down)) / (2 * STEP_M)
    inside = (r.time_s + state.offset_s >= problem.node_s[0] - 2.0) & (
        r.time_s + state.offset_s <= problem.node_s[-1] + 2.0
    )
    sigma2 = r.sigma**2 + (doubt * lowered) ** 2
    return Rows(
        node=first,
        basis=basis,
        gradient=gradient,
        globals_=jac,
        residual=r.log_reading - state.log_scale - base,
        information=inside / sigma2,
        robust=np.ones(k.size, bool),
    )


def anchor_rows(problem: RunProblem, state: RunState, shared: Shared) -> Rows | None:
    """Return the rows of probe hits (place over a transmitter), surveyed holds and standing still."""
    a, q = problem.anchors, OWN + shared.size
    times = np.concatenate([a.over[:, 0], a.at[:, 0], a.still])
    if times.size == 0:
        return None
    first, basis, rate = hermite(problem.node_s, times)
    over, at = len(a.over), len(a.at)
    place, velocity = at_times(state.nodes, first, basis), at_times(state.nodes, first, rate)
    k = a.over[:, 1].astype(int)
    wanted = np.vstack([shared.transmitter_m[k].reshape(-1, 2), a.at[:, 1:3], np.zeros((a.still.size, 2))])
    sigma = np.concatenate([a.over[:, 2], a.at[:, 3], np.full(a.still.size, a.still_sigma_mps)])
    moving = np.arange(times.size) >= over + at
    have = np.where(moving[:, None], velocity, place)
    used = np.where(moving[:, None], rate, basis)
    parts = []
    for axis in (0, 1):
        jac = np.zeros((times.size, q))
        jac[np.arange(over), OWN + 2 * k + axis] = -1.0
        gradient = np.zeros((times.size, 2))
        gradient[:, axis] = 1.0
        parts.append((first, used, gradient, jac, wanted[:, axis] - have[:, axis], 1.0 / sigma**2, ~moving))
    return Rows(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def all_rows(problem: RunProblem, state: RunState, shared: Shared) -> Rows | None:
    """Return reading and anchor rows together, None where there are none."""
    parts = []
    if problem.readings is not None and problem.readings.time_s.size:
        parts.append(reading_rows(problem, state, shared))
    anchors = anchor_rows(problem, state, shared)
    if anchors is not None:
        parts.append(anchors)
    if not parts:
        return None
    return Rows(*(np.concatenate([getattr(p, name) for p in parts]) for name in Rows.__slots__))


def robust_weight(residual: FloatArray, information: FloatArray, robust: FloatArray) -> FloatArray:
    """Return Student-t weights (m,) of rows."""
    return np.where(robust, (STUDENT_DOF + 1.0) / (STUDENT_DOF + residual**2 * information), 1.0)


def row_cost(rows: Rows) -> float:
    """Return the negative log likelihood of rows up to a constant."""
    scaled = rows.residual**2 * rows.information
    tails = 0.5 * (STUDENT_DOF + 1.0) * np.log1p(scaled / STUDENT_DOF)
    return float(np.sum(np.where(rows.robust, tails, 0.5 * scaled)))
