"""Measurement rows between nodes: readings, marks over a transmitter, standing still.

A row touches the positions and velocities of two neighbouring nodes through the cubic Hermite basis, which is the exact
conditional mean of a path driven by white acceleration, and the globals: [ln scale, clock offset, transmitters (2k),
axis tangents (2k)].

All works on one state or on a stack of them: leading axes, shown as `...`, hold copies of one run that are fitted at
once, each on its own.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.problem import OWN, RunProblem
from analyzer.engine.fusion.state import DrillParameters, RunState, at_times, hermite, later, tangents
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.dipole import dipole_field
from analyzer.physics.holding import Held, seen_log
from analyzer.physics.sensitivity import log_amplitude, log_amplitude_slopes

DIRECTION_SIGMA_RAD = np.radians(14.0)  # of a direction shown while walking; common practice, no source
STEP_M = 1e-4
STUDENT_DOF = 4.0  # tails of readings and fixes; between a normal distribution and one that ignores spikes


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Linearised rows, m of them: first node (..., m), Hermite basis (..., m, 4), gradient over the plane (..., m, 2)
    and over the globals (..., m, q), residual (..., m) and information (..., m) before robust weights; `robust` (m,)
    says which rows get one."""

    node: IndexArray
    basis: FloatArray
    gradient: FloatArray
    globals_: FloatArray
    residual: FloatArray
    information: FloatArray
    robust: IndexArray


def _places(
    problem: RunProblem, state: RunState, shared: DrillParameters
) -> tuple[IndexArray, FloatArray, FloatArray, FloatArray, Held]:
    """Return first node, basis, velocity, offset from the transmitter (..., m, 3), and how the receiver is held."""
    r = problem.log
    first, basis, rate = hermite(problem.node_s, later(r.time_s, state.offset_s))
    velocity = at_times(state.nodes, first, rate)
    shift = np.empty((*first.shape, 3))
    shift[..., :2] = at_times(state.nodes, first, basis) - shared.transmitter_m[..., r.transmitter, :]
    shift[..., 2] = r.height_m + problem.depth_m[r.transmitter]
    return first, basis, velocity, shift, problem.held(later(r.time_s, state.offset_s))


def _reading_information(
    problem: RunProblem, state: RunState, shift: FloatArray, axis: FloatArray, held: Held
) -> FloatArray:
    """Return the information (..., m) of readings: none outside the track, less while the receiver is lowered and where
    what it sees hangs on how it is held."""
    r = problem.log
    at = later(r.time_s, state.offset_s)
    inside = (at >= problem.node_s[0] - 2.0) & (at <= problem.node_s[-1] + 2.0)
    sigma2 = np.broadcast_to(r.sigma**2, at.shape).copy()
    moving = np.flatnonzero(r.doubt > 0)
    if moving.size:
        ends = []
        for height in (r.carry_height_m, r.fine_height_m):
            d = np.array(shift[..., moving, :])
            d[..., 2] += height - r.height_m[moving]
            ends.append(log_amplitude(d, axis[..., moving, :], held.of(moving)))
        sigma2[..., moving] += (r.doubt[moving] * (ends[0] - ends[1]) / 3.0) ** 2
    if problem.antennas != 3:
        sigma2 += problem.alike * seen_log(shift, axis, held)[1] / 9.0
    return np.asarray(inside / sigma2, np.float64)


def reading_residuals(problem: RunProblem, state: RunState, shared: DrillParameters) -> tuple[FloatArray, FloatArray]:
    """Return residual and information (..., m) of all readings."""
    _, _, _, shift, held = _places(problem, state, shared)
    axis = shared.axis[..., problem.log.transmitter, :]
    seen = log_amplitude(shift, axis, held)
    information = _reading_information(problem, state, shift, axis, held)
    return problem.log.log_reading - np.asarray(state.log_scale)[..., None] + seen / 3.0, information


def reading_rows(problem: RunProblem, state: RunState, shared: DrillParameters) -> Rows:
    """Return the linearised rows of all readings: ln D = ln scale - ln |B| / 3."""
    r = problem.log
    k, count = r.transmitter, problem.depth_m.size
    first, basis, velocity, shift, held = _places(problem, state, shared)
    axis = shared.axis[..., k, :]
    seen, plane, turn = log_amplitude_slopes(shift, axis, held)
    gradient = plane / -3.0
    jac = np.zeros((*first.shape, OWN + shared.size))
    jac[..., 0] = 1.0
    jac[..., 1] = np.sum(gradient * velocity, axis=-1)
    row, t = np.arange(k.size), tangents(shared.axis)
    for j in (0, 1):
        jac[..., row, OWN + 2 * k + j] = -gradient[..., j]
        jac[..., row, OWN + 2 * count + 2 * k + j] = np.sum(turn * t[..., k, j, :], axis=-1) / -3.0
    return Rows(
        node=first,
        basis=basis,
        gradient=gradient,
        globals_=jac,
        residual=r.log_reading - np.asarray(state.log_scale)[..., None] + seen / 3.0,
        information=_reading_information(problem, state, shift, axis, held),
        robust=np.ones(k.size, bool),
    )


def _turned(
    problem: RunProblem, state: RunState, shared: DrillParameters, pick: IndexArray
) -> tuple[IndexArray, FloatArray, FloatArray]:
    """Return first node, basis, and misfit (..., m) of shown against in-plane field directions, modulo pi, radians."""
    r = problem.log
    first, basis, _ = hermite(problem.node_s, later(r.time_s[pick], state.offset_s))
    place = at_times(state.nodes, first, basis)
    return first, basis, _direction_misfit(problem, shared, pick, place)


def _direction_misfit(problem: RunProblem, shared: DrillParameters, pick: IndexArray, place: FloatArray) -> FloatArray:
    r, k = problem.log, problem.log.transmitter[pick]
    shown = np.full(r.time_s.size, np.nan) if r.shown_rad is None else r.shown_rad
    shift = np.empty((*place.shape[:-1], 3))
    shift[..., :2] = place - shared.transmitter_m[..., k, :]
    shift[..., 2] = r.height_m[pick] + problem.depth_m[k]
    field = dipole_field(shift, shared.axis[..., k, :])
    off = shown[pick] - np.arctan2(field[..., 1], field[..., 0])
    return np.asarray((off + 0.5 * np.pi) % np.pi - 0.5 * np.pi, np.float64)  # the sign of a field line is not shown


def direction_rows(problem: RunProblem, state: RunState, shared: DrillParameters) -> Rows | None:
    """Return the rows of the directions shown: the in-plane direction of the field, by central differences."""
    pick = problem.log.directions
    if pick.size == 0:
        return None
    first, basis, misfit = _turned(problem, state, shared, pick)
    place = at_times(state.nodes, first, basis)
    k, count = problem.log.transmitter[pick], problem.depth_m.size

    def slope(up: FloatArray, down: FloatArray) -> FloatArray:
        turn = (down - up + 0.5 * np.pi) % np.pi - 0.5 * np.pi  # misfit falls as the field turns towards what is shown
        return np.asarray(turn / (2.0 * STEP_M), np.float64)

    gradient = np.empty((*first.shape, 2))
    jac = np.zeros((*first.shape, OWN + shared.size))
    row, t = np.arange(pick.size), tangents(shared.axis)
    for j in (0, 1):
        step = STEP_M * np.eye(2)[j]
        gradient[..., j] = slope(*(_direction_misfit(problem, shared, pick, place + s * step) for s in (1.0, -1.0)))
        jac[..., row, OWN + 2 * k + j] = -gradient[..., j]
        worlds = (DrillParameters(shared.transmitter_m, shared.axis + s * STEP_M * t[..., j, :]) for s in (1.0, -1.0))
        jac[..., row, OWN + 2 * count + 2 * k + j] = slope(
            *(_direction_misfit(problem, w, pick, place) for w in worlds)
        )
    information = np.full(first.shape, 1.0 / DIRECTION_SIGMA_RAD**2)
    return Rows(first, basis, gradient, jac, misfit, information, np.ones(pick.size, bool))


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """Anchors between nodes: first node (m,), basis of what is held (place or velocity), misfit (..., m, 2), sigma."""

    node: IndexArray
    basis: FloatArray
    misfit: FloatArray
    sigma: FloatArray
    moving: IndexArray


def _anchors(problem: RunProblem, state: RunState, shared: DrillParameters) -> _Held | None:
    a = problem.anchors
    times = np.concatenate([a.over[:, 0], a.at[:, 0], a.still])
    if times.size == 0:
        return None
    first, basis, rate = hermite(problem.node_s, times)
    moving = np.arange(times.size) >= len(a.over) + len(a.at)
    used = np.where(moving[:, None], rate, basis)
    wanted = np.zeros((*shared.transmitter_m.shape[:-2], times.size, 2))
    wanted[..., : len(a.over), :] = shared.transmitter_m[..., a.over[:, 1].astype(int), :]
    wanted[..., len(a.over) : len(a.over) + len(a.at), :] = a.at[:, 1:3]
    sigma = np.concatenate([a.over[:, 2], a.at[:, 3], np.full(a.still.size, a.still_sigma_mps)])
    return _Held(first, used, wanted - at_times(state.nodes, first, used), sigma, moving)


def anchor_rows(problem: RunProblem, state: RunState, shared: DrillParameters) -> Rows | None:
    """Return the rows of probe hits (place over a transmitter), surveyed holds and standing still."""
    held, over = _anchors(problem, state, shared), problem.anchors.over
    if held is None:
        return None
    parts = []
    for axis in (0, 1):
        jac = np.zeros((held.node.size, OWN + shared.size))
        jac[np.arange(len(over)), OWN + 2 * over[:, 1].astype(int) + axis] = -1.0
        gradient = np.zeros((held.node.size, 2))
        gradient[:, axis] = 1.0
        parts.append(
            Rows(held.node, held.basis, gradient, jac, held.misfit[..., axis], 1.0 / held.sigma**2, ~held.moving)
        )
    return _together(parts)


def _together(parts: list[Rows]) -> Rows:
    """Return all rows of parts; what is the same in all copies is repeated."""
    lead = max((p.residual.shape[:-1] for p in parts), key=len)

    def joined(name: str, inner: int) -> FloatArray:
        values = [getattr(p, name) for p in parts]
        cut = [v.shape[v.ndim - inner :] for v in values]
        return np.concatenate(
            [np.broadcast_to(v, (*lead, *c)) for v, c in zip(values, cut, strict=True)], axis=len(lead)
        )

    inner = {"node": 1, "basis": 2, "gradient": 2, "globals_": 2, "residual": 1, "information": 1}
    return Rows(
        **{name: joined(name, count) for name, count in inner.items()}, robust=np.concatenate([p.robust for p in parts])
    )


def all_rows(problem: RunProblem, state: RunState, shared: DrillParameters) -> Rows | None:
    """Return reading and anchor rows together, None where there are none."""
    parts = []
    if problem.readings is not None and problem.readings.time_s.size:
        parts.append(reading_rows(problem, state, shared))
        directions = direction_rows(problem, state, shared)
        if directions is not None:
            parts.append(directions)
    anchors = anchor_rows(problem, state, shared)
    if anchors is not None:
        parts.append(anchors)
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else _together(parts)


def robust_weight(residual: FloatArray, information: FloatArray, robust: IndexArray) -> FloatArray:
    """Return Student-t weights (..., m) of rows."""
    return np.where(robust, (STUDENT_DOF + 1.0) / (STUDENT_DOF + residual**2 * information), 1.0)


def rows_cost(problem: RunProblem, state: RunState, shared: DrillParameters) -> float | FloatArray:
    """Return the negative log likelihood (...) of readings and anchors up to a constant."""
    total: float | FloatArray = 0.0
    if problem.readings is not None and problem.readings.time_s.size:
        residual, information = reading_residuals(problem, state, shared)
        total = _tails(residual**2 * information)
        if problem.antennas != 3:  # what a reading tells changes with the place: a place that silences it gains nothing
            total = total - 0.5 * np.sum(np.log(np.where(information > 0.0, information, 1.0)), axis=-1)
        pick = problem.readings.directions
        if pick.size:
            total = total + _tails((_turned(problem, state, shared, pick)[2] / DIRECTION_SIGMA_RAD) ** 2)
    held = _anchors(problem, state, shared)
    if held is not None:
        scaled = (held.misfit / held.sigma[:, None]) ** 2
        still = 0.5 * np.sum(scaled[..., held.moving, :], axis=(-2, -1))
        total = total + _tails(scaled[..., ~held.moving, :].reshape(*scaled.shape[:-2], -1)) + still
    return total


def _tails(scaled: FloatArray) -> FloatArray:
    """Return the negative log density (...) of Student-t residuals, squared and in their units (..., m)."""
    return np.asarray(0.5 * (STUDENT_DOF + 1.0) * np.sum(np.log1p(scaled / STUDENT_DOF), axis=-1), np.float64)
