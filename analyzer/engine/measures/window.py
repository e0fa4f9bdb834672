"""One phase of one search, cut out of the fused path in every draw."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.polyline import segment_lengths
from analyzer.model.arrays import FloatArray
from analyzer.model.path import FusedPath
from analyzer.model.phases import PhaseSpan

MARGIN_S = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """The path of one phase. S draws, m times of the path around it; slope-plane metres, seconds.

    `start_s`, `end_s` (S,): the phase's bounds in each draw. `share` (S, m - 1): the share of each piece of path
    that lies between them. `range_m` (S, m): distance over the surface to the transmitter, NaN where it is not one
    of the drill's.
    """

    span: PhaseSpan
    time_s: FloatArray
    path_m: FloatArray
    speed_mps: FloatArray
    range_m: FloatArray
    transmitter_m: FloatArray
    start_s: FloatArray
    end_s: FloatArray
    share: FloatArray

    @property
    def best(self) -> slice:
        """Return the slice of the times that lie in the phase in the best estimate."""
        lo = int(np.searchsorted(self.time_s, self.span.start_s, "left"))
        hi = int(np.searchsorted(self.time_s, self.span.end_s, "right"))
        return slice(lo, hi)

    def at(self, time_s: FloatArray | float) -> FloatArray:
        """Return positions (S, 2) at one time, or at one time per draw."""
        return interpolate(self.time_s, self.path_m, np.broadcast_to(time_s, self.start_s.shape))

    def step_m(self) -> FloatArray:
        """Return lengths (S, m - 1) of the pieces of path."""
        return segment_lengths(self.path_m)

    def clipped_range(self) -> FloatArray:
        """Return the range (S, m), held at its value on the bound outside the phase."""
        inside_from = np.searchsorted(self.time_s, self.start_s, "left")
        inside_to = np.searchsorted(self.time_s, self.end_s, "right") - 1
        index = np.arange(len(self.time_s))[None, :]
        index = np.clip(index, inside_from[:, None], np.maximum(inside_to, inside_from)[:, None])
        return np.take_along_axis(self.range_m, np.minimum(index, len(self.time_s) - 1), axis=1)


def interpolate(time_s: FloatArray, values: FloatArray, at_s: FloatArray) -> FloatArray:
    """Return values (S, d) of (S, m, d), or (S,) of (S, m), at one time per draw (S,); ends are held."""
    i = np.clip(np.searchsorted(time_s, at_s, "right") - 1, 0, max(len(time_s) - 2, 0))
    j = np.minimum(i + 1, len(time_s) - 1)
    gap = np.where(j > i, time_s[j] - time_s[i], 1.0)
    f = np.clip((at_s - time_s[i]) / gap, 0.0, 1.0)
    rows = np.arange(len(at_s))
    f = f[:, None] if values.ndim == 3 else f
    return (1.0 - f) * values[rows, i] + f * values[rows, j]


def cut(fused: FusedPath, span: PhaseSpan, *, margin_s: float = MARGIN_S) -> Window:
    """Return the window of a phase, with `margin_s` of path on either side for differences and interpolation."""
    start = np.where(np.isfinite(span.start_draws_s), span.start_draws_s, span.start_s)
    end = np.maximum(np.where(np.isfinite(span.end_draws_s), span.end_draws_s, span.end_s), start)
    time = fused.time_s
    lo = max(int(np.searchsorted(time, min(start.min(), span.start_s) - margin_s, "left")) - 1, 0)
    hi = min(int(np.searchsorted(time, max(end.max(), span.end_s) + margin_s, "right")) + 1, len(time))
    time = time[lo:hi]
    path, velocity = fused.draws.path_m[:, lo:hi], fused.draws.velocity_mps[:, lo:hi]
    rows = len(path)
    if span.transmitter in fused.transmitter_ids:
        place = fused.draws.transmitter_m[:, fused.transmitter_ids.index(span.transmitter)]
        offset = path - place[:, None, :]
        distance = np.hypot(offset[..., 0], offset[..., 1])
    else:
        place, distance = np.full((rows, 2), np.nan), np.full(path.shape[:2], np.nan)
    return Window(
        span,
        time,
        path,
        np.hypot(velocity[..., 0], velocity[..., 1]),
        distance,
        place,
        start,
        end,
        overlap(time, start, end),
    )


def overlap(time_s: FloatArray, start_s: FloatArray, end_s: FloatArray) -> FloatArray:
    """Return (S, m - 1): the share of each interval between times (m,) inside [start, end] of each draw (S,)."""
    a, b = time_s[None, :-1], time_s[None, 1:]
    inside = np.minimum(b, end_s[:, None]) - np.maximum(a, start_s[:, None])
    share: FloatArray = np.clip(inside, 0.0, None) / np.maximum(b - a, 1e-12)
    return share


def steps_m(window: Window, still_s: Sequence[tuple[float, float]] = ()) -> FloatArray:
    """Return lengths (S, m - 1) of the pieces of path.

    In the stretches `still_s` the best estimate is taken for all draws: on the spot a draw only jitters.
    """
    step = window.step_m()
    for a, b in still_s:
        part = overlap(window.time_s, np.array([a]), np.array([b]))
        step = (1.0 - part) * step + part * step[:1]
    return step


def walked_draws(window: Window, still_s: Sequence[tuple[float, float]] = ()) -> FloatArray:
    """Return the length walked in the phase (S,), in the slope plane, the ends in fractions of a piece."""
    walked: FloatArray = np.einsum("sm,sm->s", steps_m(window, still_s), window.share)
    return walked
