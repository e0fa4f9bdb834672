"""Rounding a column so that what is shown adds up to what is shown under it. No Dash."""

import math
from collections.abc import Sequence


def adding_up(values: Sequence[float], whole: int | None = None) -> list[int]:
    """Return whole numbers for `values` that add up to `whole`, by the largest remainder.

    Each number is its value rounded down or up; up go those with the largest remainders, of equal ones the first.

    Parameters
    ----------
    values : sequence of float
        Any sign.
    whole : int, optional
        The sum to reach, from the sum of all values rounded down to that of all rounded up; the rounded sum where
        left out. It is reached as nearly as that allows.
    """
    down = [math.floor(value) for value in values]
    wanted = round(math.fsum(values)) if whole is None else whole
    ups = min(max(wanted - sum(down), 0), len(down))
    order = sorted(range(len(down)), key=lambda i: (down[i] - values[i], i))
    for i in order[:ups]:
        down[i] += 1
    return down
