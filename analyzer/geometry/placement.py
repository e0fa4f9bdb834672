"""Where the pixels of a picture lie on the ground: from pins, or from the corners of a picture that says it itself."""

import math

import numpy as np
import pyproj
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.model.arrays import FloatArray
from analyzer.model.ground import Pin

LEAST_APART_M, LEAST_APART_PX = 5.0, 20.0
"""Between the two pins that lie farthest apart: our choice; a slip of one metre or pixel would turn the picture by more
than a tenth else."""


def placement_of_pins(pins: tuple[Pin, ...]) -> FloatArray:
    """Return (2, 3) that takes (x, y, 1) in pixels to east, north in metres: a turn, one scale and a shift.

    Two pins are met exactly; of more the sum of squared distances is least. The picture is taken as seen from straight
    above, so that nothing is sheared (a similarity; with x - iy for a pixel it is one complex factor and a shift).

    Raises
    ------
    InputError
        Where there are fewer than two pins, or all of them lie close together in the picture or on the ground.
    """
    pixels = np.array([complex(pin.x_px, -pin.y_px) for pin in pins])
    ground = np.array([complex(pin.east_m, pin.north_m) for pin in pins])
    if len(pins) < 2 or _reach(pixels) < LEAST_APART_PX or _reach(ground) < LEAST_APART_M:
        raise InputError(
            where="pins",
            what="two points that lie apart are needed to place a picture",
            do=f"pin two points at least {LEAST_APART_M:g} m and {LEAST_APART_PX:g} pixels from each other",
        )
    middle = pixels.mean()
    centred = pixels - middle
    factor = (np.conj(centred) @ ground) / (np.conj(centred) @ centred).real
    shift = ground.mean() - factor * middle
    return np.array([[factor.real, factor.imag, shift.real], [factor.imag, -factor.real, shift.imag]])


def _reach(points: np.ndarray) -> float:
    return float(np.abs(points[:, None] - points[None, :]).max()) if points.size else 0.0


def misfit_m(pins: tuple[Pin, ...], placement: FloatArray) -> float | None:
    """Return how far (rms) pins lie from where a placement puts them; None for two, which are always met."""
    if len(pins) < 3:
        return None
    placed = np.array([[pin.x_px, pin.y_px, 1.0] for pin in pins]) @ placement.T
    off = placed - np.array([[pin.east_m, pin.north_m] for pin in pins])
    return math.sqrt(float((off**2).sum(axis=1).mean()))


def placement_of_points(pixels: ArrayLike, ground_m: ArrayLike) -> FloatArray:
    """Return the (2, 3) that takes pixels (n, 2), n of three and more, nearest to metres (n, 2)."""
    points = np.asarray(pixels, float)
    design = np.column_stack([points, np.ones(len(points))])
    solved: FloatArray = np.linalg.lstsq(design, np.asarray(ground_m, float), rcond=None)[0]
    return solved.T


def inverse_of(placement: FloatArray) -> FloatArray:
    """Return the (2, 3) that takes east, north, 1 back to pixels."""
    back = np.linalg.inv(placement[:, :2])
    return np.column_stack([back, -back @ placement[:, 2]])


def metres_a_pixel(placement: FloatArray) -> float:
    """Return the side of a square with the area of a pixel on the ground."""
    return math.sqrt(abs(float(np.linalg.det(placement[:, :2]))))


def latitude_longitude(epsg: int, points: ArrayLike) -> FloatArray:
    """Return (n, 2) latitude, longitude (WGS 84, degrees) of (n, 2) points, x or easting first, of a reference system.

    Raises
    ------
    InputError
        Where PROJ does not know the system, or the points do not lie in it.
    """
    xy = np.asarray(points, float)
    try:
        change = pyproj.Transformer.from_crs(f"EPSG:{epsg:d}", "EPSG:4326", always_xy=True)
        longitude, latitude = change.transform(xy[:, 0], xy[:, 1])
    except pyproj.exceptions.ProjError:
        raise InputError(
            where="picture",
            what=f"its coordinate system (EPSG {epsg}) is not known here",
            do="export it in UTM or in latitude and longitude (WGS 84), or pin it at two points",
        ) from None
    found = np.column_stack([latitude, longitude])
    if not np.isfinite(found).all():
        raise InputError(
            where="picture",
            what=f"its corners do not lie in its coordinate system (EPSG {epsg})",
            do="export it anew, or pin it at two points",
        )
    return found
