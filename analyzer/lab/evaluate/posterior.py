"""The posterior of one run, evaluated anew: ln density and slope at any state, nothing linearised.

It is the model that docs/methods/fusion.md states, written a second time from the physics: innovations of walk and
errors from node to node, Student-t fixes, readings and hits, priors of scale, clock, place and axis. What the analysis
itself chose beforehand is taken over: noise levels, how far the walk wanders, when the receiver was low.

A state is nodes (n, 10) and d = [ln scale, clock offset, place (2k), axis tangents (2k)], about the axes of a mode.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.system import START_PLACE_M, START_SPEED_MPS
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.holding import Held
from analyzer.physics.receiver import offsets
from analyzer.physics.recorder_noise import gauss_markov_step, matern32_step, walking_step
from analyzer.physics.sensitivity import log_amplitude, log_amplitude_slopes

TAIL = 4.0  # degrees of freedom of fixes, readings and hits
STEP_M = 1e-4
PLACE, VELOCITY, FAST, RATE, SLOW = range(AXIS_STATES)
SUM = np.array([1.0, 0.0, 1.0, 0.0, 1.0])  # of a node's states: what a fix sees


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """ln posterior of a run with three antennas and no directions, holds or other runs beside it.

    `axis` (k, 3) and `tangents` (k, 2, 3): about which the axes are drawn. `step` (n-1, 5, 5) and `firm` (n-1, 5, 5):
    transition of a node's states along one axis, and the inverse covariance of its innovation.
    """

    problem: RunProblem
    stated: SharedPrior
    axis: FloatArray
    tangents: FloatArray
    step: FloatArray
    firm: FloatArray
    start: FloatArray

    def value(self, nodes: FloatArray, d: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Return ln density up to a constant, and its slope over nodes (n, 10) and d."""
        total, by_node = self._walk(nodes)
        by_d = np.zeros(d.size)
        k = len(self.axis)
        place, tangent = d[2 : 2 + 2 * k].reshape(k, 2), d[2 + 2 * k :].reshape(k, 2)
        for part in (self._fixes(nodes, by_node), self._hits(nodes, place, by_node, by_d)):
            total += part
        total += self._readings(nodes, d, by_node, by_d)
        mean, spread = self.problem.scale_prior
        sigma = np.array([spread, self.problem.offset_prior_s])
        away = d[:2] - (mean, 0.0)
        total -= 0.5 * float(np.sum((away / sigma) ** 2))
        by_d[:2] -= away / sigma**2
        off = place - self.stated.transmitter_m
        total -= 0.5 * float(np.sum((off / self.stated.position_sigma_m[:, None]) ** 2))
        by_d[2 : 2 + 2 * k] -= (off / self.stated.position_sigma_m[:, None] ** 2).ravel()
        told, slope = self._axes(tangent)
        by_d[2 + 2 * k :] += slope.ravel()
        return total + told, by_node, by_d

    def _walk(self, nodes: FloatArray) -> tuple[float, FloatArray]:
        """Return ln prior of walk and errors, and its slope."""
        x = nodes.reshape(len(nodes), 2, AXIS_STATES)
        new = x[1:] - np.einsum("nij,naj->nai", self.step, x[:-1])
        pull = np.einsum("nij,naj->nai", self.firm, new)
        slope = np.zeros_like(x)
        slope[1:] -= pull
        slope[:-1] += np.einsum("nij,nai->naj", self.step, pull)
        slope[0] -= self.start * x[0]
        return -0.5 * float(np.sum(new * pull) + np.sum(self.start * x[0] ** 2)), slope.reshape(nodes.shape)

    def _fixes(self, nodes: FloatArray, by_node: FloatArray) -> float:
        p, at = self.problem, self.problem.fix_node
        off = p.fix_m - np.stack([nodes[at, a : a + AXIS_STATES] @ SUM for a in (0, AXIS_STATES)], axis=1)
        squared = np.sum(off**2, axis=1) / p.noise.white_m**2
        pull = ((TAIL + 2.0) / (TAIL + squared) / p.noise.white_m**2)[:, None] * off
        for j, a in enumerate((0, AXIS_STATES)):
            by_node[:, a : a + AXIS_STATES] += np.bincount(at, pull[:, j], len(nodes))[:, None] * SUM
        return -0.5 * (TAIL + 2.0) * float(np.sum(np.log1p(squared / TAIL)))

    def _hits(self, nodes: FloatArray, place: FloatArray, by_node: FloatArray, by_d: FloatArray) -> float:
        over = self.problem.anchors.over
        if not len(over):
            return 0.0
        which, sigma = over[:, 1].astype(int), over[:, 2, None]
        between = _Between(self.problem.node_s, over[:, 0])
        off = between.places(nodes) - place[which]
        slope = -(TAIL + 1.0) * off / (TAIL * sigma**2 + off**2)
        between.add(by_node, slope)
        for j in (0, 1):
            by_d[2 + j : 2 + 2 * len(place) : 2] -= np.bincount(which, slope[:, j], len(place))
        return -0.5 * (TAIL + 1.0) * float(np.sum(np.log1p((off / sigma) ** 2 / TAIL)))

    def _readings(self, nodes: FloatArray, d: FloatArray, by_node: FloatArray, by_d: FloatArray) -> float:
        """Return ln likelihood of the readings, and add its slope, in which the height's doubt is taken as it is."""
        r, k = self.problem.readings, len(self.axis)
        if r is None:
            return 0.0
        at, which = r.time_s + d[1], r.transmitter
        between = _Between(self.problem.node_s, at)
        axis, size = self._turned(d[2 + 2 * k :].reshape(k, 2))
        shift = offsets(
            between.places(nodes), r.height_m, d[2 : 2 + 2 * k].reshape(k, 2)[which], self.problem.depth_m[which]
        )
        seen, by_place, by_axis = log_amplitude_slopes(shift, axis[which], Held(3))
        off = r.log_reading - d[0] + seen / 3.0
        variance = np.array(r.sigma**2)
        moving = np.flatnonzero(r.doubt > 0.0)
        if moving.size:
            up, down = (
                np.column_stack([shift[moving, :2], h + self.problem.depth_m[which[moving]]])
                for h in (r.carry_height_m, r.fine_height_m)
            )
            apart = log_amplitude(up, axis[which[moving]], Held(3)) - log_amplitude(down, axis[which[moving]], Held(3))
            variance[moving] += (r.doubt[moving] * apart / 3.0) ** 2
        inside = (at >= self.problem.node_s[0] - 2.0) & (at <= self.problem.node_s[-1] + 2.0)
        pull = -(TAIL + 1.0) * off / (TAIL * variance + off**2) * inside
        by_d[0] -= float(np.sum(pull))
        slope = (pull / 3.0)[:, None] * by_place
        by_d[1] += float(np.sum(slope * between.velocities(nodes)))
        between.add(by_node, slope)
        for j in (0, 1):
            by_d[2 + j : 2 + 2 * k : 2] -= np.bincount(which, slope[:, j], k)
            turn = np.sum(by_axis * (self.tangents[:, j] / size)[which], axis=1) * pull / 3.0
            by_d[2 + 2 * k + j :: 2] += np.bincount(which, turn, k)
        told = -0.5 * (TAIL + 1.0) * np.log1p(off**2 / (TAIL * variance)) - 0.5 * np.log(variance)
        return float(np.sum(told[inside]))

    def _turned(self, tangent: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return unit axes (k, 3) at tangents (k, 2), and the lengths (k, 1) that were divided out."""
        axis = self.axis + np.einsum("kj,kji->ki", tangent, self.tangents)
        size = np.linalg.norm(axis, axis=1, keepdims=True)
        return axis / size, size

    def _axes(self, tangent: FloatArray) -> tuple[float, FloatArray]:
        def told(turn: FloatArray) -> FloatArray:
            aside = 1.0 - np.sum(self.stated.axis * self._turned(turn)[0], axis=1) ** 2
            return np.asarray(-0.5 * aside / self.stated.axis_sigma_rad**2, np.float64)

        slope = np.stack([(told(tangent + u) - told(tangent - u)) / (2.0 * STEP_M) for u in STEP_M * np.eye(2)], axis=1)
        return float(np.sum(told(tangent))), slope


class _Between:
    """Places between nodes: the cubic through places and velocities of the neighbours, at times (m,)."""

    def __init__(self, node_s: FloatArray, time_s: FloatArray) -> None:
        self.first: IndexArray = np.clip(np.searchsorted(node_s, time_s, side="right") - 1, 0, node_s.size - 2)
        h = node_s[self.first + 1] - node_s[self.first]
        u = np.clip((time_s - node_s[self.first]) / h, -2.0, 3.0)
        self.basis = np.stack(
            [(1 + 2 * u) * (1 - u) ** 2, u * (1 - u) ** 2 * h, u**2 * (3 - 2 * u), u**2 * (u - 1) * h], axis=1
        )
        self.rate = np.stack([6 * u * (u - 1) / h, (1 - u) * (1 - 3 * u), 6 * u * (1 - u) / h, u * (3 * u - 2)], axis=1)

    def _mixed(self, nodes: FloatArray, basis: FloatArray) -> FloatArray:
        i, out = self.first, np.empty((self.first.size, 2))
        for j, a in enumerate((0, AXIS_STATES)):
            p, v = nodes[:, a + PLACE], nodes[:, a + VELOCITY]
            out[:, j] = np.sum(basis * np.stack([p[i], v[i], p[i + 1], v[i + 1]], axis=1), axis=1)
        return out

    def places(self, nodes: FloatArray) -> FloatArray:
        """Return (m, 2)."""
        return self._mixed(nodes, self.basis)

    def velocities(self, nodes: FloatArray) -> FloatArray:
        """Return (m, 2)."""
        return self._mixed(nodes, self.rate)

    def add(self, by_node: FloatArray, slope: FloatArray) -> None:
        """Add what a slope (m, 2) over the places is over the nodes, in place."""
        for j, a in enumerate((0, AXIS_STATES)):
            for column, (node, state) in enumerate(((0, PLACE), (0, VELOCITY), (1, PLACE), (1, VELOCITY))):
                by_node[:, a + state] += np.bincount(
                    self.first + node, self.basis[:, column] * slope[:, j], len(by_node)
                )


def posterior_of(problem: RunProblem, stated: SharedPrior, axis: FloatArray, tangents: FloatArray) -> Posterior:
    """Return the posterior of a run, its axes drawn about `axis` (k, 3) along `tangents` (k, 2, 3)."""
    if problem.antennas != 3 or len(problem.anchors.at) or problem.anchors.still.size:
        raise ValueError("written for three antennas, and for runs without holds")
    dt_s, noise = np.diff(problem.node_s), problem.noise
    step = np.zeros((dt_s.size, AXIS_STATES, AXIS_STATES))
    wide = np.zeros_like(step)
    step[:, :2, :2], wide[:, :2, :2] = walking_step(dt_s, problem.intensity, problem.damping)
    step[:, 2:4, 2:4], wide[:, 2:4, 2:4] = matern32_step(dt_s, noise.fast_m, noise.fast_s)
    step[:, SLOW, SLOW], wide[:, SLOW, SLOW] = gauss_markov_step(dt_s, noise.slow_m, noise.slow_s)
    first = (START_PLACE_M, START_SPEED_MPS, noise.fast_m, noise.fast_m / noise.fast_s, noise.slow_m)
    firm = np.asarray(np.linalg.inv(wide), np.float64)
    return Posterior(problem, stated, axis, tangents, step, firm, 1.0 / np.array(first) ** 2)
