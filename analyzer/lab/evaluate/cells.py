"""Cells of the accuracy table: what was measured beside what is wanted, met or not."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.lab.evaluate.trial import Trial
from analyzer.model.arrays import FloatArray

LEAST_SHARE, LEAST_HELD = 0.5, 400
"""Where fewer of the runs have a figure than this, its row is not met: silence is not accuracy. How many intervals it
takes to ask something of their share."""


@dataclass(frozen=True, slots=True)
class Cell:
    """`measured` and `wanted` in words; `met` None where nothing is asked for. `numbers`: what `measured` says."""

    measured: str
    wanted: str = ""
    met: bool | None = None
    numbers: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One figure; `cells` by column, None where the figure has no meaning."""

    figure: str
    cells: tuple[Cell | None, ...]
    note: str = ""


NO_RUNS = Cell("no runs")


@dataclass(frozen=True, slots=True)
class Section:
    """Rows under one heading, with the titles of their columns. `together`: a row is met where all its cells are."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    together: bool = False


def side_by_side(title: str, names: Sequence[str], tables: Sequence[Sequence[Row]], column: int) -> Section:
    """Return one column of several tables side by side, rows matched by their words; rows without any run left out."""
    found = [{row.figure: row for row in table} for table in tables]
    rows = []
    for figure in dict.fromkeys(row.figure for table in tables for row in table):
        own = [table.get(figure) for table in found]
        cells = tuple(_shown(row.cells[column]) if row and column < len(row.cells) else None for row in own)
        if any(cell is not None for cell in cells):
            rows.append(Row(figure, cells, next((row.note for row in own if row and row.note), "")))
    return Section(title, tuple(names), tuple(rows), together=True)


def _shown(cell: Cell | None) -> Cell | None:
    return None if cell is None or cell == NO_RUNS else cell


def values_of(trials: Iterable[Trial], name: str) -> FloatArray:
    """Return one number of every trial, NaN where there is none."""
    return np.array([t.numbers.get(name, np.nan) for t in trials], np.float64)


def pair(trials: Sequence[Trial], name: str, wanted: tuple[float, float] | None = None) -> Cell:
    """Return median and 90th percentile over runs, both wanted at most so; a run without result counts as the worst."""
    values = np.nan_to_num(values_of(trials, name), nan=np.inf)
    if not len(values):
        return NO_RUNS
    middle, high = (float(np.quantile(values, q, method="inverted_cdf")) for q in (0.5, 0.9))
    numbers = (("median", middle), ("p90", high), ("runs", float(len(values))))
    measured = f"{middle:.3g} / {high:.3g} m"
    if wanted is None:
        return Cell(measured, numbers=numbers)
    return Cell(measured, f"≤ {wanted[0]:g} / {wanted[1]:g} m", middle <= wanted[0] and high <= wanted[1], numbers)


def size(trials: Sequence[Trial], name: str, unit: str, at_most: float | None) -> Cell:
    """Return the median size of an error over the runs that have the figure, wanted to be at most so."""
    values = np.abs(values_of(trials, name))
    if not len(values):
        return NO_RUNS
    good = values[np.isfinite(values)]
    if not len(good):
        return Cell("not assessable in any run", _at_most(at_most, unit), None if at_most is None else False)
    middle, high, worst = (float(np.quantile(good, q)) for q in (0.5, 0.9, 1.0))
    measured = f"{middle:.2g}{_spaced(unit)}, 90 % within {high:.2g}"
    if len(good) < len(values):
        measured += f" ({len(good)} of {len(values)} runs)"
    met = None if at_most is None else middle <= at_most and len(good) >= LEAST_SHARE * len(values)
    numbers = (("median", middle), ("p90", high), ("worst", worst), ("runs", float(len(good))))
    return Cell(measured, _at_most(at_most, unit), met, numbers)


def _at_most(limit: float | None, unit: str) -> str:
    return "" if limit is None else f"≤ {limit:g}{_spaced(unit)}"


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def absent(trials: Sequence[Trial], name: str) -> Cell:
    """Return in how many runs a figure is not assessable, wanted in all of them."""
    values = values_of(trials, name)
    if not len(values):
        return NO_RUNS
    silent = int(np.sum(np.isnan(values)))
    return Cell(
        f"not assessable in {silent} of {len(values)}",
        "not assessable",
        bool(len(values)) and silent == len(values),
        (("not_assessable", float(silent)), ("runs", float(len(values)))),
    )


def share(hits: int, of: int, *, at_least: float | None = None, at_most: float | None = None) -> Cell:
    """Return a share in per cent, wanted at least or at most so."""
    if of == 0:
        return NO_RUNS
    part = hits / of
    wanted = f"≥ {100 * at_least:g} %" if at_least is not None else ""
    wanted = f"≤ {100 * at_most:g} %" if at_most is not None else wanted
    met = None
    if at_least is not None or at_most is not None:
        met = (at_least is None or part >= at_least) and (at_most is None or part <= at_most)
    return Cell(f"{100 * part:.0f} % ({hits} of {of})", wanted, met, (("share", part), ("of", float(of))))


def between(
    value: float, measured: str, bounds: tuple[float, float], wanted: str, numbers: tuple[tuple[str, float], ...]
) -> Cell:
    """Return a cell that is met where a value lies between bounds."""
    return Cell(measured, wanted, bool(bounds[0] <= value <= bounds[1]), numbers)
