"""Stretches of time: what some of them leave free, and whether they were recorded."""

from collections.abc import Sequence

RECORDED_SHARE = 0.8
"""Less of a stretch on record is too little to say what was done in it; our choice."""


def gaps(from_s: float, to_s: float, taken: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the parts of [from_s, to_s] outside the taken intervals, in order."""
    free, at = [], from_s
    for a, b in sorted(taken):
        if a > at:
            free.append((at, min(a, to_s)))
        at = max(at, b)
    if at < to_s:
        free.append((at, to_s))
    return [(a, b) for a, b in free if b - a > 1e-9]


def recorded(from_s: float, to_s: float, holes: Sequence[tuple[float, float]]) -> bool:
    """Return whether most of a stretch of time lies outside the holes of a recording."""
    return sum(b - a for a, b in gaps(from_s, to_s, holes)) > RECORDED_SHARE * (to_s - from_s)
