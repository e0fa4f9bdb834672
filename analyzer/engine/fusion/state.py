"""State of a run under way: nodes and globals, one or a stack of copies, and how rows see it between nodes.

Leading axes, shown as `...`, hold copies of one run that are fitted at once, each on its own.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, P, V
from analyzer.model.arrays import FloatArray, IndexArray

PLACES = np.array([P, V, AXIS_STATES + P, AXIS_STATES + V])
"""The states of a node that rows between nodes touch."""


@dataclass(frozen=True, slots=True, eq=False)
class DrillParameters:
    """Globals of the drill: transmitters (..., k, 2) and unit axes (..., k, 3) in the slope frame."""

    transmitter_m: FloatArray
    axis: FloatArray

    @property
    def size(self) -> int:
        """Number of shared globals."""
        return 4 * int(self.transmitter_m.shape[-2])

    def of(self, pick: IndexArray | int) -> "DrillParameters":
        """Return some copies of a stack, or one."""
        return DrillParameters(self.transmitter_m[pick], self.axis[pick])


@dataclass(frozen=True, slots=True, eq=False)
class RunState:
    """State of one run: nodes (..., n, 10), ln of the reading scale (...), clock offset (...) in seconds."""

    nodes: FloatArray
    log_scale: float | FloatArray
    offset_s: float | FloatArray

    def of(self, pick: IndexArray | int) -> "RunState":
        """Return some copies of a stack, or one."""
        return RunState(self.nodes[pick], np.asarray(self.log_scale)[pick], np.asarray(self.offset_s)[pick])


def hermite(node_s: FloatArray, time_s: FloatArray) -> tuple[IndexArray, FloatArray, FloatArray]:
    """Return first node (..., m), basis (..., m, 4) for [p_i, v_i, p_i+1, v_i+1] and its derivative (..., m, 4)."""
    i = np.clip(np.searchsorted(node_s, time_s, side="right") - 1, 0, node_s.size - 2)
    h = node_s[i + 1] - node_s[i]
    u = np.clip((time_s - node_s[i]) / h, -2.0, 3.0)
    u2, u3 = u * u, u * u * u
    basis = np.stack([2 * u3 - 3 * u2 + 1, (u3 - 2 * u2 + u) * h, -2 * u3 + 3 * u2, (u3 - u2) * h], -1)
    rate = np.stack([(6 * u2 - 6 * u) / h, 3 * u2 - 4 * u + 1, (-6 * u2 + 6 * u) / h, 3 * u2 - 2 * u], -1)
    return i, basis, rate


def at_times(nodes: FloatArray, first: IndexArray, basis: FloatArray) -> FloatArray:
    """Return (..., m, 2) positions (or velocities, with the derivative basis) between nodes (..., n, 10)."""
    here, after = picked(nodes, first), picked(nodes, first + 1)
    before = basis[..., 0:1] * here[..., 0::2] + basis[..., 1:2] * here[..., 1::2]
    return np.asarray(before + basis[..., 2:3] * after[..., 0::2] + basis[..., 3:4] * after[..., 1::2], np.float64)


def picked(nodes: FloatArray, first: IndexArray) -> FloatArray:
    """Return the states PLACES (..., m, 4) of nodes (..., n, 10) at `first` (m,), or (..., m) in each copy."""
    if first.ndim == 1:
        return np.asarray(nodes[..., first[:, None], PLACES], np.float64)
    copy = np.arange(len(nodes))[:, None, None]
    return np.asarray(nodes[copy, first[..., None], PLACES], np.float64)


def tangents(axis: FloatArray) -> FloatArray:
    """Return (..., k, 2, 3) two unit vectors at right angles to each axis (..., k, 3)."""
    out = np.empty((axis.size // 3, 2, 3))
    for i, (x, y, z) in enumerate(
        axis.reshape(-1, 3).tolist()
    ):  # a drill has few transmitters: plain numbers beat array calls
        a, b, c = (-y, x, 0.0) if abs(z) < 0.8 else (0.0, -z, y)
        size = (a * a + b * b + c * c) ** 0.5
        a, b, c = a / size, b / size, c / size
        out[i] = ((a, b, c), (y * c - z * b, z * a - x * c, x * b - y * a))
    return out.reshape(*axis.shape[:-1], 2, 3)


def later(time_s: FloatArray, offset_s: float | FloatArray) -> FloatArray:
    """Return times (..., m) on the track's clock: `time_s` (m,) and the clock offset of each copy."""
    return np.asarray(time_s + np.asarray(offset_s)[..., None], np.float64)
