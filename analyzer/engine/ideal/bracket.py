"""The ideal fine search: a cross of straight lines over the lowest reading.

Along the entry direction past the lowest reading of that line until it has clearly risen, back, at right
angles to both sides, then to the lowest reading of all. How far is "clearly risen" comes from the rule sheet.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.polyline import length
from analyzer.model.arrays import FloatArray
from analyzer.model.ideal import BracketIdeal
from analyzer.model.path import FusedPath
from analyzer.physics.lowest_reading import lowest_reading


def bracket_ideal(
    entry_m: ArrayLike, lowest_m: ArrayLike, *, transmitter: str, arm_m: float, direction: ArrayLike | None = None
) -> BracketIdeal:
    """Return the cross for one fine search.

    Parameters
    ----------
    entry_m : array_like, shape (2,)
        Where the fine search begins; slope plane, metres.
    lowest_m : array_like, shape (2,)
        Where physics puts the lowest reading.
    transmitter : str
        Its id.
    arm_m : float
        From the lowest reading of a line to the point of turning.
    direction : array_like, shape (2,), optional
        Heading on entry (any length). Where it is missing, or would never pass the lowest reading (it points
        away from it), the straight line from the entry to the lowest reading is taken.

    Notes
    -----
    The crossing leads first to the side on which the lowest reading lies: of the two orders the longer one,
    so that no searcher is held against a lucky guess.
    """
    entry, lowest = np.asarray(entry_m, float), np.asarray(lowest_m, float)
    to_lowest = lowest - entry
    ahead = to_lowest if direction is None else np.asarray(direction, float)
    if not np.isfinite(ahead).all() or ahead @ to_lowest <= 0.0:
        ahead = to_lowest
    size = float(np.hypot(*ahead))
    u = ahead / size if size > 0.0 else np.array([0.0, 1.0])
    foot = entry + max(0.0, float(to_lowest @ u)) * u
    across = np.array([-u[1], u[0]])
    if (lowest - foot) @ across < 0.0:
        across = -across
    cross = np.array([entry, foot + arm_m * u, foot, foot + arm_m * across, foot - arm_m * across, lowest])
    return BracketIdeal(transmitter, cross, float(length(cross)), lowest)


def lowest_draws(
    path: FusedPath, *, transmitter: str, fine_height_m: float, heading: ArrayLike | None = None
) -> FloatArray:
    """Return (S, 2) where physics puts the lowest reading in every draw, slope-plane metres.

    `heading` (2,): how a single antenna is held, by default up the slope; see `analyzer.physics.lowest_reading`.
    """
    k = path.transmitter_ids.index(transmitter)
    held = np.array([0.0, 1.0]) if heading is None else np.asarray(heading, float)
    offset = lowest_reading(
        path.draws.axis[:, k],
        depth_m=float(path.depth_m[k]),
        height_m=fine_height_m,
        antennas=path.antennas,
        heading=held,
    ).offset_m
    return np.asarray(path.draws.transmitter_m[:, k] + offset, np.float64)
