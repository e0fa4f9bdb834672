"""The ideal signal search: parallel strips over the area; and how an area was in fact covered.

A path covers every point within half the strip width of it. Slope-plane metres throughout.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyzer.geometry.polyline import cumulative_length, inside_polygon, length, polygon_area, resample
from analyzer.geometry.timed_path import crossing_share
from analyzer.model.arrays import FloatArray

CELLS = 1500  # points over the area: covered fractions good to 1 %, see tests/unit/ideal/test_strips.py
POINTS_PER_STRIP = 12  # path points per strip width: the edge is off by 1/600 of the width, sharp corners by 1/30
MOST_POINTS = 2000
PARALLEL = 0.01  # sine of the angle up to which two edges are one direction, and
WIDER = (
    0.01  # share of its width by which a strip may be wider: corners are taped and written in centimetres; our choice
)


@dataclass(frozen=True, slots=True)
class Coverage:
    """Shares of the area, 0..1.

    `covered_fraction`: within half a strip width of the path. `overlap_fraction`: covered more than once: the
    path came within half a strip width again after it had walked at least a strip width farther away than
    that. A turn at the end of a strip is no overlap, a second pass over the same ground is.
    """

    covered_fraction: float
    overlap_fraction: float


def ideal_strips(corners_m: ArrayLike, entry_m: ArrayLike, *, strip_width_m: float) -> FloatArray:
    """Return the shortest walk (p, 2) of parallel strips over a polygon, from where the searcher entered.

    Strips lie parallel to one of the polygon's edges, evenly spaced, as few as cover its width, each from
    boundary to boundary; in a polygon with a bay a strip crosses the bay. Of all edges, first strips and
    first ends the walk that is shortest in all is taken.

    Parameters
    ----------
    corners_m : array_like, shape (c, 2)
        In order around the area.
    entry_m : array_like, shape (2,)
    strip_width_m : float
    """
    corners, entry = np.asarray(corners_m, float), np.asarray(entry_m, float)
    walks = [
        np.vstack([entry[None], walk])
        for along in _directions(corners)
        for walk in _walks(_passes(corners, along, strip_width_m))
    ]
    return min(walks, key=lambda walk: float(length(walk)))


def fewest_zigzags(corners_m: ArrayLike, *, strip_width_m: float) -> list[FloatArray]:
    """Return the zigzags (p, 2) over a polygon (c, 2) with the fewest strips, from each side and from each end.

    Four for each direction of an edge along which so few strips do: a rectangle has four, a square eight. Each begins
    where its first strip does.
    """
    corners = np.asarray(corners_m, float)
    ways = [_passes(corners, along, strip_width_m) for along in _directions(corners)]
    fewest = min(len(lines) for lines in ways)
    return [walk for lines in ways if len(lines) == fewest for walk in _walks(lines)]


def mean_length_to_range(walks_m: Sequence[FloatArray], places_m: FloatArray, ranges_m: FloatArray) -> FloatArray:
    """Return (S,) how far along walks (p, 2) the range to a place (S, 2) first falls to `ranges_m` (S,), on average.

    All walks count alike; infinite where one of them never comes so near.
    """
    found: FloatArray = np.mean([_lengths_to_range(walk, places_m, ranges_m) for walk in walks_m], axis=0)
    return found


def length_to_range(walk_m: ArrayLike, transmitter_m: ArrayLike, range_m: float) -> float:
    """Return how far along a walk (p, 2) a receiver of range `range_m` first hears the transmitter (2,).

    The whole length where it never does. The range is over the surface: that at which this searcher acquired
    it.
    """
    walk = np.asarray(walk_m, float)
    heard_m = _lengths_to_range(walk, np.asarray(transmitter_m, float)[None], np.array([range_m]))[0]
    return float(min(heard_m, length(walk)))


def _lengths_to_range(walk: FloatArray, places: FloatArray, ranges: FloatArray) -> FloatArray:
    """Return (S,) where a walk (p, 2) first enters circles about `places` (S, 2), infinite where it never does.

    On a straight piece from a to a + L u the circle |x - c| = r is entered at t = -(a - c).u - sqrt(((a - c).u)^2 -
    |a - c|^2 + r^2).
    """
    steps = np.diff(walk, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    way = steps / np.maximum(lengths, 1e-12)[:, None]
    from_m = walk[None, :-1] - places[:, None]
    ahead = np.einsum("spd,pd->sp", from_m, way)
    beyond = (from_m**2).sum(axis=2) - (ranges**2)[:, None]
    root = ahead**2 - beyond
    at = np.where(beyond <= 0.0, 0.0, -ahead - np.sqrt(np.maximum(root, 0.0)))
    met = (beyond <= 0.0) | ((root >= 0.0) & (at >= 0.0) & (at <= lengths))
    found: FloatArray = np.where(met, cumulative_length(walk)[:-1] + at, np.inf).min(axis=1)
    return found


def coverage(path_m: ArrayLike, corners_m: ArrayLike, *, strip_width_m: float, cells: int = CELLS) -> Coverage:
    """Return how a path (n, 2) covered a polygon (c, 2), at about `cells` points of it.

    A path of several hours is taken at fewer points (`MOST_POINTS`), which coarsens the edges of the discs.
    """
    path, corners = np.asarray(path_m, float), np.asarray(corners_m, float)
    grid = spread_points(corners, cells)
    near, step = reached(path, grid, strip_width_m=strip_width_m)
    covered = near.any(axis=1)
    away = int(np.ceil(strip_width_m / step))
    return Coverage(float(covered.mean()), float(_visited_again(near[covered], away).sum() / len(grid)))


def reached(path: FloatArray, grid: FloatArray, *, strip_width_m: float) -> tuple[NDArray[np.bool_], float]:
    """Return which points (g, 2) lie within half a strip width of which part of a path, (g, parts), and their step."""
    step = max(strip_width_m / POINTS_PER_STRIP, float(length(path)) / MOST_POINTS)
    points = resample(path, step) if len(path) > 1 else path
    x = points[:, 0].astype(np.float32) - grid[:, 0, None].astype(np.float32)
    y = points[:, 1].astype(np.float32) - grid[:, 1, None].astype(np.float32)
    return np.asarray(x * x + y * y <= np.float32((0.5 * strip_width_m) ** 2)), step


def _visited_again(near: NDArray[np.bool_], away: int) -> NDArray[np.bool_]:
    """Return (cells,) bool: whether a run of True is followed by at least `away` False and another True."""
    index = np.where(near, np.arange(near.shape[1], dtype=np.int32), -1)
    last = np.maximum.accumulate(index, axis=1)
    gap = near[:, 1:] & (last[:, :-1] >= 0) & (index[:, 1:] - last[:, :-1] > away)
    return np.asarray(gap.any(axis=1))


def spread_points(corners: FloatArray, cells: int) -> FloatArray:
    """Return about `cells` points (m, 2) spread evenly inside the polygon; at least one point.

    A square grid lies along the edges of strips and areas and is off by half a cell there; the additive sequence in
    the powers of 1 / 1.32472 (the plastic number, the golden ratio's kin in the plane) has no such direction.
    """
    low, size = corners.min(axis=0), np.ptp(corners, axis=0)
    count = int(cells * np.prod(size) / max(polygon_area(corners), 1e-6 * float(np.prod(size)) + 1e-12))
    index = np.arange(1, min(count, 100 * cells) + 1)[:, None]
    every = low + size * ((index * np.array([0.7548776662466927, 0.5698402909980532])) % 1.0)
    inside = every[inside_polygon(every, corners)]
    return np.asarray(inside if len(inside) else corners.mean(axis=0, keepdims=True), np.float64)


def _passes(corners: FloatArray, along: FloatArray, width: float) -> list[FloatArray]:
    """Return the strips' middle lines, (2, 2) each, side by side."""
    across = np.array([-along[1], along[0]])
    u, v = corners @ along, corners @ across
    count = max(1, int(np.ceil((v.max() - v.min()) / (width * (1.0 + WIDER)))))
    spacing = (v.max() - v.min()) / count
    lines = []
    for level in v.min() + spacing * (np.arange(count) + 0.5):
        nu, nv = np.roll(u, -1), np.roll(v, -1)
        hit = (v > level) != (nv > level)
        at = u[hit] + crossing_share(v[hit], nv[hit], level, flat=0.0) * (nu[hit] - u[hit])
        if len(at):
            lines.append(np.array([at.min() * along + level * across, at.max() * along + level * across]))
    return lines


def _directions(corners: FloatArray) -> list[FloatArray]:
    """Return the unit vectors (2,) along the edges of a polygon, of parallel ones the first."""
    edges = np.roll(corners, -1, axis=0) - corners
    found: list[FloatArray] = []
    for edge in edges[np.hypot(edges[:, 0], edges[:, 1]) > 0.0]:
        along = edge / np.hypot(*edge)
        if all(abs(along[0] * other[1] - along[1] * other[0]) > PARALLEL for other in found):
            found.append(along)
    return found


def _walks(lines: list[FloatArray]) -> list[FloatArray]:
    """Return the four zigzags over the strips: from either side, from either end."""
    walks = []
    for order in (lines, lines[::-1]):
        for first in (0, 1):
            ends = [line if (i + first) % 2 == 0 else line[::-1] for i, line in enumerate(order)]
            walks.append(np.vstack(ends))
    return walks
