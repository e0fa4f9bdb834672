"""Straight legs of the fine search, and the angle between its two lines.

The path of the best estimate is cut at corners (Douglas and Peucker's simplification, with a tolerance from how well
the shape of the path is known); the legs' directions are then taken in every draw as the main axis of the points of
the leg.
"""

import itertools
from dataclasses import dataclass

import numpy as np

from analyzer.measures.window import Window
from analyzer.model.arrays import FloatArray

LEAST_LEG_M = 0.7
OTHER_LINE_DEG = 25.0
"""Legs nearer than this to the first line's direction are walked along it."""
LEAST_TOLERANCE_M = 0.2
SHAPE_KNOWN_M = 0.5
"""Above this standard deviation of the path's shape inside the fine search no legs are told apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Leg bounds as index pairs (first, last) into the window's times, and which legs lie along the first line.

    `first_axis`, `crossing_axis` (S,): direction of the lines in radians, modulo pi, in each draw; None where there
    is no such line. `reach_m` (S,): half the ground between the ends of the crossing line.
    """

    legs: tuple[tuple[int, int], ...]
    first_axis: FloatArray | None
    crossing_axis: FloatArray | None
    reach_m: FloatArray | None


def shape_sigma_m(window: Window) -> float:
    """Return how well the shape of the path inside the phase is known: one axis, the common shift taken out."""
    part = window.path_m[1:, window.best]
    if part.shape[0] < 2 or part.shape[1] < 2:
        return 0.0
    off = part - window.path_m[0, window.best]
    off = off - off.mean(axis=1, keepdims=True)
    return float(np.sqrt(np.mean(off**2)))


def lines_of(window: Window) -> Lines | None:
    """Return the legs and lines of a fine search, None where its shape is not known well enough."""
    sigma = shape_sigma_m(window)
    inside = window.best
    if sigma > SHAPE_KNOWN_M or inside.stop - inside.start < 4:
        return None
    points = window.path_m[0, inside]
    corners = simplify(points, max(LEAST_TOLERANCE_M, 0.75 * sigma))
    pairs = [(a + inside.start, b + inside.start) for a, b in itertools.pairwise(corners)]
    legs = tuple((a, b) for a, b in pairs if _length(window.path_m[0], a, b) >= LEAST_LEG_M)
    if not legs:
        return Lines((), None, None, None)
    angles = [float(_axis_of(window, [leg])[0]) for leg in legs]
    along = [axial_difference(np.array(a), np.array(angles[0])) < np.radians(OTHER_LINE_DEG) for a in angles]
    first = [leg for leg, same in zip(legs, along, strict=True) if same]
    across = [leg for leg, same in zip(legs, along, strict=True) if not same]
    if not across:
        return Lines(legs, _axis_of(window, first), None, None)
    axis = _axis_of(window, across)
    return Lines(legs, _axis_of(window, first), axis, _reach(window, across, axis))


def simplify(points: FloatArray, tolerance: float) -> list[int]:
    """Return the indices that Douglas and Peucker's simplification keeps of points (m, 2)."""
    keep = {0, len(points) - 1}
    stack = [(0, len(points) - 1)]
    while stack:
        a, b = stack.pop()
        if b - a < 2:
            continue
        chord = points[b] - points[a]
        rel = points[a + 1 : b] - points[a]
        f = np.clip(rel @ chord / max(float(chord @ chord), 1e-12), 0.0, 1.0)
        gap = np.hypot(*(rel - f[:, None] * chord).T)
        far = int(np.argmax(gap))
        if gap[far] > tolerance:
            middle = a + 1 + far
            keep.add(middle)
            stack += [(a, middle), (middle, b)]
    return sorted(keep)


def axial_difference(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the acute angle 0..pi/2 between directions modulo pi, radians."""
    d = np.abs(a - b) % np.pi
    return np.minimum(d, np.pi - d)


def _length(path: FloatArray, a: int, b: int) -> float:
    return float(np.hypot(*(path[b] - path[a])))


def _axis_of(window: Window, legs: list[tuple[int, int]]) -> FloatArray:
    """Return the main axis (S,) of legs taken together, each about its own middle: long legs count more.

    Points are weighted by the path around them, so that a pause does not count.
    """
    xx = yy = xy = np.zeros(len(window.path_m))
    for a, b in legs:
        part = window.path_m[:, a : b + 1]
        step = np.hypot(*np.diff(window.path_m[0, a : b + 1], axis=0).T)
        weight = np.concatenate([step, [0.0]]) + np.concatenate([[0.0], step]) + 1e-9
        centre = np.einsum("smk,m->sk", part, weight) / weight.sum()
        off = part - centre[:, None, :]
        xx = xx + np.einsum("sm,sm,m->s", off[..., 0], off[..., 0], weight)
        yy = yy + np.einsum("sm,sm,m->s", off[..., 1], off[..., 1], weight)
        xy = xy + np.einsum("sm,sm,m->s", off[..., 0], off[..., 1], weight)
    return 0.5 * np.arctan2(2.0 * xy, xx - yy)


def _reach(window: Window, legs: list[tuple[int, int]], axis: FloatArray) -> FloatArray:
    unit = np.column_stack([np.cos(axis), np.sin(axis)])
    at = np.einsum("smk,sk->sm", window.path_m, unit)
    inside = np.zeros(len(window.time_s), bool)
    for a, b in legs:
        inside[a : b + 1] = True
    return (at[:, inside].max(axis=1) - at[:, inside].min(axis=1)) / 2.0
