"""Where a receiver with one antenna points, as far as it is known: as logged, else the way its searcher last walked.

On the way in people walk where the receiver points. In the fine search it is held as they came, or it is not, and
nothing that is recorded tells: its direction is then known poorly, and readings tell less.
"""

import numpy as np

from analyzer.engine.fusion.problem import Pointing, ReadingRows
from analyzer.model.arrays import FloatArray

LOGGED_RAD = np.radians(10.0)  # of a heading that is logged: a compass, and the hand
WALKED_RAD = np.radians(15.0)  # of a receiver against the way that is walked; our estimate
HELD_RAD = np.radians(35.0)  # of one that is meant to be held as one came, bent down and moving sideways; our estimate
BRISK_MPS, WALK_SIGMA_MPS = 0.4, 0.15  # who goes slower may go sideways; how well the way of a phone's path is known


def pointing_of(
    node_s: FloatArray, velocity_mps: FloatArray, rows: ReadingRows, offset_s: float, heading: FloatArray
) -> Pointing:
    """Return where the receiver points at nodes (n,), velocity (n, 2); `heading` (m, 2): as logged, NaN where not.

    `offset_s`: to add to the log's times to get those of the track.
    """
    logged = np.isfinite(heading[:, 0])
    if np.mean(logged) > 0.5:
        time_s = rows.time_s[logged] + offset_s
        return Pointing(time_s, heading[logged], np.full(time_s.size, LOGGED_RAD))
    speed = np.linalg.norm(velocity_mps, axis=1)
    low = np.zeros(node_s.size, bool)
    for begin, end in rows.low_spans_s + offset_s:
        low |= (node_s >= begin) & (node_s <= end)
    brisk = (speed >= BRISK_MPS) & ~low
    last = np.maximum.accumulate(np.where(brisk, np.arange(node_s.size), -1))
    last = np.where(last < 0, np.argmax(brisk), last)
    way = velocity_mps[last] / np.maximum(speed[last], 1e-6)[:, None]
    walked = np.hypot(WALKED_RAD, WALK_SIGMA_MPS / np.maximum(speed[last], BRISK_MPS))
    return Pointing(node_s, way, np.where(brisk, walked, np.hypot(walked, HELD_RAD)))
