"""The reference searcher: walks the ideal paths at the rule sheet's pace.

In coarse search the pace depends on the range, the distance over the surface to the transmitter: linear
between the rule sheet's knots, constant outside them. Times are the integral of ds / pace.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.polyline import cumulative_length, densify
from analyzer.model.arrays import FloatArray
from analyzer.model.ideal import BracketIdeal, CoarseIdeal, ReferenceTimes
from analyzer.model.pace import pace_at
from analyzer.model.rules import ReferenceRules

STEP_M = 0.25  # of the integration; Simpson's rule


def times_along(line_m: ArrayLike, transmitter_m: ArrayLike, rules: ReferenceRules) -> FloatArray:
    """Return (p,) seconds at which the reference searcher passes the points of a line (p, 2), from 0 at its
    start.

    `transmitter_m` (2,): surface point over the transmitter.
    """
    line = np.asarray(line_m, float)
    if len(line) < 2:
        return np.zeros(len(line))
    dense = densify(line, STEP_M)
    centre = np.asarray(transmitter_m, float)

    def slowness(points: FloatArray) -> FloatArray:
        return 1.0 / pace_at(rules, np.hypot(*(points - centre).T))

    at, middle = slowness(dense), slowness(0.5 * (dense[:-1] + dense[1:]))
    along = cumulative_length(dense)
    seconds = np.concatenate([[0.0], np.cumsum(np.diff(along) / 6.0 * (at[:-1] + 4.0 * middle + at[1:]))])
    return np.asarray(np.interp(cumulative_length(line), along, seconds), np.float64)


def coarse_seconds(coarse: CoarseIdeal, transmitter_m: ArrayLike, rules: ReferenceRules) -> tuple[float, FloatArray]:
    """Return the seconds along the line of draw row 0, and per draw (S,): the same pace over each draw's
    length.
    """
    if not len(coarse.line_m):
        return float("nan"), np.full(len(coarse.length_draws_m), np.nan)
    best = float(times_along(coarse.line_m, transmitter_m, rules)[-1])
    shown = coarse.length_draws_m[0]
    share = coarse.length_draws_m / shown if shown > 0.0 else np.ones(len(coarse.length_draws_m))
    return best, best * share


def reference_times(
    *,
    transmitter: str,
    rules: ReferenceRules,
    transmitter_m: ArrayLike,
    signal_m: float | None = None,
    coarse: CoarseIdeal | None = None,
    bracket: BracketIdeal | None = None,
    pinpoint: bool = True,
) -> ReferenceTimes:
    """Return the seconds the reference searcher spends in each phase; None where there is nothing to walk.

    Parameters
    ----------
    transmitter : str
        Its id.
    rules : ReferenceRules
    transmitter_m : array_like, shape (2,)
        Surface point over the transmitter; slope plane, metres.
    signal_m : float, optional
        Length of the signal search of the reference searcher (`analyzer.engine.ideal.strips.length_to_range`).
    coarse, bracket : optional
        The ideal paths.
    pinpoint : bool
        Whether the run had a pinpoint phase.
    """
    coarse_s = None
    if coarse is not None and len(coarse.line_m):
        coarse_s = coarse_seconds(coarse, transmitter_m, rules)[0]
    return ReferenceTimes(
        transmitter,
        signal_s=None if signal_m is None else signal_m / rules.signal_pace_mps,
        coarse_s=coarse_s,
        fine_s=None if bracket is None else bracket.length_m / rules.bracket_pace_mps,
        pinpoint_s=rules.pinpoint_reference_s if pinpoint else None,
    )
