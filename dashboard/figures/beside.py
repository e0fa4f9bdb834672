"""A way that was walked twice, drawn as lines beside each other, so that both are seen. Only the drawing is moved."""

import functools
from dataclasses import replace

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.phases import COARSE, SIGNAL
from analyzer.model.result import RunResult
from dashboard.figures.shapes import bounds, path_points

GAP_SHARE = 0.011
"""Gap between lines as a share of the longer side of the drawing: about a line's width and a half on a laptop."""
STEP_S, LONGEST = 1.0, 1500
ALONG = 0.7
"""Cosine from which two stretches run along each other; those that merely cross stay where they are."""


@functools.lru_cache(maxsize=16)  # a result is compared as the object it is, and never altered
def beside_shift(result: RunResult) -> tuple[FloatArray, float]:
    """Return how far each row of the path is moved in a drawing, (n, 2) metres, and the gap between lines in metres.

    The first time a way is walked it stays where it is; the second time it lies a gap to the left of that, and so on.
    Fine search and pinpoint stay, for their close-up. The gap is 0 where no way was walked twice.
    """
    path = result.path
    points, time_s = path_points(path), path.time_s
    none = np.zeros_like(points)
    west, east, south, north = bounds(points)
    gap = GAP_SHARE * max(east - west, north - south)
    every = max(STEP_S, float(time_s[-1] - time_s[0]) / LONGEST)
    at = np.arange(float(time_s[0]), float(time_s[-1]), every)
    if gap <= 0.0 or len(at) < 3:
        return none, 0.0
    sampled = np.column_stack([np.interp(at, time_s, points[:, axis]) for axis in (0, 1)])
    moved = _moved(sampled, _on_the_way(result, at), gap)
    if not moved.any():
        return none, 0.0
    eased = np.column_stack(
        [np.convolve(np.pad(moved[:, axis], 1, mode="edge"), np.full(3, 1 / 3), "valid") for axis in (0, 1)]
    )
    return np.column_stack([np.interp(time_s, at, eased[:, axis]) for axis in (0, 1)]), gap


def drawn_path(result: RunResult) -> RunResult:
    """Return a result whose path lies where the plan draws it."""
    shift, gap = beside_shift(result)
    if not gap:
        return result
    path = result.path
    return replace(result, path=replace(path, east_m=path.east_m + shift[:, 0], north_m=path.north_m + shift[:, 1]))


def _on_the_way(result: RunResult, at: FloatArray) -> np.ndarray:
    inside = np.zeros(len(at), dtype=bool)
    for phase in result.phases:
        if phase.phase in (SIGNAL, COARSE):
            inside |= (at >= phase.start_s) & (at <= phase.end_s)
    return inside


def _moved(points: FloatArray, use: np.ndarray, gap: float) -> FloatArray:
    """Return the shift of each sampled point: the number of earlier passes there, in gaps, to the left of the first."""
    steps = np.gradient(points, axis=0)
    lengths = np.hypot(*steps.T)
    heading = steps / np.maximum(lengths, 1e-9)[:, None]
    walked = np.cumsum(lengths)
    moved = np.zeros_like(points)
    for row in np.flatnonzero(use):
        near = use[:row] & (np.hypot(*(points[:row] - points[row]).T) < gap)
        near &= walked[row] - walked[:row] > 3.0 * gap
        near &= np.abs(heading[:row] @ heading[row]) > ALONG
        earlier = np.flatnonzero(near)
        if len(earlier):
            passes = 1 + int(np.sum(np.diff(walked[earlier]) > 3.0 * gap))
            east, north = heading[earlier[0]]
            moved[row] = passes * gap * np.array([-north, east])
    return moved
