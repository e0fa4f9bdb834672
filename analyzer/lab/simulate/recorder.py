"""What a recorder would have stored of a walk: fixes with error, rounding, gaps and jumps; and the marks."""

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.geometry.slope_plane import LocalFrame, SlopePlane
from analyzer.geometry.timed_path import place_at
from analyzer.lab.simulate.noise_models import MarkovNoise, NoiseModel, WhiteNoise, drawn_two_part, errors_at
from analyzer.lab.simulate.searcher import Walk
from analyzer.lab.simulate.settings import RecorderSettings
from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.drill import Drill
from analyzer.model.recording import Mark, Track

METRES_PER_DEGREE = 111_195.0  # of a great circle on the mean sphere, radius 6 371 008.8 m
KINDS = ("phone", "watch", "survey")


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """Fixes as stored, those before the start included. Arrays (n,); degrees or metres (n, 2) according to `metric`.

    `time_s` from the start; `stored`: latitude, longitude or east, north, already rounded; `decimals` of them.
    """

    time_s: FloatArray
    stored: FloatArray
    elevation_m: FloatArray
    sigma_m: FloatArray
    metric: bool
    decimals: int
    spikes: int = 0
    lost: int = 0

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), stored=(n, 2), elevation_m=(n,), sigma_m=(n,))


def path_at(walk: Walk, time_s: FloatArray) -> FloatArray:
    """Return (n, 2) true slope-plane positions at times (n,), standing before the start and after the end."""
    t = np.array([s.t for s in walk.states])
    xy = np.array([(s.x, s.y) for s in walk.states])
    return place_at(t, xy, time_s)


def drawn_noise(settings: RecorderSettings, rng: np.random.Generator) -> NoiseModel:
    """Return the noise model of the settings, or the default of the kind of recorder."""
    if settings.noise is not None:
        return settings.noise
    return WhiteNoise() if settings.kind == "survey" else drawn_two_part(rng)


def record_fixes(
    walk: Walk,
    drill: Drill,
    settings: RecorderSettings,
    noise: NoiseModel,
    *,
    time_zero: dt.datetime,
    rng: np.random.Generator,
) -> Fixes:
    """Return what the recorder stores, from some seconds before the start to the end of the walk."""
    if settings.kind not in KINDS:
        raise InputError(
            where="recorder", what=f"{quoted(settings.kind)} is not known", do=f"use one of {', '.join(KINDS)}"
        )
    survey = settings.kind == "survey"
    times, wrong, thrown, high, gaps = rng.spawn(5)
    time_s = _fix_times(walk, settings, time_zero, times)
    plane = SlopePlane(drill.slope)
    path = path_at(walk, time_s)
    error = settings.noise_scale * errors_at(noise, time_s, wrong)
    seen, spikes = _with_spikes(plane.to_horizontal(path) + error, settings, time_s, thrown)
    up = drill.origin.elevation_m + path[:, 1] * math.sin(math.radians(drill.slope.angle_deg))
    up = up + (
        0.04 * high.standard_normal(len(up))
        if survey
        else errors_at(MarkovNoise(sigma_m=4.0, time_s=300.0), time_s, high)[:, 0]
    )
    kept = _outside_gaps(settings, time_s, gaps)
    decimals = settings.decimals if settings.decimals is not None else 3 if survey else 7
    stored = seen if survey else LocalFrame(drill.origin).to_degrees(seen[:, 0], seen[:, 1])
    sigma = np.full(len(time_s), 0.02 if survey else np.nan)
    return Fixes(
        time_s[kept],
        np.round(stored, decimals)[kept],
        np.round(up, 2 if survey else 1)[kept],
        sigma[kept],
        metric=survey,
        decimals=decimals,
        spikes=spikes,
        lost=int(np.sum(~kept)),
    )


def _fix_times(walk: Walk, settings: RecorderSettings, time_zero: dt.datetime, rng: np.random.Generator) -> FloatArray:
    """Return fix times: whole seconds of the clock (watch: sometimes 1 to 4 s apart), tenths for survey-grade."""
    fraction = time_zero.microsecond / 1e6
    before, end = float(rng.uniform(*settings.before_start_s)), walk.states[-1].t
    if settings.kind == "survey":
        tenth = fraction % 0.1
        return np.round(np.arange(-math.floor(before * 10.0), math.floor((end + tenth) * 10.0) + 1) / 10.0 - tenth, 6)
    seconds = np.arange(-math.floor(before), math.floor(end + fraction) + 1, dtype=float)
    if settings.kind == "watch" and rng.uniform() < 0.5:
        steps = rng.choice([1, 1, 1, 2, 3, 4], size=len(seconds))
        seconds = seconds[0] + np.concatenate([[0.0], np.cumsum(steps)])
        seconds = seconds[seconds <= end + fraction]
    return np.round(seconds - fraction, 6)


def _with_spikes(
    points: FloatArray, settings: RecorderSettings, time_s: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, int]:
    """Return the points with single fixes thrown 5 to 20 m off, and how many."""
    share = settings.spikes_per_minute * float(np.mean(np.diff(time_s))) / 60.0
    luck = rng.uniform(size=(len(points), 3))
    hit, way, far = luck[:, 0] < share, 2.0 * np.pi * luck[:, 1], 5.0 + 15.0 * luck[:, 2]
    thrown = points + (hit * far)[:, None] * np.column_stack([np.cos(way), np.sin(way)])
    return thrown, int(np.sum(hit))


def _outside_gaps(settings: RecorderSettings, time_s: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Return (n,) whether a fix is kept: gaps of 5 to 30 s begin at random, never before the start."""
    kept = np.ones(len(time_s), dtype=bool)
    begin = 0.0
    while settings.gaps_per_minute > 0.0:
        # Waits between the beginnings of a Poisson process: the same gaps however long the run.
        begin += float(rng.exponential(60.0 / settings.gaps_per_minute))
        if begin >= time_s[-1]:
            break
        kept &= (time_s < begin) | (time_s > begin + float(rng.uniform(5.0, 30.0)))
    return kept


def as_track(fixes: Fixes, drill: Drill, *, before_start: bool = False) -> Track:
    """Return the track as a reader yields it: what lies before the start is set aside unless asked for."""
    use = (fixes.time_s >= 0.0) | before_start
    stored = fixes.stored[use]
    points = stored if fixes.metric else LocalFrame(drill.origin).to_metres(stored[:, 0], stored[:, 1])
    step = 10.0**-fixes.decimals * (1.0 if fixes.metric else METRES_PER_DEGREE)
    stated = fixes.sigma_m[use]
    return Track(
        fixes.time_s[use],
        points[:, 0],
        points[:, 1],
        fixes.elevation_m[use],
        stated,
        np.full(len(stated), np.nan),
        resolution_m=step if step >= 1e-3 else 0.0,
        survey_grade=bool(np.mean(stated <= 0.3) > 0.5),
    )


def record_marks(
    walk: Walk,
    first_readings: tuple[float, ...],
    plane: SlopePlane,
    settings: RecorderSettings,
    rng: np.random.Generator,
) -> tuple[Mark, ...]:
    """Return the marks of the settings in time order, set a moment late as people do; the start is exact."""

    def late(t: float) -> float:
        return round(t + float(rng.uniform(*settings.mark_delay_s)), 1)

    marks = [Mark(0.0, "start")]
    for found, first in zip(walk.found, first_readings, strict=True):
        name = found.source.id
        if not found.at_once:
            marks.append(Mark(late(first), "first_reading", name))
        marks += [Mark(late(found.radius_s), "fine_start", name), Mark(late(found.fine.hit_s), "probe_hit", name)]
    end = walk.found[-1].fine.hit_s
    marks.append(Mark(round(end + 1.5, 1), "finish"))
    hold_s = walk.person.settings.hold_s
    if hold_s > 0.0:
        east, north = plane.to_horizontal(path_at(walk, np.array([end + 1.6])))[0]
        marks.append(Mark(round(end + 1.6, 1), "hold_begin", note=f"{east:.2f} {north:.2f}"))
        marks.append(Mark(round(end + 1.6 + hold_s, 1), "hold_end"))
    return tuple(sorted((m for m in marks if m.mark in settings.marks), key=lambda m: m.time_s))
