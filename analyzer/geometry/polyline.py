"""Polylines: arrays (..., p, 2) of plane points in metres, leading axes for batches.

Kernels on plain arrays; nothing is checked here beyond shapes.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyzer.model.arrays import FloatArray, IndexArray

MOST_PAIRS = 20_000  # point-segment pairs at once: they stay in the cache, 5 times faster than all together


def segment_lengths(line_m: ArrayLike) -> FloatArray:
    """Return (..., p - 1) lengths of the segments of (..., p, 2)."""
    d = np.diff(np.asarray(line_m, float), axis=-2)
    return np.asarray(np.hypot(d[..., 0], d[..., 1]), np.float64)


def cumulative_length(line_m: ArrayLike) -> FloatArray:
    """Return (..., p) lengths from the first point to each point."""
    line = np.asarray(line_m, float)
    total = np.zeros(line.shape[:-1])
    np.cumsum(segment_lengths(line), axis=-1, out=total[..., 1:])
    return total


def length(line_m: ArrayLike) -> FloatArray:
    """Return (...,) lengths of (..., p, 2); 0 for a single point."""
    return np.asarray(segment_lengths(line_m).sum(axis=-1), np.float64)


def point_at(line_m: ArrayLike, along_m: ArrayLike) -> FloatArray:
    """Return (m, 2) points of one line (p, 2) at lengths along it (m,); its ends hold outside."""
    line, at = np.asarray(line_m, float), np.asarray(along_m, float)
    total = cumulative_length(line)
    return np.stack([np.interp(at, total, line[:, 0]), np.interp(at, total, line[:, 1])], axis=-1)


def resample(line_m: ArrayLike, step_m: float) -> FloatArray:
    """Return one line (p, 2) as points evenly spaced along it, at most `step_m` apart, both ends kept.

    Corners between the new points are cut. A line without length becomes its first and last point.
    """
    total = float(length(line_m))
    parts = max(1, int(np.ceil(total / step_m - 1e-9)))
    return point_at(line_m, np.linspace(0.0, total, parts + 1))


def densify(line_m: ArrayLike, step_m: float) -> FloatArray:
    """Return one line (p, 2) with points added so that none are more than `step_m` apart; no corner is
    cut.
    """
    total = cumulative_length(line_m)
    parts = np.maximum(1, np.ceil(np.diff(total) / step_m - 1e-9)).astype(int)
    segment = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(segment)) - np.repeat(np.cumsum(parts) - parts, parts)) / np.repeat(parts, parts)
    line = np.asarray(line_m, float)
    inner = line[segment] + share[:, None] * (line[segment + 1] - line[segment])
    return np.vstack([inner, line[-1:]])


def nearest(points_m: ArrayLike, line_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the distance of points to a polyline, and how far along it the nearest point lies.

    Parameters
    ----------
    points_m : array_like, shape (n, 2) or (S, n, 2)
    line_m : array_like, shape (p, 2) or (S, p, 2)
        One line for all rows, or one each. A line of one point is that point.

    Returns
    -------
    distance_m, along_m : ndarray, shape (n,) or (S, n)
    """
    points, line = np.asarray(points_m, float), np.asarray(line_m, float)
    if line.shape[-2] == 1:
        line = np.concatenate([line, line], axis=-2)
    if points.ndim == 2 and line.ndim == 2:
        return _nearest(points, line)
    rows = len(points) if points.ndim == 3 else len(line)
    points = np.broadcast_to(points, (rows, *points.shape[-2:]))
    if line.ndim == 2:
        distance, along = _nearest(points.reshape(-1, 2), line)
        return distance.reshape(points.shape[:2]), along.reshape(points.shape[:2])
    each = [_nearest(one, its) for one, its in zip(points, line, strict=True)]
    return np.stack([d for d, _ in each]), np.stack([a for _, a in each])


def _nearest(points: FloatArray, line: FloatArray) -> tuple[FloatArray, FloatArray]:
    distance, along, _segment = nearest_segment(points, line)
    return distance, along


def nearest_segment(points: FloatArray, line: FloatArray) -> tuple[FloatArray, FloatArray, IndexArray]:
    """Return (n,) distances, places along and indices of the nearest segment for (n, 2) and (p, 2), p over 1.

    In blocks, so that memory stays bounded.
    """
    start, d = line[:-1], np.diff(line, axis=0)
    size = np.hypot(d[:, 0], d[:, 1])
    unit = d / np.maximum(size, 1e-300)[:, None]
    before = np.concatenate([[0.0], np.cumsum(size)[:-1]])
    distance, along, segment = np.empty(len(points)), np.empty(len(points)), np.zeros(len(points), np.intp)
    block = max(1, MOST_PAIRS // max(1, len(size)))
    for first in range(0, len(points), block):
        rows = slice(first, first + block)
        x = points[rows, 0, None] - start[:, 0]
        y = points[rows, 1, None] - start[:, 1]
        foot = np.clip(x * unit[:, 0] + y * unit[:, 1], 0.0, size)
        x -= foot * unit[:, 0]
        y -= foot * unit[:, 1]
        squared = x * x + y * y
        best = np.argmin(squared, axis=1)
        row = np.arange(len(best))
        distance[rows] = np.sqrt(squared[row, best])
        along[rows] = before[best] + foot[row, best]
        segment[rows] = best
    return distance, along, segment


def inside_polygon(points_m: ArrayLike, corners_m: ArrayLike) -> NDArray[np.bool_]:
    """Return (n,) bool: which points (n, 2) lie inside a polygon (c, 2), by the even-odd rule."""
    points, a = np.asarray(points_m, float), np.asarray(corners_m, float)
    b = np.roll(a, -1, axis=0)
    x, y = points[:, 0, None], points[:, 1, None]
    crosses = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    right = x < a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
    return np.asarray(np.count_nonzero(crosses & right, axis=1) % 2 == 1)


def polygon_area(corners_m: ArrayLike) -> float:
    """Return the area of a simple polygon (c, 2) in square metres (shoelace formula)."""
    x, y = np.asarray(corners_m, float).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0)


def first_crossing(corners_m: ArrayLike) -> tuple[int, int] | None:
    """Return the first two edges of a closed polygon (c, 2) that cross, touch or turn back, None where it is simple.

    Edge i runs from corner i to the next one. Edges without length, as of an outline that repeats its first corner at
    its end, do not count.
    """
    every = np.asarray(corners_m, float)
    kept = np.flatnonzero(np.any(every != np.roll(every, -1, axis=0), axis=1))
    a, count = every[kept], len(kept)
    b = np.roll(a, -1, axis=0)
    i, j = np.triu_indices(count, k=1)
    touch = [
        _between(a[j], a[i], b[i]),
        _between(b[j], a[i], b[i]),
        _between(a[i], a[j], b[j]),
        _between(b[i], a[j], b[j]),
    ]
    crosses = (_turn(a[i], b[i], a[j]) * _turn(a[i], b[i], b[j]) < 0.0) & (
        _turn(a[j], b[j], a[i]) * _turn(a[j], b[j], b[i]) < 0.0
    )
    after, before = j == i + 1, (i == 0) & (j == count - 1)
    # Neighbours share a corner; what lies on the other edge beyond it is a way back.
    bad = crosses | np.where(after, touch[1] | touch[2], np.where(before, touch[0] | touch[3], np.any(touch, axis=0)))
    found = np.flatnonzero(bad)
    return (int(kept[i[found[0]]]), int(kept[j[found[0]]])) if len(found) else None


def _turn(p: FloatArray, q: FloatArray, r: FloatArray) -> FloatArray:
    """Return the cross product of q - p and r - p, (...,)."""
    d, e = q - p, r - p
    return np.asarray(d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0], np.float64)


def _between(point: FloatArray, start: FloatArray, end: FloatArray) -> NDArray[np.bool_]:
    """Return whether points lie on segments, ends included, (...,)."""
    inside = np.all((point >= np.minimum(start, end)) & (point <= np.maximum(start, end)), axis=-1)
    return np.asarray((_turn(start, end, point) == 0.0) & inside)
