"""Other modes that the readings allow: around a transmitter a ring of places has the same reading.

The shape of the track decides the side, but not always at once: a fit that starts on the wrong side can stay there. So
the near part of a run is shifted rigidly over a grid, and every good place becomes a start of its own.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, F, P, RunProblem, S, V
from analyzer.engine.fusion.state import RunState
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, IndexArray

NEAR_READING_M = 7.0
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


def shifted(problem: RunProblem, state: RunState, time_s: FloatArray, error_m: FloatArray) -> RunState:
    """Return the state with the fixes off by `error_m` (b, 2) at `time_s` (b,), blended into the rest over RAMP_S."""
    outside = np.maximum(np.maximum(time_s[0] - problem.node_s, problem.node_s - time_s[-1]), 0.0)
    share = np.clip(1.0 - outside / RAMP_S, 0.0, 1.0)[:, None]
    place = state.nodes[:, [P, AXIS_STATES + P]]
    off = place_at(time_s, error_m, problem.node_s)
    target = (1.0 - share) * place + share * (summed(state.nodes) - off)
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
