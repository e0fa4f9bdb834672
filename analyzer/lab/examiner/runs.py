"""Whole runs from a seed: files as texts, what is true of them, and the same person without the fault."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analyzer.lab.examiner import write
from analyzer.lab.examiner.recorder import log, track
from analyzer.lab.examiner.scene import Choices, Scene, make_scene
from analyzer.lab.examiner.search import LostError
from analyzer.lab.examiner.streams import Lots
from analyzer.lab.examiner.truth import Run, measure, perform

KINDS: dict[str, Choices] = {
    "phone": Choices(),
    "noaxis": Choices(axis_given=False),
    "track": Choices(readings=False),
    "tracknoaxis": Choices(readings=False, axis_given=False),
    "off": Choices(position_off_m=2.5),
    "offnoaxis": Choices(position_off_m=2.5, axis_given=False),
    "real": Choices(noise="file", series="adr"),
    "realnoaxis": Choices(noise="file", series="adr", axis_given=False),
    "realraw": Choices(noise="file", series="psr"),
    "realtrack": Choices(noise="file", series="adr", readings=False),
    "survey": Choices(survey=True),
    "surveynoaxis": Choices(survey=True, axis_given=False),
    "surveyoff": Choices(survey=True, position_off_m=2.5),
    "surveytrack": Choices(survey=True, readings=False),
    "three": Choices(transmitters=3),
    "rough": Choices(spikes=True, gaps=True, quantum_deg=1e-6),
}


PHASES: dict[str, tuple[str, ...]] = {
    "wrong_way": ("coarse_search",),
    "detour": ("coarse_search",),
    "standing": ("coarse_search",),
    "late_slow_down": ("coarse_search", "fine_search"),
    "rushed_bracketing": ("fine_search",),
    "narrow_bracketing": ("fine_search",),
    "oblique_bracketing": ("fine_search",),
    "extra_lines": ("fine_search",),
    "off_lowest": ("fine_search", "pinpoint"),
    "missed_strip": ("signal_search",),
    "covered_twice": ("signal_search",),
    "long_probing": ("pinpoint",),
}
"""Where a fault is made: there its cost is counted."""
SCENES, PEOPLE = 60, 25  # draws until one works out


@dataclass(frozen=True)
class Made:
    """One run: its files by name, and its truth as plain values."""

    files: dict[str, str]
    truth: dict[str, Any]


@dataclass(frozen=True)
class Examined:
    """A drill with one run. ``faultless``: phases and seconds of the same person there without the fault;
    ``cost_s``: what the fault cost in the phases in which it was made, None without a fault."""

    drill_toml: str
    run: Made
    faultless: dict[str, float]
    cost_s: float | None


def examine(ask: Choices, seed: int, index: int) -> Examined:
    """A drill and a run drawn from the numbers, again until the draw works out; ValueError where none does."""
    for attempt in range(SCENES):
        rng = np.random.default_rng([seed, index, attempt])
        scene, clock = make_scene(ask, rng), write.Clock(rng)
        for again in range(PEOPLE):
            key = (seed, index, attempt, 0, again)
            try:
                made = make_run(scene, ask, 0, clock, Lots(*key))
                bare = _phases(scene, replace(ask, fault="none"), Lots(*key))
            except LostError:
                continue
            faultless = lengths(bare)
            cost = None
            if ask.fault != "none":
                faulty = lengths(made.truth["phases"])
                cost = sum(faulty.get(p, 0.0) - faultless.get(p, 0.0) for p in PHASES[ask.fault])
            return Examined(write.drill_toml(scene, ask, clock.base.date().isoformat(), rng), made, faultless, cost)
    raise ValueError(f"no usable draw of {ask.fault} for seed {seed}, number {index}")


def lengths(phases: list[dict[str, Any]]) -> dict[str, float]:
    """Seconds of each kind of phase, over all transmitters."""
    out: dict[str, float] = {}
    for p in phases:
        out[p["phase"]] = out.get(p["phase"], 0.0) + p["end_s"] - p["start_s"]
    return out


def _phases(scene: Scene, ask: Choices, lots: Lots) -> list[dict[str, Any]]:
    lead = _lead(ask, lots)[1]
    run = perform(scene, ask, lead, lots)
    return phases_of(measure(run, scene, ask, _hits(run, lots)))


def _lead(ask: Choices, lots: Lots) -> tuple[str, float]:
    """Which marks there are, and how long the recorder runs before the start."""
    rng = lots("marks")
    drawn, lead = str(rng.choice(["full", "full", "probe"])), round(float(rng.uniform(0, 15)), 1)
    marked = ask.marks if ask.marks != "mixed" else drawn
    return marked, lead if marked == "full" else 0.0


def _hits(run: Run, lots: Lots) -> list[float]:
    """When the strikes are marked: a moment late."""
    delay = lots("marks", 1).uniform(0.0, 0.6, len(run.found))
    return [round(f.strike_s + float(d), 1) for f, d in zip(run.found, delay, strict=True)]


def make_run(scene: Scene, ask: Choices, number: int, clock: write.Clock, lots: Lots) -> Made:
    """One run; raises `LostError` where the draw leads nowhere."""
    marked, lead = _lead(ask, lots)
    run = perform(scene, ask, lead, lots)
    hits = _hits(run, lots)
    searches = measure(run, scene, ask, hits)
    fixes = track(run, scene, ask, marked != "full", lots("track"))
    name, text, style = write.track(fixes, scene, ask, clock, lots("files"))
    files, offset, reading_style = {name: text}, None, None
    if ask.readings:
        rows = log(run, scene, ask, clock, marked == "full", lots("log"))
        files["readings.csv"] = write.readings(rows)
        offset, reading_style = rows.offset_s, rows.style
    marks = make_marks(run, marked, hits, searches, lots("marks", 2))
    if marks:
        files["marks.csv"] = write.marks(marks, len(scene.transmitters) > 1, clock)
    searcher, files["run.toml"] = write.run_toml(run, ask, number, lots("files", 1))
    figures = {
        "searcher": searcher,
        "time_zero": clock(lead),
        "clock_offset_s": offset,
        "reading_scale": run.habits.scale,
        "reading_noise": run.habits.reading_noise,
        "range_m": run.habits.range_m,
        "track_style": style,
        "reading_style": reading_style,
        "noise": "survey" if ask.survey else ask.noise,
        "noise_levels": fixes.levels,
        "spikes": fixes.spikes,
        "gaps": fixes.gaps,
        "marks": marked,
        "finish_s": run.finish_s - lead,
        "carry_height_m": run.habits.carry_m,
        "fine_height_m": run.habits.fine_m,
        "searches": searches,
    }
    truth = write.truth(run, scene, ask, figures, phases_of(searches))
    files["truth.json"] = json.dumps(truth)
    return Made(files, truth)


def make_marks(
    run: Run, marked: str, hits: list[float], searches: list[dict[str, Any]], rng: np.random.Generator
) -> list[tuple[float, str, str]]:
    """A helper presses: exact at the start, late by up to a second elsewhere."""
    if marked == "none":
        return []
    out = [(h, "probe_hit", f.name) for h, f in zip(hits, run.found, strict=True)]
    if marked == "full":
        out.append((run.lead_s, "start", ""))
        out.append((max(round(run.finish_s, 1), hits[-1]), "finish", ""))
        for s in searches:
            for key, mark in (("coarse_start_s", "first_reading"), ("bracket_start_s", "fine_start")):
                if rng.random() < 0.35:
                    t = float(s[key]) + run.lead_s + float(rng.uniform(0.1, 1.0))
                    out.append((round(t, 1), mark, str(s["transmitter"])))
    return out


def phases_of(searches: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Phases in order, without gaps, to the last probe hit."""
    out = []
    for s in searches:
        edges = [s["signal_start_s"], s["coarse_start_s"], s["fine_start_s"], s["settled_s"], s["probe_hit_s"]]
        names = ("signal_search", "coarse_search", "fine_search", "pinpoint")
        for i, phase in enumerate(names):
            if edges[i] != edges[i + 1]:
                out.append(
                    {"phase": phase, "transmitter": s["transmitter"], "start_s": edges[i], "end_s": edges[i + 1]}
                )
    return out
