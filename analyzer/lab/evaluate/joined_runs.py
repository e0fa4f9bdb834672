"""Days of several simulated runs in one recording: runs joined by stands, ways back and stops of the recorder."""

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.timed_path import place_at
from analyzer.lab.simulate import FAULTS, ReadingSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.noise_models import drawn_two_part, errors_at
from analyzer.lab.simulate.scenario import SimulatedDrill, SimulatedRun
from analyzer.model.arrays import FloatArray, freeze_fields

BEGUN = dt.datetime(2026, 2, 11, 8, 0, tzinfo=dt.UTC)
BACK_MPS = (0.9, 1.5)
WAY_BACK_BENDS_M = 3.0
START_SCATTER_M = 1.5
"""One axis: nobody begins twice on the same spot."""


@dataclass(frozen=True, slots=True)
class DayKind:
    """How the runs of a day hang together, in seconds: `at_start` before each run, `at_find` after it; `stopped`: the
    recorder stands still on the way back. `runs`: how many. `marks`: those of each run that were logged."""

    title: str
    at_start: tuple[float, float] = (60.0, 300.0)
    at_find: tuple[float, float] = (60.0, 240.0)
    stopped: tuple[float, float] | None = None
    runs: int = 3
    marks: tuple[str, ...] = ()
    readings: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class JoinedDay:
    """A recording of a day, times in seconds since 1970 UTC: fixes (n,), `runs` (k, 2) true beginnings and ends, marks
    and readings as logged. `drill_m` (m, 2): places of the drill."""

    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    runs: FloatArray
    marks: tuple[tuple[float, str], ...]
    readings_s: tuple[float, ...]
    drill_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), east_m=(n,), north_m=(n,), runs=(None, 2), drill_m=(None, 2))


@dataclass
class _Course:
    """The true course while it is built: times from the day's beginning and places."""

    time_s: list[float]
    place_m: list[tuple[float, float]]

    def stay(self, seconds: float) -> None:
        self.time_s.append(self.time_s[-1] + seconds)
        self.place_m.append(self.place_m[-1])

    def walk(self, to: FloatArray, pace_mps: float, bend_m: float) -> None:
        """Walk to a place by way of a middle that lies off the straight line."""
        here = np.array(self.place_m[-1])
        ahead = to - here
        middle = here + ahead / 2.0 + bend_m * np.array([-ahead[1], ahead[0]]) / max(math.hypot(*ahead), 1.0)
        for place in (middle, to):
            metres = math.hypot(*(place - np.array(self.place_m[-1])))
            self.time_s.append(self.time_s[-1] + max(metres / pace_mps, 0.1))
            self.place_m.append((float(place[0]), float(place[1])))


def joined_day(kind: DayKind, *, seed: int, step_s: float = 1.0) -> JoinedDay:
    """Return a day drawn from a seed; each run has a fault of its own or none, and its own searcher."""
    rng = np.random.default_rng([seed, 77])
    drill = simulate_drill(seed=seed)
    runs = [_run(drill, kind, seed, number, rng) for number in range(kind.runs)]
    home = _path(runs[0])[0]
    course, spans, holes = _Course([0.0], [tuple(home)]), [], []
    for number, run in enumerate(runs):
        begun = home + (rng.normal(0.0, START_SCATTER_M, 2) if number else 0.0)
        if number:
            left = course.time_s[-1]
            course.walk(begun, float(rng.uniform(*BACK_MPS)), float(rng.normal(0.0, WAY_BACK_BENDS_M)))
            if kind.stopped is not None:
                course.stay(float(rng.uniform(*kind.stopped)))
                holes.append((left, course.time_s[-1]))
        course.stay(max(float(rng.uniform(*kind.at_start)), 0.1))
        zero, path = course.time_s[-1], _path(run)
        course.time_s += (run.truth.time_s[1:] + zero).tolist()
        course.place_m += [(float(e), float(n)) for e, n in path[1:] - path[0] + begun]
        spans.append((zero, zero + float(run.truth.time_s[-1])))
        if kind.stopped is None:
            course.stay(max(float(rng.uniform(*kind.at_find)), 0.1))
    return _recorded(kind, course, spans, holes, runs, drill, rng, step_s)


def _run(drill: SimulatedDrill, kind: DayKind, seed: int, number: int, rng: np.random.Generator) -> SimulatedRun:
    fault = [None, *FAULTS][int(rng.integers(len(FAULTS) + 1))]
    settings = RunSettings(readings=ReadingSettings(kind="logged" if kind.readings else "none"))
    own = 1000 * seed + number
    try:
        return simulate_run(drill, settings, fault=fault, seed=own)
    except ValueError:  # a strip that cannot be missed in this area: the same run without it
        return simulate_run(drill, settings, seed=own)


def _path(run: SimulatedRun) -> FloatArray:
    return np.column_stack([run.truth.east_m, run.truth.north_m])


def _recorded(
    kind: DayKind,
    course: _Course,
    spans: list[tuple[float, float]],
    holes: list[tuple[float, float]],
    runs: list[SimulatedRun],
    drill: SimulatedDrill,
    rng: np.random.Generator,
    step_s: float,
) -> JoinedDay:
    zero = BEGUN.timestamp()
    times = np.arange(0.0, course.time_s[-1], step_s)
    kept = np.ones(len(times), bool)
    for begin, end in holes:
        kept &= (times < begin) | (times > end)
    times = times[kept]
    place = place_at(course.time_s, course.place_m, times) + errors_at(drawn_two_part(rng), times, rng)
    marks, readings = [], []
    for (begin, _), run in zip(spans, runs, strict=True):
        marks += [(zero + begin + m.time_s, m.mark) for m in run.recording.marks if m.mark in kind.marks]
        if kind.readings and run.recording.readings is not None:
            readings += (zero + begin + run.recording.readings.time_s).tolist()
    laid = [(t.east_m, t.north_m) for t in drill.drill.transmitters]
    corners = drill.drill.corners_m
    return JoinedDay(
        times + zero,
        place[:, 0],
        place[:, 1],
        np.array(spans) + zero,
        tuple(marks),
        tuple(readings),
        np.vstack([laid, corners] if corners is not None else [laid]),
    )
