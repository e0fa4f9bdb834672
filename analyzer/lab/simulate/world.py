"""The field as the walking searcher meets it, in plain floats, and the line it draws in the slope plane.

The walk asks for the field at every twentieth of a second at one point: plain floats are ten times faster there than
arrays of one row. `tests/unit/lab/simulate` holds it equal to `analyzer.physics`. The line tracer is its own, so
that the truth does not lean on what is judged by it.
"""

import math
from dataclasses import dataclass

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.physics.constants import NEAR_FIELD_LENGTH_M

NOTHING_M = 999.0
"""Stands for the reading where the receiver sees no field."""


@dataclass(frozen=True, slots=True)
class Source:
    """A transmitter as it truly lies: surface point over it (slope plane, m), depth along the normal, unit axis."""

    id: str
    x: float
    y: float
    depth_m: float
    axis: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Receiver:
    """A receiver: antennas, and the scale of its reading."""

    antennas: int
    scale: float


def field_at(source: Source, x: float, y: float, height_m: float) -> tuple[float, float, float, float]:
    """Return (bx, by, bz) of the static field, and r, at a slope-plane point; unit dipole, 1/m^3 and m."""
    dx, dy, dz = x - source.x, y - source.y, height_m + source.depth_m
    mx, my, mz = source.axis
    r2 = dx * dx + dy * dy + dz * dz
    k = 3.0 * (dx * mx + dy * my + dz * mz) / r2
    r = math.sqrt(r2)
    cube = r2 * r
    return (k * dx - mx) / cube, (k * dy - my) / cube, (k * dz - mz) / cube, r


def reading_at(
    source: Source, receiver: Receiver, x: float, y: float, height_m: float, heading: tuple[float, float]
) -> float:
    """Return the reading without noise in metres, NOTHING_M at most (as `analyzer.physics.receiver.reading_m`)."""
    bx, by, bz, r = field_at(source, x, y, height_m)
    u = r / NEAR_FIELD_LENGTH_M
    dx, dy, dz = x - source.x, y - source.y, height_m + source.depth_m
    mx, my, mz = source.axis
    along = (dx * mx + dy * my + dz * mz) / (r * r)
    far = u * u / r**3
    rx, ry, rz = bx + far * (mx - along * dx), by + far * (my - along * dy), bz + far * (mz - along * dz)
    if receiver.antennas == 3:
        power = rx * rx + ry * ry + rz * rz + u * u * (bx * bx + by * by + bz * bz)
    elif receiver.antennas == 2:
        power = rx * rx + ry * ry + u * u * (bx * bx + by * by)
    else:
        hx, hy = heading
        power = (rx * hx + ry * hy) ** 2 + (u * (bx * hx + by * hy)) ** 2
    if power < (receiver.scale / NOTHING_M) ** 6:
        return NOTHING_M
    return receiver.scale / math.pow(power, 1.0 / 6.0)


def line_direction(
    source: Source,
    x: float,
    y: float,
    height_m: float,
    facing: tuple[float, float],
    *,
    apart_m: float = 0.25,
    even: float = 0.05,
) -> tuple[float, float]:
    """Return the unit in-plane field direction (cx, cy), signed towards the stronger field.

    Where the strength hardly changes along the line (abeam of the antenna) the sign that agrees with `facing` is
    taken: nobody turns round for what the display does not show.
    """
    bx, by, _, _ = field_at(source, x, y, height_m)
    size = math.hypot(bx, by)
    if size == 0.0:
        return facing
    cx, cy = bx / size, by / size
    ahead = _strength(source, x + apart_m * cx, y + apart_m * cy, height_m)
    behind = _strength(source, x - apart_m * cx, y - apart_m * cy, height_m)
    # Reading goes as strength^(-1/3): this is its change per metre walked, about 1 along a radius.
    slope = (ahead ** (-1.0 / 3.0) - behind ** (-1.0 / 3.0)) / (2.0 * apart_m)
    falls = slope < 0.0 if abs(slope) > even else cx * facing[0] + cy * facing[1] > 0.0
    return (cx, cy) if falls else (-cx, -cy)


def _strength(source: Source, x: float, y: float, height_m: float) -> float:
    bx, by, bz, _ = field_at(source, x, y, height_m)
    return math.sqrt(bx * bx + by * by + bz * bz)


def stronger_way(source: Source, x: float, y: float, height_m: float) -> tuple[float, float]:
    """Return the unit in-plane field direction signed towards the stronger field, however little it grows."""
    bx, by, _, _ = field_at(source, x, y, height_m)
    size = math.hypot(bx, by) or 1.0
    cx, cy = bx / size, by / size
    grows = _strength(source, x + 0.25 * cx, y + 0.25 * cy, height_m) > _strength(
        source, x - 0.25 * cx, y - 0.25 * cy, height_m
    )
    return (cx, cy) if grows else (-cx, -cy)


def trace_line(
    source: Source,
    receiver: Receiver,
    start: tuple[float, float],
    *,
    height_m: float,
    radius_m: float,
    step_m: float = 0.02,
) -> FloatArray:
    """Return (p, 2) points of the field line from `start` to where the reading has fallen to `radius_m`.

    Midpoint rule, signed anew at every step towards the stronger field. On the line one antenna points along the field
    and sees what two see. Ends at the lowest reading where that is not as low as the radius.
    """
    x, y = start
    seen = Receiver(3 if receiver.antennas == 3 else 2, receiver.scale)
    facing = stronger_way(source, x, y, height_m)
    points = [(x, y)]
    lowest, since = math.inf, 0
    while len(points) < 20_000:
        whole = _strength(source, x, y, height_m) ** (-1.0 / 3.0)
        since = 0 if whole < lowest - 1e-9 else since + 1
        lowest = min(lowest, whole)
        if reading_at(source, seen, x, y, height_m, facing) <= radius_m or since > 25:
            break
        cx, cy = line_direction(source, x, y, height_m, facing, apart_m=0.01, even=0.01)
        cx, cy = line_direction(
            source, x + 0.5 * step_m * cx, y + 0.5 * step_m * cy, height_m, (cx, cy), apart_m=0.01, even=0.01
        )
        x, y, facing = x + step_m * cx, y + step_m * cy, (cx, cy)
        points.append((x, y))
    return np.array(points[: len(points) - since] if since else points)
