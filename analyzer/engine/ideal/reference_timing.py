"""The reference searcher in time: where it is, second by second, so that it can run along in a replay.

Slope-plane metres; seconds from the start of each stretch.
"""

import numpy as np
from numpy.typing import ArrayLike

from analyzer.engine.ideal.reference import times_along
from analyzer.engine.ideal.strips import length_to_range
from analyzer.geometry.polyline import cumulative_length, densify, point_at
from analyzer.model.arrays import FloatArray
from analyzer.model.rules import ReferenceRules

STEP_M = 0.5
"""Spacing of the points where the pace changes along a line; between them a replay goes straight at one pace."""

Timed = tuple[FloatArray, FloatArray]
"""Seconds (p,) and places (p, 2)."""


def timed_signal(strips_m: ArrayLike, transmitter_m: ArrayLike, range_m: float, rules: ReferenceRules) -> Timed:
    """Return the walk along the strips until the transmitter comes within `range_m`."""
    strips = np.asarray(strips_m, float)
    heard_m = length_to_range(strips, transmitter_m, range_m)
    line = np.vstack([strips[cumulative_length(strips) < heard_m], point_at(strips, [heard_m])])
    return cumulative_length(line) / rules.signal_pace_mps, line


def timed_coarse(field_line_m: ArrayLike, transmitter_m: ArrayLike, rules: ReferenceRules) -> Timed:
    """Return the walk along the field line at the pace of the sheet at each range."""
    line = densify(field_line_m, STEP_M)
    return times_along(line, transmitter_m, rules), line


def timed_fine(cross_m: ArrayLike, rules: ReferenceRules) -> Timed:
    """Return the walk along the cross of the ideal bracket."""
    line = np.asarray(cross_m, float)
    return cumulative_length(line) / rules.bracket_pace_mps, line
