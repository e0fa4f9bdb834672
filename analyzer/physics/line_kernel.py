"""The arithmetic of field lines: complex numbers stand for points of the slope plane.

With p the point seen from over the transmitter, h the receiver's height over the transmitter, (m, c) the
in-plane part and the normal part of its axis, a = m.p + c h and r^2 = |p|^2 + h^2:

    in-plane field    B_p = (3 a p - r^2 m) / r^5
    amplitude         |B|^2 = (3 a^2 / r^2 + 1) / r^6
    its rise          grad |B| is parallel to  a m - p (1 + 4 a^2 / r^2)

all three from the vector form of the static dipole (Griffiths, section 5.4.3). Functions return plain arrays
of the shape of `point`; nothing is checked here.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.model.arrays import FloatArray

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, eq=False)
class Sources:
    """Transmitters seen from the receiver's height: in-plane axis (S,), normal axis (S,), height over them
    (S,).
    """

    flat: ComplexArray
    normal: FloatArray
    height_m: FloatArray

    def take(self, rows: NDArray[np.intp]) -> "Sources":
        """Return the given rows."""
        return Sources(self.flat[rows], self.normal[rows], self.height_m[rows])


def as_complex(points: FloatArray) -> ComplexArray:
    """Return (...,) complex numbers of (..., 2) points."""
    return points[..., 0] + 1j * points[..., 1]


def as_points(numbers: ComplexArray) -> FloatArray:
    """Return (..., 2) points of (...,) complex numbers."""
    return np.stack([numbers.real, numbers.imag], axis=-1)


def along(one: ComplexArray, other: ComplexArray) -> FloatArray:
    """Return the dot product of two plane vectors."""
    return one.real * other.real + one.imag * other.imag


def terms(p: ComplexArray, s: Sources) -> tuple[FloatArray, FloatArray]:
    """Return a = m.d and r^2."""
    return (
        p.real * s.flat.real + p.imag * s.flat.imag + s.normal * s.height_m,
        p.real * p.real + p.imag * p.imag + s.height_m * s.height_m,
    )


def field_times_r5(p: ComplexArray, s: Sources) -> ComplexArray:
    """Return the in-plane field times r^5: its direction, without the steep factor."""
    a, r2 = terms(p, s)
    return 3.0 * a * p - r2 * s.flat


def rise(p: ComplexArray, s: Sources) -> ComplexArray:
    """Return a vector along the steepest rise of |B| (zero where the reading is lowest)."""
    a, r2 = terms(p, s)
    return a * s.flat - p * (1.0 + 4.0 * a * a / r2)


def log_power(p: ComplexArray, s: Sources) -> FloatArray:
    """Return ln |B|^2."""
    a, r2 = terms(p, s)
    return np.log1p(3.0 * a * a / r2) - 3.0 * np.log(r2)


def log_flat_power(p: ComplexArray, s: Sources) -> FloatArray:
    """Return ln |B_p|^2, minus infinity where the in-plane field vanishes."""
    a, r2 = terms(p, s)
    b = 3.0 * a * p - r2 * s.flat
    with np.errstate(divide="ignore"):
        return np.log(b.real**2 + b.imag**2) - 5.0 * np.log(r2)
