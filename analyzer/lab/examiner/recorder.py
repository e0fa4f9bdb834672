"""What the recorders make of a run: fixes, display log and marks, each with its own imperfections."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.lab.examiner import noise
from analyzer.lab.examiner.person import Shown
from analyzer.lab.examiner.scene import Choices, Scene
from analyzer.lab.examiner.truth import Run


@dataclass(frozen=True)
class Fixes:
    """Recorded positions; ``enu`` from the drill's origin, times in true seconds."""

    time: np.ndarray
    enu: np.ndarray
    hdop: np.ndarray | None
    levels: dict[str, float]
    spikes: int
    gaps: list[tuple[float, float]]


def holes(t: np.ndarray, rng: np.random.Generator, lead: float) -> list[tuple[float, float]]:
    """One to three silences of 5 to 20 s, not in the first ten seconds."""
    out = []
    for _ in range(int(rng.integers(1, 4))):
        begin = float(rng.uniform(t[0] + lead + 10, max(t[-1] - 30, t[0] + lead + 11)))
        out.append((begin, begin + float(rng.uniform(5, 20))))
    return out


def track(run: Run, scene: Scene, ask: Choices, starts_at_zero: bool, rng: np.random.Generator) -> Fixes:
    """Sample the true path and add errors."""
    tr = run.trace
    every = 0.1 if ask.survey else float(rng.choice([1.0, 1.0, 1.0, 0.5, 2.0]))
    phase = 0.0 if starts_at_zero or rng.random() < 0.4 else round(float(rng.uniform(0, every)), 3)
    t = np.arange(phase, tr[-1, 0] - 0.01, every).round(3)
    c, u = (np.interp(t, tr[:, 0], tr[:, i]) for i in (1, 2))
    if ask.lever_m:
        way = np.interp(t, tr[:, 0], np.unwrap(tr[:, 4]))
        c, u = c - ask.lever_m * np.cos(way), u - ask.lever_m * np.sin(way)
    enu = scene.slope.surface_enu(c, u)
    levels: dict[str, float] = {}
    if ask.survey:
        enu[:, :2] += noise.survey(t, 0.02, rng)
        enu[:, 2] += 0.03 * rng.standard_normal(len(t))
    else:
        error, levels = noise.draw(ask.noise, t, rng, ask.noise_file, ask.series)
        enu[:, :2] += error
        enu[:, 2] += rng.normal(0, 8) + noise.gauss_markov(t, 3.0, 120.0, rng)[:, 0]
    keep = np.ones(len(t), dtype=bool)
    spikes, gaps = 0, []
    if ask.spikes:
        hit = np.flatnonzero(rng.random(len(t)) < (0.002 if ask.survey else 0.015))
        hit = hit[hit > 3]
        spikes, around = len(hit), rng.uniform(0, 2 * math.pi, len(hit))
        far = rng.uniform(1, 10, spikes) if ask.survey else rng.uniform(10, 40, spikes)
        enu[hit, 0] += far * np.cos(around)
        enu[hit, 1] += far * np.sin(around)
    if ask.gaps:
        gaps = holes(t, rng, run.lead_s)
        for a, b in gaps:
            keep &= (t < a) | (t > b)
    hdop = None
    if not ask.survey and rng.random() < 0.4:
        hdop = np.round(0.8 + 0.4 * np.abs(noise.gauss_markov(t, 0.5, 60.0, rng)[:, 0]), 1)[keep]
    return Fixes(t[keep], enu[keep], hdop, levels, spikes, gaps)


@dataclass(frozen=True)
class Log:
    """The display log as it will be written."""

    header: list[str]
    rows: list[list[str]]
    offset_s: float
    style: str


def rounded(metres: float, style: str) -> str:
    """Figures as displays show them: tenths close in, whole metres further out."""
    if style == "tenths":
        return f"{metres:.1f}"
    edge = 10.0 if style == "ten" else 5.0
    return f"{metres:.1f}" if metres < edge else f"{metres:.0f}"


def log(
    run: Run, scene: Scene, ask: Choices, stamp: Callable[[float], str], can_elapse: bool, rng: np.random.Generator
) -> Log:
    """Rows from the receiver's memory, or written down from a film (sparse, coarse times)."""
    style = ask.cadence if ask.cadence != "mixed" else str(rng.choice(["pulse", "pulse", "film"]))
    offset = round(float(rng.uniform(-ask.clock_max_s, ask.clock_max_s)), 2)
    figures = str(rng.choice(["ten", "five", "tenths"]))
    many, steer, compass = len(scene.transmitters) > 1, rng.random() < 0.5, rng.random() < 0.3
    swing = rng.normal(0, 5)
    when = str(rng.choice(["time", "elapsed", "minutes"])) if can_elapse else "time"
    drawn = float(rng.choice([0.1, 0.5, 1.0]))
    tick = 0.01 if style != "film" else drawn if ask.tick_s is None else ask.tick_s
    pauses = holes(run.trace[:, 0], rng, run.lead_s) if ask.gaps else []
    kept = _noted(run, style, pauses, rng)
    rows = [(round((s.time - offset) / tick) * tick, s, _false(s.metres, ask, rng)) for s in kept]
    if when != "time" and min((r[0] for r in rows), default=0.0) - run.lead_s < 0:
        when = "time"  # a count from the start mark cannot be negative
    header = ["time" if when == "time" else "elapsed", "reading_m"]
    header += ["transmitter"] * many + ["steer_deg"] * steer + ["heading_deg"] * compass
    lines = []
    for told, s, metres in rows:
        line = [stamp(told) if when == "time" else elapsed(told - run.lead_s, when), rounded(metres, figures)]
        line += [s.name] if many else []
        if steer:
            turn = math.degrees(math.remainder(s.heading - s.arrow, math.pi))
            line.append(f"{turn:.0f}")
        if compass:
            line.append(f"{(bearing(scene, s.heading) + swing + rng.normal(0, 3)) % 360:.0f}")
        lines.append(line)
    return Log(header, lines, offset, f"{style}/{figures}/{when}")


def _noted(run: Run, style: str, pauses: list[tuple[float, float]], rng: np.random.Generator) -> list[Shown]:
    """The rows that are kept: the first two of each transmitter, then all, or from a film one now and then."""
    kept: list[Shown] = []
    count: dict[str, int] = {}
    last = -99.0
    for s in run.shown:
        count[s.name] = count.get(s.name, 0) + 1
        if s.time < run.lead_s:
            continue
        if style == "film" and count[s.name] > 2 and s.time - last < rng.uniform(1.2, 5.0):
            continue
        if count[s.name] > 2 and any(a < s.time < b for a, b in pauses):
            continue
        last = s.time
        kept.append(s)
    return kept


def _false(metres: float, ask: Choices, rng: np.random.Generator) -> float:
    if ask.spikes and rng.random() < 0.015:
        return float(metres * rng.choice([0.5, 1.6, 2.2]))
    return metres


def elapsed(seconds: float, style: str) -> str:
    """Seconds, or mm:ss.s."""
    if style == "elapsed":
        return f"{seconds:.2f}"
    tenths = round(seconds * 10)
    return f"{tenths // 600:02d}:{tenths % 600 / 10:04.1f}"


def bearing(scene: Scene, angle: float) -> float:
    """True bearing of a direction in the slope plane."""
    ax = scene.slope.axes()
    v = math.cos(angle) * ax[0] + math.sin(angle) * ax[1]
    return math.degrees(math.atan2(v[0], v[1])) % 360
