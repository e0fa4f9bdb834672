"""Other courses of the fixes' error that the readings of a near part allow.

Near a transmitter the same readings fit a line walked on this side of it or on that, stretch by stretch: an error of
the fixes that moves by a metre within ten seconds makes the one out of the other. A fit from one start finds one of
them. So the error is filtered over a grid, forward through the readings, and whole courses are drawn backwards (forward
filtering, backward sampling: Sarkka, Bayesian Filtering and Smoothing, 2013, section 11.2, here on a grid). Courses
that hold together are a family, and each family is a start for a fit.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.mode_guesses import Near, summed
from analyzer.engine.fusion.problem import AXIS_STATES, P, RunProblem
from analyzer.engine.fusion.rows import STUDENT_DOF
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.holding import Held, seen_log
from analyzer.physics.receiver import offsets, seen_amplitude
from analyzer.physics.recorder_noise import FixNoise

REACH_M, CELL_M = 4.2, 0.42
BIN_S = 2.5
LAG_S = 10.0  # about one line of a bracket: what tells one side from the other is the error over such a time
COURSES = 48
FAMILY_M = 0.6
DOUBT_M = 0.25  # of a place: half a cell, and what smoothing hides of the walk
HEIGHT_PART = 0.3  # of a reading, where it is not known whether the receiver is low already
SEED = 1  # of the courses drawn; they are starts, no result


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A course of the fixes' error: times (b,) on the track's clock, error (b, 2), share of the courses drawn."""

    time_s: FloatArray
    error_m: FloatArray
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Cells of the error: coordinates of one axis (n,) about `centre` (2,), and all cells (n * n, 2) in metres."""

    side: FloatArray
    cells: FloatArray


def spread_per_s(noise: FixNoise) -> float:
    """Return the variance per second (m^2/s) of the random walk that moves as far over LAG_S as the error does."""
    x = LAG_S / noise.fast_s
    fast = 2.0 * noise.fast_m**2 * (1.0 - (1.0 + x) * np.exp(-x))
    slow = -2.0 * noise.slow_m**2 * np.expm1(-LAG_S / noise.slow_s)
    return float((fast + slow) / LAG_S)


def error_courses(problem: RunProblem, state: RunState, shared: DrillParameters, part: Near, most: int) -> list[Course]:
    """Return up to `most` mean courses of families, the family with most draws first."""
    t = problem.log.time_s[part.readings] + state.offset_s
    bins = np.unique(np.floor((t - t[0]) / BIN_S), return_inverse=True)[1]
    starts = np.searchsorted(bins, np.arange(bins[-1] + 1))
    time_s = np.add.reduceat(t, starts) / np.diff(starts, append=t.size)
    fixes = summed(state.nodes)
    error = fixes - state.nodes[:, [P, AXIS_STATES + P]]
    side = np.arange(-REACH_M, REACH_M + 1e-9, CELL_M)
    cells = np.stack(np.meshgrid(side, side, indexing="ij"), -1).reshape(-1, 2)
    cells = cells + np.mean(place_at(problem.node_s, error, t), axis=0)
    fit = np.add.reduceat(_fit_of_readings(problem, state, shared, part, fixes, cells), starts, axis=0)
    _add_hits(fit, problem, shared, part, fixes, cells, time_s)
    drawn = _drawn(fit, problem.noise, _Grid(side, cells), time_s)
    return _families(time_s, drawn, most)


def _fit_of_readings(
    problem: RunProblem, state: RunState, shared: DrillParameters, part: Near, fixes: FloatArray, cells: FloatArray
) -> FloatArray:
    """Return the log likelihood (m, cells) of each near reading where the fixes are off by a cell's error."""
    r, pick, k = problem.log, part.readings, part.transmitter
    seen_at = place_at(problem.node_s, fixes, r.time_s[pick] + state.offset_s)
    height = r.height_m[pick][:, None]
    d = offsets(seen_at[:, None, :] - cells, height, shared.transmitter_m[k], problem.depth_m[k])
    seen, unheld = _seen(problem, d, shared.axis[k], r.time_s[pick] + state.offset_s)
    off = r.log_reading[pick][:, None] - state.log_scale + seen / 3.0
    doubt = DOUBT_M / np.maximum(np.exp(r.log_reading[pick]), 1.0)
    variance = (r.sigma[pick] ** 2 + doubt**2 + (HEIGHT_PART * r.doubt[pick]) ** 2)[:, None] + unheld / 9.0
    fit = -0.5 * (STUDENT_DOF + 1.0) * np.log1p(off**2 / (STUDENT_DOF * variance)) - 0.5 * np.log(variance)
    return np.asarray(fit, np.float64)


def _seen(problem: RunProblem, d: FloatArray, axis: FloatArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of ln of the amplitude (m, cells) seen at offsets `d` (m, cells, 3) and times (m,)."""
    if problem.antennas == 3:
        seen = np.log(np.maximum(seen_amplitude(d, axis, antennas=3), 1e-12))
        return np.asarray(seen, np.float64), np.zeros(seen.shape)
    held = problem.held(time_s)
    if held.heading is not None and held.heading_sigma is not None:
        held = Held(1, held.heading[:, None, :], held.heading_sigma[:, None])
    mean, variance = seen_log(d, axis, held)
    return mean, problem.alike * variance


def _add_hits(
    fit: FloatArray,
    problem: RunProblem,
    shared: DrillParameters,
    part: Near,
    fixes: FloatArray,
    cells: FloatArray,
    time_s: FloatArray,
) -> None:
    """Add to `fit` (b, cells), in place, what the probe hits within the part say of the error."""
    for when, which, sigma in problem.anchors.over.tolist():
        if int(which) == part.transmitter and time_s[0] <= when <= time_s[-1] + 2.0 * BIN_S:
            at = place_at(problem.node_s, fixes, np.array([when]))[0] - shared.transmitter_m[part.transmitter]
            away = np.sum((at - cells) ** 2, axis=1)
            fit[np.argmin(np.abs(time_s - when))] -= 0.5 * away / (sigma**2 + DOUBT_M**2)


def _drawn(fit: FloatArray, noise: FixNoise, grid: _Grid, time_s: FloatArray) -> FloatArray:
    """Return COURSES courses (COURSES, b, 2) of the error drawn from its posterior over the grid."""
    rng = np.random.default_rng(SEED)
    n, count = grid.side.size, len(time_s)
    apart = (grid.side[:, None] - grid.side[None, :]) ** 2
    p = np.exp(-0.5 * np.sum(grid.cells**2, axis=1) / (noise.slow_m**2 + noise.fast_m**2))
    forward, moves = np.empty((count, n * n)), np.empty((count, n, n))
    for b in range(count):
        if b:
            moves[b] = np.exp(-0.5 * apart / (spread_per_s(noise) * (time_s[b] - time_s[b - 1])))
            p = (moves[b] @ p.reshape(n, n) @ moves[b]).ravel()
        p = p * np.exp(fit[b] - np.max(fit[b]))
        p = np.maximum(p / np.sum(p), 1e-300)
        forward[b] = p
    cells: IndexArray = np.empty((count, COURSES), int)
    cells[-1] = rng.choice(n * n, size=COURSES, p=forward[-1] / np.sum(forward[-1]))
    for b in range(count - 2, -1, -1):
        i, j = np.divmod(cells[b + 1], n)
        weight = forward[b].reshape(n, n) * moves[b + 1][i][:, :, None] * moves[b + 1][j][:, None, :]
        heap = np.cumsum(weight.reshape(COURSES, -1), axis=1)
        pick = rng.uniform(size=(COURSES, 1)) * heap[:, -1:]
        cells[b] = np.minimum(np.sum(heap < pick, axis=1), n * n - 1)
    return np.swapaxes(grid.cells[cells], 0, 1)


def _families(time_s: FloatArray, error_m: FloatArray, most: int) -> list[Course]:
    """Return the mean courses of up to `most` families: who leads most courses within FAMILY_M (rms) comes first."""
    apart = np.sqrt(np.mean(np.sum((error_m[:, None] - error_m[None]) ** 2, axis=-1), axis=-1))
    near, left = apart < FAMILY_M, np.ones(len(error_m), bool)
    out: list[Course] = []
    while np.any(left) and len(out) < most:
        leader = int(np.argmax(np.where(left, np.sum(near & left, axis=1), -1)))
        members = near[leader] & left
        out.append(Course(time_s, error_m[members].mean(axis=0), float(np.mean(members))))
        left &= ~members
    return out
