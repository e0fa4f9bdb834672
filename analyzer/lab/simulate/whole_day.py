"""A recorder left on all day: several runs in one recording, with the waits, ways back and pauses between them."""

from dataclasses import dataclass, field

import numpy as np

from analyzer.lab.simulate.noise_models import drawn_two_part, errors_at
from analyzer.lab.simulate.scenario import FIRST_START, SimulatedDrill, SimulatedRun, simulate_run
from analyzer.lab.simulate.settings import RunSettings
from analyzer.model.arrays import FloatArray, freeze_fields

WALK_MPS = (0.8, 1.5)
WAIT_S, DIG_S, PAUSE_S = (60.0, 600.0), (15.0, 240.0), (180.0, 1800.0)
"""At the start between runs, at the transmitter after the hit, and for which a recorder is switched off."""
STIR_M, STIR_S = 0.6, 25.0
"""How far and how slowly people shift who wait."""


@dataclass(frozen=True, slots=True)
class DaySettings:
    """A day. `pause_share`: of the ways back on which the recorder is off for a while; `halt_share`: of runs whose
    searcher goes on at once, without a wait; `run`: settings of each run."""

    runs: int = 3
    pause_share: float = 0.2
    halt_share: float = 0.15
    run: RunSettings = field(default_factory=RunSettings)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedDay:
    """A day's recording: `time_s` (n,) seconds since 1970 UTC, `place_m` (n, 2) recorded east, north from the drill's
    origin. `spans`: of each run its true start, its last probe hit, and when the transmitter was left; `runs`: as they
    were alone."""

    time_s: FloatArray
    place_m: FloatArray
    spans: tuple[tuple[float, float, float], ...]
    runs: tuple[SimulatedRun, ...]

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, time_s=(None,), place_m=(None, 2))


def simulate_day(
    drill: SimulatedDrill, settings: DaySettings | None = None, *, seed: int, faults: tuple[str | None, ...] = ()
) -> SimulatedDay:
    """Return a day of runs by one recorder, a fix a second, with the noise of one phone all day.

    `faults`: one for each run, None or left out for a run without.
    """
    settings = settings or DaySettings()
    rng = np.random.default_rng([seed, 77])
    at, times, places = FIRST_START.timestamp(), list[FloatArray](), list[FloatArray]()
    spans, runs = list[tuple[float, float, float]](), list[SimulatedRun]()
    for number in range(settings.runs):
        fault = faults[number] if number < len(faults) else None
        run = simulate_run(drill, settings.run, fault=fault, seed=1000 * seed + number, run_id=f"run-{number + 1}")
        truth = run.truth
        path = np.column_stack([truth.east_m, truth.north_m])
        goes_on = bool(spans) and rng.uniform() < settings.halt_share
        off = bool(spans) and rng.uniform() < settings.pause_share
        if spans:
            at = _way_back(times, places, at, path[0], rng, seen=not off)
        at = _stands(times, places, at, path[0], rng, float(rng.uniform(2.0, 8.0) if goes_on else rng.uniform(*WAIT_S)))
        whole = np.arange(0.0, truth.time_s[-1])
        times.append(at + whole)
        places.append(np.column_stack([np.interp(whole, truth.time_s, path[:, axis]) for axis in (0, 1)]))
        hit = max(search.probe_hit_s for search in truth.searches)
        begin = at
        at = _stands(times, places, at + truth.time_s[-1], path[-1], rng, float(rng.uniform(*DIG_S)))
        spans.append((begin, begin + hit, at))
        runs.append(run)
    at = _way_back(times, places, at, places[0][0], rng, seen=True)
    _stands(times, places, at, places[0][0], rng, float(rng.uniform(*WAIT_S)))
    time_s, place_m = np.concatenate(times), np.vstack(places)
    return SimulatedDay(time_s, place_m + errors_at(drawn_two_part(rng), time_s, rng), tuple(spans), tuple(runs))


def _way_back(
    times: list[FloatArray],
    places: list[FloatArray],
    at: float,
    to: FloatArray,
    rng: np.random.Generator,
    *,
    seen: bool,
) -> float:
    """Add a way from the last place to `to`, not quite straight; unseen where the recorder is off. Return its end."""
    begin, pace = places[-1][-1], float(rng.uniform(*WALK_MPS))
    seconds = max(float(np.hypot(*(to - begin))) / pace, 2.0)
    share = np.arange(0.0, seconds) / seconds
    side = np.array([begin[1] - to[1], to[0] - begin[0]]) * float(rng.uniform(-0.25, 0.25))
    if seen:
        times.append(at + share * seconds)
        places.append(begin + share[:, None] * (to - begin) + np.sin(np.pi * share)[:, None] * side)
        return at + seconds
    return at + seconds + float(rng.uniform(*PAUSE_S))


def _stands(
    times: list[FloatArray],
    places: list[FloatArray],
    at: float,
    where: FloatArray,
    rng: np.random.Generator,
    seconds: float,
) -> float:
    """Add somebody who stands and shifts a little. Return the end."""
    own = np.arange(0.0, seconds)
    turn = rng.uniform(0.0, 2.0 * np.pi, 2)
    stir = STIR_M * np.column_stack([np.sin(own / STIR_S + turn[0]), np.cos(own / (1.3 * STIR_S) + turn[1])])
    times.append(at + own)
    places.append(where + stir)
    return at + seconds
