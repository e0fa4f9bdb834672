"""What the drill file states of the globals that its runs share, and how they move."""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.fusion.state import DrillParameters, tangents
from analyzer.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class SharedPrior:
    """What the drill states: positions (k, 2) with sigma (k,), axes (k, 3) with sigma in rad (k,), inf if not given."""

    transmitter_m: FloatArray
    position_sigma_m: FloatArray
    axis: FloatArray
    axis_sigma_rad: FloatArray

    def cost(self, shared: DrillParameters) -> FloatArray:
        """Return the negative log prior (...) up to a constant."""
        place = np.sum((shared.transmitter_m - self.transmitter_m) ** 2, axis=-1) / self.position_sigma_m**2
        turn = np.sum(np.cross(self.axis, shared.axis) ** 2, axis=-1) / self.axis_sigma_rad**2
        return np.asarray(0.5 * np.sum(place + turn, axis=-1), np.float64)

    def information(self, shared: DrillParameters) -> tuple[FloatArray, FloatArray]:
        """Return information (4k, 4k) and vector (..., 4k) for increments at `shared`."""
        info = np.repeat(np.concatenate([1.0 / self.position_sigma_m**2, 1.0 / self.axis_sigma_rad**2]), 2)
        sign = np.sign(np.sum(self.axis * shared.axis, axis=-1, keepdims=True)) + 0.0
        toward = np.einsum("...kji,...ki->...kj", tangents(shared.axis), np.where(sign == 0, 1.0, sign) * self.axis)
        away = np.concatenate([self.transmitter_m - shared.transmitter_m, toward], axis=-2)
        vector = info * away.reshape(*away.shape[:-2], -1)
        return np.diag(info + 1e-6), vector  # the small ridge keeps an axis no reading speaks of at its start


def apply_shared(shared: DrillParameters, step: FloatArray) -> DrillParameters:
    """Return the globals moved by increments (..., 4k)."""
    place, turn = np.split(step.reshape(*step.shape[:-1], -1, 2), 2, axis=-2)
    axis = shared.axis + np.einsum("...kj,...kji->...ki", turn, tangents(shared.axis))
    return DrillParameters(shared.transmitter_m + place, axis / np.linalg.norm(axis, axis=-1, keepdims=True))
