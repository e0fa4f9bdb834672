"""Every figure of a result that has a truth, with its 90 % interval: does the interval hold it?"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.truths import Bounds, path_at, place_of, truths_of, walked_in
from analyzer.lab.simulate.truth import KnownRun, TrueSearch, Truth
from analyzer.model.account import Search
from analyzer.model.figure import HALF_90, Figure, Measured
from analyzer.model.result import RunResult

ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class Claim:
    """A figure and its truth; `low`, `high` NaN where the engine says that it is not assessable."""

    figure: str
    truth: float
    low: float
    high: float

    @property
    def made(self) -> bool:
        """Return whether the engine gives a figure."""
        return bool(np.isfinite(self.low))

    @property
    def holds(self) -> bool:
        """Return whether the interval holds the truth."""
        return self.low - ROUNDING <= self.truth <= self.high + ROUNDING


def claims_of(
    result: RunResult,
    search: Search,
    run: KnownRun,
    true: TrueSearch,
    bounds: Bounds,
    plane: SlopePlane,
    *,
    radius_m: float,
) -> tuple[Claim, ...]:
    """Return all claims of a result on one search.

    A wrong way or a standing time of zero that is truly zero is left out: it would be held for nothing.
    """
    claims = []
    for name, value in truths_of(walked_in(run, true, bounds, radius_m=radius_m)).items():
        group, _, figure = name.partition(".")
        measured = _measured(result, search, group, figure)
        if measured is not None and np.isfinite(value):
            claims.append(_claim(name, value, measured))
    kept = [c for c in claims if not (c.truth == 0.0 and c.made and c.high < 0.3)]
    return (*kept, *_starts(result, search, bounds), *_places(result, search, run.truth, true, bounds, plane))


def _measured(result: RunResult, search: Search, group: str, figure: str) -> Measured | None:
    if group == "evidence":
        found: Measured = getattr(result.evidence, figure)
        return found
    return search.figure(group, figure)


def _claim(name: str, truth: float, measured: Measured) -> Claim:
    if isinstance(measured, Figure):
        return Claim(name, truth, measured.low, measured.high)
    return Claim(name, truth, np.nan, np.nan)


def _about(name: str, truth: float, value: float, sigma: float | None) -> Claim:
    half = np.nan if sigma is None else HALF_90 * sigma
    return Claim(name, truth, value - half, value + half)


def _starts(result: RunResult, search: Search, bounds: Bounds) -> Iterator[Claim]:
    true = {"coarse_search": bounds.coarse_s, "fine_search": bounds.fine_s, "pinpoint": bounds.pinpoint_s}
    for phase in result.phases:
        if phase.transmitter == search.transmitter and phase.phase in true:
            yield _about(f"start.{phase.phase}", true[phase.phase], phase.start_s, phase.start_sigma_s)


def _places(
    result: RunResult, search: Search, truth: Truth, true: TrueSearch, bounds: Bounds, plane: SlopePlane
) -> Iterator[Claim]:
    """Yield the places half-way through coarse and fine search, and the transmitter's, on both axes."""
    path = result.path
    fused = plane.to_plane(np.column_stack([path.east_m, path.north_m]))
    middles = {
        "coarse_search": (bounds.coarse_s + bounds.fine_s) / 2.0,
        "fine_search": (bounds.fine_s + bounds.pinpoint_s) / 2.0,
    }
    for name, when in middles.items():
        there, sigma = path_at(truth, when), float(np.interp(when, path.time_s, path.sigma_m))
        for axis in (0, 1):
            value = float(np.interp(when, path.time_s, fused[:, axis]))
            yield _about(f"place.{name}", float(there[axis]), value, sigma)
    placed = next(t for t in result.transmitters if t.id == search.transmitter)
    seen, there = plane.to_plane([placed.east_m, placed.north_m]), place_of(truth, true)
    for axis in (0, 1):
        yield _about("place.transmitter", float(there[axis]), float(seen[axis]), placed.sigma_m)
