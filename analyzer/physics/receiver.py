"""What a receiver with one, two or three antennas shows.

The reading is D = scale * |B_seen|^(-1/3) with B of a unit dipole: with scale 1 a broadside receiver shows
the true distance and a coaxial one shows it short by 2^(1/3) = 1.26. Three antennas see |B|; two see its part
in the plane of the receiver, which is held parallel to the surface; one sees its part along the heading.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.model.arrays import FloatArray
from analyzer.physics.dipole import harmonic_parts


def seen_amplitude(
    offset_m: ArrayLike, axis: ArrayLike, *, antennas: int, heading: ArrayLike | None = None
) -> FloatArray:
    """Return the field amplitude (...,) that the receiver sees, for a unit dipole, in 1/m^3.

    Parameters
    ----------
    offset_m : array_like, shape (..., 3)
        From transmitter to receiver, slope frame (contour, upslope, normal), metres.
    axis : array_like, shape (..., 3)
        Unit vector of the transmitter's antenna, slope frame.
    antennas : {1, 2, 3}
    heading : array_like, shape (..., 2)
        Unit vector in the slope plane, needed for one antenna.
    """
    real, imaginary = harmonic_parts(offset_m, axis)
    if antennas == 3:
        power = np.sum(real**2 + imaginary**2, axis=-1)
    elif antennas == 2:
        power = np.sum((real**2 + imaginary**2)[..., :2], axis=-1)
    elif antennas == 1:
        if heading is None:
            raise ValueError("one antenna needs a heading")
        h = np.asarray(heading, float)
        power = np.sum(real[..., :2] * h, axis=-1) ** 2 + np.sum(imaginary[..., :2] * h, axis=-1) ** 2
    else:
        raise ValueError(f"antennas must be 1, 2 or 3; received {antennas}")
    return np.asarray(np.sqrt(power), np.float64)


def reading_m(
    offset_m: ArrayLike, axis: ArrayLike, *, scale: ArrayLike = 1.0, antennas: int = 3, heading: ArrayLike | None = None
) -> FloatArray:
    """Return the distance shown (...,) in metres; infinite where nothing is seen. See `seen_amplitude`."""
    amplitude = seen_amplitude(offset_m, axis, antennas=antennas, heading=heading)
    with np.errstate(divide="ignore"):
        shown: FloatArray = np.asarray(scale) * amplitude ** (-1.0 / 3.0)
    return shown


def offsets(path_m: ArrayLike, height_m: ArrayLike, transmitter_m: ArrayLike, depth_m: ArrayLike) -> FloatArray:
    """Return (..., 3) offsets from a transmitter to a receiver at `path_m` (..., 2), `height_m` above the
    surface.

    `transmitter_m` (..., 2): surface point over the transmitter; `depth_m`: below it along the normal.
    """
    flat = np.asarray(path_m, float) - np.asarray(transmitter_m, float)
    up = np.broadcast_to(np.asarray(height_m, float) + np.asarray(depth_m, float), flat.shape[:-1])
    return np.concatenate([flat, up[..., None]], axis=-1)
