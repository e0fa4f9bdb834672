"""Measures of the signal search."""

import numpy as np

from analyzer.engine.measures.intervals import figure_of
from analyzer.engine.measures.window import Window
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.reference_solution import ReferenceSolution

CLOCK_SPREAD_S = 0.3


def signal_figures(window: Window, solution: ReferenceSolution) -> dict[str, Measured]:
    """Return the signal-search figures by name."""
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
    }
