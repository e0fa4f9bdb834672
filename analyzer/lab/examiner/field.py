"""Geometry of the slope and the field of a buried transmitter, written a second time.

Nothing here is taken from the analyser: this package plays the outside examiner who makes runs for
it. Slope coordinates are (along the contour, up the slope, along the normal) in metres from the
drill's origin; "contour" points to the right of a person who looks up the slope.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

WAVE_NUMBER = 2 * math.pi * 457e3 / 299792458.0  # rad/m at 457 kHz
WGS84_A, WGS84_F = 6378137.0, 1 / 298.257223563
Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Slope:
    """A plane hillside; ``aspect_deg`` is the bearing of the downhill direction."""

    angle_deg: float
    aspect_deg: float

    def axes(self) -> np.ndarray:
        """Rows: contour, upslope and normal as (east, north, up) unit vectors."""
        s, up = math.radians(self.angle_deg), math.radians(self.aspect_deg + 180.0)
        return np.array(
            [
                [math.cos(up), -math.sin(up), 0.0],
                [math.sin(up) * math.cos(s), math.cos(up) * math.cos(s), math.sin(s)],
                [-math.sin(up) * math.sin(s), -math.cos(up) * math.sin(s), math.cos(s)],
            ]
        )

    def surface_enu(self, c: np.ndarray, u: np.ndarray) -> np.ndarray:
        """Points of the surface as (east, north, up), shape (n, 3)."""
        ax = self.axes()
        return np.outer(np.atleast_1d(c), ax[0]) + np.outer(np.atleast_1d(u), ax[1])

    def axis_vector(self, bearing_deg: float, tilt_deg: float) -> Vector:
        """Unit vector in slope coordinates of an antenna with this true bearing and rise."""
        b, t = math.radians(bearing_deg), math.radians(tilt_deg)
        enu = np.array([math.sin(b) * math.cos(t), math.cos(b) * math.cos(t), math.sin(t)])
        m = self.axes() @ enu
        return float(m[0]), float(m[1]), float(m[2])


@dataclass(frozen=True)
class Transmitter:
    """A transmitter ``depth`` metres under the surface point (c, u), antenna along ``axis``."""

    name: str
    c: float
    u: float
    depth: float
    axis: Vector
    bearing_deg: float = 0.0
    tilt_deg: float = 0.0


def dipole(tx: Transmitter, c: float, u: float, h: float, k: float = WAVE_NUMBER) -> tuple[Vector, Vector]:
    """In-phase and quadrature field of a unit dipole, equatorial near field 1/r**3.

    B r^3 = (3 (m.n) n - m) (1 - i x) + x^2 (m - (m.n) n), x = k r (radiation included).
    """
    x, y, z = c - tx.c, u - tx.u, h + tx.depth
    r2 = x * x + y * y + z * z
    r = math.sqrt(r2)
    mx, my, mz = tx.axis
    dot = (mx * x + my * y + mz * z) / r2
    kr = k * r
    near, far, w = 3 * dot, kr * kr, 1.0 / (r2 * r)
    ax, ay, az = near * x - mx, near * y - my, near * z - mz
    re = ((ax + far * (mx - dot * x)) * w, (ay + far * (my - dot * y)) * w, (az + far * (mz - dot * z)) * w)
    return re, (-kr * ax * w, -kr * ay * w, -kr * az * w)


def shown_distance(
    tx: Transmitter, at: Vector, antennas: int, heading: float, scale: float, k: float = WAVE_NUMBER
) -> float:
    """Distance shown at ``at`` without noise: scale * |seen field|^(-1/3), metres.

    Three antennas see the whole field, two the part in the slope plane (receiver held parallel to the
    snow), one the part along the heading (radians from the contour towards upslope).
    """
    re, im = dipole(tx, *at, k)
    if antennas == 3:
        power = sum(v * v for v in re) + sum(v * v for v in im)
    elif antennas == 2:
        power = re[0] ** 2 + re[1] ** 2 + im[0] ** 2 + im[1] ** 2
    else:
        hx, hy = math.cos(heading), math.sin(heading)
        power = (re[0] * hx + re[1] * hy) ** 2 + (im[0] * hx + im[1] * hy) ** 2
    return scale * math.pow(max(power, 1e-18), -1 / 6)


def arrow(tx: Transmitter, c: float, u: float, h: float) -> float:
    """Angle of the static field in the slope plane, radians from the contour; its sign means nothing."""
    re, _ = dipole(tx, c, u, h, 0.0)
    return math.atan2(re[1], re[0])


def along_reading(tx: Transmitter, c: float, u: float, h: float, antennas: int, scale: float) -> float:
    """Reading of a receiver that points along the field, as on the ideal path."""
    return shown_distance(tx, (c, u, h), antennas, arrow(tx, c, u, h), scale)


def ideal_line(
    tx: Transmitter,
    start: tuple[float, float],
    h: float,
    done: Callable[[float, float], bool],
    shown: Callable[[float, float], float],
    step: float = 0.05,
    limit: float = 150.0,
) -> tuple[float, np.ndarray] | None:
    """Follow the field in the plane towards falling readings; length and points, or None if lost.

    Fourth-order steps; the sense is chosen anew at every step from the readings on either side.
    """
    c, u = start
    points, length = [(c, u)], 0.0
    last: float | None = None
    while not done(c, u):
        if length > limit:
            return None
        a = arrow(tx, c, u, h)
        probe = 2 * step
        ahead = shown(c + probe * math.cos(a), u + probe * math.sin(a))
        behind = shown(c - probe * math.cos(a), u - probe * math.sin(a))
        level = abs(ahead - behind) < 1e-9
        flip = math.cos(a - last) < 0 if level and last is not None else ahead > behind
        a += math.pi if flip else 0.0
        dx, dy = _rk4(tx, c, u, h, a, step)
        c, u, last = c + dx, u + dy, a
        length += math.hypot(dx, dy)
        points.append((c, u))
    return length, np.array(points)


def _rk4(tx: Transmitter, c: float, u: float, h: float, sense: float, step: float) -> tuple[float, float]:
    def slope(x: float, y: float) -> tuple[float, float]:
        a = arrow(tx, x, y, h)
        s = 1.0 if math.cos(a - sense) >= 0 else -1.0
        return s * math.cos(a), s * math.sin(a)

    k1 = slope(c, u)
    k2 = slope(c + step / 2 * k1[0], u + step / 2 * k1[1])
    k3 = slope(c + step / 2 * k2[0], u + step / 2 * k2[1])
    k4 = slope(c + step * k3[0], u + step * k3[1])
    dx, dy = (step / 6 * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i]) for i in (0, 1))
    return dx, dy


def geodetic(enu: np.ndarray, latitude: float, longitude: float, elevation: float) -> np.ndarray:
    """(east, north, up) of the tangent frame at the origin to latitude, longitude, height.

    Through earth-centred coordinates, inverted by Newton steps on the latitude; exact to well
    under a millimetre near the origin.
    """
    e2 = WGS84_F * (2 - WGS84_F)
    la, lo = math.radians(latitude), math.radians(longitude)
    sl, cl, so, co = math.sin(la), math.cos(la), math.sin(lo), math.cos(lo)
    n0 = WGS84_A / math.sqrt(1 - e2 * sl * sl)
    origin = np.array([(n0 + elevation) * cl * co, (n0 + elevation) * cl * so, (n0 * (1 - e2) + elevation) * sl])
    rot = np.array([[-so, co, 0.0], [-sl * co, -sl * so, cl], [cl * co, cl * so, sl]])
    x, y, z = (origin + np.atleast_2d(enu) @ rot).T
    p = np.hypot(x, y)
    lat, height = np.full_like(p, la), np.full_like(p, elevation)
    for _ in range(6):
        n = WGS84_A / np.sqrt(1 - e2 * np.sin(lat) ** 2)
        height = p * np.cos(lat) + z * np.sin(lat) - WGS84_A**2 / n
        lat = np.arctan2(z, p * (1 - e2 * n / (n + height)))
    return np.column_stack([np.degrees(lat), np.degrees(np.arctan2(y, x)), height])
