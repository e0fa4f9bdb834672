"""Whole simulated drills and runs with known truth.

Everything follows from the settings and one seed. Walk, recorder and receiver draw from streams of their own: another
recorder of the same seed records the same walk, and a planted fault leaves the rest of the run as it was (`streams`).
"""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.faults import FaultPlan, drawn_plan, fault_names
from analyzer.lab.simulate.noise_models import NoiseModel, SeriesNoise
from analyzer.lab.simulate.recorder import Fixes, as_track, drawn_noise, record_fixes, record_marks
from analyzer.lab.simulate.searcher import StripPlan, Walk, walk_run
from analyzer.lab.simulate.settings import DrillSettings, RunSettings
from analyzer.lab.simulate.shown import as_logged, display, drawn_scale, first_of_two
from analyzer.lab.simulate.streams import stream
from analyzer.lab.simulate.strips import laid_ground
from analyzer.lab.simulate.truth import Truth, course_of, true_phases, true_search
from analyzer.lab.simulate.world import Receiver, Source
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.recording import Recording, RunInfo

FIRST_START = dt.datetime(2026, 2, 14, 9, 0, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class SimulatedDrill:
    """`drill` as it is stated (positions with their error, axes perhaps withheld) and the transmitters as they lie."""

    drill: Drill
    true_transmitters: tuple[Transmitter, ...]

    def sources(self) -> tuple[Source, ...]:
        """Return the true transmitters in the slope plane."""
        plane = SlopePlane(self.drill.slope)
        placed = []
        for t in self.true_transmitters:
            x, y = plane.to_plane([t.east_m, t.north_m])
            a, b, c = plane.axis_vector(t.axis_bearing_deg or 0.0, t.axis_tilt_deg or 0.0)
            placed.append(Source(t.id, float(x), float(y), t.depth_m, (float(a), float(b), float(c))))
        return tuple(placed)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedRun:
    """One run: the recording as a reader would yield it, the truth, and the fixes as they would be stored."""

    recording: Recording
    truth: Truth
    fixes: Fixes


def simulate_drill(settings: DrillSettings | None = None, *, seed: int) -> SimulatedDrill:
    """Return a drill drawn from the settings (default ones if None)."""
    settings = settings or DrillSettings()
    rng = np.random.default_rng([seed, 1])
    slope = Slope(
        settings.slope_deg if settings.slope_deg is not None else round(float(rng.uniform(0.0, 35.0)), 1),
        settings.aspect_deg if settings.aspect_deg is not None else round(float(rng.uniform(0.0, 360.0)), 0),
    )
    plane = SlopePlane(slope)
    true = tuple(_transmitter(f"T{i + 1}", spot, plane, settings, rng) for i, spot in enumerate(_spots(settings, rng)))
    w, h = settings.area_width_m, settings.area_length_m
    corners = plane.to_horizontal([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
    drill = Drill(
        name=settings.name,
        date=FIRST_START.date(),
        origin=Origin(settings.latitude, settings.longitude, settings.elevation_m),
        slope=slope,
        transmitters=tuple(_stated(t, settings, rng) for t in true),
        corners_m=np.round(corners, 2),
        start=FIRST_START,
        strip_width_m=settings.strip_width_m,
    )
    return SimulatedDrill(drill, true)


def _spots(settings: DrillSettings, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Return slope-plane points: the first well inside the area, the others at their spacing from one before."""
    w, h = settings.area_width_m, settings.area_length_m
    x = float(rng.uniform(0.2, 0.8)) * w
    if settings.near_strip_m is not None:
        count = max(1, round(w / settings.strip_width_m))
        middle = (min(int(x * count / w), count - 1) + 0.5) * w / count
        x = middle + float(rng.uniform(-1.0, 1.0)) * settings.near_strip_m
    spots = [(x, float(rng.uniform(0.4, 0.72)) * h)]
    low, high = settings.spacing_m
    while len(spots) < settings.transmitters:
        x, y = spots[int(rng.integers(len(spots)))]
        way, far = float(rng.uniform(0.0, 2.0 * math.pi)), float(rng.uniform(low, high))
        spot = (x + far * math.cos(way), y + far * math.sin(way))
        inside = 4.0 < spot[0] < w - 4.0 and 4.0 < spot[1] < h - 4.0
        if inside and all(math.dist(spot, other) >= low for other in spots):
            spots.append(spot)
    return spots


def _transmitter(
    name: str, spot: tuple[float, float], plane: SlopePlane, settings: DrillSettings, rng: np.random.Generator
) -> Transmitter:
    east, north = plane.to_horizontal(spot)
    # Even over the sphere, but no steeper than asked for.
    steepest = math.sin(math.radians(settings.tilt_at_most_deg))
    tilt = math.degrees(math.asin(float(rng.uniform(-steepest, steepest))))
    return Transmitter(
        name,
        float(east),
        float(north),
        round(float(rng.uniform(*settings.depth_m)), 2),
        round(float(rng.uniform(0.0, 360.0)), 0),
        round(tilt, 0),
        settings.position_sigma_m,
    )


def _stated(true: Transmitter, settings: DrillSettings, rng: np.random.Generator) -> Transmitter:
    sigma = settings.position_sigma_m if settings.position_error_m is None else settings.position_error_m
    off = sigma * rng.standard_normal(2)
    placed = replace(true, east_m=round(true.east_m + off[0], 2), north_m=round(true.north_m + off[1], 2))
    return placed if settings.axis_given else replace(placed, axis_bearing_deg=None, axis_tilt_deg=None)


def simulate_run(
    drill: SimulatedDrill,
    settings: RunSettings | None = None,
    *,
    fault: str | Iterable[str] | None = None,
    seed: int,
    run_id: str = "run-1",
    searcher: str = "",
    start: dt.datetime | None = None,
    plans: Mapping[str, FaultPlan] | None = None,
) -> SimulatedRun:
    """Return one run with its truth.

    Parameters
    ----------
    drill : SimulatedDrill
    settings : RunSettings, optional
    fault : str or iterable of str, optional
        Names of `faults.FAULTS`. Each befalls the search for one transmitter; None: a run without fault.
    seed : int
        Together with the settings, the plans and the drill it determines everything.
    plans : mapping of transmitter id to FaultPlan, optional
        Faults of a size that is not drawn; where given, in the place of those that `fault` would draw.

    Raises
    ------
    InputError
        Where a fault or a kind is not known, or a strip cannot be missed in this area.
    """
    settings = settings or RunSettings()
    plans = dict(plans) if plans is not None else drawn_plans(fault_names(fault), drill, seed)
    begin = Beginning(run_id, searcher, start, seed)
    return simulated(drill, settings, begin, plans, ground_of=plans)


@dataclass(frozen=True, slots=True)
class Beginning:
    """Name, searcher, moment (None: drawn) and seed of a run."""

    run_id: str
    searcher: str
    start: dt.datetime | None
    seed: int


def simulated(
    drill: SimulatedDrill,
    settings: RunSettings,
    begin: Beginning,
    plans: Mapping[str, FaultPlan],
    *,
    ground_of: Mapping[str, FaultPlan],
) -> SimulatedRun:
    """Return a run with the faults of `plans`, on ground that allows those of `ground_of`."""
    seed, sources, plane = begin.seed, drill.sources(), SlopePlane(drill.drill.slope)
    receiver = Receiver(settings.searcher.antennas, drawn_scale(settings.readings, stream(seed, "receiver")))
    place = stream(seed, "place")
    ground = laid_ground(drill.drill, sources, receiver, settings.searcher, place, plans=tuple(ground_of.values()))
    strips = ground.walked(tuple(plans.values()))
    walk = walk_run(sources, receiver, strips, plans, settings.searcher, seed=seed)
    own, fixed, marked = stream(seed, "track").spawn(3)
    zero = begin.start or FIRST_START + dt.timedelta(seconds=round(float(own.uniform(0.0, 60.0)), 1))
    noise = drawn_noise(settings.recorder, own)
    fixes = record_fixes(walk, drill.drill, settings.recorder, noise, time_zero=zero, rng=fixed)
    shown_rng, logged = stream(seed, "readings").spawn(2)
    shown = display(walk, receiver, strips.reception_m, plane, settings.readings, shown_rng)
    offset = round(float(logged.uniform(*settings.readings.clock_offset_s)), 2)
    firsts = tuple(first_of_two(shown, i) for i in range(len(walk.found)))
    told = _told(noise, settings, fixes)
    recording = Recording(
        begin.run_id,
        _info(settings, begin.searcher),
        zero,
        as_track(fixes, drill.drill),
        as_logged(shown, walk, settings.readings, clock_offset_s=offset, rng=logged),
        record_marks(walk, firsts, plane, settings.recorder, marked),
    )
    return SimulatedRun(recording, _truth(walk, firsts, sources, receiver, plane, told, seed, offset, strips), fixes)


def drawn_plans(names: tuple[str, ...], drill: SimulatedDrill, seed: int) -> dict[str, FaultPlan]:
    """Return a fault plan per transmitter: each fault falls on one of them, drawn."""
    rng, ids = stream(seed, "faults"), [t.id for t in drill.true_transmitters]
    chosen: dict[str, list[str]] = {}
    for name in names:
        chosen.setdefault(ids[int(rng.integers(len(ids)))], []).append(name)
    return {name: drawn_plan(faults, rng) for name, faults in chosen.items()}


def _told(noise: NoiseModel, settings: RunSettings, fixes: Fixes) -> tuple[tuple[str, Any], ...]:
    """Return the noise of a run in words and numbers."""
    slots = () if isinstance(noise, SeriesNoise) else noise.__slots__
    model = (("model", type(noise).__name__), *((name, getattr(noise, name)) for name in slots))
    return (
        *model,
        ("scale", settings.recorder.noise_scale),
        ("spikes", fixes.spikes),
        ("lost_in_gaps", fixes.lost),
        ("reading_relative", settings.readings.relative_noise),
        ("reading_m", settings.readings.noise_m),
        ("reading_lag_s", settings.readings.lag_s),
    )


def _truth(
    walk: Walk,
    firsts: tuple[float, ...],
    sources: tuple[Source, ...],
    receiver: Receiver,
    plane: SlopePlane,
    noise: tuple[tuple[str, Any], ...],
    seed: int,
    clock_offset_s: float,
    strips: StripPlan,
) -> Truth:
    course = course_of(walk)
    phases = true_phases(walk, course, firsts)
    horizontal = plane.to_horizontal(course.plane_m)
    return Truth(
        seed=seed,
        faults=walk.faults,
        time_s=course.time_s,
        plane_m=course.plane_m,
        east_m=horizontal[:, 0],
        north_m=horizontal[:, 1],
        height_m=course.height_m,
        phases=phases,
        searches=tuple(true_search(f, walk, course, receiver, phases) for f in walk.found),
        sources=sources,
        clock_offset_s=clock_offset_s,
        reading_scale=receiver.scale,
        reception_m=strips.reception_m,
        noise=noise,
    )


def _info(settings: RunSettings, searcher: str) -> RunInfo:
    return RunInfo(
        searcher=searcher,
        antennas=settings.searcher.antennas,
        carry_height_m=settings.searcher.carry_height_m,
        fine_height_m=settings.searcher.fine_height_m,
        recorder=settings.recorder.kind,
    )
