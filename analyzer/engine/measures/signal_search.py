"""Measures of the signal search."""

from collections.abc import Sequence

import numpy as np

from analyzer.engine.measures.accounting.run import mean_of
from analyzer.engine.measures.accounting.shares import Share
from analyzer.engine.measures.intervals import figure_of
from analyzer.engine.measures.window import Window
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable, figure_around
from analyzer.model.reference_solution import ReferenceSolution

CLOCK_SPREAD_S = 0.3


def signal_figures(window: Window, solution: ReferenceSolution, shares: Sequence[Share]) -> dict[str, Measured]:
    """Return the signal-search figures by name. `shares`: of its account."""
    known = np.isfinite(window.span.end_sigma_s)
    duration: Measured = NotAssessable("without readings or a mark the first signal is not known")
    if known:
        duration = figure_of(window.end_s - window.start_s, "s", least=0.0, spread=CLOCK_SPREAD_S)
    seconds = None if solution.reference is None else solution.reference.signal_s
    why = "the drill has no area to lay ideal strips in" if known else "when the signal was found is not known"
    reference: Measured = NotAssessable(why)
    if seconds is not None:
        reference = Figure(seconds, seconds, seconds, "s")
    return {
        "covered_fraction": solution.covered_fraction,
        "overlap_fraction": solution.overlap_fraction,
        "duration_s": duration,
        "duration_reference_s": reference,
        "luck_s": luck_figure(shares, solution.zigzags_s),
    }


def luck_figure(shares: Sequence[Share], zigzags_s: FloatArray | NotAssessable) -> Measured:
    """Return the account's reference seconds less what the zigzags take on average: below 0 the searcher was lucky.

    Its value is the account's row less the mean of the best estimate, as the result itself has both: the zigzags of the
    draws jump where a strip just comes into the hearing range.
    """
    if isinstance(zigzags_s, NotAssessable):
        return zigzags_s
    if any(share.cause == "not_recorded" for share in shares):
        return NotAssessable("part of the signal search is not on record")
    if not np.isfinite(zigzags_s).all():
        return NotAssessable("a zigzag of the drill's strip width may not come into this run's hearing range")
    own_s = sum((share.seconds for share in shares if share.cause == "reference"), np.zeros(len(zigzags_s)))
    return figure_around(mean_of(own_s) - float(zigzags_s[0]), (own_s - zigzags_s)[1:], "s")
