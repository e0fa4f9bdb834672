"""Rows of the accuracy table on findings: planted faults named, and nothing false said."""

from collections.abc import Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.cells import Cell, Row, share, values_of
from analyzer.lab.evaluate.trial import Trial
from analyzer.lab.simulate import FAULTS

UNSURE = ("narrow_bracketing", "oblique_bracketing", "off_lowest")
"""Faults that a phone and a reading log show in some runs only: what counts is that nothing false is said."""


def finding_rows(trials: Mapping[str, Sequence[Trial]]) -> tuple[Row, ...]:
    """Return how often a planned fault is the first finding, and what faultless runs are told."""
    rows = [first_finding(fault, trials.get(f"{fault}/readings", ())) for fault in FAULTS if fault not in UNSURE]
    everybody = [t for kind in ("plain", *FAULTS) for t in trials.get(f"{kind}/readings", ())]
    for fault in UNSURE:
        rows += said_rows(fault, trials.get(f"{fault}/readings", ()), everybody)
    plain = trials.get("plain/readings", ())
    told = [kind for t in plain for kind in t.findings]
    per_run = len(told) / len(plain) if plain else np.nan
    cell = Cell(f"{per_run:.2f} per run", "≤ 0.1 per run", bool(per_run <= 0.1), (("per_run", per_run),))
    rows.append(Row("findings on runs without a fault", (cell,), _counted(told)))
    lost = values_of(plain, "unexplained")
    middle = float(np.median(lost[np.isfinite(lost)])) if np.isfinite(lost).any() else np.nan
    rows.append(
        Row(
            "unexplained share of the time, median",
            (Cell(f"{100 * middle:.1f} %", "< 5 %", bool(middle < 0.05), (("median", middle),)),),
        )
    )
    return tuple(rows)


def first_finding(fault: str, trials: Sequence[Trial]) -> Row:
    """Return how often one planned fault is the first finding; the note counts what is first in its place."""
    done = [t for t in trials if fault in t.faults or t.error]
    first = [t.findings[0] if t.findings else "none" for t in done]
    return Row(
        f"first finding: {fault.replace('_', ' ')}",
        (share(first.count(fault), len(first), at_least=0.9),),
        _counted([name for name in first if name != fault]),
    )


def said_rows(fault: str, planted: Sequence[Trial], everybody: Sequence[Trial]) -> tuple[Row, Row]:
    """Return how often a fault that a phone and a log seldom show is told of, and how often that is true.

    `everybody`: the runs of all kinds, each with a fault of its own or none.
    """
    words = fault.replace("_", " ")
    done = [t for t in planted if fault in t.faults]
    said = [t for t in everybody if fault in t.findings]
    wrong = [t.faults[0] if t.faults else "none" for t in said if fault not in t.faults]
    return (
        Row(f"said where it was planted: {words}", (share(sum(fault in t.findings for t in done), len(done)),)),
        Row(
            f"true where it was said: {words}",
            (share(len(said) - len(wrong), len(said), at_least=0.9),),
            _counted(wrong),
        ),
    )


def _counted(names: Sequence[str]) -> str:
    return ", ".join(f"{name} {names.count(name)}" for name in dict.fromkeys(sorted(names)))
