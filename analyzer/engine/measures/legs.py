"""Straight legs of the fine search, and the angle between its two lines.

The path of the best estimate is cut at corners (Douglas and Peucker's simplification, with a tolerance from how well
the shape of the path is known); the legs' directions are then taken in every draw as the main axis of the points of
the leg.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import logsumexp

from analyzer.engine.measures.line_scatter import Moments, Piece, across
from analyzer.engine.measures.window import Window
from analyzer.model.account import CROSS_LINES
from analyzer.model.arrays import FloatArray, IndexArray

Grouping = tuple[tuple[Piece, ...], ...]
LEAST_LEG_M = 0.7
LEAST_PIECE_M = 0.35
LEAST_LINE_M = 1.0
MOST_LINES = 7
SIDE_M, FIRST_LINES_COST, LINE_COST = 0.15, 0.7, 4.0
"""A person walks a line to 15 cm or so. Two lines are expected, so they cost little; more must explain more. Ours."""
SAME_LINE_RAD = np.radians(20.0)  # lines closer than this in direction are one; our choice
LEAST_TOLERANCE_M = 0.2
LINE_S = 25.0
"""About as long as one line takes, out and back; our choice."""
SHAPE_KNOWN_M = 0.5
"""Above this standard deviation of the path's shape inside the fine search no legs are told apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Legs as index pairs (first, last) into the window's times, and the first two lines.

    `first_axis`, `crossing_axis` (S,): direction of the lines in radians, modulo pi, in each draw; None where there
    is no such line. `reach_m` (S,): half the ground between the ends of the crossing line; without one, half of how
    far the path went across the first line. `count`: lines told apart; `lines`: the first and last index of each;
    `beyond_s` (S, 2): from when to when each draw walked lines beyond one cross.
    """

    legs: tuple[tuple[int, int], ...]
    first_axis: FloatArray | None
    crossing_axis: FloatArray | None
    reach_m: FloatArray | None
    count: int = 0
    lines: tuple[tuple[int, int], ...] = ()
    beyond_s: FloatArray | None = None


def shape_sigma_m(window: Window) -> float:
    """Return how well the shape of the path is known over the time that a line takes: one axis.

    The shift that all of such a stretch has in common is taken out: it moves a line and does not bend it.
    """
    part = window.path_m[1:, window.best]
    if part.shape[0] < 2 or part.shape[1] < 2:
        return 0.0
    off = part - window.path_m[0, window.best]
    time_s = window.time_s[window.best]
    pieces = max(round(float(time_s[-1] - time_s[0]) / LINE_S), 1)
    stretch = np.minimum((time_s - time_s[0]) * pieces / max(float(time_s[-1] - time_s[0]), 1e-9), pieces - 1).astype(
        int
    )
    squares = [float(np.sum((own - own.mean(axis=1, keepdims=True)) ** 2)) for own in _stretches(off, stretch)]
    return float(np.sqrt(sum(squares) / off.size))


def _stretches(off_m: FloatArray, stretch: IndexArray) -> list[FloatArray]:
    """Return (S, k, 2) of each stretch of off_m (S, n, 2), numbered by stretch (n,)."""
    return [off_m[:, stretch == i] for i in np.unique(stretch)]


def lines_of(window: Window, *, until_s: float | None = None) -> Lines | None:
    """Return the legs and lines of a fine search, None where its shape is not known well enough.

    Which legs make one line is not certain: each draw has a grouping of its own, drawn from how well each explains the
    legs. `until_s`: look as far as this instead of to the end of the phase.
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
    seen = Moments(window.path_m)
    groupings = drawn_groupings(
        window.path_m[0], pieces, side_m=float(np.hypot(SIDE_M, 1.5 * sigma)), rows=len(window.path_m)
    )
    long_ones = {groups: _long_ones(window.path_m[0], seen, groups) for groups in dict.fromkeys(groupings)}
    lines = [long_ones[groups] for groups in groupings]
    if not lines[0]:
        return Lines(legs, None, None, None)
    if len(lines[0]) < 2:
        first = seen.axis(lines[0][0])
        whole = [(inside.start, inside.stop - 1)]
        return Lines(legs, first, None, _reach(window.path_m, whole, first + np.pi / 2.0), 1)
    return _cross_of(window, seen, legs, lines)


def _long_ones(path: FloatArray, seen: Moments, groups: Grouping) -> Grouping:
    """Return the groups long enough for a line; neighbours in one direction are one line, walked to and fro."""
    lines: list[tuple[Piece, ...]] = []
    for group in (g for g in groups if _total(path, g) >= LEAST_LINE_M):
        if lines and _aside(seen, lines[-1], group) < SAME_LINE_RAD:
            lines[-1] = (*lines[-1], *group)
        else:
            lines.append(group)
    return tuple(lines)


def _aside(seen: Moments, one: Sequence[Piece], two: Sequence[Piece]) -> float:
    """Return the angle between the directions of two groups in the best estimate, 0..pi/2."""
    best = slice(0, 1)
    return float(axial_difference(seen.axis(one, best), seen.axis(two, best))[0])


def _cross_of(window: Window, seen: Moments, legs: tuple[Piece, ...], lines: Sequence[Grouping]) -> Lines:
    """Return the lines of the best grouping, and of each draw its own cross; one without takes the best's."""
    own = [groups if len(groups) >= 2 else lines[0] for groups in lines]
    first, crossing, reach = (np.zeros(len(own)) for _ in range(3))
    for groups in dict.fromkeys(own):
        rows = np.array([g == groups for g in own])
        first[rows], crossing[rows] = seen.axis(groups[0], rows), seen.axis(groups[1], rows)
        reach[rows] = _reach(window.path_m[rows], groups[1], crossing[rows])
    ends = tuple((line[0][0], line[-1][1]) for line in lines[0])
    beyond = np.array([_beyond_cross_s(window.time_s, groups) for groups in own])
    return Lines(legs, first, crossing, reach, len(lines[0]), ends, beyond)


def _beyond_cross_s(time_s: FloatArray, groups: Grouping) -> tuple[float, float]:
    """Return from when to when lines beyond one cross were walked; no time at all where there were none."""
    last = float(time_s[groups[-1][-1][1]])
    return (float(time_s[groups[CROSS_LINES][0][0]]), last) if len(groups) > CROSS_LINES else (last, last)


def drawn_groupings(
    path: FloatArray, pieces: Sequence[Piece], *, side_m: float = SIDE_M, rows: int = 1
) -> list[Grouping]:
    """Return neighbouring pieces grouped into lines, out and back along one direction being one line: `rows` times.

    The first grouping is the one with the least cost, found exactly: per line its scatter across its direction, in
    units of `side_m`, plus the cost of a line. The others are drawn with probability exp(-cost / 2), for the cost is
    twice a negative logarithm (forward filtering, backward sampling: Rabiner 1989, doi 10.1109/5.18626).

    Parameters
    ----------
    path : array, shape (n, 2)
    pieces : sequence of index pairs
        In order of time.
    side_m : float
        How far from straight a line is seen, metres: the person's sway and the error of the path.
    rows : int
    """
    n, most = len(pieces), min(len(pieces), MOST_LINES)
    cost = _line_costs(Moments(path[None]).each(pieces)[:, 0]) / side_m**2
    prices = np.array([FIRST_LINES_COST if k < CROSS_LINES else LINE_COST for k in range(most)])
    best, total = np.full((most + 1, n + 1), np.inf), np.full((most + 1, n + 1), -np.inf)
    best[0, 0] = total[0, 0] = 0.0
    for k in range(most):
        best[k + 1] = np.min(best[k][:, None] + cost + prices[k], axis=0)
        total[k + 1] = logsumexp(total[k][:, None] - (cost + prices[k]) / 2.0, axis=0)
    found = [_traced(best[:, n], lambda k, end: best[k] + cost[:, end], np.argmin, pieces)]
    rng = np.random.default_rng([n, rows])

    def drawn(logs: FloatArray) -> int:
        weights = np.exp(-(logs - np.min(logs)) / 2.0)
        return int(rng.choice(len(weights), p=weights / weights.sum()))

    found += [
        _traced(-2.0 * total[:, n], lambda k, end: -2.0 * total[k] + cost[:, end], drawn, pieces)
        for _ in range(rows - 1)
    ]
    return found


def _line_costs(each: FloatArray) -> FloatArray:
    """Return the scatter (n + 1, n + 1) across the common direction of pieces a to b - 1 of `each` (3, n)."""
    sums = np.concatenate([np.zeros((3, 1)), np.cumsum(each, axis=1)], axis=1)
    cost = across(sums[:, None, :] - sums[:, :, None])
    return np.where(np.tri(len(cost), dtype=bool), np.inf, cost)


def _traced(
    ends: FloatArray,
    before: Callable[[int, int], FloatArray],
    pick: Callable[[FloatArray], Any],
    pieces: Sequence[Piece],
) -> Grouping:
    """Return one grouping from the back: how many lines, and where each began, picked by their costs."""
    groups: list[tuple[Piece, ...]] = []
    count, end = int(pick(ends)), len(pieces)
    while count > 0:
        start = int(pick(before(count - 1, end)))
        groups.append(tuple(pieces[start:end]))
        count, end = count - 1, start
    return tuple(groups[::-1])


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


def _reach(path_m: FloatArray, legs: Sequence[Piece], axis: FloatArray) -> FloatArray:
    unit = np.column_stack([np.cos(axis), np.sin(axis)])
    at = np.einsum("smk,sk->sm", path_m, unit)
    inside = np.zeros(path_m.shape[1], bool)
    for a, b in legs:
        inside[a : b + 1] = True
    reach: FloatArray = (at[:, inside].max(axis=1) - at[:, inside].min(axis=1)) / 2.0
    return reach
