"""Straight legs of the fine search, and the angle between its two lines.

The path of the best estimate is cut at corners (Douglas and Peucker's simplification, with a tolerance from how well
the shape of the path is known); the legs' directions are then taken in every draw as the main axis of the points of
the leg.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.window import Window
from analyzer.geometry.polyline import segment_lengths
from analyzer.model.arrays import FloatArray

Piece = tuple[int, int]
LEAST_LEG_M = 0.7
LEAST_PIECE_M = 0.35
LEAST_LINE_M = 1.0
MOST_LINES = 7
SIDE_M, FIRST_LINES_COST, LINE_COST = 0.15, 0.7, 4.0
"""A person walks a line to 15 cm or so. Two lines are expected, so they cost little; more must explain more. Ours."""
LEAST_TOLERANCE_M = 0.2
SHAPE_KNOWN_M = 0.5
"""Above this standard deviation of the path's shape inside the fine search no legs are told apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Legs as index pairs (first, last) into the window's times, and the first two lines.

    `first_axis`, `crossing_axis` (S,): direction of the lines in radians, modulo pi, in each draw; None where there
    is no such line. `reach_m` (S,): half the ground between the ends of the crossing line; without one, half of how far
    the path went across the first line. `count`: lines told apart; `lines`: the first and last index of each.
    """

    legs: tuple[tuple[int, int], ...]
    first_axis: FloatArray | None
    crossing_axis: FloatArray | None
    reach_m: FloatArray | None
    count: int = 0
    lines: tuple[tuple[int, int], ...] = ()


def shape_sigma_m(window: Window) -> float:
    """Return how well the shape of the path inside the phase is known: one axis, the common shift taken out."""
    part = window.path_m[1:, window.best]
    if part.shape[0] < 2 or part.shape[1] < 2:
        return 0.0
    off = part - window.path_m[0, window.best]
    off = off - off.mean(axis=1, keepdims=True)
    return float(np.sqrt(np.mean(off**2)))


def lines_of(window: Window, *, until_s: float | None = None) -> Lines | None:
    """Return the legs and lines of a fine search, None where its shape is not known well enough.

    `until_s`: look as far as this instead of to the end of the phase.
    """
    sigma = shape_sigma_m(window)
    inside = window.best
    if until_s is not None:
        inside = slice(inside.start, int(np.searchsorted(window.time_s, until_s, "right")))
    if sigma > SHAPE_KNOWN_M or inside.stop - inside.start < 4:
        return None
    points = window.path_m[0, inside]
    corners = simplify(points, max(LEAST_TOLERANCE_M, 0.75 * sigma))
    pairs = [(a + inside.start, b + inside.start) for a, b in itertools.pairwise(corners)]
    pieces = [leg for leg in pairs if _length(window.path_m[0], *leg) >= LEAST_PIECE_M]
    legs = tuple(leg for leg in pieces if _length(window.path_m[0], *leg) >= LEAST_LEG_M)
    groups = grouped(window.path_m[0], pieces, side_m=float(np.hypot(SIDE_M, 1.5 * sigma)))
    lines = [g for g in groups if _total(window.path_m[0], g) >= LEAST_LINE_M]
    if not lines:
        return Lines(legs, None, None, None)
    if len(lines) < 2:
        first = axis_of(window.path_m, lines[0])
        whole = [(inside.start, inside.stop - 1)]
        return Lines(legs, first, None, _reach(window, whole, first + np.pi / 2.0), 1)
    axis = axis_of(window.path_m, lines[1])
    ends = tuple((line[0][0], line[-1][1]) for line in lines)
    return Lines(legs, axis_of(window.path_m, lines[0]), axis, _reach(window, lines[1], axis), len(lines), ends)


def grouped(path: FloatArray, pieces: Sequence[Piece], *, side_m: float = SIDE_M) -> list[list[Piece]]:
    """Return neighbouring pieces grouped into lines: out and back along one direction is one line.

    The grouping with the least cost is found exactly: per line its scatter across its direction, in units of
    `side_m`, plus the cost of a line.

    Parameters
    ----------
    path : array, shape (n, 2)
    pieces : sequence of index pairs
        In order of time.
    side_m : float
        How far from straight a line is seen, metres: the person's sway and the error of the path.
    """
    n, most = len(pieces), min(len(pieces), MOST_LINES)
    best = np.full((most + 1, n + 1), np.inf)
    back = np.zeros((most + 1, n + 1), int)
    best[0, 0] = 0.0
    side = {(a, b): _across(path, pieces[a:b]) / side_m**2 for b in range(1, n + 1) for a in range(b)}
    for count in range(1, most + 1):
        price = FIRST_LINES_COST if count <= 2 else LINE_COST
        for end in range(count, n + 1):
            costs = [best[count - 1, start] + price + side[start, end] for start in range(end)]
            back[count, end] = int(np.argmin(costs))
            best[count, end] = costs[back[count, end]]
    groups: list[list[Piece]] = []
    count, end = int(np.argmin(best[:, n])), n
    while count > 0:
        start = int(back[count, end])
        groups.append(list(pieces[start:end]))
        count, end = count - 1, start
    return groups[::-1]


def _across(path: FloatArray, pieces: Sequence[Piece]) -> float:
    """Return the scatter across the common direction of pieces: square metres times metres walked."""
    xx, yy, xy = (float(v[0]) for v in _scatter(path[None], pieces))
    return float(max((xx + yy - np.hypot(xx - yy, 2.0 * xy)) / 2.0, 0.0))


def _total(path: FloatArray, pieces: Sequence[Piece]) -> float:
    return sum(_length(path, *leg) for leg in pieces)


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


def axis_of(path_m: FloatArray, pieces: Sequence[Piece]) -> FloatArray:
    """Return the main direction (S,) of pieces of path_m (S, n, 2) taken together, radians modulo pi.

    Each piece about its own middle: long ones count more, and a line may be walked a step aside on the way back.
    """
    xx, yy, xy = _scatter(path_m, pieces)
    axis: FloatArray = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    return axis


def _scatter(path_m: FloatArray, pieces: Sequence[Piece]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the summed scatter xx, yy, xy (S,) of pieces, by metres walked, so that a pause does not count."""
    xx = yy = xy = np.zeros(len(path_m))
    for a, b in pieces:
        part = path_m[:, a : b + 1]
        step = segment_lengths(path_m[0, a : b + 1])
        weight = 0.5 * (np.concatenate([step, [0.0]]) + np.concatenate([[0.0], step])) + 1e-9
        off = part - (np.einsum("smk,m->sk", part, weight) / weight.sum())[:, None, :]
        xx = xx + np.einsum("sm,sm,m->s", off[..., 0], off[..., 0], weight)
        yy = yy + np.einsum("sm,sm,m->s", off[..., 1], off[..., 1], weight)
        xy = xy + np.einsum("sm,sm,m->s", off[..., 0], off[..., 1], weight)
    return xx, yy, xy


def _reach(window: Window, legs: Sequence[Piece], axis: FloatArray) -> FloatArray:
    unit = np.column_stack([np.cos(axis), np.sin(axis)])
    at = np.einsum("smk,sk->sm", window.path_m, unit)
    inside = np.zeros(len(window.time_s), bool)
    for a, b in legs:
        inside[a : b + 1] = True
    reach: FloatArray = (at[:, inside].max(axis=1) - at[:, inside].min(axis=1)) / 2.0
    return reach
