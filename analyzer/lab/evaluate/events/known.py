"""Simulated events with what is true of them, and their marks as people set them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.pipeline import analyze_paths, fuse_runs
from analyzer.errors import AnalyzerError
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.files.run_facts import facts_of
from analyzer.events.model import OVERALL, Entry, Event, EventClass, EventField, FaultPenalty, RunFacts
from analyzer.lab.evaluate.examined import examined_run
from analyzer.lab.evaluate.true_account import true_kinds
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.settings import DrillSettings
from analyzer.lab.simulate.truth import KnownRun
from analyzer.model.account import FINDINGS
from analyzer.model.drill import Drill
from analyzer.model.recording import Recording
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS

ENTRIES, TRANSMITTERS = 8, (1, 2)
FAULTS = (
    None,
    "off_lowest",
    "wrong_way",
    "off_lowest",
    "standing",
    "narrow_bracketing",
    "extra_lines",
    "late_slow_down",
)
"""What the entries do wrong, in turn: probing beside the lowest reading twice, for the built-in sheet asks for it."""
PLACE = DrillSettings(area_width_m=50.0, area_length_m=60.0, spacing_m=(8.0, 16.0))
EXAMINED = ("readings", "three")
"""Kinds of the second simulator's runs, a field each: one transmitter, and three."""
CLOSE_S = 10.0
"""Between the first and the last of a close finish."""
PENALTY_S = 20.0
"""Seconds of every proposed penalty."""

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class EventRun:
    """A run of an event with what is true of it. `strikes_s`: transmitter -> true time. `right`: (finding, transmitter)
    of what was truly done. `without_log`: facts of the same run without its log, None where that was not looked at."""

    facts: RunFacts
    strikes_s: Mapping[str, float]
    right: frozenset[tuple[str, str]]
    without_log: RunFacts | None = None


@dataclass(frozen=True, slots=True)
class KnownEvent:
    """An event with the runs of its entries by drill and run. `failed`: runs that gave no result."""

    event: Event
    runs: Mapping[Key, EventRun]
    failed: int


def simulated_event(
    seed: int, rules: Rules, *, entries: int = ENTRIES, logs: bool = True, draws: int = DRAWS
) -> KnownEvent:
    """Return a simulated event, measured; `logs`: whether the first entry is looked at without its log as well."""
    fields, runs, failed = [], {}, 0
    for number, count in enumerate(TRANSMITTERS):
        drill = simulate_drill(replace(PLACE, transmitters=count), seed=1000 * seed + number)
        name = f"field_{number + 1}"
        fields.append(EventField(name, name, tuple(t.id for t in drill.drill.transmitters)))
        for bib in range(entries):
            fault = FAULTS[(bib + seed) % len(FAULTS)]
            run = simulate_run(drill, fault=fault, seed=1000 * seed + 100 * (number + 1) + bib, run_id=f"bib-{bib + 1}")
            known = _known(run, drill.drill, rules, without=logs and bib == 0, draws=draws)
            if known is None:
                failed += 1
                continue
            runs[name, f"bib-{bib + 1}"] = known
    return KnownEvent(_event(seed, fields, entries), runs, failed)


def _event(seed: int, fields: list[EventField], entries: int) -> Event:
    """Return the event, with a sheet that proposes a penalty for every finding."""
    sheet = replace(built_in_rules("fastest"), penalties=tuple(FaultPenalty(f, "", PENALTY_S) for f in FINDINGS))
    people = tuple(
        Entry(str(b + 1), f"Invented {b + 1}", "open", tuple((f.drill, f"bib-{b + 1}") for f in fields))
        for b in range(entries)
    )
    return Event(f"simulated {seed}", None, sheet, (EventClass("open", "Open"),), tuple(fields), people)


def examined_event(
    seed: int, rules: Rules, *, entries: int = ENTRIES, logs: bool = True, draws: int = DRAWS
) -> KnownEvent:
    """Return an event of the second simulator's runs, as `simulated_event`.

    Each run has ground of its own there: the runs of a field have their number of transmitters in common, no more. In
    an event every run is fitted alone in any case.
    """
    fields, runs, failed = [], {}, 0
    for number, kind in enumerate(EXAMINED):
        name = f"field_{number + 1}"
        ids: tuple[str, ...] = ()
        for bib in range(entries):
            fault = FAULTS[(bib + seed) % len(FAULTS)]
            made = examined_run(kind, fault, seed=seed, number=100 * (number + 1) + bib)
            ids = tuple(t.id for t in made.drill.transmitters)
            known = _known(made, made.drill, rules, without=logs and bib == 0, draws=draws)
            if known is None:
                failed += 1
                continue
            runs[name, f"bib-{bib + 1}"] = known
        fields.append(EventField(name, name, ids))
    return KnownEvent(_event(seed, fields, entries), runs, failed)


def _known(run: KnownRun, drill: Drill, rules: Rules, *, without: bool, draws: int) -> EventRun | None:
    facts = _facts(run.recording, drill, rules, draws)
    if facts is None:
        return None
    planted = {(f.name, f.transmitter) for f in run.truth.faults}
    holds = true_kinds(run, drill, rules)
    ids = [t.id for t in drill.transmitters]
    right = frozenset(planted | {(kind, who) for kind in holds for who in ids})
    bare = replace(run.recording, readings=None)
    return EventRun(
        facts,
        {s.transmitter: s.probe_hit_s for s in run.truth.searches},
        right,
        _facts(bare, drill, rules, draws) if without else None,
    )


def _facts(recording: Recording, drill: Drill, rules: Rules, draws: int) -> RunFacts | None:
    fused = fuse_runs(drill, [recording], fine_radius_m=rules.fine_radius_m, draws=draws, seed=0)
    result = analyze_paths(fused, drill, [recording], rules)[0]
    if isinstance(result, AnalyzerError):
        return None
    return facts_of(result, source=f"{recording.run_id}.json", marks=("start", "probe_hit"))


def true_totals(known: KnownEvent, times: Mapping[Key, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    """Return scope -> bib -> the total that true times give; entries whose runs were all measured only, overall."""
    out: dict[str, dict[str, float]] = {OVERALL: {}}
    for entry in known.event.entries:
        own = [(drill, max(times[drill, run].values())) for drill, run in entry.runs if (drill, run) in times]
        for drill, total in own:
            out.setdefault(drill, {})[entry.bib] = total
        if len(own) == len(known.event.fields):
            out[OVERALL][entry.bib] = sum(total for _, total in own)
    return out


def marked(
    known: KnownEvent, times: Mapping[Key, Mapping[str, float]], sigma_s: float, rng: np.random.Generator
) -> dict[Key, RunFacts]:
    """Return the facts with strikes as they are marked: true times with the error of the start and of each strike."""
    out = {}
    for key, run in known.runs.items():
        start = rng.normal(0.0, sigma_s)
        struck = [(who, at + rng.normal(0.0, sigma_s) - start) for who, at in times[key].items()]
        struck.sort(key=lambda item: item[1])
        out[key] = replace(run.facts, strikes=tuple((w, at, f"probe_hits[{i}]") for i, (w, at) in enumerate(struck)))
    return out


def close_times(known: KnownEvent) -> dict[Key, dict[str, float]]:
    """Return true times drawn together about the middle one of each field, to `CLOSE_S` from first to last."""
    out = {}
    for field in known.event.fields:
        own = {key: run.strikes_s for key, run in known.runs.items() if key[0] == field.drill}
        last = {key: max(times.values()) for key, times in own.items()}
        middle, span = float(np.median(list(last.values()))), max(last.values()) - min(last.values())
        for key, times in own.items():
            moved = (middle + (last[key] - middle) * CLOSE_S / span) - last[key]
            out[key] = {who: at + moved for who, at in times.items()}
    return out
