"""How ln of the field amplitude changes with place and axis: what a fit of readings needs.

Three antennas: closed form. With c = m.d / r and x = r / 104.4 m

    |B|^2 = (4 c^2 (1 + x^2) + (1 - c^2) (1 - x^2 + x^4)) / r^6

(radial part times |1 + jx|, transverse part times |1 + jx - x^2|; Jackson, section 9.3). Fewer antennas: central
differences of the mean over what is not known of how the receiver is held (`holding.seen_log`).
"""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.physics.constants import NEAR_FIELD_LENGTH_M
from analyzer.physics.holding import Held, seen_log

STEP_M = 1e-4


def log_amplitude(offset_m: FloatArray, axis: FloatArray, held: Held) -> FloatArray:
    """Return ln of the amplitude (..., m) seen at `offset_m` (..., m, 3) from a unit dipole with `axis` (..., m, 3)."""
    if held.antennas != 3:
        return seen_log(offset_m, axis, held)[0]
    r2 = np.einsum("...i,...i->...", offset_m, offset_m)
    c2 = np.einsum("...i,...i->...", offset_m, axis) ** 2 / r2
    x2 = r2 / NEAR_FIELD_LENGTH_M**2
    power = 4.0 * c2 * (1.0 + x2) + (1.0 - c2) * (1.0 - x2 + x2 * x2)
    return np.asarray(0.5 * np.log(power) - 1.5 * np.log(r2), np.float64)


def log_amplitude_slopes(
    offset_m: FloatArray, axis: FloatArray, held: Held
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return ln amplitude (..., m), its slope over the plane (..., m, 2) in 1/m and over the axis (..., m, 3).

    The slope over the axis is meant for directions at right angles to it.
    """
    if held.antennas != 3:
        return _by_differences(offset_m, axis, held)
    r2 = np.einsum("...i,...i->...", offset_m, offset_m)
    r = np.sqrt(r2)
    u = offset_m / r[..., None]
    c = np.einsum("...i,...i->...", u, axis)
    x = r / NEAR_FIELD_LENGTH_M
    x2 = x * x
    near, far = 1.0 + x2, 1.0 - x2 + x2 * x2
    power = 4.0 * c * c * near + (1.0 - c * c) * far
    by_c = (4.0 * c * near - c * far) / power
    by_x = (4.0 * c * c * x + (1.0 - c * c) * (2.0 * x * x2 - x)) / power
    by_r = by_x / NEAR_FIELD_LENGTH_M - 3.0 / r
    across = (axis[..., :2] - c[..., None] * u[..., :2]) / r[..., None]
    plane = by_c[..., None] * across + by_r[..., None] * u[..., :2]
    return 0.5 * np.log(power) - 3.0 * np.log(r), plane, by_c[..., None] * u


def _by_differences(offset_m: FloatArray, axis: FloatArray, held: Held) -> tuple[FloatArray, FloatArray, FloatArray]:
    def value(d: FloatArray, m: FloatArray) -> FloatArray:
        return log_amplitude(d, m, held)

    plane, turn = np.empty((*offset_m.shape[:-1], 2)), np.empty(offset_m.shape)
    for j in range(3):
        step = STEP_M * np.eye(3)[j]
        if j < 2:
            plane[..., j] = (value(offset_m + step, axis) - value(offset_m - step, axis)) / (2.0 * STEP_M)
        turn[..., j] = (value(offset_m, axis + step) - value(offset_m, axis - step)) / (2.0 * STEP_M)
    return value(offset_m, axis), plane, turn
