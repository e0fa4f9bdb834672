"""Where somebody stayed near one place for a while."""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.cutting.day import STEP_S, Day
from analyzer.model.arrays import FloatArray

STAND_S = 45.0
"""Our choice: who stays near one place for so long waits, probes or digs; the pauses of a search are shorter."""
STAND_M = 4.0
"""Our choice: a stand's places lie so near their middle; the slow error of a phone drifts less in a minute."""


@dataclass(frozen=True, slots=True)
class Stand:
    """Rows `first` to `last` of a day, its place, and whether it leads from the stretch's beginning."""

    first: int
    last: int
    east_m: float
    north_m: float

    @property
    def place_m(self) -> FloatArray:
        """East and north, (2,)."""
        return np.array([self.east_m, self.north_m])


def stands(day: Day, *, least_s: float = STAND_S) -> tuple[Stand, ...]:
    """Return the stands of a day in order, none across a gap."""
    found: list[Stand] = []
    for number in range(int(day.stretch[-1]) + 1):
        rows = np.flatnonzero(day.stretch == number)
        found += _in_stretch(day.place_m[rows], int(rows[0]), max(int(least_s / STEP_S), 2))
    return tuple(found)


def _in_stretch(places: FloatArray, offset: int, length: int) -> list[Stand]:
    if len(places) < length:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(places, length, axis=0)  # (m, 2, length)
    middle = windows.mean(axis=2)
    close = np.hypot(*np.moveaxis(windows - middle[:, :, None], 1, 0)).max(axis=1) <= STAND_M
    found: list[Stand] = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], close.astype(int), [0]])))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        first, last = int(begin), int(end) - 1 + length - 1
        if found and first + offset <= found[-1].last:
            first = found[-1].last + 1 - offset
        if last - first + 1 >= length // 2:
            east, north = np.median(places[first : last + 1], axis=0)
            found.append(Stand(first + offset, last + offset, float(east), float(north)))
    return found
