"""The sample season: an invented club over a winter, and an invented event, from one seed.

Ten people practise on eight days. Of three of them it is known how they change, day by day, because it is put in here:
one turns back sooner after a wrong way, one slows earlier, one does everything as before. The others make the same
faults all winter long. At the end twenty-four entries, the club and its guests, search on three fields.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyzer.lab.simulate.faults import FaultPlan, LateSlowDown, OffLowest, Standing, WrongWay, drawn_plan
from analyzer.lab.simulate.scenario import SimulatedDrill, SimulatedRun, simulate_drill, simulate_run
from analyzer.lab.simulate.settings import DrillSettings, ReadingSettings, RunSettings, SearcherSettings
from analyzer.model.people import People, Person

FIRST_DAY = dt.datetime(2026, 1, 10, 9, 0, tzinfo=dt.UTC)
EVENT_DAY = dt.datetime(2026, 3, 14, 8, 0, tzinfo=dt.UTC)
DAYS, TIMES_A_DAY = 8, 2
EVENT_FOLDER, FIELDS = "spring_cup", ("cup_north", "cup_middle", "cup_south")
PLACE = DrillSettings(
    latitude=46.7, longitude=10.2, elevation_m=2050.0, area_width_m=80.0, area_length_m=110.0, tilt_at_most_deg=20.0
)
HABITUAL = SearcherSettings(far_pace_mps=(1.2, 1.3), reception_m=(38.0, 45.0))
"""People keep their pace, and receivers their reach, more than one stranger differs from another."""
CLOCKS = ReadingSettings(clock_offset_s=(-4.0, 4.0))
TURNS_SOONER, SLOWS_EARLIER, STAYS = "Kaja Solbrekk", "Remo Antelli", "Ylva Torsund"
CLUB = (
    (TURNS_SOONER, "Tuesday group", True), (SLOWS_EARLIER, "Tuesday group", True), (STAYS, "Saturday group", True),
    ("Odd Marsten", "Tuesday group", True), ("Pia Lorenzin", "Tuesday group", True),
    ("Jorun Vestad", "Tuesday group", False), ("Timo Aschgrund", "Saturday group", True),
    ("Nela Brodnik", "Saturday group", True), ("Sivert Hallmo", "Saturday group", True),
    ("Alva Rennfeld", "Saturday group", True),
)  # fmt: skip
GUESTS = ("Berit Oskam", "Curdin Malvaz", "Dorte Wiklow", "Eskil Tarnby", "Flurin Gadient-Roth", "Gro Hessvik",
          "Hanno Pirchberg", "Iselin Korsvoll", "Jakov Drenik", "Lene Sudmark", "Matej Orlan", "Nuria Feldkamm",
          "Orsina Vellaz", "Peder Lunnhaug")  # fmt: skip
HABITS = (
    ("wrong_way",),
    (),
    ("standing",),
    ("extra_lines",),
    ("narrow_bracketing",),
    ("off_lowest",),
    ("late_slow_down",),
)
"""What the others' faults are drawn from, the same all winter."""
TURN_S, PACE_MPS = (12.5, 5.5), (1.35, 0.7)
"""From the first day to the last: seconds the wrong way before turning back; pace into the last metres."""


@dataclass(frozen=True, slots=True)
class SeasonDrill:
    """A drill folder's name, the drill, how many runs it will have, and what is needed to make them."""

    folder: str
    drill: SimulatedDrill
    starters: tuple["Starter", ...]

    def runs(self) -> Iterator[SimulatedRun]:
        """Yield the runs, each made when it is asked for."""
        for one in self.starters:
            settings = RunSettings(HABITUAL, readings=CLOCKS)
            run = simulate_run(
                self.drill,
                settings,
                seed=one.seed,
                run_id=one.run_id,
                searcher=one.name,
                start=one.start,
                plans=one.plans,
            )
            yield replace(run, recording=replace(run.recording, info=replace(run.recording.info, bib=one.bib)))


@dataclass(frozen=True, slots=True)
class Starter:
    """One run to be made."""

    run_id: str
    name: str
    seed: int
    start: dt.datetime
    plans: dict[str, FaultPlan]
    bib: str = ""


def season_drills(seed: int = 0, *, people: int = len(CLUB), event: bool = True) -> tuple[SeasonDrill, ...]:
    """Return the drills of the season, its days first, then the fields of the event.

    Parameters
    ----------
    seed : int
        The same seed gives the same season.
    people : int
        How many of the club practise: the first three are those of whom the change is known.
    event : bool
        Whether to make the event's fields as well.
    """
    days = tuple(_day(seed, day, CLUB[:people]) for day in range(DAYS))
    return (*days, *(_field(seed, number) for number in range(len(FIELDS)))) if event else days


def people_of_club() -> People:
    """Return the people of the club; one of them has not agreed to be named in lists."""
    return People(
        tuple(
            Person(name, group, consent, FIRST_DAY.date() if consent else None, note="invented for the sample season")
            for name, group, consent in CLUB
        )
    )


def season_truth(seed: int) -> dict[str, Any]:
    """Return what is put into the season: who changes, how, and what a season's page should say."""
    return {
        "format": "searchwake-season-truth/1",
        "invented": "All people, places and searches of this workspace are invented; the tracks are simulated.",
        "seed": seed,
        "days": [(FIRST_DAY + dt.timedelta(days=7 * day)).date().isoformat() for day in range(DAYS)],
        "people": [
            {
                "name": TURNS_SOONER,
                "change": "turns back sooner",
                "measure": "turnaround_s",
                "way": "better",
                "seconds_the_wrong_way": _course(TURN_S),
            },
            {
                "name": SLOWS_EARLIER,
                "change": "slows earlier",
                "measure": "pace_at_3_m",
                "way": "better",
                "pace_into_the_last_metres_mps": _course(PACE_MPS),
            },
            {"name": STAYS, "change": "none", "measure": "", "way": ""},
        ],
        "others": "the same faults all winter, drawn anew for every run",
    }


def event_toml() -> str:
    """Return the event file: two classes, three fields, twenty-four entries, a judge's decision."""
    lines = [
        "# An invented event with invented people; its tracks are simulated.",
        "[event]",
        'name = "Spring cup (invented)"',
        f"date = {EVENT_DAY.date().isoformat()}",
        'rules = "fastest"',
    ]
    for key, title in (("open", "Open"), ("guests", "Guests")):
        lines += ["", "[[class]]", f'id = "{key}"', f'name = "{title}"']
    for folder in FIELDS:
        lines += ["", "[[field]]", f'drill = "{folder}"', f'name = "{_titled(folder)}"']
    for bib, name in entries():
        class_id = "open" if bib <= len(CLUB) else "guests"
        lines += ["", "[[entry]]", f"bib = {bib}", f'name = "{name}"', f'class = "{class_id}"']
        if bib == ABSENT[0]:
            lines.append(f'status = {{{ABSENT[1]} = "absent"}}')
    lines += [
        "",
        "[[judge]]",
        "bib = 4",
        f'field = "{FIELDS[0]}"',
        "penalty_s = 15",
        'reason = "started before the call (invented)"',
        'by = "invented judge"',
        "at = 2026-03-14T09:40:00Z",
    ]
    return "\n".join(lines) + "\n"


ABSENT = (19, FIELDS[2])
"""A bib, and the field where it did not start."""


def entries() -> tuple[tuple[int, str], ...]:
    """Return bib and name of everybody in the event."""
    return tuple(enumerate((*(name for name, _, _ in CLUB), *GUESTS), start=1))


def _titled(folder: str) -> str:
    return folder.replace("_", " ").capitalize() + " (invented)"


def _course(ends: tuple[float, float]) -> list[float]:
    return [round(float(v), 3) for v in np.linspace(*ends, DAYS)]


def _day(seed: int, day: int, club: tuple[tuple[str, str, bool], ...]) -> SeasonDrill:
    begin = FIRST_DAY + dt.timedelta(days=7 * day)
    folder = f"practice_{day + 1}"
    rng = np.random.default_rng([seed, 10, day])
    drill = _laid_out(folder, begin, seed=100 * seed + day, transmitters=1, slope_deg=float(rng.uniform(12.0, 30.0)))
    starters: list[Starter] = []
    for number, (name, _, _) in enumerate(club):
        own = np.random.default_rng([seed, 11, day, number])
        for time in range(TIMES_A_DAY if number < 3 else 1):
            starters.append(
                Starter(
                    f"{_first_name(name)}-{time + 1}",
                    name,
                    int(own.integers(2**31)),
                    begin + dt.timedelta(minutes=9 * len(starters)),
                    {"T1": _plan(name, day, own)},
                )
            )
    return SeasonDrill(folder, drill, tuple(starters))


def _field(seed: int, number: int) -> SeasonDrill:
    begin = EVENT_DAY + dt.timedelta(minutes=3 * number)
    folder = FIELDS[number]
    drill = _laid_out(folder, begin, seed=100 * seed + 50 + number, transmitters=2, slope_deg=16.0 + 4.0 * number)
    starters = []
    for bib, name in entries():
        own = np.random.default_rng([seed, 12, number, bib])
        if (bib, folder) != ABSENT:
            starters.append(
                Starter(
                    f"bib-{bib:02d}",
                    name,
                    int(own.integers(2**31)),
                    begin + dt.timedelta(minutes=9 * (bib - 1)),
                    {"T1": _plan(name, DAYS - 1, own)},
                    str(bib),
                )
            )
    return SeasonDrill(folder, drill, tuple(starters))


def _laid_out(folder: str, begin: dt.datetime, *, seed: int, transmitters: int, slope_deg: float) -> SimulatedDrill:
    settings = replace(
        PLACE, name=_titled(folder), transmitters=transmitters, slope_deg=round(slope_deg, 1), spacing_m=(12.0, 24.0)
    )
    made = simulate_drill(settings, seed=seed)
    return replace(made, drill=replace(made.drill, date=begin.date(), start=begin))


def _first_name(name: str) -> str:
    return name.split()[0].lower()


def _plan(name: str, day: int, rng: np.random.Generator) -> FaultPlan:
    """Return the faults of one run. Sizes vary from run to run about where the person stands on that day."""
    share = day / (DAYS - 1)
    after, notice = float(rng.uniform(0.8, 0.95)), float(rng.uniform(0.4, 0.9))
    if name == TURNS_SOONER:
        seconds = _at(TURN_S, share) + float(rng.normal(0.0, 0.4))
        return FaultPlan(wrong_way=_wrong_way(seconds, after, notice))
    if name == SLOWS_EARLIER:
        pace = _at(PACE_MPS, share) + float(rng.normal(0.0, 0.05))
        return FaultPlan(late_slow_down=LateSlowDown(pace_mps=max(pace, 0.45), rise_m=float(rng.uniform(0.4, 0.8))))
    if name == STAYS:
        stop = (float(rng.uniform(0.4, 0.8)), float(rng.uniform(4.0, 9.0)))
        return FaultPlan(
            wrong_way=_wrong_way(float(rng.uniform(7.0, 10.0)), after, notice),
            standing=Standing((stop,)),
            off_lowest=OffLowest(float(rng.uniform(0.7, 1.2)), float(rng.uniform(15.0, 25.0))),
        )
    return drawn_plan(HABITS[int(rng.integers(len(HABITS)))], rng)


def _wrong_way(seconds: float, after: float, notice_s: float) -> WrongWay:
    """Return a wrong way that lasts so long; its metres are what that is at most."""
    return WrongWay(metres=1.35 * seconds, after=after, notice_s=notice_s, longest_s=seconds)


def _at(ends: tuple[float, float], share: float) -> float:
    return ends[0] + share * (ends[1] - ends[0])
