"""What is counted of simulated events: proposals, pairs and places against the truth, and the lines of the report."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.events.draw import drawn_totals
from analyzer.events.model import Event, RunFacts, Standings
from analyzer.events.rank import all_standings, drawn_places, ranks_of
from analyzer.events.score import field_scores
from analyzer.lab.evaluate.events.known import CLOSE_S, Key, KnownEvent, close_times, marked, true_totals
from analyzer.model.account import FINDINGS

REPEATS = 100


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


def standings_of(event: Event, facts: Mapping[Key, RunFacts]) -> dict[str, Standings]:
    """Return the tables over all classes by scope."""
    found = all_standings(event, field_scores(event, facts, {}), facts)
    return {table.scope: table for table in found if not table.class_id}


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


def share_of_draws(event: Event, facts: Mapping[Key, RunFacts]) -> Iterator[float]:
    """Yield, for each place whose range is of several, the share of the draws that lie in it: more than 90 %, for
    places are whole numbers. As many true places should."""
    scores = field_scores(event, facts, {})
    drawn = drawn_totals(event, facts, scores)
    for table in all_standings(event, scores, facts):
        if table.class_id or table.waiting:
            continue
        places = [p for p in table.places if p.rank is not None]
        for place, own in zip(
            places, drawn_places([p.score for p in places], event.rules, drawn[table.scope]), strict=True
        ):
            low, high = place.low or 0, place.high or 0
            if low < high:
                yield float(np.mean((own >= low) & (own <= high)))


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
    drawn = [
        share
        for known in events
        for share in share_of_draws(known.event, marked(known, close_times(known), sigma_s, rng))
    ]
    lines.append(_of_tally("marks as the simulator's people set them", people))
    lines.append(_of_tally(f"marks with errors of {sigma_s:g} s, {repeats} times", assumed))
    lines.append(_of_tally(f"the same, times drawn together to {CLOSE_S:g} s, {repeats} times", close))
    lines.append(f"  of the draws themselves, in ranges of several places: {100.0 * float(np.mean(drawn)):.1f} %")
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
