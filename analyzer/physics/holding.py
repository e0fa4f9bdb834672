"""What fewer than three antennas see of a field where it is not known exactly how the receiver is held.

Two antennas see the part of the field in their plane, which is level within TILT_RAD only; one antenna sees the part
along its heading, which is known within a standard deviation that may be large. What a reading tells is then the mean
of ln of the amplitude over these, and how far it scatters.

Two antennas: a part p in the plane and b across it give a normal vector about p with s = TILT_RAD |b| a side, whence

    E ln |z| = ln |p| + E1(p^2 / 2 s^2) / 2

(the mean of the logarithm of a non-central chi-square variable of two degrees of freedom [1]); its variance falls from
pi^2 / 24 at p = 0, a Rayleigh variable's, to s^2 / p^2, and is interpolated between (within 6 % of samples).

One antenna, at an angle a to the part in the plane that is known within a normal deviation d:

    E ln |cos(a + d)| = -ln 2 - sum_k (-1)^k / k exp(-2 k^2 d^2) cos 2 k a

(the Fourier series of ln |cos| [2], each term damped by the deviation); the square of ln |cos| is smoothed alike.

References
----------
[1] Moser, "Expected Logarithm and Negative Integer Moment of a Noncentral chi^2-Distributed Random Variable", Entropy
    2020, 22(9), 1048.
[2] Gradshteyn and Ryzhik, Table of Integrals, Series, and Products, 1.441.4.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import exp1

from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.dipole import harmonic_parts

TILT_RAD = np.radians(8.0)
"""How far from level a receiver is held while walking, standard deviation about each axis; our estimate."""
LEAST_RAD = np.radians(3.0)
"""No heading is taken to be known better: the series needs few terms then."""
TERMS = 40
RAYLEIGH_VARIANCE = np.pi**2 / 24.0
BETWEEN = 6.0  # of (p / s)^2: where the variance of two antennas turns from the one to the other
LEAST_FIELD = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """How a receiver of 1, 2 or 3 antennas is held. One antenna: `heading` (..., 2), the unit vector in the slope plane
    along which it is taken to point, and `heading_sigma` (...,), the standard deviation of its direction in radians."""

    antennas: int
    heading: FloatArray | None = None
    heading_sigma: FloatArray | None = None

    def of(self, pick: IndexArray) -> "Held":
        """Return how it is held at some of the places, by number."""
        if self.heading is None or self.heading_sigma is None:
            return self
        return Held(self.antennas, self.heading[..., pick, :], self.heading_sigma[..., pick])


def _series_of_square() -> FloatArray:
    """Return the Fourier coefficients (TERMS + 1,) of (ln |cos a|)^2 over cos 2 k a, by the rule of midpoints."""
    count = 1 << 15
    angle = (np.arange(count) + 0.5) * np.pi / count
    square = np.log(np.abs(np.cos(angle))) ** 2
    rows = np.cos(2.0 * np.arange(TERMS + 1)[:, None] * angle)
    return np.asarray(rows @ square * np.where(np.arange(TERMS + 1) == 0, 1.0, 2.0) / count, np.float64)


ORDER = np.arange(1, TERMS + 1)
OF_LOG = -((-1.0) ** ORDER) / ORDER
OF_SQUARE = _series_of_square()


def seen_log(offset_m: FloatArray, axis: FloatArray, held: Held) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance (...,) of ln of the amplitude that one or two antennas see of a unit dipole.

    Parameters
    ----------
    offset_m : array, shape (..., 3)
        From transmitter to receiver, slope frame, metres.
    axis : array, shape (..., 3)
        Unit vector of the transmitter's antenna.
    held : Held
        With one or two antennas; its arrays broadcast with the offsets.
    """
    real, imaginary = harmonic_parts(offset_m, axis)
    plane = np.sqrt(np.sum(real[..., :2] ** 2 + imaginary[..., :2] ** 2, axis=-1))
    tilted = TILT_RAD * np.sqrt(real[..., 2] ** 2 + imaginary[..., 2] ** 2)
    plane, tilted = np.maximum(plane, LEAST_FIELD), np.maximum(tilted, LEAST_FIELD)
    if held.antennas == 2:
        ratio = (plane / tilted) ** 2
        mean = np.log(plane) + 0.5 * exp1(np.minimum(0.5 * ratio, 500.0))
        firm = 1.0 / RAYLEIGH_VARIANCE + ratio**2 / (ratio + BETWEEN)
        return np.asarray(mean, np.float64), np.asarray(1.0 / firm, np.float64)
    if held.heading is None or held.heading_sigma is None:
        raise ValueError("one antenna needs a heading")
    angle = np.arctan2(real[..., 1], real[..., 0]) - np.arctan2(held.heading[..., 1], held.heading[..., 0])
    sigma = np.maximum(np.hypot(held.heading_sigma, tilted / plane), LEAST_RAD)
    mean, variance = _over_headings(angle, sigma)
    return np.asarray(0.5 * np.log(plane**2 + tilted**2) + mean, np.float64), variance


def _over_headings(angle_rad: FloatArray, sigma_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance (...,) of ln |cos| of an angle that is known within a normal deviation."""
    waves = np.exp(-2.0 * ORDER**2 * sigma_rad[..., None] ** 2) * np.cos(2.0 * ORDER * angle_rad[..., None])
    mean = waves @ OF_LOG - np.log(2.0)
    square = waves @ OF_SQUARE[1:] + OF_SQUARE[0]
    return np.asarray(mean, np.float64), np.asarray(np.maximum(square - mean**2, 0.0), np.float64)
