"""Rows of the accuracy table on the account: seconds of a cause where it was planted, and where it was not."""

from collections.abc import Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.blocks import COLUMN_TITLES, COLUMNS
from analyzer.lab.evaluate.cells import Cell, Row, Section, size, values_of
from analyzer.lab.evaluate.trial import Trial

PLANTED: Mapping[str, tuple[str, tuple[float | None, ...]]] = {
    "wrong_way": ("wrong_way", (1.0, None, 0.5)),
    "detour": ("detour", (1.5, None, 1.0)),
    "standing": ("standing", (1.0, None, 0.5)),
    "extra_lines": ("extra_lines", (4.0, None, 3.0)),
    "missed_strip": ("missed_strip", (1.5, None, 1.0)),
}
"""Cause -> the fault that plants it, and how far off its seconds may be, per column; a track is asked nothing."""
CHARGED_AT_MOST_S = {"readings": 0.3, "track": 0.3, "survey": 0.1}


def account_section(trials: Mapping[str, Sequence[Trial]]) -> Section:
    """Return the rows on the account against that of the true path."""
    rows = [
        Row(
            f"seconds of {cause.replace('_', ' ')} where it was planted",
            tuple(
                size(trials[f"{fault}/{c}"], f"charged_{cause}_s", "s", limit) if f"{fault}/{c}" in trials else None
                for c, limit in zip(COLUMNS, limits, strict=True)
            ),
        )
        for cause, (fault, limits) in PLANTED.items()
    ]
    rows += [
        Row(
            f"seconds of {cause.replace('_', ' ')} on runs without a fault, signed mean",
            tuple(_bias(trials.get(f"plain/{c}", ()), f"charged_{cause}_s", CHARGED_AT_MOST_S[c]) for c in COLUMNS),
        )
        for cause in PLANTED
    ]
    return Section("Account against that of the true path", tuple(COLUMN_TITLES[c] for c in COLUMNS), tuple(rows))


def _bias(trials: Sequence[Trial], name: str, at_most: float) -> Cell:
    """Return the signed mean of an error over the runs that have the figure, with its standard error."""
    values = values_of(trials, name)
    good = values[np.isfinite(values)]
    if not len(good):
        return Cell("not assessable in any run")
    mean, error = float(np.mean(good)), float(np.std(good) / np.sqrt(len(good)))
    numbers = (("mean", mean), ("standard_error", error), ("runs", float(len(good))))
    return Cell(f"{mean:+.2f} s (standard error {error:.2f})", f"within {at_most:g} s", abs(mean) <= at_most, numbers)
