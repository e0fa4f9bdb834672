"""The score of an entry on a field, line by line.

Every second and every target has a line that names the evidence and the rule, so that a total can be added up by hand.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from analyzer.events.model import (
    FASTEST,
    OVERALL,
    Entry,
    Event,
    EventField,
    EventRules,
    FieldScore,
    JudgeEntry,
    RunFacts,
    ScoreLine,
)
from analyzer.model.figure import HALF_90, Figure

STATUS_WORDS = {
    "waiting": "not yet on the field",
    "started": "on the field",
    "finished": "finished",
    "absent": "did not start",
    "stopped": "did not finish",
    "excluded": "disqualified",
}


def field_scores(
    event: Event, facts: Mapping[tuple[str, str], RunFacts], problems: Mapping[tuple[str, str], str]
) -> tuple[FieldScore, ...]:
    """Return the score of every entry on every field, and overall, in the order of the entries.

    Parameters
    ----------
    event : Event
    facts : mapping
        (drill, run) -> what was measured.
    problems : mapping
        (drill, run) -> why a run could not be measured.
    """
    judged: dict[tuple[str, str], list[JudgeEntry]] = {}
    for decision in event.judge:
        judged.setdefault((decision.bib, decision.drill), []).append(decision)
    out: list[FieldScore] = []
    for entry in event.entries:
        own = []
        for field in event.fields:
            key = (field.drill, dict(entry.runs).get(field.drill, ""))
            own.append(
                score_field(
                    entry,
                    field,
                    event.rules,
                    facts.get(key),
                    judged.get((entry.bib, field.drill), ()),
                    problem=problems.get(key, ""),
                )
            )
        out += [*own, overall_score(own, event)]
    return tuple(out)


def score_field(
    entry: Entry,
    field: EventField,
    rules: EventRules,
    facts: RunFacts | None,
    judged: Iterable[JudgeEntry] = (),
    *,
    problem: str = "",
) -> FieldScore:
    """Return the score of an entry on one field; `problem`: why its run could not be measured."""
    decisions = tuple(judged)
    run = dict(entry.runs).get(field.drill, "")
    status = _status(entry, field, decisions, facts, run)
    told = tuple(_decided(d) for d in decisions if d.kind == "status")
    empty = FieldScore(entry.bib, field.drill, run, status, 0.0, 0.0, 0.0, None, told)
    if status in ("waiting", "started", "absent", "excluded"):
        return replace(empty, why=STATUS_WORDS[status])
    if facts is None or (status == "stopped" and rules.kind == FASTEST and facts.strikes):
        return replace(empty, why=problem or STATUS_WORDS[status])
    if rules.kind == FASTEST:
        return _fastest(empty, field, rules, facts, decisions)
    return _targets(empty, field, rules, facts, decisions)


def _status(
    entry: Entry, field: EventField, decisions: tuple[JudgeEntry, ...], facts: RunFacts | None, run: str
) -> str:
    """Return the status: the judges' last word, else the organiser's, else what the run shows."""
    for decision in reversed(decisions):
        if decision.kind == "status":
            return decision.status
    written = dict(entry.statuses).get(field.drill, "")
    if written:
        return written
    if not run:
        return "waiting"
    return "stopped" if facts is not None and not facts.strikes else "finished"


def _decided(decision: JudgeEntry) -> ScoreLine:
    what = f"{STATUS_WORDS[decision.status]}: {decision.reason} ({decision.by}, {decision.at})"
    return ScoreLine(what, "judge.status", decision.status, 0.0, 0.0, f"judge entry {decision.number}")


def _limit(field: EventField, rules: EventRules) -> tuple[float, str]:
    if rules.time_limit_s is not None:
        return rules.time_limit_s, "time_limit_s"
    return (math.inf, "") if field.time_limit_s is None else (field.time_limit_s, "field.time_limit_s")


def _strike_half(rules: EventRules) -> float:
    """Return half the 90 % interval of a time between two marks set by hand, their errors independent."""
    return HALF_90 * math.sqrt(2.0) * rules.mark_sigma_s


def _row_at(facts: RunFacts, at_s: float) -> int | None:
    """Return the row of the timeline in which a moment lies; the last one where it is just past the end."""
    ends = facts.timeline_ends_s
    return next((i for i, end in enumerate(ends) if at_s <= end + 1e-6), len(ends) - 1) if ends else None


def _begin(facts: RunFacts) -> str:
    return "from the start mark" if facts.start_marked else "from the first fix, for there is no start mark"


def _missed_lines(
    field: EventField, rules: EventRules, facts: RunFacts, limit_key: str, struck: set[str]
) -> list[ScoreLine]:
    """Return a line for each transmitter that was not struck, or not within the limit."""
    half, lines = _strike_half(rules), []
    missed = [t for t in field.transmitters if t not in struck]
    for transmitter in missed:
        late = next((s for s in facts.strikes if s[0] == transmitter), None)
        what = f"{transmitter} not struck" if late is None else f"{transmitter} struck after the limit ({limit_key})"
        lines.append(
            ScoreLine(
                what,
                "missed_transmitter_s",
                f"{rules.missed_transmitter_s:g} s",
                rules.missed_transmitter_s,
                0.0,
                facts.source,
                late[2] if late else "probe_hits",
                Figure(late[1], late[1] - half, late[1] + half, "s") if late else None,
            )
        )
    return lines


def _fastest(
    score: FieldScore, field: EventField, rules: EventRules, facts: RunFacts, decisions: tuple[JudgeEntry, ...]
) -> FieldScore:
    limit, limit_key = _limit(field, rules)
    struck = [s for s in facts.strikes if s[0] in field.transmitters and s[1] <= limit]
    if not struck:
        why = "no probe hit" + (f" within {limit:g} s" if math.isfinite(limit) else "")
        return replace(score, status="stopped", why=why)
    who, at_s, place = struck[-1]
    half = _strike_half(rules)
    lines = [
        ScoreLine(
            f"time to the last probe hit, {who}, {_begin(facts)}",
            "time",
            "to the last probe hit",
            at_s,
            0.0,
            facts.source,
            place,
            Figure(at_s, at_s - half, at_s + half, "s"),
            _row_at(facts, at_s),
        )
    ]
    lines += _missed_lines(field, rules, facts, limit_key, {s[0] for s in struck})
    faults, down, up = _fault_lines(rules, facts)
    lines += [*faults, *_judge_lines(decisions)]
    count = float(len(struck))
    return _totalled(score, lines, (math.hypot(half, down), math.hypot(half, up)), (count, count, count))


def _fault_lines(rules: EventRules, facts: RunFacts) -> tuple[list[ScoreLine], float, float]:
    """Return a line per wrong thing, and how far their sum may lie lower and higher (independent, 90 %)."""
    lines, down, up = [], 0.0, 0.0
    for penalty in rules.penalties:
        if penalty.finding:
            lines += [
                ScoreLine(
                    f"{fault.text}",
                    penalty.key,
                    f"{penalty.seconds:g} s each",
                    penalty.seconds,
                    0.0,
                    facts.source,
                    fault.place,
                    None,
                    _row_at(facts, fault.from_s),
                )
                for fault in facts.faults
                if fault.name == penalty.finding
            ]
            continue
        for name, transmitter, figure, place in facts.measures:
            if name != penalty.measure or not isinstance(figure, Figure):
                continue
            value, low, high = (
                min(max(v - penalty.free, 0.0) * penalty.seconds, penalty.at_most)
                for v in (figure.value, figure.low, figure.high)
            )
            down, up = math.hypot(down, value - low), math.hypot(up, high - value)
            if value > 0.0:
                rule = f"{penalty.seconds:g} s per {figure.unit or 'unit'} beyond {penalty.free:g}"
                lines.append(
                    ScoreLine(
                        f"{penalty.measure}, {transmitter}", penalty.key, rule, value, 0.0, facts.source, place, figure
                    )
                )
    return lines, down, up


def _judge_lines(decisions: tuple[JudgeEntry, ...]) -> list[ScoreLine]:
    lines = []
    for decision in decisions:
        if decision.kind == "status":
            continue
        bonus, unit = decision.kind.startswith("bonus"), "s" if decision.kind.endswith("_s") else "points"
        # Seconds are a burden, points are a merit: a bonus takes seconds off and adds points.
        seconds = (-decision.amount if bonus else decision.amount) if unit == "s" else 0.0
        points = (decision.amount if bonus else -decision.amount) if unit == "points" else 0.0
        lines.append(
            ScoreLine(
                f"{'bonus' if bonus else 'penalty'}: {decision.reason} ({decision.by}, {decision.at})",
                f"judge.{decision.kind}",
                f"{decision.amount:g} {unit}",
                seconds,
                points,
                f"judge entry {decision.number}",
            )
        )
    return lines


def _strike_line(
    facts: RunFacts, rules: EventRules, strike: tuple[str, float, str], *, counts: bool, limit: tuple[str, str]
) -> ScoreLine:
    (who, at_s, place), half = strike, _strike_half(rules)
    what = f"{who} struck {'in time' if counts else 'too late'}, {_begin(facts)}"
    figure = Figure(at_s, at_s - half, at_s + half, "s")
    return ScoreLine(what, *limit, 0.0, float(counts), facts.source, place, figure, _row_at(facts, at_s))


def _targets(
    score: FieldScore, field: EventField, rules: EventRules, facts: RunFacts, decisions: tuple[JudgeEntry, ...]
) -> FieldScore:
    limit, limit_key = _limit(field, rules)
    wanted, half = rules.targets or len(field.transmitters), _strike_half(rules)
    struck = [s for s in facts.strikes if s[0] in field.transmitters][:wanted]
    lines, sure, maybe, last_s = [], 0, 0, 0.0
    rule = f"{limit:g} s" if math.isfinite(limit) else "no limit"
    for who, at_s, place in struck:
        counts = at_s <= limit
        sure, maybe = sure + (at_s + half <= limit), maybe + (at_s - half <= limit)
        last_s = at_s if counts else last_s
        lines.append(
            _strike_line(facts, rules, (who, at_s, place), counts=counts, limit=(limit_key or "targets", rule))
        )
    count = sum(line.points for line in lines)
    stopped_at = last_s if count == wanted or not math.isfinite(limit) else limit
    what = f"clock at target {wanted} of {wanted}" if count == wanted else f"{count:g} of {wanted}: the clock ran out"
    spread = half if stopped_at == last_s else 0.0
    lines.append(
        ScoreLine(
            what,
            "targets",
            f"{wanted}",
            stopped_at,
            0.0,
            facts.source,
            "probe_hits",
            Figure(stopped_at, stopped_at - spread, stopped_at + spread, "s"),
        )
    )
    lines += _judge_lines(decisions)
    done = _totalled(score, lines, (spread, spread), (count, float(sure), float(maybe)))
    return replace(done, passed=count == wanted)


def _totalled(
    score: FieldScore, lines: list[ScoreLine], spread: tuple[float, float], targets: tuple[float, float, float]
) -> FieldScore:
    """Return the score with the sum of its lines; judges' points move the targets with their bounds."""
    seconds = math.fsum(line.seconds for line in lines)
    moved = math.fsum(line.points for line in lines if line.rule.startswith("judge."))
    count, low, high = (value + moved for value in targets)
    return replace(
        score,
        targets=count,
        targets_low=low,
        targets_high=high,
        seconds=Figure(seconds, seconds - spread[0], seconds + spread[1], "s"),
        lines=(*score.lines, *lines),
        why="",
    )


def overall_score(own: list[FieldScore], event: Event) -> FieldScore:
    """Return the sum of an entry's fields, with one line per field; errors of the fields are taken as independent."""
    bib, rules = own[0].bib, event.rules
    lines, low, high, missing = [], 0.0, 0.0, []
    limits = {field.drill: _limit(field, rules)[0] for field in event.fields}
    names = {field.drill: field.name for field in event.fields}
    for score in own:
        seconds, rule = (score.seconds.value, "sum of the fields") if score.seconds is not None else (None, "")
        if score.seconds is not None:
            low = math.hypot(low, score.seconds.value - score.seconds.low)
            high = math.hypot(high, score.seconds.high - score.seconds.value)
        elif score.status in ("absent", "stopped"):
            seconds, rule = _without(rules, limits[score.drill])
        if seconds is None:
            missing.append(f"{names[score.drill]}: {score.why}")
            continue
        lines.append(
            ScoreLine(names[score.drill], "overall", rule, seconds, score.targets, score.drill, "", score.seconds)
        )
    total = math.fsum(line.seconds for line in lines)
    status = next(
        (s for s in ("excluded", "waiting", "started", "absent", "stopped") if any(score.status == s for score in own)),
        "finished",
    )
    count, least, most = (math.fsum(getattr(s, k) for s in own) for k in ("targets", "targets_low", "targets_high"))
    figure = None if missing else Figure(total, total - low, total + high, "s")
    passed = None if rules.kind == FASTEST else all(bool(score.passed) for score in own)
    return FieldScore(bib, OVERALL, "", status, count, least, most, figure, tuple(lines), "; ".join(missing), passed)


def _without(rules: EventRules, limit: float) -> tuple[float | None, str]:
    """Return what a field without a result counts overall, and the rule in words; None where it has no place then."""
    if rules.kind != FASTEST:
        return (limit, "0 targets and the whole limit") if math.isfinite(limit) else (None, "")
    if rules.without_result_s is None:
        return None, ""
    return rules.without_result_s, f"{rules.without_result_s:g} s without a result (without_result_s)"
