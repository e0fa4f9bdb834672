"""What a reading log says of when the searcher settled, beside the path: it swings while bracketing, and falls silent.

Log likelihood ratios a second, bracketing over probing. The weights are our own choice, made on simulated runs of two
kinds: of people who keep the receiver in hand over the probe, and of people who put it away or lay it down.
"""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.path import UsedReadings

SILENT_S, SILENT_WEIGHT = 5.0, 1.5  # a log silent for so long has ended; what a second of that says for probing
AFTER_S = 1.0  # so long after the last reading it counts as silent
SOON_S, LATE_S, LATE_SHARE = 3.0, 30.0, 0.15  # after settling a log ends so soon, on average, for some so late
SHOWN_WEIGHT = 0.05  # what a second of readings says for bracketing in a log that goes on
NEAR_M, LEAST_NEAR = 3.0, 4  # readings of a bracket: a log with fewer does not tell of it
SWING_S, LEAST_SHOWN = 2.5, 4  # half a window, and readings in it
SWING_M, SWING_WEIGHT = 0.45, 0.2  # swing of bracketing; neighbouring windows hold the same readings


def reading_evidence(readings: UsedReadings | None, which: int, grid: FloatArray, end_s: float) -> FloatArray:
    """Return (T,) how far the log of one transmitter speaks for bracketing at each second, negative for probing.

    Parameters
    ----------
    readings : UsedReadings or None
        On the track's clock. None: nothing is said.
    which : int
        Index of the transmitter.
    grid : ndarray, shape (T,)
        Seconds.
    end_s : float
        When the transmitter was struck, or its search ended.
    """
    if readings is None or not np.any(readings.transmitter == which):
        return np.zeros(grid.size)
    return _swing(readings, which, grid) + _silence(readings, which, grid, end_s)


def _silence(readings: UsedReadings, which: int, grid: FloatArray, end_s: float) -> FloatArray:
    """Return (T,) how far a log that has fallen silent for good speaks for bracketing, before; for probing, after.

    Nobody brackets without a reading; who probes puts the receiver away, and does so at once. 0 where the log goes on:
    some probe with the receiver in the other hand. A gap of a few readings is no sign of either.
    """
    own = (readings.transmitter == which) & (readings.time_s <= end_s)
    times = readings.time_s[own]
    usual = float(np.median(np.diff(times[-10:]))) if times.size > 2 else np.inf
    if np.count_nonzero(own & (readings.reading_m <= NEAR_M)) < LEAST_NEAR:
        return np.zeros(grid.size)  # a log that ends on the way in was put down for another reason
    if end_s - (times[-1] if times.size else 0.0) <= max(SILENT_S, 4.0 * usual):
        return np.full(grid.size, SHOWN_WEIGHT if times.size else 0.0)
    ahead = times[-1] - np.stack([grid - 0.5, grid + 0.5])
    begun, over = _put_away(ahead)
    return np.asarray(np.where(grid > times[-1] + AFTER_S, -SILENT_WEIGHT, over - begun), np.float64)


def _put_away(after_s: FloatArray) -> FloatArray:
    """Return the log density, up to a constant, of a log that ends so long after the searcher settled."""
    held = np.maximum(after_s, 0.0)
    soon, late = (
        np.log(share / mean) - held / mean for share, mean in ((1.0 - LATE_SHARE, SOON_S), (LATE_SHARE, LATE_S))
    )
    return np.asarray(np.logaddexp(soon, late), np.float64)


def _swing(readings: UsedReadings, which: int, grid: FloatArray) -> FloatArray:
    """Return (T,) how far the readings of a few seconds speak for bracketing: they swing there, and rest over a probe.

    Log likelihood ratio, 0 where too few were shown. Normal densities of the difference between the highest and the
    lowest; that of one who probes is as wide as noise and steps of a display make it.
    """
    found = np.zeros(grid.size)
    own = readings.transmitter == which
    times, shown = readings.time_s[own], readings.reading_m[own]
    lo, hi = np.searchsorted(times, grid - SWING_S), np.searchsorted(times, grid + SWING_S)
    for i in np.flatnonzero(hi - lo >= LEAST_SHOWN):
        few = shown[lo[i] : hi[i]]
        rest = 1.4 * np.hypot(0.1, 0.04 * float(np.min(few)))
        spread = float(np.ptp(few))
        found[i] = np.log(rest / SWING_M) + 0.5 * spread**2 * (rest**-2 - SWING_M**-2)
    return SWING_WEIGHT * np.clip(found, 0.0, 2.0)
