"""Small geometry for the figures: bands, circles, positions at a time, pace. Horizontal metres, seconds."""

import math

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.result import PathTable

AROUND_90 = 2.1460
"""Radius that holds 90 % in the plane in one-axis standard deviations: sqrt(-2 ln 0.1) (Rayleigh distribution)."""


def circle(east_m: float, north_m: float, radius_m: float, *, corners: int = 48) -> FloatArray:
    """Return the closed outline (corners + 1, 2) of a circle, anticlockwise."""
    angle = np.linspace(0.0, 2.0 * math.pi, corners + 1)
    return np.column_stack([east_m + radius_m * np.cos(angle), north_m + radius_m * np.sin(angle)])


def band(path_m: FloatArray, radius_m: FloatArray) -> FloatArray:
    """Return the outline of the ground within `radius_m` of a path, for filling.

    Parameters
    ----------
    path_m : (n, 2)
    radius_m : (n,)

    Returns
    -------
    (p, 2)
        Closed pieces, all anticlockwise and separated by a row of NaN: a disc at every kept point and the strip
        between neighbours. Filled with the non-zero rule they make one area without seams, also where the path
        turns inside its own band.
    """
    keep = _thinned(path_m, 0.35 * radius_m)
    points, radii = path_m[keep], radius_m[keep]
    gap = np.full((1, 2), np.nan)
    pieces: list[FloatArray] = []
    for point, radius in zip(points, radii, strict=True):
        pieces += [circle(point[0], point[1], radius, corners=16), gap]
    for a, b, radius_a, radius_b in zip(points[:-1], points[1:], radii[:-1], radii[1:], strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        left = np.array([-along[1], along[0]])
        corners = [a - left * radius_a, b - left * radius_b, b + left * radius_b, a + left * radius_a]
        pieces += [np.vstack([*corners, corners[0]]), gap]
    return np.vstack(pieces) if pieces else np.empty((0, 2))


def _thinned(path_m: FloatArray, spacing_m: FloatArray) -> list[int]:
    """Return indices of points at least `spacing_m` apart; the first and, where distinct, the last are kept."""
    keep: list[int] = []
    for i, point in enumerate(path_m):
        if not keep or math.dist(point, path_m[keep[-1]]) >= max(spacing_m[i], 0.02):
            keep.append(i)
    last = len(path_m) - 1
    if keep and math.dist(path_m[last], path_m[keep[-1]]) > 1e-6:
        keep.append(last)
    return keep


def path_points(path: PathTable) -> FloatArray:
    """Return the path as (n, 2) east, north metres."""
    return np.column_stack([path.east_m, path.north_m])


def position_at(path: PathTable, time_s: float) -> tuple[float, float]:
    """Return east, north at a time, linear between the rows of the path."""
    return float(np.interp(time_s, path.time_s, path.east_m)), float(np.interp(time_s, path.time_s, path.north_m))


def stretch(path: PathTable, from_s: float, to_s: float) -> FloatArray:
    """Return the (p, 2) path between two times, with the ends interpolated; empty outside the path's time."""
    low, high = max(from_s, float(path.time_s[0])), min(to_s, float(path.time_s[-1]))
    if low > high:
        return np.empty((0, 2))
    inside = path.time_s[(path.time_s > low) & (path.time_s < high)]
    times = np.concatenate([[low], inside, [high]])
    return np.column_stack([np.interp(times, path.time_s, path.east_m), np.interp(times, path.time_s, path.north_m)])


def pace_mps(path: PathTable, *, slope_deg: float, aspect_deg: float, over_s: float = 3.0) -> FloatArray:
    """Return the (n,) pace over the surface, as the mean over `over_s` around each time.

    Horizontal steps are turned into steps over the surface: the part along the fall line is divided by cos(slope).
    """
    aspect, angle = math.radians(aspect_deg), math.radians(slope_deg)
    down = path.east_m * math.sin(aspect) + path.north_m * math.cos(aspect)
    level = path.east_m * math.cos(aspect) - path.north_m * math.sin(aspect)
    steps = np.hypot(np.diff(level), np.diff(down) / math.cos(angle))
    walked = np.concatenate([[0.0], np.cumsum(steps)])
    early = np.clip(path.time_s - over_s / 2.0, path.time_s[0], path.time_s[-1])
    late = np.clip(path.time_s + over_s / 2.0, path.time_s[0], path.time_s[-1])
    elapsed = np.maximum(late - early, 1e-9)
    pace: FloatArray = (np.interp(late, path.time_s, walked) - np.interp(early, path.time_s, walked)) / elapsed
    return pace


def bounds(*parts: FloatArray) -> tuple[float, float, float, float]:
    """Return west, east, south, north of all finite points of (n, 2) arrays; (0, 0, 0, 0) where there is none."""
    points = np.vstack([p for p in parts if len(p)] or [np.empty((0, 2))])
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return 0.0, 0.0, 0.0, 0.0
    west, south = points.min(axis=0)
    east, north = points.max(axis=0)
    return float(west), float(east), float(south), float(north)
