"""The fine search begins at the latest where the log shows that the receiver was lowered."""

import numpy as np

from analyzer.engine.phases.decode import spread_draws
from analyzer.model.arrays import FloatArray
from analyzer.model.path import FusedPath

LOWERED_S = 4.0  # so long after the bound the receiver counts as still carried
LOWERING_S, LOWERING_SPREAD_S = 1.0, 1.0  # from deciding to lower the receiver to a log that shows it; our estimate


def entered(fused: FusedPath, metric: FloatArray, radius_m: float) -> FloatArray:
    """Return `metric` (S, n) at most `radius_m` while the receiver is held low, as the log has fallen to the radius.

    Over a deep transmitter, and with fewer antennas, the reading of a carried receiver may never fall so far: the
    searcher then lowers it where it falls no further, and the log falls to the radius because of that. A draw that has
    not come to the radius LOWERED_S after is taken to have done so, LOWERING_S before the log shows it.
    """
    t, low = fused.time_s, fused.height_m < np.max(fused.height_m)
    edges = np.flatnonzero(np.diff(low.astype(int), prepend=0, append=0)).reshape(-1, 2)
    if not len(edges):
        return metric
    steps = np.linspace(-1.5, 1.5, 16)
    moved = spread_draws(np.exp(-0.5 * steps**2) / np.sum(np.exp(-0.5 * steps**2)), steps, len(metric), seed=2)
    out = np.array(metric)
    for first, last in edges:
        shown_s, end_s = float(t[first]), float(t[last - 1])
        late_s = min(shown_s + LOWERED_S, end_s)
        near = (t >= shown_s - LOWERED_S) & (t <= shown_s + 0.5 * LOWERED_S)  # the carried receiver's reading
        came = np.any(metric[:, near] <= radius_m, axis=1)
        begin_s = np.where(came, late_s, shown_s - LOWERING_S + LOWERING_SPREAD_S * np.append(0.0, moved[1:]))
        held = (t >= begin_s[:, None]) & (t <= end_s)
        out[held] = np.minimum(out[held], radius_m)
    return out
