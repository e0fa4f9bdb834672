"""First guesses by search: the clock offset between reading log and track, and the antenna axes."""

import numpy as np

from analyzer.engine.fusion.problem import ReadingRows
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.receiver import offsets, seen_amplitude

PLACE_DOUBT_M = 2.0  # of a path from fixes alone, while searching
MOST_READINGS = 80


def _thin(index: IndexArray) -> IndexArray:
    """Return at most MOST_READINGS of the indices, spread evenly."""
    return index if index.size <= MOST_READINGS else index[np.linspace(0, index.size - 1, MOST_READINGS).astype(int)]


def misfit(log_reading: FloatArray, log_predicted: FloatArray, sigma: FloatArray) -> FloatArray:
    """Return the robust misfit (...,) over the last axis of ln readings, the scale taken out by a weighted mean."""
    weight = 1.0 / sigma**2
    residual = log_reading - log_predicted
    centre = np.sum(residual * weight, axis=-1, keepdims=True) / np.sum(weight, axis=-1, keepdims=True)
    centre = np.clip(centre, -0.3, 0.5)
    return np.asarray(np.sum(np.log1p((residual - centre) ** 2 / sigma**2 / 4.0), axis=-1), np.float64)


def doubt(rows: ReadingRows, place_doubt_m: float) -> FloatArray:
    """Return the standard deviation (m,) of ln(reading) when the place is off by `place_doubt_m`."""
    return np.asarray(np.sqrt(0.12**2 + (place_doubt_m / np.maximum(np.exp(rows.log_reading), 1.0)) ** 2), np.float64)


def guess_offset(
    rows: ReadingRows,
    node_s: FloatArray,
    path_m: FloatArray,
    transmitter_m: FloatArray,
    depth_m: FloatArray,
    *,
    reach_s: float,
    place_doubt_m: float = PLACE_DOUBT_M,
) -> float:
    """Return the clock offset in seconds at which ranges along the path fit the readings best, whatever the axis."""
    pick = _thin(np.arange(rows.time_s.size))
    sigma = doubt(rows, place_doubt_m)[pick]
    height = rows.carry_height_m

    def at(offset: FloatArray) -> FloatArray:
        t = rows.time_s[pick][None, :] + offset[:, None]
        place = place_at(node_s, path_m, t)
        k = rows.transmitter[pick]
        d = offsets(place, height, transmitter_m[k], depth_m[k])
        outside = np.maximum(np.maximum(node_s[0] - t, t - node_s[-1]), 0.0)
        value = misfit(rows.log_reading[pick], np.log(np.linalg.norm(d, axis=-1)), sigma)
        held = 0.5 * np.sum(np.minimum(outside, 5.0), axis=1) + 0.5 * (offset / 60.0) ** 2
        return np.asarray(value + held, np.float64)

    grid = np.arange(-reach_s, reach_s + 0.1, 2.0)
    best = grid[int(np.argmin(at(grid)))]
    fine = best + np.arange(-2.0, 2.01, 0.5)
    return float(fine[int(np.argmin(at(fine)))])


def axis_misfits(
    rows: ReadingRows,
    which: int,
    offset_s: float,
    node_s: FloatArray,
    path_m: FloatArray,
    transmitter_m: FloatArray,
    depth_m: FloatArray,
    axes: FloatArray,
    antennas: int,
    *,
    place_doubt_m: float = PLACE_DOUBT_M,
) -> FloatArray:
    """Return the misfit (a,) of each candidate axis (a, 3) of one transmitter for one run; 0 without readings."""
    pick = _thin(np.flatnonzero(rows.transmitter == which))
    if pick.size < 3:
        return np.zeros(len(axes))
    t = rows.time_s[pick] + offset_s
    place = place_at(node_s, path_m, t)
    d = offsets(place, rows.height_m[pick], transmitter_m[which], depth_m[which])
    heading = None
    if antennas == 1:
        move = np.gradient(place, axis=0)
        heading = move / np.maximum(np.linalg.norm(move, axis=1, keepdims=True), 1e-6)
    seen = seen_amplitude(d[None], axes[:, None, :], antennas=antennas, heading=heading)
    return misfit(rows.log_reading[pick], np.log(np.maximum(seen, 1e-12)) / -3.0, doubt(rows, place_doubt_m)[pick])


def distinct(axes: FloatArray, value: FloatArray, count: int, apart_deg: float = 40.0) -> list[int]:
    """Return up to `count` indices of the lowest values whose axes are at least `apart_deg` apart."""
    chosen: list[int] = []
    for i in np.argsort(value):
        if all(abs(float(axes[i] @ axes[j])) < np.cos(np.radians(apart_deg)) for j in chosen):
            chosen.append(int(i))
        if len(chosen) == count:
            break
    return chosen
