"""First guesses by search: the clock offset between reading log and track, and the antenna axes."""

from collections.abc import Callable

import numpy as np

from analyzer.engine.fusion.problem import ReadingRows
from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.physics.holding import Held, seen_log
from analyzer.physics.receiver import offsets, seen_amplitude

PLACE_DOUBT_M = 2.0  # of a path from fixes alone, while searching
MOST_READINGS, FEW_READINGS = 80, 40
SHIFTS = np.stack(np.meshgrid(*[np.arange(-2.0, 2.1)] * 2, indexing="ij"), -1).reshape(-1, 2)  # in standard deviations


def _thin(index: IndexArray, most: int = MOST_READINGS) -> IndexArray:
    """Return at most `most` of the indices, spread evenly."""
    return index if index.size <= most else index[np.linspace(0, index.size - 1, most).astype(int)]


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
    shift_sigma_m: float = 0.0,
) -> float:
    """Return the clock offset in seconds at which ranges along the path fit the readings best, whatever the axis.

    A path that lies beside the true one as a whole reaches its nearest point too early or too late: it may be shifted,
    with standard deviation `shift_sigma_m` along each axis.
    """

    def at(offset: FloatArray, shift: FloatArray, most: int) -> FloatArray:
        """Return the misfit (offsets, shifts)."""
        pick = _thin(np.arange(rows.time_s.size), most)
        t, k = rows.time_s[pick][None, :] + offset[:, None], rows.transmitter[pick]
        away = (place_at(node_s, path_m, t) - transmitter_m[k])[:, None] - shift[None, :, None, :]
        square = away[..., 0] ** 2 + away[..., 1] ** 2 + (rows.carry_height_m + depth_m[k]) ** 2
        value = misfit(rows.log_reading[pick], 0.5 * np.log(square), doubt(rows, place_doubt_m)[pick])
        value *= rows.time_s.size / pick.size if rows.time_s.size < MOST_READINGS else MOST_READINGS / pick.size
        outside = np.maximum(np.maximum(node_s[0] - t, t - node_s[-1]), 0.0)
        held = 0.5 * np.sum(np.minimum(outside, 5.0), axis=1) + 0.5 * (offset / 60.0) ** 2
        moved = 0.5 * np.sum(shift**2, axis=1) / max(shift_sigma_m, 1e-3) ** 2
        return np.asarray(value + held[:, None] + moved, np.float64)

    def best(offset: FloatArray, shift: FloatArray, most: int) -> tuple[float, FloatArray]:
        i, j = np.unravel_index(np.argmin(value := at(offset, shift, most)), value.shape)
        return float(offset[i]), shift[j]

    grid = np.arange(-reach_s, reach_s + 0.1, 2.0)
    first, shift = best(grid, shift_sigma_m * SHIFTS, FEW_READINGS)
    near = shift + 0.5 * shift_sigma_m * SHIFTS[np.max(np.abs(SHIFTS), axis=1) <= 1.0]
    return best(first + np.arange(-2.0, 2.01, 0.5), near, MOST_READINGS)[0]


def axis_misfits(
    rows: ReadingRows,
    which: int,
    offset_s: float,
    node_s: FloatArray,
    path_m: FloatArray,
    transmitter_m: FloatArray,
    depth_m: FloatArray,
    axes: FloatArray,
    held_at: Callable[[FloatArray], Held],
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
    held, unsure = held_at(t), doubt(rows, place_doubt_m)[pick]
    if held.antennas == 3:
        seen = seen_amplitude(d[None], axes[:, None, :], antennas=3)
        return misfit(rows.log_reading[pick], np.log(np.maximum(seen, 1e-12)) / -3.0, unsure)
    mean, variance = seen_log(d[None], axes[:, None, :], held)
    sigma = np.sqrt(unsure**2 + variance / 9.0)
    value = misfit(rows.log_reading[pick], mean / -3.0, sigma) + np.sum(np.log(sigma), axis=-1)
    return np.asarray(value, np.float64)


def distinct(axes: FloatArray, value: FloatArray, count: int, apart_deg: float = 40.0) -> list[int]:
    """Return up to `count` indices of the lowest values whose axes are at least `apart_deg` apart."""
    chosen: list[int] = []
    for i in np.argsort(value):
        if all(abs(float(axes[i] @ axes[j])) < np.cos(np.radians(apart_deg)) for j in chosen):
            chosen.append(int(i))
        if len(chosen) == count:
            break
    return chosen
