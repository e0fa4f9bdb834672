"""The pace of the reference searcher in coarse search; apart from the rule sheet, which is read without numpy."""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.model.arrays import FloatArray
from analyzer.model.rules import ReferenceRules


def pace_at(rules: ReferenceRules, range_m: ArrayLike) -> FloatArray:
    """Return the pace (...,) in m/s at ranges (...,) in metres: linear between the knots, constant outside them."""
    knots = sorted(rules.pace, key=lambda knot: knot.range_m)
    ranges, paces = [k.range_m for k in knots], [k.pace_mps for k in knots]
    return np.asarray(np.interp(np.asarray(range_m, float), ranges, paces), np.float64)
