"""The score of an entry on a field, line by line.

Every second and every target has a line that names the evidence and the rule, so that a total can be added up by hand.
Seconds are counted in tenths, so that what is shown adds up to the total that is shown. Findings and measures add
nothing but what a judge has confirmed (`analyzer.events.proposals`).
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from analyzer.errors import FileError, Problem
from analyzer.events.model import (
    CONFIRMED,
    FASTEST,
    Entry,
    Event,
    EventField,
    EventRules,
    FieldScore,
    JudgeEntry,
    Proposal,
    RunFacts,
    ScoreLine,
)
from analyzer.events.overall import overall_score
from analyzer.events.proposals import KINDS, decided, not_seen, proposed, row_at
from analyzer.events.timing import NO_MARKS, STATUS_WORDS, limit_of, strike_half, tenth, with_limit_moved
from analyzer.model.figure import Figure

NOTHING_LOST: Mapping[tuple[str, str], str] = {}
NO_RESULT = ("waiting", "started", "absent", "excluded")


def field_scores(
    event: Event,
    facts: Mapping[tuple[str, str], RunFacts],
    problems: Mapping[tuple[str, str], str],
    lost: Mapping[tuple[str, str], str] = NOTHING_LOST,
) -> tuple[FieldScore, ...]:
    """Return the score of every entry on every field, and overall, in the order of the entries.

    Parameters
    ----------
    event : Event
    facts : mapping
        (drill, run) -> what was measured.
    problems : mapping
        (drill, run) -> why a run could not be measured.
    lost : mapping
        (drill, bib) -> what is said of a run that was scored before and is not there any more.

    Raises
    ------
    FileError
        Where judges confirm or reject what is not proposed: all of it at once.
    """
    judged: dict[tuple[str, str], list[JudgeEntry]] = {}
    for decision in event.judge:
        judged.setdefault((decision.bib, decision.drill), []).append(decision)
    out: list[FieldScore] = []
    wrong: list[Problem] = []
    for entry in event.entries:
        own = []
        for field in event.fields:
            key = (field.drill, dict(entry.runs).get(field.drill, ""))
            decisions = judged.get((entry.bib, field.drill), [])
            found, refused = decided(
                proposed(field.drill, event.rules, facts.get(key)), decisions, measured=key in facts
            )
            wrong += refused
            why = problems.get(key, "") or lost.get((field.drill, entry.bib), "")
            own.append(score_field(entry, field, event.rules, facts.get(key), decisions, found, problem=why))
        out += [*own, overall_score(own, event)]
    if wrong:
        raise FileError("event.toml", wrong)
    return tuple(out)


def score_field(
    entry: Entry,
    field: EventField,
    rules: EventRules,
    facts: RunFacts | None,
    judged: Iterable[JudgeEntry] = (),
    proposals: tuple[Proposal, ...] = (),
    *,
    problem: str = "",
) -> FieldScore:
    """Return the score of an entry on one field; `proposals` with the judges' word; `problem`: why its run could not
    be measured, or that it is lost."""
    decisions = tuple(judged)
    run = dict(entry.runs).get(field.drill, "")
    status = _status(entry, field, decisions, facts, run or problem)
    told = tuple(_decided(d) for d in decisions if d.kind == "status")
    empty = FieldScore(entry.bib, field.drill, run, status, 0.0, 0.0, 0.0, None, told)
    if status in NO_RESULT:
        return replace(empty, why=_why(status, decisions), pending=status in ("waiting", "started"))
    if facts is None or (status == "stopped" and rules.kind == FASTEST and facts.strikes):
        return replace(empty, why=problem or _why(status, decisions), pending=facts is None and status == "finished")
    if status == "finished" and not facts.strikes and not facts.marked:
        why = f"{NO_MARKS}: whether it ended with a hit is not known; add marks.csv, or write stopped"
        return replace(empty, why=why, pending=True)
    scored = _fastest if rules.kind == FASTEST else _targets
    known = (*_start_words(facts), *not_seen(rules, facts))
    return scored(replace(empty, proposals=proposals, known=known), field, rules, facts, decisions)


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
    return "stopped" if facts is not None and not facts.strikes and facts.marked else "finished"


def _why(status: str, decisions: tuple[JudgeEntry, ...]) -> str:
    """Return the word for a status, with the reason and the judge where a judge gave it."""
    last = next((d for d in reversed(decisions) if d.kind == "status"), None)
    return STATUS_WORDS[status] + (f": {last.reason} ({last.by})" if last is not None else "")


def _decided(decision: JudgeEntry) -> ScoreLine:
    what = f"{STATUS_WORDS[decision.status]}: {decision.said}"
    return ScoreLine(what, "judge.status", decision.status, 0.0, 0.0, f"judge entry {decision.number}")


def _begin(facts: RunFacts) -> str:
    return "from the start mark" if facts.start_marked else "from the first fix, for there is no start mark"


def _start_words(facts: RunFacts) -> tuple[str, ...]:
    return () if facts.start_marked else ("the start is not marked: the clock begins with the recording",)


def _missed_lines(
    field: EventField, rules: EventRules, facts: RunFacts, limit_key: str, struck: set[str]
) -> list[ScoreLine]:
    """Return a line for each transmitter that was not struck, or not within the limit; a team's costs nothing."""
    half, lines = strike_half(rules), []
    seconds = 0.0 if field.team else rules.missed_transmitter_s
    missed = [t for t in field.transmitters if t not in struck]
    for transmitter in missed:
        late = next((s for s in facts.strikes if s[0] == transmitter), None)
        what = f"{transmitter} not struck" if late is None else f"{transmitter} struck after the limit ({limit_key})"
        lines.append(
            ScoreLine(
                f"{what}: several searched at once, nobody is charged" if field.team else what,
                "missed_transmitter_s",
                f"{seconds:g} s",
                seconds,
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
    limit, limit_key = limit_of(field, rules)
    struck = [s for s in facts.strikes if s[0] in field.transmitters and s[1] <= limit]
    if not struck:
        why = "no probe hit marked" + (f" within {limit:g} s" if math.isfinite(limit) else "")
        return replace(score, status="stopped", why=why, proposals=())
    who, at_s, place = struck[-1]
    half = strike_half(rules)
    lines = [
        ScoreLine(
            f"time to the last probe hit, {who}, {_begin(facts)}",
            "time",
            "to the last probe hit",
            tenth(at_s),
            0.0,
            facts.source,
            place,
            Figure(at_s, at_s - half, at_s + half, "s"),
            row_at(facts, at_s),
        )
    ]
    lines += _missed_lines(field, rules, facts, limit_key, {s[0] for s in struck})
    confirmed, down, up = _confirmed_lines(score.proposals)
    less, more, sure = with_limit_moved(field, rules, facts)
    if not sure:
        score = replace(score, known=(*score.known, "its only probe hit may have been after the limit"))
    lines += [*confirmed, *_judge_lines(decisions)]
    count = float(len(struck))
    return _totalled(score, lines, (math.hypot(half, down) + less, math.hypot(half, up) + more), (count, count, count))


def _confirmed_lines(proposals: tuple[Proposal, ...]) -> tuple[list[ScoreLine], float, float]:
    """Return a line per confirmed proposal, and how far their sum may lie lower and higher (independent, 90 %)."""
    lines, down, up = [], 0.0, 0.0
    for one in proposals:
        if one.state == CONFIRMED:
            value = one.seconds
            down, up = math.hypot(down, value.value - value.low), math.hypot(up, value.high - value.value)
            lines.append(
                ScoreLine(
                    f"{one.text}; confirmed: {one.said}",
                    one.rule,
                    one.rule_value,
                    tenth(value.value),
                    0.0,
                    one.source,
                    one.evidence,
                    one.figure,
                    one.timeline_row,
                )
            )
    return lines, down, up


def _judge_lines(decisions: tuple[JudgeEntry, ...]) -> list[ScoreLine]:
    lines = []
    for decision in decisions:
        if decision.kind == "status" or decision.kind in KINDS:
            continue
        bonus, unit = decision.kind.startswith("bonus"), "s" if decision.kind.endswith("_s") else "points"
        # Seconds are a burden, points are a merit: a bonus takes seconds off and adds points.
        seconds = (-decision.amount if bonus else decision.amount) if unit == "s" else 0.0
        points = (decision.amount if bonus else -decision.amount) if unit == "points" else 0.0
        lines.append(
            ScoreLine(
                f"{'bonus' if bonus else 'penalty'}: {decision.said}",
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
    (who, at_s, place), half = strike, strike_half(rules)
    what = f"{who} struck {'in time' if counts else 'too late'}, {_begin(facts)}"
    figure = Figure(at_s, at_s - half, at_s + half, "s")
    return ScoreLine(what, *limit, 0.0, float(counts), facts.source, place, figure, row_at(facts, at_s))


def _targets(
    score: FieldScore, field: EventField, rules: EventRules, facts: RunFacts, decisions: tuple[JudgeEntry, ...]
) -> FieldScore:
    limit, limit_key = limit_of(field, rules)
    wanted, half = rules.targets or len(field.transmitters), strike_half(rules)
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
            tenth(stopped_at),
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
    seconds = tenth(math.fsum(line.seconds for line in lines))
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
