"""The near field of a magnetic dipole of unit strength.

    B = (3 (m.u) u - m) / r^3          u = d / r, d from the dipole to the point

in units where |m| mu_0 / 4 pi = 1, lengths in metres [1]. With `time_harmonic` the radial part is multiplied
by (1 + jx) and the transverse part by (1 + jx - x^2), x = r / 104.4 m [2]; the static field is good to 1 %
inside 15 m.

References
----------
[1] Griffiths, Introduction to Electrodynamics, section 5.4.3.
[2] Jackson, Classical Electrodynamics, sections 5.6 and 9.3.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.model.arrays import FloatArray
from analyzer.physics.constants import NEAR_FIELD_LENGTH_M


def dipole_field(offset_m: ArrayLike, axis: ArrayLike) -> FloatArray:
    """Return the static field (..., 3) at `offset_m` (..., 3) from a dipole with unit `axis` (..., 3).

    Both broadcast. At the dipole itself the field is not finite (NaN or inf), as in nature it is not defined.
    """
    d, m = np.asarray(offset_m, float), np.asarray(axis, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        r2 = np.sum(d * d, axis=-1, keepdims=True)
        along = np.sum(d * m, axis=-1, keepdims=True)
        field: FloatArray = (3.0 * along / r2 * d - m) / r2**1.5
    return field


def harmonic_parts(offset_m: ArrayLike, axis: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return real and imaginary field amplitudes (..., 3) at 457 kHz; near the dipole the real part is
    `dipole_field`.
    """
    d, m = np.asarray(offset_m, float), np.asarray(axis, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        r2 = np.sum(d * d, axis=-1, keepdims=True)
        along = np.sum(d * m, axis=-1, keepdims=True)
        radial = (along / r2) * d
        static = (3.0 * radial - m) / r2**1.5
        x = np.sqrt(r2) / NEAR_FIELD_LENGTH_M
        # The far term acts on the transverse part alone: -m_perp (1 + jx - x^2) = static part + x^2 m_perp.
        return static + (x * x) * (m - radial) / r2**1.5, x * static
