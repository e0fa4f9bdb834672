"""Rows of the accuracy table on findings: planted faults named, and nothing false said."""

from collections.abc import Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.blocks import COLUMNS, EXAMINER, OF_A_TRACK
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, share, values_of
from analyzer.lab.evaluate.trial import Trial
from analyzer.lab.simulate import FAULTS
from analyzer.model.account import SAID_FROM

UNSURE = ("narrow_bracketing", "oblique_bracketing", "off_lowest")
"""Faults that a phone and a reading log show in some runs only: what counts is that nothing false is said."""
FIRST_AT_LEAST = {"readings": 0.95, "track": 0.85, "survey": 0.97}
SAID_AT_LEAST: Mapping[str, float | None] = {"readings": None, "track": None, "survey": 0.95}
TRUE_AT_LEAST = {"readings": 0.90, "track": None, "survey": 0.97}
FALSE_AT_MOST = {"readings": 5.0, "track": 5.0, "survey": 1.0}
BINS = ((0.6, 0.75), (0.75, 0.9), (0.9, 0.97), (0.97, 1.0))
LEAST_IN_BIN = 100
"""How many findings of one probability it takes to hold their share of true ones against it."""
SHOWN_BY_TRACK = {*OF_A_TRACK, "wrong_way", "standing"}
OTHER_KINDS = ("by_hand/", "three/", "two_antennas/", "one_antenna/")


def finding_rows(trials: Mapping[str, Sequence[Trial]]) -> tuple[Row, ...]:
    """Return how often a planted fault is the first finding, what else is said, and how much of it is false."""
    everybody = {c: _looked_at(trials, c) for c in COLUMNS}
    rows = [first_row(fault, everybody) for fault in FAULTS if fault not in UNSURE]
    for fault in UNSURE:
        rows += said_rows(fault, everybody)
    false = tuple(false_findings(everybody[c], FALSE_AT_MOST[c]) for c in COLUMNS)
    told = [kind for own in everybody.values() for t in own for kind in t.false]
    plain = tuple(false_findings(trials.get(f"plain/{c}", ()), None) for c in COLUMNS)
    return (
        *rows,
        Row("findings that are false, per 100 runs", false, _counted(told)),
        Row("  on runs without a fault", plain),
        Row("  no more than their probabilities allow", tuple(_allowed(everybody[c]) for c in COLUMNS)),
        *(
            Row(
                f"said with probability {low:g} to {high:g}: true",
                tuple(reliability(everybody[c], low, high) for c in COLUMNS),
                "possible, and not said, under 0.9" if high <= SAID_FROM else "",
            )
            for low, high in BINS
        ),
        Row(
            "unexplained share of the time, median", tuple(_unexplained(trials.get(f"plain/{c}", ())) for c in COLUMNS)
        ),
    )


def _looked_at(trials: Mapping[str, Sequence[Trial]], column: str) -> list[Trial]:
    """Return the runs of a column whose findings were looked at, each with one fault or none, whoever made them."""
    keys = [
        k for k in trials if k.endswith(f"/{column}") and not k.startswith(OTHER_KINDS) and not k.startswith(EXAMINER)
    ]
    return [t for key in keys for t in trials[key] if t.whole]


def first_row(fault: str, everybody: Mapping[str, Sequence[Trial]]) -> Row:
    """Return how often one planted fault is the first finding; the note counts what is first in its place."""
    cells, notes = [], []
    for column in COLUMNS:
        done = [t for t in everybody[column] if fault in t.faults]
        first = [t.findings[0] if t.findings else "none" for t in done]
        asked = column != "track" or fault in SHOWN_BY_TRACK
        cells.append(share(first.count(fault), len(first), at_least=FIRST_AT_LEAST[column] if asked else None))
        others = _counted([name for name in first if name != fault])
        notes += [f"{column}: {others}"] if others else []
    return Row(f"first finding: {fault.replace('_', ' ')}", tuple(cells), "; ".join(notes))


def said_rows(fault: str, everybody: Mapping[str, Sequence[Trial]]) -> tuple[Row, Row]:
    """Return how often a fault that a phone and a log seldom show is told of, and how often that is true.

    `everybody`: by column, the runs of all kinds, each with a fault of its own or none.
    """
    words = fault.replace("_", " ")
    told, true, notes = [], [], []
    for column in COLUMNS:
        done = [t for t in everybody[column] if fault in t.faults]
        said = [t for t in everybody[column] if fault in t.findings]
        wrong = [t.faults[0] if t.faults else "none" for t in said if fault in t.false]
        told.append(share(sum(fault in t.findings for t in done), len(done), at_least=SAID_AT_LEAST[column]))
        true.append(share(len(said) - len(wrong), len(said), at_least=TRUE_AT_LEAST[column]))
        notes += [f"{column}: {_counted(wrong)}"] if wrong else []
    return (
        Row(f"said where it was planted: {words}", tuple(told)),
        Row(f"true where it was said: {words}", tuple(true), "; ".join(notes)),
    )


def false_findings(trials: Sequence[Trial], at_most: float | None) -> Cell:
    """Return how many findings in 100 runs were neither planted nor hold on the true path."""
    done = [t for t in trials if not t.error]
    if not done:
        return NO_RUNS
    count = sum(len(t.false) for t in done)
    per_100 = 100.0 * count / len(done)
    words, numbers = f"{per_100:.1f} ({count} in {len(done)} runs)", (("per_100", per_100), ("runs", float(len(done))))
    if at_most is None:
        return Cell(words, numbers=numbers)
    return Cell(words, f"≤ {at_most:g}", per_100 <= at_most, numbers)


def _allowed(trials: Sequence[Trial]) -> Cell:
    """Return how many findings are false, and how many may be: what their probabilities leave, and 2 sigma."""
    stated = [(p, true) for t in trials for _, p, true in t.stated if p >= SAID_FROM]
    if not stated:
        return NO_RUNS
    false = sum(not true for _, true in stated)
    expected = sum(1.0 - p for p, _ in stated)
    most = expected + 2.0 * float(np.sqrt(sum(p * (1.0 - p) for p, _ in stated)))
    numbers = (("false", float(false)), ("expected", expected), ("most", most), ("of", float(len(stated))))
    return Cell(f"{false} of {len(stated)}, {expected:.1f} expected", f"≤ {most:.1f}", false <= most, numbers)


def reliability(trials: Sequence[Trial], low: float, high: float) -> Cell:
    """Return the share of true ones among what was said with a probability from `low` on and under `high`."""
    stated = [(p, true) for t in trials for _, p, true in t.stated if low <= p < high or p == high == 1.0]
    if not stated:
        return NO_RUNS
    mean, part = float(np.mean([p for p, _ in stated])), float(np.mean([true for _, true in stated]))
    words = f"{100 * part:.0f} % of {len(stated)}, {100 * mean:.0f} % stated"
    numbers = (("true", part), ("stated", mean), ("of", float(len(stated))))
    if len(stated) < LEAST_IN_BIN:
        return Cell(words, numbers=numbers)
    return Cell(words, "within 5 %", abs(part - mean) <= 0.05, numbers)


def _unexplained(trials: Sequence[Trial]) -> Cell:
    lost = values_of(trials, "unexplained")
    good = lost[np.isfinite(lost)]
    if not len(good):
        return NO_RUNS
    middle = float(np.median(good))
    return Cell(f"{100 * middle:.1f} %", "< 5 %", middle < 0.05, (("median", middle),))


def _counted(names: Sequence[str]) -> str:
    return ", ".join(f"{name} {names.count(name)}" for name in dict.fromkeys(sorted(names)))
