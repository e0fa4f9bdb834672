"""Rows of the accuracy table on the account: seconds of a cause against paired truth, and where it was not there."""

from collections.abc import Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.blocks import COLUMNS, EXAMINER
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, absent, size, values_of
from analyzer.lab.evaluate.trial import Trial

PAIRED: Mapping[str, tuple[float | None, ...]] = {
    "wrong_way": (1.0, 3.0, 0.5),
    "detour": (1.5, 3.0, 1.0),
    "standing": (1.0, 2.0, 0.5),
    "extra_lines": (4.0, None, 3.0),
    "missed_strip": (None, None, None),
    "covered_twice": (None, None, None),
    "long_probing": (None, None, None),
}
"""Fault -> how far off the seconds charged to it may be, per column; None: nothing is asked for."""
CHARGED = ("wrong_way", "detour", "standing", "extra_lines", "missed_strip", "covered_twice")
CHARGED_AT_MOST_S = {"readings": 0.3, "track": 0.3, "survey": 0.1}


def account_rows(trials: Mapping[str, Sequence[Trial]]) -> tuple[Row, ...]:
    """Return the rows on the account: against the same person without the fault, and against that of the true path."""
    own = {key: found for key, found in trials.items() if not key.startswith(EXAMINER)}
    by_column = {
        c: [t for key, found in own.items() if key.endswith(f"/{c}") for t in found if t.whole] for c in COLUMNS
    }
    paired = [
        Row(
            f"seconds of {cause.replace('_', ' ')} against the same run without it",
            tuple(_paired(by_column[c], cause, limit) for c, limit in zip(COLUMNS, limits, strict=True)),
        )
        for cause, limits in PAIRED.items()
    ]
    charged = [
        Row(
            f"seconds of {cause.replace('_', ' ')} on runs without a fault, signed mean",
            tuple(_bias(trials.get(f"plain/{c}", ()), f"charged_{cause}_s", CHARGED_AT_MOST_S[c]) for c in COLUMNS),
            "against the account of the true path",
        )
        for cause in CHARGED
    ]
    return (*paired, *charged)


def _paired(trials: Sequence[Trial], cause: str, limit: float | None) -> Cell:
    """Return how far the seconds charged are off in the runs in which this fault alone was made."""
    own = [t for t in trials if f"cost_{cause}_s" in t.numbers]
    if cause == "extra_lines" and own and "/track" in own[0].block:
        return absent(own, f"paired_{cause}_s")
    cell = size(own, f"paired_{cause}_s", "s", limit)
    if cell == NO_RUNS or not cell.numbers:
        return cell
    values, cost = values_of(own, f"paired_{cause}_s"), values_of(own, f"cost_{cause}_s")
    mean = float(np.nanmean(values))
    words = f"{cell.measured}, mean {mean:+.2g} of {np.median(cost):.3g} s"
    return Cell(words, cell.wanted, cell.met, (*cell.numbers, ("mean", mean)))


def _bias(trials: Sequence[Trial], name: str, at_most: float) -> Cell:
    """Return the signed mean of an error over the runs that have the figure, with its standard error."""
    values = values_of(trials, name)
    good = values[np.isfinite(values)]
    if not len(values):
        return NO_RUNS
    if not len(good):
        return Cell("not assessable in any run")
    mean, error = float(np.mean(good)), float(np.std(good) / np.sqrt(len(good)))
    numbers = (("mean", mean), ("standard_error", error), ("runs", float(len(good))))
    return Cell(f"{mean:+.2f} s (standard error {error:.2f})", f"within {at_most:g} s", abs(mean) <= at_most, numbers)
