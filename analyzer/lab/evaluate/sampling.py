"""Long sampling of a run's posterior: Hamiltonian chains that leave a normal distribution about a mode as it is.

A mode's normal approximation, which the analysis found, gives coordinates z in which the posterior is nearly standard
normal. Its motion is solved exactly, as a rotation of z and momentum, and only what differs from it is stepped (Beskos
et al., "Hybrid Monte Carlo on Hilbert spaces", Stochastic Processes and their Applications 2011, 121(10)); every
trajectory is then accepted or refused by the posterior itself, so that the approximation costs speed and no truth.

With several modes a chain carries the number of the mode whose coordinates it uses, and now and then takes its z over
to another's, accepted with the ratio of posterior times volume of the coordinates: so chains pass between modes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.banded import BandFactor
from analyzer.engine.fusion.draws import globals_covariance
from analyzer.engine.fusion.problem import RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.solve import Solution
from analyzer.engine.fusion.state import tangents
from analyzer.lab.evaluate.posterior import Posterior, posterior_of
from analyzer.model.arrays import FloatArray

STEPS, STEP_RAD = 5, 0.35
WANTED = 0.7
"""Share of trajectories accepted, for which the steps are made shorter or longer while warming up."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """Coordinates about one mode: nodes and d at z = 0, and how z moves them: `factor` of nodes, `border` of d on them,
    `root` of the covariance of d. `volume`: ln of the determinant."""

    posterior: Posterior
    factor: BandFactor
    border: FloatArray
    nodes: FloatArray
    d: FloatArray
    root: FloatArray
    volume: float

    def state(self, z: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return nodes (n, 10) and d at z."""
        move = self.root @ z[self.nodes.size :]
        nodes = self.nodes.ravel() + self.factor.backward(z[: self.nodes.size] - self.border @ move)
        return nodes.reshape(self.nodes.shape), self.d + move

    def value(self, z: FloatArray) -> tuple[float, FloatArray]:
        """Return ln posterior and its slope over z."""
        total, by_node, by_d = self.posterior.value(*self.state(z))
        solved = self.factor.forward(by_node.ravel())
        return total, np.concatenate([solved, self.root.T @ (by_d - self.border.T @ solved)])


@dataclass(frozen=True, slots=True, eq=False)
class Chains:
    """Samples of several chains: places (c, s, n, 2), velocities (c, s, n, 2), d (c, s, q), axes (c, s, k, 3), and the
    number of the mode whose coordinates they had (c, s). `accepted`: share of the trajectories."""

    path_m: FloatArray
    velocity_mps: FloatArray
    d: FloatArray
    axis: FloatArray
    sheet: FloatArray
    accepted: float

    def doubt(self) -> float:
        """Return the largest split R-hat of places over the nodes, 1 where the chains agree.

        Gelman et al., Bayesian Data Analysis, third edition, section 11.4.
        """
        half = self.path_m.shape[1] // 2
        parts = np.concatenate([self.path_m[:, :half], self.path_m[:, half : 2 * half]])
        within = np.mean(np.var(parts, axis=1, ddof=1), axis=0)
        between = np.var(np.mean(parts, axis=1), axis=0, ddof=1)
        return float(np.max(np.sqrt((half - 1) / half + between / within)))


def sheet_of(problem: RunProblem, stated: SharedPrior, solution: Solution) -> Sheet:
    """Return the coordinates about a mode."""
    shared, state = solution.shared, solution.states[0]
    posterior = posterior_of(problem, stated, shared.axis, tangents(shared.axis))
    root = np.asarray(np.linalg.cholesky(globals_covariance(solution, 0)), np.float64)
    own = np.array([state.log_scale, state.offset_s], np.float64)
    d = np.concatenate([own, shared.transmitter_m.ravel(), np.zeros(2 * len(shared.axis))])
    system = solution.systems[0]
    volume = float(np.sum(np.log(np.diag(root)))) - 0.5 * system.factor.log_determinant()
    return Sheet(posterior, system.factor, system.half[:, 1:], state.nodes, d, root, volume)


def sampled(
    sheets: Sequence[Sheet], shares: Sequence[float], *, chains: int, samples: int, warm_up: int, seed: int
) -> Chains:
    """Return chains that begin at draws of the normal approximations, each mode by its share."""
    rngs = [np.random.default_rng([seed, c]) for c in range(chains)]
    weights = np.asarray(shares) / np.sum(shares)
    runs = [_chain(sheets, int(rng.choice(len(sheets), p=weights)), rng, samples, warm_up) for rng in rngs]
    path, velocity, d, axis, sheet = (np.array([run[i] for run in runs]) for i in range(5))
    return Chains(path, velocity, d, axis, sheet, float(np.mean([run[5] for run in runs])))


def _chain(
    sheets: Sequence[Sheet], at: int, rng: np.random.Generator, samples: int, warm_up: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, float]:
    z = rng.standard_normal(sheets[at].nodes.size + sheets[at].d.size)
    value, slope = sheets[at].value(z)
    step, taken = STEP_RAD, 0
    paths, speeds, ds, axes, numbers = [], [], [], [], []
    for i in range(warm_up + samples):
        z, value, slope, accepted = _trajectory(sheets[at], z, value, slope, step, rng)
        if i < warm_up:
            step = float(np.clip(step * np.exp(0.1 * (accepted - WANTED)), 0.02, 1.0))
        other = int(rng.integers(len(sheets)))
        if other != at:
            there = sheets[other].value(z)
            gain = there[0] + sheets[other].volume - value - sheets[at].volume
            if np.log(rng.uniform()) < gain:
                at, (value, slope) = other, there
        if i < warm_up:
            continue
        taken += accepted
        nodes, d = sheets[at].state(z)
        sheet = sheets[at].posterior
        turned = sheet.axis + np.einsum("kj,kji->ki", d[2 + 2 * len(sheet.axis) :].reshape(-1, 2), sheet.tangents)
        paths.append(nodes[:, [0, 5]])
        speeds.append(nodes[:, [1, 6]])
        ds.append(d)
        axes.append(turned / np.linalg.norm(turned, axis=1, keepdims=True))
        numbers.append(float(at))
    return np.array(paths), np.array(speeds), np.array(ds), np.array(axes), np.array(numbers), taken / samples


def _trajectory(
    sheet: Sheet, z: FloatArray, value: float, slope: FloatArray, step: float, rng: np.random.Generator
) -> tuple[FloatArray, float, FloatArray, bool]:
    """Return the end of a trajectory where it is accepted, else its start, and whether it was."""
    push = rng.standard_normal(z.size)
    before = -value + 0.5 * float(push @ push)
    turn = step * float(rng.uniform(0.8, 1.2))
    cos, sin = np.cos(turn), np.sin(turn)
    new, total, by_z, momentum = z, value, slope, push
    for _ in range(STEPS):
        momentum = momentum + 0.5 * turn * (by_z + new)  # what the normal part pulls is in the rotation
        new, momentum = cos * new + sin * momentum, cos * momentum - sin * new
        total, by_z = sheet.value(new)
        momentum = momentum + 0.5 * turn * (by_z + new)
    after = -total + 0.5 * float(momentum @ momentum)
    if np.isfinite(after) and np.log(rng.uniform()) < before - after:
        return new, total, by_z, True
    return z, value, slope, False
