"""The sample day: two invented drills with invented searchers, made from fixed seeds, for first steps and the demo."""

import datetime as dt
from dataclasses import dataclass, field, replace

from analyzer.lab.simulate.scenario import FIRST_START, SimulatedDrill, SimulatedRun, simulate_drill, simulate_run
from analyzer.lab.simulate.settings import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
)

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
class Entry:
    """One run of the day: id, searcher, faults, recorder, readings, antennas."""

    run_id: str
    searcher: str
    faults: tuple[str, ...] = ()
    recorder: RecorderSettings = field(default_factory=RecorderSettings)
    readings: ReadingSettings = field(default_factory=lambda: ReadingSettings(clock_offset_s=NEAR_CLOCKS))
    antennas: int = 3


WATCH = RecorderSettings(kind="watch", decimals=6)
SURVEY = RecorderSettings(kind="survey", spikes_per_minute=0.0, gaps_per_minute=0.0)
BY_HAND = ReadingSettings(kind="by_hand", clock_offset_s=(12.0, 20.0))
LOWER_BOWL = (
    Entry("mara-1", "Mara Lindgrun", ("late_slow_down",)),
    Entry("mara-2", "Mara Lindgrun"),
    Entry("ilvo-1", "Ilvo Castrein", ("wrong_way",)),
    Entry("ilvo-2", "Ilvo Castrein", ("standing", "narrow_bracketing"), recorder=WATCH),
    Entry("sunna-1", "Sunna Ortwal", ("missed_strip",), readings=ReadingSettings(kind="none")),
    Entry("teodor-1", "Teodor Falk-Ahn", ("oblique_bracketing",), recorder=SURVEY),
    Entry("bera-1", "Bera Quistad", ("detour",), readings=BY_HAND),
    Entry("keno-1", "Keno Vasaly", ("off_lowest",), recorder=WATCH),
    Entry("runa-1", "Runa Tesslin", ("rushed_bracketing",), antennas=2),
    Entry(
        "olmar-1",
        "Olmar Dyvik",
        ("extra_lines",),
        readings=ReadingSettings(clock_offset_s=NEAR_CLOCKS, directions=True),
    ),
)
LONG_GULLY = (
    Entry("mara-3", "Mara Lindgrun"),
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
        runs.append(replace(run, recording=replace(run.recording, info=info)))
    return tuple(runs)
