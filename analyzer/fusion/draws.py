"""What is left unknown after the fit: standard deviations of the path, and whole worlds drawn from the posterior."""

import numpy as np

from analyzer.fusion.problem import AXIS_STATES, NODE_STATES, OWN, P, V
from analyzer.fusion.rows import Shared
from analyzer.fusion.solve import Solution, apply_shared
from analyzer.model.arrays import FloatArray
from analyzer.model.path import Draws


def globals_covariance(solution: Solution, run: int) -> FloatArray:
    """Return the posterior covariance (q, q) of [scale, offset, shared] of one run, all runs' evidence in."""
    own = solution.own_information[run]
    coupling = solution.systems[run].schur[:OWN, OWN:]
    q = OWN + coupling.shape[1]
    info = np.zeros((q, q))
    info[:OWN, :OWN], info[:OWN, OWN:], info[OWN:, :OWN] = own, coupling, coupling.T
    info[OWN:, OWN:] = solution.shared_information + coupling.T @ np.linalg.solve(own, coupling)
    return np.linalg.inv(0.5 * (info + info.T))


def path_sigma(solution: Solution, run: int, covariance: FloatArray) -> FloatArray:
    """Return the one-axis posterior standard deviation (n,) of the place: root mean square of the two axes."""
    system = solution.systems[run]
    diagonal, _ = system.factor.marginals()
    at = np.array([P, AXIS_STATES + P])
    inner = np.mean(diagonal[:, at, at], axis=1)
    slope = system.slope.reshape(-1, NODE_STATES, covariance.shape[0])[:, at, :]
    outer = np.mean(np.einsum("naq,qr,nar->na", slope, covariance, slope), axis=1)
    return np.sqrt(inner + outer)


def draw_worlds(solution: Solution, run: int, covariance: FloatArray, rng: np.random.Generator, count: int) -> Draws:
    """Return draws with row 0 the mode and `count` posterior samples after it (Gaussian at the mode)."""
    system, state = solution.systems[run], solution.states[run]
    q = covariance.shape[0]
    steps = rng.standard_normal((count, q)) @ np.linalg.cholesky(covariance + 1e-15 * np.eye(q)).T
    noise = system.factor.half_solve(rng.standard_normal((state.nodes.size, count)))
    nodes = state.nodes.reshape(-1, 1) + noise - system.slope @ steps.T
    nodes = np.concatenate([state.nodes.reshape(-1, 1), nodes], axis=1).T.reshape(count + 1, -1, NODE_STATES)
    worlds = [solution.shared] + [_bent(solution.shared, step[OWN:]) for step in steps]
    return Draws(
        path_m=nodes[:, :, [P, AXIS_STATES + P]],
        velocity_mps=nodes[:, :, [V, AXIS_STATES + V]],
        transmitter_m=np.stack([w.transmitter_m for w in worlds]),
        axis=np.stack([w.axis for w in worlds]),
        reading_scale=np.exp(state.log_scale + np.concatenate([[0.0], steps[:, 0]])),
        clock_offset_s=state.offset_s + np.concatenate([[0.0], steps[:, 1]]),
    )


def _bent(shared: Shared, step: FloatArray) -> Shared:
    """Return shared globals moved by a sampled step; a step of an unknown axis is bounded to a quarter turn."""
    k = len(shared.transmitter_m)
    turn = step[2 * k :].reshape(k, 2)
    size = np.linalg.norm(turn, axis=1, keepdims=True)
    scale = np.where(size > 1e-9, np.tan(np.minimum(size, 1.4)) / np.maximum(size, 1e-9), 1.0)
    return apply_shared(shared, np.concatenate([step[: 2 * k], (turn * scale).ravel()]))
