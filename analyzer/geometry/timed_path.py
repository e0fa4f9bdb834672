"""Paths in time: places (n, 2) in metres at increasing times (n,) in seconds, straight and even between them.

Kernels on plain arrays; before the first time and after the last one the ends hold.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.polyline import cumulative_length
from analyzer.model.arrays import FloatArray


def place_at(time_s: ArrayLike, path_m: ArrayLike, when_s: ArrayLike) -> FloatArray:
    """Return the places (..., 2) of one path (n, 2) at times `when_s` (...,)."""
    time, path, when = (np.asarray(a, float) for a in (time_s, path_m, when_s))
    return np.stack([np.interp(when, time, path[:, j]) for j in (0, 1)], axis=-1)


def walked_at(time_s: ArrayLike, path_m: ArrayLike, when_s: ArrayLike) -> FloatArray:
    """Return the metres (...,) walked on one path (n, 2) from its first place to times `when_s` (...,)."""
    time, when = np.asarray(time_s, float), np.asarray(when_s, float)
    return np.asarray(np.interp(when, time, cumulative_length(path_m)), np.float64)


def walked_between(time_s: ArrayLike, path_m: ArrayLike, from_s: float, to_s: float) -> float:
    """Return the metres walked on one path (n, 2) between two times."""
    start, end = walked_at(time_s, path_m, [from_s, to_s])
    return float(end - start)


def crossing_share(before: ArrayLike, after: ArrayLike, level: ArrayLike, *, flat: float) -> FloatArray:
    """Return the share (...,) of the way from a value `before` to one `after` at which a straight line is at `level`.

    Parameters
    ----------
    before, after, level : array_like, shape (...,)
        In one unit; a level outside the two values gives the nearer end, 0 or 1.
    flat : float
        The share where both values are equal, so that no moment is before another.
    """
    a, b = np.asarray(before, float), np.asarray(after, float)
    same = b == a
    share = (np.asarray(level, float) - a) / np.where(same, 1.0, b - a)
    return np.where(same, flat, np.clip(share, 0.0, 1.0))
