"""How runs are found in recordings of whole days: simulated days with known starts, hits and ways back.

`python -m analyzer.lab.evaluate.cuts --days 60 --seed 100` prints the table.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.files.tracks.proposed_cuts import Moments, Piece, Recorded, proposed
from analyzer.lab.simulate import DrillSettings, simulate_drill
from analyzer.lab.simulate.whole_day import DaySettings, SimulatedDay, simulate_day
from analyzer.model.drill import Drill

BEGIN_S = 15.0
"""A begin this near to the true one is found: a coach moves it by a second or two, or not at all."""
LEFT_S = 20.0
"""An end counts from the last probe hit to so long after the transmitter was left."""
FAULTS = (None, "standing", "wrong_way", "long_probing", "extra_lines")
MOST_RUNS = 5


@dataclass(frozen=True, slots=True)
class Found:
    """Of one kind of day: runs there were, those that were found, pieces taken that are no run; how far begins are
    off, seconds; and of days with one run, how many there were and how many stayed whole."""

    runs: int
    found: int
    false: int
    begins_s: tuple[float, ...]
    single: int
    whole: int


def found_in(day: SimulatedDay, pieces: Sequence[Piece]) -> tuple[list[float], int]:
    """Return how far the begin of each found run is off, and how many taken pieces are none."""
    taken, begins = [piece for piece in pieces if piece.take], []
    for begin, hit, left in day.spans:
        own = next(
            (p for p in taken if abs(p.begin_s - begin) <= BEGIN_S and hit - 1.0 <= p.end_s <= left + LEFT_S), None
        )
        if own is not None:
            taken.remove(own)
            begins.append(own.begin_s - begin)
    return begins, len(taken)


def days(count: int, *, seed: int, transmitters: int, marked: bool) -> Found:
    """Return what is found in simulated days of one to five runs. `marked`: whether starts and hits are marked."""
    runs = false = single = whole = 0
    begins: list[float] = []
    for number in range(count):
        drill = simulate_drill(DrillSettings(transmitters=transmitters), seed=seed + number)
        faults = tuple(FAULTS[(number + run) % len(FAULTS)] for run in range(MOST_RUNS))
        day = simulate_day(drill, DaySettings(runs=1 + number % MOST_RUNS), seed=seed + number, faults=faults)
        marks = Moments(tuple(s[0] for s in day.spans), tuple(s[1] for s in day.spans)) if marked else Moments()
        pieces = proposed(Recorded(day.time_s, day.place_m), marks, _spots(drill.drill))
        if len(day.spans) == 1:
            single, whole = single + 1, whole + (len(pieces) == 1)
            continue
        own, others = found_in(day, pieces)
        runs, false, begins = runs + len(day.spans), false + others, begins + own
    return Found(runs, len(begins), false, tuple(begins), single, whole)


def _spots(drill: Drill) -> np.ndarray:
    return np.array([[t.east_m, t.north_m] for t in drill.transmitters])


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.lab.evaluate.cuts", description=__doc__)
    parser.add_argument("--days", type=int, default=60, metavar="N", help="days of each kind (default 60)")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    asked = parser.parse_args(arguments)
    line = "{:<34} {:>6} {:>6} {:>6} {:>14} {:>14} {:>12}\n"
    sys.stdout.write(line.format("days", "runs", "found", "false", "begin in 3 s", "begin in 6 s", "single whole"))
    for words, transmitters, marked in (
        ("one transmitter, no marks", 1, False),
        ("three transmitters, no marks", 3, False),
        ("one transmitter, starts and hits", 1, True),
    ):
        found = days(asked.days, seed=asked.seed, transmitters=transmitters, marked=marked)
        off = np.abs(found.begins_s)
        near = [f"{np.sum(off <= seconds):.0f} of {off.size}" for seconds in (3.0, 6.0)]
        cells = *near, f"{found.whole} of {found.single}"
        sys.stdout.write(line.format(words, found.runs, found.found, found.false, *cells))
    return 0


if __name__ == "__main__":
    sys.exit(main())
