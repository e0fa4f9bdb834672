"""Where physics puts the lowest reading of a fine search, and how flat it is there.

Lengths scale with the height h of the receiver over the transmitter (burial depth plus height above the
surface).

Three antennas: at a given distance |B| is largest towards the in-plane direction of the axis, so the lowest
reading lies on it, at t h with t the root of

    (1 + 3 s^2) t^3 + 7 s c t^2 + 5 c^2 t - s c = 0        s, c: in-plane and normal part of the axis

(the gradient of |B| set to zero); t <= 0.25, reached 12.5 degrees above the surface. Fewer antennas see part
of the field; theirs is searched for numerically. Two antennas are up to 0.5 h off (over a vertical axis the
readings are lowest on a ring; one point of it is returned). One antenna, held along a given heading, is up to
0.82 h off (heading across a flat axis) and has two equal lowest spots, of which one is returned; an in-plane
field across its heading is not seen at all.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analyzer.model.arrays import FloatArray
from analyzer.physics.line_kernel import (
    ComplexArray,
    Sources,
    along,
    as_complex,
    as_points,
    field_times_r5,
    log_flat_power,
    log_power,
    terms,
)

Power = Callable[[ComplexArray, Sources], FloatArray]
SEARCH_RADIUS = 1.0  # in heights: the largest offset is 0.82 (one antenna across a flat axis)
GRID = 25
FLAT_LIMIT = 3.0  # in heights: where the look for the edge of the flat region ends


@dataclass(frozen=True, slots=True, eq=False)
class Lowest:
    """The lowest reading in S draws.

    `offset_m` (S, 2): from the point over the transmitter; `distance_m` (S,): its length. `flat_m` (S,):
    length, along the in-plane direction of the axis and through the lowest point, over which the reading is
    within the asked share of its minimum; NaN where it does not end within three heights.
    """

    offset_m: FloatArray
    distance_m: FloatArray
    flat_m: FloatArray


def lowest_reading(
    axis: ArrayLike,
    *,
    depth_m: ArrayLike,
    height_m: ArrayLike,
    antennas: int = 3,
    heading: ArrayLike | None = None,
    within: float = 0.01,
) -> Lowest:
    """Return where in the plane of the receiver the reading is lowest.

    Parameters
    ----------
    axis : array_like, shape (S, 3) or (3,)
        Unit vectors of the transmitter's antenna, slope frame.
    depth_m, height_m : float or array_like, shape (S,)
        Of the transmitter below, of the receiver above the surface (the fine-search height).
    antennas : {1, 2, 3}
    heading : array_like, shape (2,) or (S, 2)
        Unit vector in the slope plane along which a single antenna is held; needed for one antenna, else
        ignored.
    within : float
        Share of the reading for `flat_m`.
    """
    m = np.atleast_2d(np.asarray(axis, float))
    h = np.broadcast_to(np.asarray(depth_m, float) + np.asarray(height_m, float), m.shape[:1])
    s = Sources(as_complex(m), m[:, 2], np.ones(len(m)))
    power = _power_seen(antennas, heading, len(m))
    p = _lowest_of_three(s) if antennas == 3 else _search(s, power)
    return Lowest(as_points(p) * h[:, None], np.abs(p) * h, _flat_length(p, s, power, within) * h)


def _power_seen(antennas: int, heading: ArrayLike | None, rows: int) -> Power:
    """Return the function that gives ln |B seen|^2."""
    if antennas == 3:
        return log_power
    if antennas == 2:
        return log_flat_power
    if antennas != 1:
        raise ValueError(f"antennas must be 1, 2 or 3; received {antennas}")
    if heading is None:
        raise ValueError("one antenna needs a heading")
    held = np.broadcast_to(as_complex(np.asarray(heading, float)), (rows,))

    def one(q: ComplexArray, source: Sources) -> FloatArray:
        part = along(field_times_r5(q, source), held[:, None] if q.ndim == 2 else held)
        with np.errstate(divide="ignore"):
            return np.log(part * part) - 5.0 * np.log(terms(q, source)[1])

    return one


def lowest_root(in_plane: ArrayLike, normal: ArrayLike) -> FloatArray:
    """Return t >= 0 of the module's cubic for in-plane part s >= 0 and normal part c of unit axes (sign of c
    ignored).
    """
    s, c = np.asarray(in_plane, float), np.abs(np.asarray(normal, float))
    sc, k3, k1 = s * c, 1.0 + 3.0 * s * s, 5.0 * c * c
    low, high = np.zeros_like(s), np.full_like(s, 0.26)
    for _ in range(40):  # bisection: the flat axis is a threefold root, where Newton crawls
        t = 0.5 * (low + high)
        above = ((k3 * t + 7.0 * sc) * t + k1) * t > sc
        low, high = np.where(above, low, t), np.where(above, t, high)
    return np.where(sc > 0.0, 0.5 * (low + high), 0.0)


def lowest_power(s: Sources) -> FloatArray:
    """Return ln |B|^2 (S,) where three antennas read lowest, at the sources' own heights."""
    unit = Sources(s.flat, s.normal, np.ones_like(s.height_m))
    with np.errstate(divide="ignore"):
        return log_power(_lowest_of_three(unit), unit) - 6.0 * np.log(s.height_m)


def _in_plane_unit(s: Sources) -> ComplexArray:
    size = np.abs(s.flat)
    return np.where(size > 1e-12, s.flat / np.maximum(size, 1e-300), 1.0)


def _lowest_of_three(s: Sources) -> ComplexArray:
    t = lowest_root(np.abs(s.flat), s.normal)
    spot: ComplexArray = t * _in_plane_unit(s) * np.where(s.normal < 0.0, -1.0, 1.0)
    return spot


def _search(s: Sources, power: Power) -> ComplexArray:
    """Return the points of largest power (S,): a grid over the disc, then ever finer 5 x 5 grids around the
    best.
    """
    rows, spread = np.arange(len(s.flat)), Sources(s.flat[:, None], s.normal[:, None], s.height_m[:, None])
    span = np.linspace(-SEARCH_RADIUS, SEARCH_RADIUS, GRID)
    grid = (span[:, None] + 1j * span[None, :]).ravel()
    q = np.broadcast_to(grid * _in_plane_unit(s)[:, None], (len(rows), grid.size))
    p = q[rows, np.argmax(power(q, spread), axis=1)]
    step = span[1] - span[0]
    near = (np.arange(-2, 3)[:, None] + 1j * np.arange(-2, 3)[None, :]).ravel()
    while step > 1e-6:
        q = p[:, None] + step * near
        p = q[rows, np.argmax(power(q, spread), axis=1)]
        step *= 0.5
    best: ComplexArray = p
    return best


def _flat_length(p: ComplexArray, s: Sources, power: Power, within: float) -> FloatArray:
    """Return the length (S,) in heights over which the reading stays within a share of its lowest."""
    unit = _in_plane_unit(s)
    floor = power(p, s) - 6.0 * np.log1p(within)
    total = np.zeros(len(p))
    outward = np.linspace(0.0, FLAT_LIMIT, 121)[1:]
    for sign in (1.0, -1.0):
        # First crossing outward, not the last: readings may fall again behind a ridge.
        spread = Sources(s.flat[:, None], s.normal[:, None], s.height_m[:, None])
        below = power(p[:, None] + sign * outward * unit[:, None], spread) < floor[:, None]
        first = np.argmax(below, axis=1)
        high, low = outward[first], outward[first] - outward[0]
        for _ in range(30):
            middle = 0.5 * (low + high)
            out = power(p + sign * middle * unit, s) < floor
            low, high = np.where(out, low, middle), np.where(out, middle, high)
        total = total + np.where(below.any(axis=1), 0.5 * (low + high), np.nan)
    return total
