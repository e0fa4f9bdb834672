"""Rows of the accuracy table on intervals: do they hold the truth, is a claim as large as the error."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from analyzer.lab.evaluate.blocks import COLUMNS
from analyzer.lab.evaluate.cells import LEAST_HELD, NO_RUNS, Cell, Row, between, share, size, values_of
from analyzer.lab.evaluate.claims import Claim
from analyzer.lab.evaluate.trial import Trial

Trials = Mapping[str, Sequence[Trial]]
HELD = {"readings": (0.85, 0.95), "track": (0.85, 0.95), "survey": (0.85, 0.97)}
SETTLED_AT_MOST_S = {"readings": 1.5, "survey": 0.5}
"""How far off the start of pinpoint may be where the log tells of it: it falls silent, or swings and then rests."""


def of(trials: Trials, *keys: str) -> tuple[Trial, ...]:
    """Return the trials of several blocks."""
    return tuple(t for key in keys for t in trials.get(key, ()))


def judged(trials: Trials, column: str) -> tuple[Trial, ...]:
    """Return the trials of a column whose intervals count: without a fault, with a wrong way, with stops."""
    return of(trials, f"plain/{column}", f"wrong_way/{column}", f"standing/{column}")


def claims_in(trials: Iterable[Trial]) -> tuple[Claim, ...]:
    """Return all claims of some trials."""
    return tuple(c for t in trials for c in t.claims)


def held_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the row on all intervals together."""
    cells = tuple(held(claims_in(judged(trials, c)), HELD[c]) for c in COLUMNS)
    starts = tuple(held(claims_on(judged(trials, c), "start.pinpoint"), HELD[c]) for c in COLUMNS)
    return (
        Row("90 % intervals that hold the truth", cells, "all figures with a truth; by figure below"),
        Row("  of the start of pinpoint", starts),
        Row(
            "start of pinpoint, where the log falls silent or swings",
            tuple(_settled(judged(trials, c), SETTLED_AT_MOST_S.get(c)) for c in COLUMNS),
            "runs in which the log does either",
        ),
    )


def claims_on(trials: Iterable[Trial], figure: str) -> tuple[Claim, ...]:
    """Return the claims on one figure."""
    return tuple(c for c in claims_in(trials) if c.figure == figure)


def _settled(trials: Sequence[Trial], at_most: float | None) -> Cell | None:
    """Return how far off the start of pinpoint is in runs whose log tells of it; on a track there is no log."""
    if at_most is None:
        return None
    return size([t for t in trials if t.numbers.get("log_tells_of_settling")], "pinpoint_start_s", "s", at_most)


def held(claims: Sequence[Claim], wanted: tuple[float, float] | None = None) -> Cell:
    """Return the share of intervals that hold their truth."""
    made = [c for c in claims if c.made]
    if not made:
        return Cell("none given") if claims else NO_RUNS
    part = sum(c.holds for c in made) / len(made)
    numbers = (("share", part), ("of", float(len(made))))
    if wanted is None:
        return Cell(f"{100 * part:.0f} % of {len(made)}", numbers=numbers)
    return between(
        part, f"{100 * part:.1f} % of {len(made)}", wanted, f"{100 * wanted[0]:g} .. {100 * wanted[1]:g} %", numbers
    )


def coverage_rows(trials: Trials) -> tuple[Row, ...]:
    """Return the share of intervals that hold the truth, figure by figure."""
    by_column = [claims_in(judged(trials, c)) for c in COLUMNS]
    names = dict.fromkeys(c.figure for claims in by_column for c in claims)
    return tuple(
        Row(name, tuple(_held_by_itself(claims, name, c) for c, claims in zip(COLUMNS, by_column, strict=True)))
        for name in names
    )


def _held_by_itself(claims: Sequence[Claim], name: str, column: str) -> Cell | None:
    own = [c for c in claims if c.figure == name]
    many = sum(c.made for c in own) >= LEAST_HELD
    cell = held(own, HELD[column] if many else None)
    return None if cell == NO_RUNS else cell


def silence_rows(trials: Trials) -> tuple[Row, ...]:
    """Return how often figures that have a truth are not assessable, those that ever are."""
    by_column = [claims_in(of(trials, f"plain/{c}")) for c in COLUMNS]
    names = dict.fromkeys(c.figure for claims in by_column for c in claims if not c.made)
    return tuple(
        Row(name, tuple(_silence([c for c in claims if c.figure == name]) for claims in by_column)) for name in names
    )


def _silence(claims: Sequence[Claim]) -> Cell:
    return share(sum(not c.made for c in claims), len(claims))


def claimed(trials: Sequence[Trial], limits: tuple[float, float] | None) -> Cell:
    """Return mean and median over runs of the squared error over the claimed variance; the mean is compared."""
    values = values_of(trials, "error_over_claim")
    good = values[np.isfinite(values)]
    if not len(good):
        return NO_RUNS
    mean, middle = float(np.mean(good)), float(np.median(good))
    numbers = (("mean", mean), ("median", middle), ("p90", float(np.quantile(good, 0.9))))
    measured = f"mean {mean:.2f}, median {middle:.2f}"
    if limits is None:
        return Cell(measured, numbers=numbers)
    return between(mean, measured, limits, f"{limits[0]:g} .. {limits[1]:g}", numbers)
