"""The fine search against one cross at the sheet's pace, and the pinpoint against the sheet's time."""

from collections.abc import Sequence

import numpy as np

from analyzer.engine.measures.accounting.shares import EDGE_S, Share, Spell, jittered, taken_out
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.window import Window
from analyzer.model.account import CROSS_LINES
from analyzer.model.arrays import FloatArray

SETTLED_WITHIN_S = 5.0
"""Where the moment of settling is known worse than this (one standard deviation) bracketing and probing cannot be told
apart. Our choice."""
MORE_LINES_SHARE = 0.2
"""Where more of the draws have lines beyond one cross, and the best estimate none, lines are not told apart; ours."""


def fine_shares(
    window: Window,
    reference_m: FloatArray | None,
    pace_mps: float,
    lines_s: Sequence[Spell],
    stops: Sequence[Stop],
    holes: Sequence[Spell],
    *,
    beyond_s: FloatArray | None = None,
) -> list[Share]:
    """Return the shares of a fine search.

    Parameters
    ----------
    window : Window
    reference_m : array, shape (S,), or None
        Length of one cross in every draw.
    pace_mps : float
        The sheet's pace along it.
    lines_s : sequence of (from_s, to_s)
        The lines in order, where they can be told apart; else empty.
    beyond_s : array, shape (S, 2), optional
        From when to when each draw has lines beyond one cross; which legs make one line is part of the doubt.
    stops, holes
        Stops, unrecorded time.
    """
    rows = len(window.start_s)
    settled = _settled(window.span.end_sigma_s)
    extra = [] if beyond_s is None else _extra_ways(beyond_s)
    shares, rest = taken_out(window, extra, stops, holes)
    own_s, own_m = rest.seconds.sum(axis=1), rest.metres.sum(axis=1)
    if reference_m is None:
        return [*shares, Share("not_told_apart", own_s, own_m, rest.spells)]
    reference_s = reference_m / pace_mps
    shares.append(Share("reference", reference_s, reference_m))
    if len(lines_s) < CROSS_LINES or not settled or _holed(shares) or _may_be_more(beyond_s):
        return [*shares, Share("not_told_apart", own_s - reference_s, own_m - reference_m, rest.spells)]
    each = own_s / np.maximum(own_m, 1e-9)
    longer = np.where(own_m > 1e-6, (own_m - reference_m) * each, 0.0)
    return [
        *shares,
        Share("longer_lines", longer, own_m - reference_m, tuple(lines_s[:CROSS_LINES])),
        Share("pace", own_s - reference_s - longer, np.zeros(rows), rest.spells),
    ]


def _may_be_more(beyond_s: FloatArray | None) -> bool:
    """Return whether there may well be lines beyond one cross that the best estimate does not show: a small second
    cross and a few steps look alike."""
    if beyond_s is None or len(beyond_s) < 2 or beyond_s[0, 1] > beyond_s[0, 0]:
        return False
    return bool(np.mean(beyond_s[1:, 1] > beyond_s[1:, 0]) > MORE_LINES_SHARE)


def _extra_ways(beyond_s: FloatArray) -> list[tuple[str, FloatArray, FloatArray]]:
    """Return the lines beyond one cross as a window of every draw."""
    start, end = beyond_s.T
    if end[0] <= start[0]:
        return []  # what the best estimate does not show is charged to nobody
    edges = [jittered(float(at[0]), EDGE_S, len(at)) - at[0] for at in (start, end)]
    return [
        ("extra_lines", start + edges[0], np.where(end > start, np.maximum(end + edges[1], start), start + edges[0]))
    ]


def _settled(sigma_s: float) -> bool:
    return bool(np.isfinite(sigma_s)) and sigma_s <= SETTLED_WITHIN_S


def _holed(shares: Sequence[Share]) -> bool:
    """Return whether part of the phase is not on record: when the searcher settled may lie in it."""
    return any(s.cause == "not_recorded" for s in shares)


def pinpoint_shares(
    window: Window, reference_s: float, holes: Sequence[Spell], *, beside_lowest: bool, told_apart: bool = True
) -> list[Share]:
    """Return the shares of a pinpoint up to its hit.

    Parameters
    ----------
    window : Window
        Up to the hit.
    reference_s : float
        The sheet's time.
    holes : sequence of (from_s, to_s)
    beside_lowest : bool
        Whether it is certain that the probing began beside the lowest reading.
    told_apart : bool
        Whether the lines of the bracket before it were: else what was bracketing and what probing is not known.
    """
    shares, rest = taken_out(window, (), (), holes)
    own_s, own_m = rest.seconds.sum(axis=1), rest.metres.sum(axis=1)
    over = own_s - reference_s
    cause = "pace" if over.mean() <= 0.0 else "off_lowest" if beside_lowest else "long_probing"
    if not told_apart or not _settled(window.span.start_sigma_s) or _holed(shares):
        cause = "not_told_apart"
    rows = len(over)
    return [
        *shares,
        Share("reference", np.full(rows, reference_s), np.zeros(rows)),
        Share(cause, over, own_m, rest.spells),
    ]


def marking_shares(window: Window, marking_s: float, holes: Sequence[Spell]) -> list[Share]:
    """Return the shares of what follows a hit until the spot is left.

    Parameters
    ----------
    window : Window
        From the hit on.
    marking_s : float
        The sheet's time for it, which is reference as far as it was used; what is beyond it is `marking`.
    holes : sequence of (from_s, to_s)
    """
    shares, rest = taken_out(window, (), (), holes)
    own_s, own_m = rest.seconds.sum(axis=1), rest.metres.sum(axis=1)
    beyond_s: FloatArray = np.maximum(own_s - marking_s, 0.0)
    shares.append(Share("reference", own_s - beyond_s, np.zeros(len(own_s))))
    if beyond_s.any():
        begin = window.span.start_s + marking_s
        late = ((begin, window.span.end_s),) if begin < window.span.end_s else ()
        shares.append(Share("marking", beyond_s, own_m * beyond_s / np.maximum(own_s, 1e-9), late))
    return shares
