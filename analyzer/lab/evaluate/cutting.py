"""How well several runs in one recording are told apart: simulated runs joined to days, and held against the truth.

`python -m analyzer.lab.evaluate.cutting --days 40 --seed 1` prints the table.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.cutting.proposals import Note, Piece, propose
from analyzer.lab.evaluate.joined_runs import DayKind, JoinedDay, joined_day

MARKS = ("start", "finish")
KINDS = {
    "stands": DayKind("stands at the start and at the find"),
    "readings": DayKind("the same, with a log of readings", readings=True),
    "no_wait": DayKind("goes again at once, stands at the find", at_start=(0.0, 0.0)),
    "no_find": DayKind("no stand at the find, waits at the start", at_find=(0.0, 0.0)),
    "stopped": DayKind("recorder stopped on the way back", at_start=(5.0, 60.0), stopped=(150.0, 900.0)),
    "starts": DayKind("start marks alone", marks=("start",)),
    "marks": DayKind("start and finish marks", marks=MARKS),
    "neither": DayKind("no stand anywhere", at_start=(0.0, 0.0), at_find=(0.0, 0.0)),
    "one": DayKind("one run, with a stand before and after", runs=1),
}
COVERS = 0.7
"""A piece is a run's own where it holds so much of the run's time, and less than the rest of all others'."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A day against its truth. `start_s`, `end_s`: errors of the runs that were found, in seconds, late positive."""

    runs: int
    pieces: int
    start_s: tuple[float, ...]
    end_s: tuple[float, ...]

    @property
    def false(self) -> int:
        """Pieces that are no run's own."""
        return self.pieces - len(self.start_s)


def matched(runs: Sequence[tuple[float, float]], pieces: Sequence[Piece]) -> list[tuple[int, int]]:
    """Return (run, piece) of those that are each other's: the piece holds most of the run and little of any other."""
    pairs: list[tuple[int, int]] = []
    for j, piece in enumerate(pieces):
        shares = [max(0.0, min(b, piece.to_s) - max(a, piece.from_s)) / (b - a) for a, b in runs]
        own = [i for i, share in enumerate(shares) if share >= COVERS]
        if len(own) == 1 and sum(shares) - shares[own[0]] < 1.0 - COVERS and own[0] not in [i for i, _ in pairs]:
            pairs.append((own[0], j))
    return pairs


def judged(day: JoinedDay) -> Judged:
    """Return how the proposals for a day compare with its runs; no drill is told, as on a page without one."""
    pieces = propose(
        day.time_s, day.east_m, day.north_m, marks=[Note(at, mark) for at, mark in day.marks], readings_s=day.readings_s
    )
    runs = [(float(a), float(b)) for a, b in day.runs]
    pairs = matched(runs, pieces)
    return Judged(
        len(runs),
        len(pieces),
        tuple(pieces[j].from_s - runs[i][0] for i, j in pairs),
        tuple(pieces[j].to_s - runs[i][1] for i, j in pairs),
    )


def line_of(title: str, looked: Sequence[Judged]) -> str:
    """Return the row of one kind of days."""
    runs, false = sum(one.runs for one in looked), sum(one.false for one in looked)
    start, end = (np.concatenate([getattr(one, key) for one in looked]) for key in ("start_s", "end_s"))
    cells = [title, str(len(looked)), str(runs), f"{100 * len(start) / runs:.0f} %", str(false)]
    cells += [_within(start, s, runs) for s in (5.0, 15.0)] + [_within(end, s, runs) for s in (5.0, 15.0, 60.0)]
    early = float(np.mean(end < -5.0)) if len(end) else 0.0
    return f"| {' | '.join([*cells, f'{100 * early:.0f} %'])} |"


def _within(errors: np.ndarray, seconds: float, runs: int) -> str:
    return f"{100 * np.sum(np.abs(errors) <= seconds) / runs:.0f} %"


HEAD = (
    "| days | number | runs | found | false pieces | start within 5 s | 15 s | end within 5 s | 15 s | 60 s "
    "| end more than 5 s early |"
)


def main() -> None:
    """Simulate, cut and print the table."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.lab.evaluate.cutting", description=__doc__)
    parser.add_argument("--days", type=int, default=20, metavar="N", help="of each kind")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="of the first day")
    parser.add_argument("--kinds", nargs="*", choices=list(KINDS), metavar="KEY", help="kinds of days; all if left out")
    arguments = parser.parse_args()
    lines = [HEAD, "|---" * 11 + "|"]
    for key in arguments.kinds or KINDS:
        days = (joined_day(KINDS[key], seed=arguments.seed + number) for number in range(arguments.days))
        lines.append(line_of(KINDS[key].title, [judged(day) for day in days]))
    sys.stdout.write("\n".join((*lines, "")))


if __name__ == "__main__":
    main()
