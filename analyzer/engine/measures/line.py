"""A path against an ideal line: how far beside it, and how far along it."""

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.polyline import length, nearest_segment, point_at, segment_lengths
from analyzer.model.arrays import FloatArray
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.pace import pace_at
from analyzer.model.rules import Rules

LEAST_SEGMENT_M = 1e-9
"""Shorter segments have no direction."""


@dataclass(frozen=True, slots=True, eq=False)
class Progress:
    """Progress along the ideal line by range: arrays (p,) with the range falling.

    `along_m`: ideal metres walked, `spent_s`: seconds the reference searcher has spent, when the range is `range_m`.
    Judging progress by range and not by the nearest point lets a searcher follow another field line than the ideal
    one without blame.
    """

    range_m: FloatArray
    along_m: FloatArray
    spent_s: FloatArray

    def metres(self, range_m: FloatArray) -> FloatArray:
        """Return ideal metres at ranges."""
        return np.interp(-range_m, -self.range_m, self.along_m)

    def seconds(self, range_m: FloatArray) -> FloatArray:
        """Return reference seconds at ranges."""
        return np.interp(-range_m, -self.range_m, self.spent_s)


def progress_of(
    ideal: CoarseIdeal, transmitter_m: FloatArray, rules: Rules, *, stretch: float = 1.0, seconds: float | None = None
) -> Progress:
    """Return the progress table of an ideal line.

    Parameters
    ----------
    ideal : CoarseIdeal
    transmitter_m : array, shape (2,)
    rules : Rules
    stretch : float
        Factor on its length, over 1 where the axis is unknown and the line may be longer.
    seconds : float or None
        What the whole line takes the reference searcher; None: from the pace alone.
    """
    line = ideal.line_m
    offset = line - transmitter_m
    ranges = np.minimum.accumulate(np.hypot(offset[:, 0], offset[:, 1]))
    step = segment_lengths(line) * stretch
    middle = (ranges[:-1] + ranges[1:]) / 2.0
    spent = np.concatenate([[0.0], np.cumsum(step / pace_at(rules, middle))])
    if seconds is not None and spent[-1] > 0.0:
        spent = spent * (seconds / spent[-1])
    # Equal ranges would make the table ambiguous: a tiny fall keeps it strict.
    ranges = ranges - 1e-9 * np.arange(len(ranges))
    return Progress(ranges, np.concatenate([[0.0], np.cumsum(step)]), spent)


def beside_m(points_m: FloatArray, line_m: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return how far points (m, 2) lie beside a polyline (p, 2).

    Returns
    -------
    distance : array, shape (m,)
    away : array, shape (m, 2)
        Unit vector from the line to the point; the line's normal where the point is on it.
    fraction : array, shape (m,)
        Where along the line the nearest point is, 0..1 of its length.
    """
    line = line_m[np.concatenate([[True], segment_lengths(line_m) > LEAST_SEGMENT_M])]
    if len(line) == 1:
        offset = points_m - line[0]
        distance = np.hypot(offset[:, 0], offset[:, 1])
        return distance, offset / np.maximum(distance, 1e-9)[:, None], np.zeros(len(points_m))
    distance, along, segment = nearest_segment(points_m, line)
    gap = points_m - point_at(line, along)
    d = np.diff(line, axis=0)[segment]
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.hypot(d[:, 0], d[:, 1])[:, None]
    away = np.where(distance[:, None] > 1e-6, gap / np.maximum(distance, 1e-9)[:, None], normal)
    return distance, away, along / float(length(line))
