"""Scatter of stretches of a path about their middles, from sums made once, so that any stretch costs the same."""

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.polyline import segment_lengths
from analyzer.model.arrays import FloatArray

Piece = tuple[int, int]
LEAST_METRES = 1e-9


class Moments:
    """Integrals of 1, x, y, xx, yy and xy along path_m (S, n, 2), by metres walked in its first row, up to each point.

    By metres, so that a pause does not count. A stretch of zero length has no scatter.
    """

    def __init__(self, path_m: FloatArray) -> None:
        step = segment_lengths(path_m[0])
        x, y = np.moveaxis(path_m - path_m[:, :1], -1, 0)
        values = np.stack([np.ones_like(x), x, y, x * x, y * y, x * y])
        self._sums = np.zeros(values.shape)
        np.cumsum(0.5 * step * (values[..., 1:] + values[..., :-1]), axis=-1, out=self._sums[..., 1:])

    def scatter(self, pieces: Sequence[Piece], rows: FloatArray | slice = slice(None)) -> FloatArray:
        """Return the scatter xx, yy, xy (3, S) of index pairs taken together, each about its own middle: m^3."""
        return np.asarray(self.each(pieces, rows).sum(axis=-1), np.float64)

    def each(self, pieces: Sequence[Piece], rows: FloatArray | slice = slice(None)) -> FloatArray:
        """Return the scatter (3, S, p) of each of p index pairs (first, last)."""
        ends = np.array(pieces, int).reshape(-1, 2)
        sums = self._sums[:, rows]
        metres, x, y, xx, yy, xy = sums[..., ends[:, 1]] - sums[..., ends[:, 0]]
        metres = np.maximum(metres, LEAST_METRES)
        return np.stack([xx - x * x / metres, yy - y * y / metres, xy - x * y / metres])

    def axis(self, pieces: Sequence[Piece], rows: FloatArray | slice = slice(None)) -> FloatArray:
        """Return the main direction (S,) of pieces taken together, radians modulo pi: long ones count more."""
        xx, yy, xy = self.scatter(pieces, rows)
        return np.asarray(0.5 * np.arctan2(2.0 * xy, xx - yy), np.float64)


def across(scatter: FloatArray) -> FloatArray:
    """Return the scatter (...,) across the main direction of scatter (3, ...): square metres times metres walked."""
    xx, yy, xy = scatter
    return np.asarray(np.maximum((xx + yy - np.hypot(xx - yy, 2.0 * xy)) / 2.0, 0.0), np.float64)
