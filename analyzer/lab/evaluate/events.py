"""Standings against the truth: simulated events whose true times, places and faults are known.

`python -m analyzer.lab.evaluate.events --events 20 --seed 1`. Each event has eight entries on two small fields, with
one transmitter and with two; each run is fitted alone, as in an event. The rule sheet proposes a penalty for every
finding that there is; no judge says anything. Marks are looked at as the simulator's people set them, and with errors
of the size that the sheet states, drawn many times; and once more with all times drawn together to a close finish.
"""

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.pipeline import analyze_paths, fuse_runs
from analyzer.errors import AnalyzerError
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.files.run_facts import facts_of
from analyzer.events.model import OVERALL, Entry, Event, EventClass, EventField, FaultPenalty, RunFacts, Standings
from analyzer.events.rank import all_standings, ranks_of
from analyzer.events.score import field_scores
from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.true_account import true_kinds
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.scenario import SimulatedDrill, SimulatedRun
from analyzer.lab.simulate.settings import DrillSettings
from analyzer.model.account import FINDINGS
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
CLOSE_S = 10.0
"""Between the first and the last of a close finish."""
REPEATS = 100
PENALTY_S = 20.0
"""Seconds of every proposed penalty."""

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class KnownRun:
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
    runs: Mapping[Key, KnownRun]
    failed: int


@dataclass(slots=True)
class Tally:
    """Counts over events: pairs called clearly apart and those of them in the wrong order; places in their range, and
    those of them that have a range of more than one place."""

    clear: int = 0
    wrong: int = 0
    pairs: int = 0
    places: int = 0
    held: int = 0
    wide: int = 0
    wide_held: int = 0


def simulated_event(
    seed: int, rules: Rules, *, entries: int = ENTRIES, logs: bool = True, draws: int = DRAWS
) -> KnownEvent:
    """Return a simulated event, measured; `logs`: whether the first entry is looked at without its log as well."""
    sheet = replace(built_in_rules("fastest"), penalties=tuple(FaultPenalty(f, "", PENALTY_S) for f in FINDINGS))
    fields, runs, failed = [], {}, 0
    for number, count in enumerate(TRANSMITTERS):
        drill = simulate_drill(replace(PLACE, transmitters=count), seed=1000 * seed + number)
        name = f"field_{number + 1}"
        fields.append(EventField(name, name, tuple(t.id for t in drill.drill.transmitters)))
        for bib in range(entries):
            fault = FAULTS[(bib + seed) % len(FAULTS)]
            run = simulate_run(drill, fault=fault, seed=1000 * seed + 100 * (number + 1) + bib, run_id=f"bib-{bib + 1}")
            known = _known(run, drill, rules, without=logs and bib == 0, draws=draws)
            if known is None:
                failed += 1
                continue
            runs[name, f"bib-{bib + 1}"] = known
    people = tuple(
        Entry(str(b + 1), f"Invented {b + 1}", "open", tuple((f.drill, f"bib-{b + 1}") for f in fields))
        for b in range(entries)
    )
    event = Event(f"simulated {seed}", None, sheet, (EventClass("open", "Open"),), tuple(fields), people)
    return KnownEvent(event, runs, failed)


def _known(run: SimulatedRun, drill: SimulatedDrill, rules: Rules, *, without: bool, draws: int) -> KnownRun | None:
    facts = _facts(run, drill, rules, draws)
    if facts is None:
        return None
    planted = {(f.name, f.transmitter) for f in run.truth.faults}
    holds = true_kinds(run, drill.drill, rules)
    ids = [t.id for t in drill.drill.transmitters]
    right = frozenset(planted | {(kind, who) for kind in holds for who in ids})
    bare = replace(run, recording=replace(run.recording, readings=None))
    return KnownRun(
        facts,
        {s.transmitter: s.probe_hit_s for s in run.truth.searches},
        right,
        _facts(bare, drill, rules, draws) if without else None,
    )


def _facts(run: SimulatedRun, drill: SimulatedDrill, rules: Rules, draws: int) -> RunFacts | None:
    fused = fuse_runs(drill.drill, [run.recording], fine_radius_m=rules.fine_radius_m, draws=draws, seed=0)
    result = analyze_paths(fused, drill.drill, [run.recording], rules)[0]
    if isinstance(result, AnalyzerError):
        return None
    return facts_of(result, source=f"{run.recording.run_id}.json", start_marked=True)


def standings_of(event: Event, facts: Mapping[Key, RunFacts]) -> dict[str, Standings]:
    """Return the tables over all classes by scope."""
    found = all_standings(event, field_scores(event, facts, {}), facts)
    return {table.scope: table for table in found if not table.class_id}


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


def tally(tables: Mapping[str, Standings], true: Mapping[str, Mapping[str, float]], step_s: float, into: Tally) -> None:
    """Count pairs and places of an event's tables against true totals, which are placed as the tables are."""
    for scope, table in tables.items():
        places = [p for p in table.places if p.rank is not None and p.score.bib in true[scope]]
        if len(places) != sum(p.rank is not None for p in table.places):
            continue  # an intermediate ranking has no true place
        totals = np.array([true[scope][p.score.bib] for p in places])
        ranks = ranks_of(np.floor(totals / step_s + 0.5)[:, None])[:, 0]
        for i, (place, rank) in enumerate(zip(places, ranks, strict=True)):
            low, high = place.low or 0, place.high or 0
            held = low <= rank <= high
            into.places, into.held = into.places + 1, into.held + held
            into.wide, into.wide_held = into.wide + (low < high), into.wide_held + (held and low < high)
            near = {u.bib for u in place.unclear}
            for j in range(i + 1, len(places)):
                into.pairs += 1
                if places[j].score.bib not in near and places[j].rank != place.rank:
                    into.clear += 1
                    into.wrong += bool(totals[j] < totals[i])


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


def proposals_of(known: KnownEvent) -> Iterator[tuple[str, float, bool, bool]]:
    """Yield of each proposal its finding, its probability, whether it is true, and whether it adds anything unasked."""
    facts = {key: run.facts for key, run in known.runs.items()}
    scores = {(s.bib, s.drill): s for s in field_scores(known.event, facts, {})}
    for entry in known.event.entries:
        for drill, run in entry.runs:
            score = scores[entry.bib, drill]
            counted = any(line.rule.startswith("penalty.") for line in score.lines)
            for one in score.proposals:
                right = (one.about, one.transmitter) in known.runs[drill, run].right
                yield one.about, one.probability, right, counted


def without_log(known: KnownEvent) -> Iterator[tuple[float, float]]:
    """Yield the total of each run that was looked at without its log too: with it, and without."""
    for key, run in known.runs.items():
        if run.without_log is not None:
            both = []
            for facts in (run.facts, run.without_log):
                found = field_scores(known.event, {**{k: r.facts for k, r in known.runs.items()}, key: facts}, {})
                bib = next(e.bib for e in known.event.entries if key in e.runs)
                score = next(s for s in found if (s.bib, s.drill) == (bib, key[0]))
                both.append(np.nan if score.seconds is None else score.seconds.value)
            yield both[0], both[1]


def report(events: Sequence[KnownEvent], seed: int, repeats: int = REPEATS) -> list[str]:
    """Return the lines of the report."""
    found = [one for known in events for one in proposals_of(known)]
    lines = [
        f"{len(events)} events, {sum(len(e.runs) for e in events)} runs measured, {sum(e.failed for e in events)} not"
    ]
    lines += [_of_proposals("every finding", found)]
    lines += [
        _of_proposals(f"  {name}", [one for one in found if one[0] == name])
        for name in FINDINGS
        if any(one[0] == name for one in found)
    ]
    lines.append(f"proposals that added seconds without a judge: {sum(one[3] for one in found)}")
    logs = [both for known in events for both in without_log(known)]
    lines.append(
        f"runs also scored without their log: {len(logs)}, of another total then: {sum(a != b for a, b in logs)}"
    )
    sigma_s, step_s = events[0].event.rules.mark_sigma_s, events[0].event.rules.resolution_s
    rng = np.random.default_rng([seed, 1])
    people, assumed, close = Tally(), Tally(), Tally()
    for known in events:
        true = {key: run.strikes_s for key, run in known.runs.items()}
        facts = {key: run.facts for key, run in known.runs.items()}
        tally(standings_of(known.event, facts), true_totals(known, true), step_s, people)
        for times, into in ((true, assumed), (close_times(known), close)):
            totals = true_totals(known, times)
            for _ in range(repeats):
                tally(standings_of(known.event, marked(known, times, sigma_s, rng)), totals, step_s, into)
    lines.append(_of_tally("marks as the simulator's people set them", people))
    lines.append(_of_tally(f"marks with errors of {sigma_s:g} s, {repeats} times", assumed))
    lines.append(_of_tally(f"the same, times drawn together to {CLOSE_S:g} s, {repeats} times", close))
    return lines


def _of_proposals(title: str, found: Sequence[tuple[str, float, bool, bool]]) -> str:
    if not found:
        return f"{title}: nothing proposed"
    true, likely = sum(one[2] for one in found), float(np.mean([one[1] for one in found]))
    return f"{title}: {len(found)} proposed at p {likely:.3f} on average, {true} true ({_share(true, len(found))})"


def _of_tally(title: str, t: Tally) -> str:
    return (
        f"{title}: {t.clear} of {t.pairs} pairs clearly apart, {t.wrong} in the wrong order "
        f"({_share(t.wrong, t.clear)}); "
        f"true place in its range {t.held} of {t.places} ({_share(t.held, t.places)}), "
        f"where the range is of several places {t.wide_held} of {t.wide} ({_share(t.wide_held, t.wide)})"
    )


def _share(part: int, whole: int) -> str:
    return f"{100.0 * part / whole:.1f} %" if whole else "-"


def main() -> None:
    """Simulate, measure and print the report."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.lab.evaluate.events", description=__doc__)
    parser.add_argument("--events", type=int, default=20, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="of the first event")
    arguments = parser.parse_args()
    rules = default_rules()
    events = [simulated_event(arguments.seed + n, rules) for n in range(arguments.events)]
    sys.stdout.write("\n".join((*report(events, arguments.seed), "")))


if __name__ == "__main__":
    main()
