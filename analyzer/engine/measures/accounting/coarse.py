"""The coarse search against the field line at the sheet's pace by range.

In what no window explains, per step of range: the metres beyond the line's cost what this searcher spends on a metre at
that range; the line's own metres cost what this searcher spends on them beyond the sheet's pace. Both are signed:

    detour = (own metres - line metres) x own seconds a metre
    pace   = line metres x (own - sheet's seconds a metre)
"""

from collections.abc import Sequence

import numpy as np

from analyzer.engine.measures.accounting.shares import Rest, Share, Spell, taken_out
from analyzer.engine.measures.line import Progress
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import Excursion
from analyzer.model.arrays import FloatArray

STEP_M = 5.0
"""Of the line: shorter steps would blame the sway of a walk, longer ones mix paces of far and near. Our choice."""
LEAST_LINE_M = 0.5


def coarse_shares(
    window: Window,
    progress: Progress | None,
    lengths_m: FloatArray | None,
    events: Sequence[Excursion],
    stops: Sequence[Stop],
    holes: Sequence[Spell],
    off_line: Sequence[Spell] = (),
) -> list[Share]:
    """Return the shares of a coarse search.

    Parameters
    ----------
    window : Window
    progress : Progress or None
        Along the ideal line of the best estimate; None: the rest cannot be told apart.
    lengths_m : array, shape (S,), or None
        Length of the ideal line in every draw.
    events, stops, holes
        Ways away from the transmitter, stops, unrecorded time.
    off_line : sequence of (from_s, to_s)
        Where the searcher was off the line: where to look for a detour.
    """
    ways = [("wrong_way", e.from_s, e.to_s) for e in events]
    shares, rest = taken_out(window, ways, stops, holes)
    left = rest.seconds.sum(axis=1)
    if progress is None or lengths_m is None or np.isnan(window.range_m).any():
        return [*shares, Share("not_told_apart", left, rest.metres.sum(axis=1), rest.spells)]
    edges = _edges(progress)
    own_s, own_m = _by_range(window, rest, edges)
    line_m, sheet_s = _of_line(window, progress, edges, lengths_m)
    each = own_s / np.maximum(own_m, 1e-9)
    still = own_m < 1e-6
    detour = np.where(still, 0.0, (own_m - line_m) * each)
    pace = own_s - detour - sheet_s
    extra = np.where(still, 0.0, own_m - line_m)
    return [
        *shares,
        Share("reference", sheet_s.sum(axis=1), line_m.sum(axis=1)),
        Share("detour", detour.sum(axis=1), extra.sum(axis=1), tuple(off_line) or rest.spells),
        Share("pace", pace.sum(axis=1), np.zeros(len(left)), _slowest(window, progress, edges, pace[0])),
    ]


def _edges(progress: Progress) -> FloatArray:
    """Return the ranges (b + 1,), falling, that cut the line into steps of about STEP_M."""
    count = max(1, round(float(progress.along_m[-1]) / STEP_M))
    at = np.linspace(0.0, float(progress.along_m[-1]), count + 1)
    return np.interp(at, progress.along_m, progress.range_m)


def _lowest(window: Window) -> FloatArray:
    """Return the lowest range so far at the middle of each piece (S, m - 1): progress that a way out does not undo."""
    held = np.minimum.accumulate(window.clipped_range(), axis=1)
    return (held[:, 1:] + held[:, :-1]) / 2.0


def _by_range(window: Window, rest: Rest, edges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return own seconds and metres (S, b) per step of range; farther out counts to the first, closer to the last."""
    step = np.clip(np.searchsorted(-edges, -_lowest(window), side="right") - 1, 0, len(edges) - 2)
    sums = [
        [np.where(step == b, v, 0.0).sum(axis=1) for b in range(len(edges) - 1)] for v in (rest.seconds, rest.metres)
    ]
    return np.stack(sums[0], axis=1), np.stack(sums[1], axis=1)


def _of_line(
    window: Window, progress: Progress, edges: FloatArray, lengths_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return metres of line and sheet's seconds (S, b), scaled to the length of each draw's own line."""
    metres, seconds = np.diff(progress.metres(edges)), np.diff(progress.seconds(edges))
    share = np.where(lengths_m > LEAST_LINE_M, lengths_m / max(float(lengths_m[0]), 1e-9), 0.0)
    return share[:, None] * metres[None, :], share[:, None] * seconds[None, :]


def _slowest(window: Window, progress: Progress, edges: FloatArray, pace_s: FloatArray) -> tuple[Spell, ...]:
    """Return when the best estimate was in the steps of range whose pace cost most, joined."""
    if pace_s.max() <= 0.0:
        return ()
    lowest = _lowest(window)[0]
    step = np.clip(np.searchsorted(-edges, -lowest, side="right") - 1, 0, len(edges) - 2)
    within = window.share[0] > 0.0
    found: list[Spell] = []
    for b in np.flatnonzero(pace_s >= 0.5 * pace_s.max()).tolist():
        pick = np.flatnonzero((step == b) & within)
        if pick.size == 0:
            continue
        a, z = float(window.time_s[pick[0]]), float(window.time_s[pick[-1] + 1])
        a, z = max(a, window.span.start_s), min(z, window.span.end_s)
        if found and a <= found[-1][1] + 1e-6:
            found[-1] = (found[-1][0], max(z, found[-1][1]))
        else:
            found.append((a, z))
    return tuple(found)
