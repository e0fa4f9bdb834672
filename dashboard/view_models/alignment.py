"""Where the seconds of runs stand on one axis: from one moment on, or every phase from one place on. No Dash."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL
from analyzer.model.result import RunResult
from dashboard.wording import PHASES, PHASES_SHORT

ORDER = (SIGNAL, COARSE, FINE, PINPOINT)
GAP_SHARE = 0.015
"""Way between two phases on the axis, of the longest run: our choice, so that bars beside each other stay apart."""

Key = tuple[int, int]
"""Number of the search in a run, and number of the phase in ORDER."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a run that is moved as one. `at`: where `from_s` stands on the axis."""

    from_s: float
    to_s: float
    at: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """Runs on one axis. `runs`: stretches of each run in the order of time. `begins`: (place, name) of each phase that
    has a place of its own, none where the runs are only moved."""

    runs: tuple[tuple[Stretch, ...], ...]
    begins: tuple[tuple[float, str], ...] = ()

    def place(self, run: int, time_s: FloatArray) -> FloatArray:
        """Return where times of a run stand on the axis; a border belongs to what begins there."""
        stretches = self.runs[run]
        starts = np.array([one.from_s for one in stretches])
        shift = np.array([one.at - one.from_s for one in stretches])
        number = np.clip(np.searchsorted(starts, time_s, side="right") - 1, 0, None)
        placed: FloatArray = time_s + shift[number]
        return placed

    def begin(self, run: int, from_s: float, to_s: float) -> float:
        """Return where a piece of a run begins on the axis: it goes with the stretch that its middle lies in."""
        middle = np.array([(from_s + to_s) / 2.0])
        return float(self.place(run, middle)[0] - middle[0] + from_s)

    @property
    def extent(self) -> tuple[float, float]:
        """Return the first and the last place of the axis."""
        ends = [(one.at, one.at + one.to_s - one.from_s) for run in self.runs for one in run]
        return min(low for low, _ in ends), max(high for _, high in ends)


def moved(results: Sequence[RunResult], zeros: Sequence[float]) -> Alignment:
    """Return runs whose moments `zeros` stand at zero."""
    return Alignment(tuple((Stretch(0.0, r.duration_s, -zero),) for r, zero in zip(results, zeros, strict=True)))


def by_phases(results: Sequence[RunResult]) -> Alignment:
    """Return runs of which each phase begins at the same place of the axis, whatever came before.

    Searches for several transmitters are matched in the order in which they were found. A phase whose beginning is not
    assessable stays with the one before it.
    """
    parts = [_parts(result) for result in results]
    gap = GAP_SHARE * max((result.duration_s for result in results), default=1.0)
    places: dict[Key, float] = {}
    ends: list[tuple[Key, float]] = []
    for key in sorted({key for run in parts for key, _, _ in run}):
        before = [end for other, end in ends if other < key]
        places[key] = max(before) + gap if before else 0.0
        ends += [(key, places[key] + to_s - from_s) for run in parts for own, from_s, to_s in run if own == key]
    several = len({search for search, _ in places}) > 1
    begins = tuple(
        (at, f"{PHASES_SHORT[ORDER[phase]]}{f' {search + 1}' if several else ''}")
        for (search, phase), at in places.items()
    )
    runs = tuple(tuple(Stretch(from_s, to_s, places[key]) for key, from_s, to_s in run) for run in parts)
    return Alignment(runs, begins)


def joined(result: RunResult) -> bool:
    """Return whether a phase of a run stays with the one before it, as its beginning is not assessable."""
    return any(phase.start_sigma_s is None for phase in result.phases[1:])


def _parts(result: RunResult) -> list[tuple[Key, float, float]]:
    """Return key, begin and end of each stretch of a run that is placed by itself."""
    found: list[tuple[Key, float, float]] = []
    search, last, transmitter = 0, -1, None
    for number, phase in enumerate(result.phases):
        rank = ORDER.index(phase.phase)
        if number and (phase.transmitter != transmitter or rank <= last):
            search += 1
        last, transmitter = rank, phase.transmitter
        if number and phase.start_sigma_s is None:
            key, from_s, _ = found[-1]
            found[-1] = (key, from_s, phase.end_s)
        else:
            found.append(((search, rank), phase.start_s, phase.end_s))
    return found or [((0, 0), 0.0, result.duration_s)]


def unsure_borders(result: RunResult) -> str:
    """Return what is said where phases follow each other at a moment that could not be assessed, "" where there is
    none: what is drawn there is the likeliest alone."""
    pairs = [
        f"{PHASES[before.phase].lower()} and {PHASES[after.phase].lower()}"
        for before, after in zip(result.phases[:-1], result.phases[1:], strict=True)
        if after.start_sigma_s is None
    ]
    told = " and of ".join(dict.fromkeys(pairs))
    return (
        f" Where the border of {told} lies could not be assessed; it is drawn at its likeliest place." if told else ""
    )
