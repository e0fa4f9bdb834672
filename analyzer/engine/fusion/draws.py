"""What is left unknown after the fit: standard deviations of the path, and whole worlds drawn from the posterior."""

from dataclasses import replace

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, OWN, P, V
from analyzer.engine.fusion.shared_prior import apply_shared
from analyzer.engine.fusion.solve import Solution
from analyzer.engine.fusion.state import DrillParameters
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
    return np.asarray(np.linalg.inv(0.5 * (info + info.T)), np.float64)


def path_sigma(solution: Solution, run: int, covariance: FloatArray) -> FloatArray:
    """Return the one-axis posterior standard deviation (n,) of the place: root mean square of the two axes."""
    system = solution.systems[run]
    diagonal, _ = system.factor.marginals()
    at = np.array([P, AXIS_STATES + P])
    inner = np.mean(diagonal[:, at, at], axis=1)
    slope = system.slope().reshape(-1, NODE_STATES, covariance.shape[0])[:, at, :]
    outer = np.mean(np.einsum("naq,qr,nar->na", slope, covariance, slope), axis=1)
    return np.asarray(np.sqrt(inner + outer), np.float64)


def spread_sigma(found_modes: list[tuple[float, Solution]], sigmas: list[FloatArray]) -> FloatArray:
    """Return the one-axis standard deviation (n,) around the first mode, other modes counted by their share."""
    at = [P, AXIS_STATES + P]
    first = found_modes[0][1].states[0].nodes[:, at]
    total = np.zeros(len(first))
    for (share, solution), sigma in zip(found_modes, sigmas, strict=True):
        away = solution.states[0].nodes[:, at] - first
        total += share * (sigma**2 + 0.5 * np.sum(away**2, axis=1))
    return np.sqrt(total / sum(share for share, _ in found_modes))


def mixed_worlds(
    found_modes: list[tuple[float, Solution]], covariances: list[FloatArray], rng: np.random.Generator, count: int
) -> Draws:
    """Return draws with row 0 the first mode and `count` posterior samples of all modes by their share."""
    shares = np.array([share for share, _ in found_modes])
    edges = np.round(count * np.cumsum(shares) / np.sum(shares)).astype(int)
    parts: list[tuple[FloatArray, ...]] = []
    for (_, solution), covariance, number in zip(found_modes, covariances, np.diff(edges, prepend=0), strict=True):
        parts.append(_samples(solution, covariance, rng, int(number), mode=not parts))
    return Draws(*(np.concatenate([part[i] for part in parts]) for i in range(6)))


def widened(draws: Draws, factor: float) -> Draws:
    """Return draws whose samples lie `factor` times as far from the best estimate; axes stay."""

    def away(values: FloatArray) -> FloatArray:
        return np.asarray(values[:1] + factor * (values - values[:1]), np.float64)

    return replace(
        draws,
        path_m=away(draws.path_m),
        velocity_mps=away(draws.velocity_mps),
        transmitter_m=away(draws.transmitter_m),
        reading_scale=np.exp(away(np.log(draws.reading_scale))),
        clock_offset_s=away(draws.clock_offset_s),
    )


def _samples(
    solution: Solution, covariance: FloatArray, rng: np.random.Generator, count: int, *, mode: bool
) -> tuple[FloatArray, ...]:
    """Return the fields of Draws for `count` samples of one answer (Gaussian at its mode), the mode itself first."""
    system, state = solution.systems[0], solution.states[0]
    steps = rng.standard_normal((count, covariance.shape[0])) @ np.linalg.cholesky(covariance).T
    noise = (
        system.factor.backward(rng.standard_normal((state.nodes.size, count)))
        if count
        else np.zeros((state.nodes.size, 0))
    )
    moved = state.nodes.reshape(-1, 1) + noise - system.slope() @ steps.T
    if mode:
        moved = np.concatenate([state.nodes.reshape(-1, 1), moved], axis=1)
        steps = np.concatenate([np.zeros((1, steps.shape[1])), steps])
    nodes = moved.T.reshape(len(steps), len(state.nodes), NODE_STATES)
    worlds = [_bent(solution.shared, step[OWN:]) for step in steps]
    k = len(solution.shared.transmitter_m)
    return (
        nodes[:, :, [P, AXIS_STATES + P]],
        nodes[:, :, [V, AXIS_STATES + V]],
        np.array([w.transmitter_m for w in worlds]).reshape(-1, k, 2),
        np.array([w.axis for w in worlds]).reshape(-1, k, 3),
        np.exp(state.log_scale + steps[:, 0]),
        state.offset_s + steps[:, 1],
    )


def _bent(shared: DrillParameters, step: FloatArray) -> DrillParameters:
    """Return shared globals moved by a sampled step; a step of an unknown axis is bounded to a quarter turn."""
    k = len(shared.transmitter_m)
    turn = step[2 * k :].reshape(k, 2)
    size = np.linalg.norm(turn, axis=1, keepdims=True)
    scale = np.where(size > 1e-9, np.tan(np.minimum(size, 1.4)) / np.maximum(size, 1e-9), 1.0)
    return apply_shared(shared, np.concatenate([step[: 2 * k], (turn * scale).ravel()]))
