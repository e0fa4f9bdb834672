"""Other modes that the readings allow: around a transmitter a ring of places has the same reading.

The shape of the track decides the side, but not always at once: a fit that starts on the wrong side can stay there. So
the near part of a run is shifted rigidly over a grid, and every good place becomes a start of its own.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, F, P, RunProblem, S, V
from analyzer.engine.fusion.rows import DrillParameters, RunState
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.receiver import offsets, seen_amplitude

NEAR_READING_M = 7.0
SHIFT_REACH_M, SHIFT_STEP_M = 5.0, 0.7
RIGID_DOUBT_M = 0.6  # a near part is not rigid: the fast error moves within it
APART_M = 1.2
RAMP_S = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """The near part of the search for one transmitter: its index and its readings (m,) by number."""

    transmitter: int
    readings: IndexArray


def near_parts(problem: RunProblem) -> list[Near]:
    """Return the near parts of a run that hold at least four readings."""
    r = problem.readings
    if r is None:
        return []
    near = np.exp(r.log_reading) <= NEAR_READING_M
    parts = [Near(k, np.flatnonzero(near & (r.transmitter == k))) for k in range(len(problem.depth_m))]
    return [p for p in parts if p.readings.size >= 4]


def summed(nodes: FloatArray) -> FloatArray:
    """Return (n, 2) place plus errors: the smoothed fixes."""
    return np.column_stack([nodes[:, a + P] + nodes[:, a + F] + nodes[:, a + S] for a in (0, AXIS_STATES)])


def good_shifts(
    problem: RunProblem, state: RunState, shared: DrillParameters, part: Near, count: int
) -> list[FloatArray]:
    """Return up to `count` shifts (2,) of the smoothed fixes, best first, whose near part fits the readings.

    Shifts are of the fixes' error: place = fix - shift. Local minima on the grid only, at least APART_M apart.
    """
    r, pick = problem.log, part.readings
    pick = pick if pick.size <= 60 else pick[np.linspace(0, pick.size - 1, 60).astype(int)]
    t = r.time_s[pick] + state.offset_s
    fixes = summed(state.nodes)
    seen_at = place_at(problem.node_s, fixes, t)
    side = np.arange(-SHIFT_REACH_M, SHIFT_REACH_M + 1e-9, SHIFT_STEP_M)
    centre = np.mean(seen_at, axis=0) - shared.transmitter_m[part.transmitter]
    grid = np.stack(np.meshgrid(side, side, indexing="ij"), -1)
    shifts = grid + np.clip(centre, -3.0, 3.0)
    height = r.height_m[pick]
    k = part.transmitter
    place = seen_at[None, None] - shifts[:, :, None, :]
    d = offsets(place, height, shared.transmitter_m[k], problem.depth_m[k])
    heading = None
    if problem.antennas == 1:
        move = np.gradient(seen_at, axis=0)
        heading = move / np.maximum(np.linalg.norm(move, axis=1, keepdims=True), 1e-6)
    seen = seen_amplitude(d, shared.axis[k], antennas=problem.antennas, heading=heading)
    predicted = np.log(np.maximum(seen, 1e-12)) / -3.0 + state.log_scale
    sigma = np.hypot(r.sigma[pick], RIGID_DOUBT_M / np.maximum(np.exp(r.log_reading[pick]), 1.0))
    value = np.sum(np.log1p((r.log_reading[pick] - predicted) ** 2 / sigma**2 / 4.0), axis=-1)
    spread = problem.noise.slow_m**2 + problem.noise.fast_m**2
    value = value + 0.5 * np.sum(shifts**2, axis=-1) / spread
    return _minima(value, shifts, count)


def _minima(value: FloatArray, shifts: FloatArray, count: int) -> list[FloatArray]:
    """Return the shifts of the lowest local minima of a grid of values."""
    padded = np.pad(value, 1, constant_values=np.inf)
    n = value.shape[0]
    around = np.stack([padded[1 + i : 1 + i + n, 1 + j : 1 + j + n] for i in (-1, 0, 1) for j in (-1, 0, 1)])
    lowest = np.argwhere(value <= np.min(around, axis=0))
    order = lowest[np.argsort(value[lowest[:, 0], lowest[:, 1]])]
    chosen: list[FloatArray] = []
    for i, j in order:
        if all(np.linalg.norm(shifts[i, j] - other) >= APART_M for other in chosen):
            chosen.append(shifts[i, j])
        if len(chosen) == count:
            break
    return chosen


def shifted(problem: RunProblem, state: RunState, part: Near, shift: FloatArray) -> RunState:
    """Return the state with the near part moved to fix - `shift`, blended into the rest over RAMP_S."""
    r = problem.log
    t = r.time_s[part.readings] + state.offset_s
    outside = np.maximum(np.maximum(t[0] - problem.node_s, problem.node_s - t[-1]), 0.0)
    share = np.clip(1.0 - outside / RAMP_S, 0.0, 1.0)[:, None]
    place = state.nodes[:, [P, AXIS_STATES + P]]
    target = (1.0 - share) * place + share * (summed(state.nodes) - shift)
    rate = np.gradient(target, problem.node_s, axis=0)
    nodes = np.array(state.nodes)
    for j, a in enumerate((0, AXIS_STATES)):
        nodes[:, a + F] += nodes[:, a + P] - target[:, j]
        nodes[:, a + P], nodes[:, a + V] = target[:, j], rate[:, j]
    return RunState(nodes, state.log_scale, state.offset_s)


def near_distance(problem: RunProblem, one: RunState, other: RunState) -> float:
    """Return the rms distance in metres between two states over all near parts; infinite without any."""
    parts = near_parts(problem)
    if not parts:
        return np.inf
    times = np.concatenate([problem.log.time_s[p.readings] for p in parts])
    gap = (one.nodes - other.nodes)[:, [P, AXIS_STATES + P]]
    at = place_at(problem.node_s, gap, times + one.offset_s)
    return float(np.sqrt(np.mean(np.sum(at**2, axis=1))))
