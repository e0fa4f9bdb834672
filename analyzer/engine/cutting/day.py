"""A recording of hours made even and calm: one place for every two seconds, in stretches without a gap."""

from dataclasses import dataclass

import numpy as np

from analyzer.model.arrays import FloatArray, freeze_fields

STEP_S = 2.0
CALM_STEPS = 5
"""Places are means over so many steps, 10 s: what a recorder's error does within seconds is out then."""
GAP_S = 120.0
"""Our choice: without a fix for so long, a recorder was stopped or put away rather than shaded."""


@dataclass(frozen=True, slots=True, eq=False)
class Day:
    """A recording, thinned. `time_s` (n,): seconds since 1970 UTC, rising; `place_m` (n, 2): east and north, calmed;
    `stretch` (n,): number of the stretch without a gap."""

    time_s: FloatArray
    place_m: FloatArray
    stretch: FloatArray
    first_s: float
    last_s: float

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), place_m=(n, 2), stretch=(n,))

    def near(self, point_m: FloatArray) -> FloatArray:
        """Return the metres of every place from a point, (n,)."""
        return np.asarray(np.hypot(*(self.place_m - point_m).T), float)

    def index(self, time_s: float) -> int:
        """Return the first place at or after a time, the last one where there is none."""
        return min(int(np.searchsorted(self.time_s, time_s)), len(self.time_s) - 1)


def day_of(time_s: FloatArray, east_m: FloatArray, north_m: FloatArray) -> Day:
    """Return a recording, thinned: medians over two seconds, then means over ten; gaps are left open.

    Parameters
    ----------
    time_s, east_m, north_m : array, shape (n,)
        Seconds since 1970 UTC, rising, at least one; horizontal metres.
    """
    bins = np.floor((time_s - time_s[0]) / STEP_S).astype(int)
    _, begins = np.unique(bins, return_index=True)
    ends = np.append(begins[1:], len(time_s))
    # A middle row of each bin would do for the time; for the place the median keeps single wild fixes out.
    at = np.array([float(np.mean(time_s[a:b])) for a, b in zip(begins, ends, strict=True)])
    places = np.array(
        [(float(np.median(east_m[a:b])), float(np.median(north_m[a:b]))) for a, b in zip(begins, ends, strict=True)]
    )
    stretch = np.concatenate([[0], np.cumsum(np.diff(at) > GAP_S)])
    calm = np.concatenate([_calmed(places[stretch == k]) for k in range(int(stretch[-1]) + 1)])
    return Day(at, calm, stretch.astype(float), float(time_s[0]), float(time_s[-1]))


def _calmed(places: FloatArray) -> FloatArray:
    """Return running means, over fewer rows at the ends."""
    half = CALM_STEPS // 2
    sums = np.vstack([np.zeros((1, 2)), np.cumsum(places, axis=0)])
    row = np.arange(len(places))
    low, high = np.maximum(row - half, 0), np.minimum(row + half + 1, len(places))
    return np.asarray((sums[high] - sums[low]) / (high - low)[:, None], float)
