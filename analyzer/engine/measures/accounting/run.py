"""Rows of the account from the shares of a phase; in every draw they add up to the phase's length there."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.engine.measures.accounting.shares import Share
from analyzer.engine.measures.window import Window
from analyzer.model.account import AccountRow
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, figure_around
from analyzer.model.phases import COARSE, SIGNAL, PhaseSpan
from analyzer.model.recording import LEAST_HOLE_S


def contiguous(spans: Sequence[PhaseSpan]) -> tuple[PhaseSpan, ...]:
    """Return the spans with each starting where the one before ends in every draw.

    A phase without length in the best estimate is left out of the spans, though some draws give it one.
    """
    out: list[PhaseSpan] = []
    for span in spans:
        start = np.zeros(len(span.start_draws_s)) if not out else out[-1].end_draws_s
        out.append(replace(span, start_draws_s=start, end_draws_s=np.maximum(span.end_draws_s, start)))
    return tuple(out)


def rows_of(window: Window, shares: Sequence[Share]) -> tuple[AccountRow, ...]:
    """Return the rows of a phase. What the path does not reach, before its first fix, is not recorded where it
    is as long as a hole, and else as the searcher went on."""
    span = window.span
    left = span.end_draws_s - span.start_draws_s - sum((s.seconds for s in shares), np.zeros(len(window.start_s)))
    kept = list(shares)
    if float(np.mean(left)) > LEAST_HOLE_S or not kept:
        kept.append(Share("not_recorded", left, np.zeros(len(left))))
    else:
        kept[-1] = replace(kept[-1], seconds=kept[-1].seconds + left)
    return tuple(
        AccountRow(span.phase, span.transmitter, s.cause, mean_figure(s.seconds, "s"), mean_of(s.metres), s.windows)
        for s in _joined(kept)
    )


def _joined(shares: Sequence[Share]) -> list[Share]:
    """Return one share per cause."""
    found: dict[str, Share] = {}
    for s in shares:
        old = found.get(s.cause)
        found[s.cause] = (
            s
            if old is None
            else Share(s.cause, old.seconds + s.seconds, old.metres + s.metres, (*old.windows, *s.windows))
        )
    return list(found.values())


def mean_of(draws: FloatArray) -> float:
    """Return the mean of the posterior samples of a measure (S,); of row 0 where there are none."""
    return float(np.mean(draws[1:])) if len(draws) > 1 else float(draws[0])


def mean_figure(draws: FloatArray, unit: str) -> Figure:
    """Return a figure (S,): means add up as the draws do, which medians and best estimates do not."""
    return figure_around(mean_of(draws), draws[1:], unit)


def not_assessed(spans: Sequence[PhaseSpan], rows: Sequence[AccountRow]) -> tuple[AccountRow, ...]:
    """Return the rows of one search with those of signal and coarse search joined where their border is not known."""
    own = [s for s in spans if s.phase in (SIGNAL, COARSE)]
    if all(np.isfinite(s.start_sigma_s) and np.isfinite(s.end_sigma_s) for s in own):
        return tuple(rows)
    rest = tuple(r for r in rows if r.phase not in (SIGNAL, COARSE))
    seconds = own[-1].end_draws_s - own[0].start_draws_s
    windows = ((own[0].start_s, own[-1].end_s),)
    first = own[0]
    joint = AccountRow(first.phase, first.transmitter, "not_assessed", mean_figure(seconds, "s"), 0.0, windows)
    return (joint, *rest)
