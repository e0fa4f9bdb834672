"""Figures joined to one: sums, means, shares. The searches of a run, and what they are divided by, err independently.

Half-widths of intervals are joined in quadrature, each side for itself.
"""

import math
from collections.abc import Sequence

from analyzer.model.figure import HALF_90, Figure, Measured, NotAssessable


def exact(value: float, unit: str) -> Figure:
    """Return a figure without uncertainty."""
    return Figure(value, value, value, unit)


def spread(value: float, sigma: float, unit: str) -> Figure:
    """Return a figure from its standard deviation; it is not negative."""
    half = HALF_90 * sigma
    return Figure(value, max(value - half, 0.0), value + half, unit)


def total(figures: Sequence[Figure]) -> Figure:
    """Return the sum of one or more figures of one unit."""
    value = sum(f.value for f in figures)
    down, up = (math.hypot(*sides) for sides in zip(*(_sides(f) for f in figures), strict=True))
    return Figure(value, value - down, value + up, figures[0].unit)


def mean(figures: Sequence[Figure]) -> Figure:
    """Return the mean of one or more figures of one unit."""
    whole, n = total(figures), len(figures)
    return Figure(whole.value / n, whole.low / n, whole.high / n, whole.unit)


def share(part: Figure, whole: Figure, unit: str = "1") -> Figure:
    """Return `part` over `whole`, neither negative and `whole` above 0."""
    value = part.value / whole.value
    down, up = _sides(part)
    less, more = _sides(whole)
    below = math.hypot(down / whole.value, value * more / whole.value)
    above = math.hypot(up / whole.value, value * less / whole.value)
    return Figure(value, max(value - below, 0.0), value + above, unit)


def usable(found: Sequence[Measured | None]) -> list[Figure]:
    """Return the figures among what was measured."""
    return [f for f in found if isinstance(f, Figure)]


def reason(found: Sequence[Measured | None], otherwise: str) -> NotAssessable:
    """Return the first reason why there is no figure, else `otherwise`."""
    return next((f for f in found if isinstance(f, NotAssessable)), NotAssessable(otherwise))


def _sides(figure: Figure) -> tuple[float, float]:
    return figure.value - figure.low, figure.high - figure.value
