"""The sample day: two invented drills with invented searchers, made from fixed seeds, for first steps and the demo."""

import datetime as dt
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.lab.simulate.scenario import FIRST_START, SimulatedDrill, SimulatedRun, simulate_drill, simulate_run
from analyzer.lab.simulate.settings import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
)
from analyzer.lab.simulate.truth import TruePractice
from analyzer.model.phases import PINPOINT
from analyzer.model.recording import Mark

PLACE = DrillSettings(latitude=46.6, longitude=9.9, elevation_m=2140.0)
NEAR_CLOCKS = (-4.0, 4.0)
MINUTES_APART = 9


@dataclass(frozen=True, slots=True)
class SampleDrill:
    """A drill folder's name, the drill and its runs."""

    folder: str
    drill: SimulatedDrill
    runs: tuple[SimulatedRun, ...]


@dataclass(frozen=True, slots=True)
class Practice:
    """What a companion noted at one hit, seconds after it; `probings`: without a hit, how many were placed before.

    None: nobody noted it. None of it moves the walk: the marks are written beside it.
    """

    probings: int
    marked_s: float | None = None
    dug_s: float | None = None
    free_s: float | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One run of the day: id, searcher, faults, recorder, readings, antennas, and what was noted after the search."""

    run_id: str
    searcher: str
    faults: tuple[str, ...] = ()
    recorder: RecorderSettings = field(default_factory=RecorderSettings)
    readings: ReadingSettings = field(default_factory=lambda: ReadingSettings(clock_offset_s=NEAR_CLOCKS))
    antennas: int = 3
    practice: tuple[Practice, ...] = ()
    """One a transmitter, in the order found."""


ASSEMBLED_S, LATE_S = 5.0, (0.1, 0.7)
"""From settling on the spot to the first probing, and how late a mark is set; our choice, as of the other marks."""
WATCH = RecorderSettings(kind="watch", decimals=6)
SURVEY = RecorderSettings(kind="survey", spikes_per_minute=0.0, gaps_per_minute=0.0)
BY_HAND = ReadingSettings(kind="by_hand", clock_offset_s=(12.0, 20.0))
LOWER_BOWL = (
    Entry("mara-1", "Mara Lindgrun", ("late_slow_down",)),
    Entry("mara-2", "Mara Lindgrun", practice=(Practice(2, None, 14.0, 372.0),)),
    Entry("ilvo-1", "Ilvo Castrein", ("wrong_way",)),
    Entry("ilvo-2", "Ilvo Castrein", ("standing", "narrow_bracketing"), recorder=WATCH),
    Entry("sunna-1", "Sunna Ortwal", ("missed_strip",), readings=ReadingSettings(kind="none")),
    Entry(
        "teodor-1",
        "Teodor Falk-Ahn",
        ("oblique_bracketing",),
        recorder=SURVEY,
        practice=(Practice(1, None, 21.0, 455.0),),
    ),
    Entry("bera-1", "Bera Quistad", ("detour",), readings=BY_HAND),
    Entry("keno-1", "Keno Vasaly", ("off_lowest",), recorder=WATCH, practice=(Practice(7, None, 33.0, 521.0),)),
    Entry("runa-1", "Runa Tesslin", ("rushed_bracketing",), antennas=2),
    Entry(
        "olmar-1",
        "Olmar Dyvik",
        ("extra_lines",),
        readings=ReadingSettings(clock_offset_s=NEAR_CLOCKS, directions=True),
        practice=(Practice(2, None, 18.0, 408.0),),
    ),
)
LONG_GULLY = (
    Entry("mara-3", "Mara Lindgrun", practice=(Practice(1, 1.6), Practice(2, 1.2), Practice(3, 2.4, 11.0, 318.0))),
    Entry("ilvo-3", "Ilvo Castrein", ("wrong_way", "standing")),
    Entry("runa-2", "Runa Tesslin", ("extra_lines",), recorder=WATCH),
)


def sample_day() -> tuple[SampleDrill, ...]:
    """Return the two drills of the sample day: `lower_bowl`, one transmitter, and `long_gully`, three."""
    bowl = simulate_drill(
        replace(
            PLACE, name="Lower bowl (invented)", slope_deg=22.0, aspect_deg=40.0, area_width_m=120.0, near_strip_m=5.0
        ),
        seed=11,
    )
    gully = simulate_drill(
        replace(
            PLACE,
            name="Long gully (invented)",
            transmitters=3,
            slope_deg=25.0,
            aspect_deg=325.0,
            area_width_m=40.0,
            area_length_m=130.0,
            spacing_m=(12.0, 30.0),
        ),
        seed=12,
    )
    return (
        SampleDrill("lower_bowl", bowl, _runs(bowl, LOWER_BOWL, FIRST_START, first_seed=100)),
        SampleDrill("long_gully", gully, _runs(gully, LONG_GULLY, FIRST_START + dt.timedelta(hours=3), first_seed=200)),
    )


def _runs(
    drill: SimulatedDrill, entries: tuple[Entry, ...], begin: dt.datetime, *, first_seed: int
) -> tuple[SimulatedRun, ...]:
    runs = []
    for i, entry in enumerate(entries):
        start = begin + dt.timedelta(minutes=MINUTES_APART * i, seconds=round(7.3 * i, 1))
        settings = RunSettings(SearcherSettings(antennas=entry.antennas), entry.recorder, entry.readings)
        run = simulate_run(
            drill,
            settings,
            fault=entry.faults,
            seed=first_seed + i,
            run_id=entry.run_id,
            searcher=entry.searcher,
            start=start,
        )
        info = replace(run.recording.info, bib=str(i + 1))
        named = replace(run, recording=replace(run.recording, info=info))
        runs.append(with_practice(named, entry.practice, seed=first_seed + i))
    return tuple(runs)


def with_practice(run: SimulatedRun, practice: tuple[Practice, ...], *, seed: int) -> SimulatedRun:
    """Return a run with what was noted at its hits in its truth, and as marks that are set a moment late."""
    settled = {p.transmitter: p.start_s for p in run.truth.phases if p.phase == PINPOINT}
    rng = np.random.default_rng([seed, 7])
    true, marks = [], list(run.recording.marks)
    for search, noted in zip(run.truth.searches, practice, strict=False):
        one = _true_practice(search.transmitter, settled[search.transmitter], search.probe_hit_s, noted)
        true.append(one)
        found = [*((at_s, "probe") for at_s in one.probings_s), (one.marking_end_s, "marking_end")]
        found += [(one.dig_begin_s, "dig_begin"), (one.airway_free_s, "airway_free")]
        marks += [
            Mark(round(at_s + float(rng.uniform(*LATE_S)), 1), mark, search.transmitter)
            for at_s, mark in found
            if at_s is not None
        ]
    recording = replace(run.recording, marks=tuple(sorted(marks, key=lambda mark: mark.time_s)))
    return replace(run, recording=recording, truth=replace(run.truth, practice=tuple(true)))


def _true_practice(transmitter: str, settled_s: float, hit_s: float, noted: Practice) -> TruePractice:
    """Return when each thing was done: the probings evenly from the first one to the hit."""
    first_s = min(settled_s + ASSEMBLED_S, hit_s)
    each_s = (hit_s - first_s) / max(noted.probings, 1)
    probings = tuple(round(first_s + each_s * n, 2) for n in range(noted.probings))
    later = [
        None if after_s is None else round(hit_s + after_s, 2)
        for after_s in (noted.marked_s, noted.dug_s, noted.free_s)
    ]
    return TruePractice(transmitter, probings, *later)
