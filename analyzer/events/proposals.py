"""Penalties that the engine proposes for a run, and what the judges made of them.

A finding or a measure takes no second from anybody by itself. What the rule sheet asks for is proposed, with how likely
it is, and counts once a judge has confirmed it.
"""

from collections.abc import Iterable
from dataclasses import replace

from analyzer.errors import Problem
from analyzer.events.model import (
    CONFIRMED,
    REJECTED,
    EventRules,
    FaultPenalty,
    FoundFault,
    JudgeEntry,
    Proposal,
    RunFacts,
)
from analyzer.events.timing import clock
from analyzer.model.account import FINDING_TITLES
from analyzer.model.figure import Figure, exact, share_above
from analyzer.model.measures import measure_of

KINDS = {"confirms": CONFIRMED, "rejects": REJECTED}
"""How a judge says what becomes of a proposal -> its state."""


def proposed(drill: str, rules: EventRules, facts: RunFacts | None) -> tuple[Proposal, ...]:
    """Return what is proposed for a run, in the order of the sheet; nothing for one that was not measured."""
    if facts is None:
        return ()
    found: list[Proposal] = []
    for penalty in rules.penalties:
        if penalty.finding:
            found += [
                _of_finding(drill, penalty, fault, facts) for fault in facts.faults if fault.name == penalty.finding
            ]
            continue
        for name, transmitter, figure, place in facts.measures:
            if name == penalty.measure and isinstance(figure, Figure) and charged(penalty, figure).value > 0.0:
                found.append(_of_measure(drill, penalty, transmitter, figure, place, facts))
    return tuple(found)


def _of_finding(drill: str, penalty: FaultPenalty, fault: FoundFault, facts: RunFacts) -> Proposal:
    return Proposal(
        drill=drill,
        about=fault.name,
        transmitter=fault.transmitter,
        text=f"{FINDING_TITLES.get(fault.name, fault.name)}, {fault.transmitter}, at {clock(fault.from_s)}",
        probability=fault.probability,
        seconds=exact(penalty.seconds, "s"),
        rule=penalty.key,
        rule_value=f"{penalty.seconds:g} s each",
        source=facts.source,
        evidence=fault.place,
        timeline_row=row_at(facts, fault.from_s),
    )


def _of_measure(
    drill: str, penalty: FaultPenalty, transmitter: str, figure: Figure, place: str, facts: RunFacts
) -> Proposal:
    return Proposal(
        drill=drill,
        about=penalty.measure,
        transmitter=transmitter,
        text=f"{_title(penalty.measure)}, {transmitter}",
        probability=share_above(figure, penalty.free),
        seconds=charged(penalty, figure),
        rule=penalty.key,
        rule_value=f"{penalty.seconds:g} s per {figure.unit or 'unit'} beyond {penalty.free:g}",
        source=facts.source,
        evidence=place,
        figure=figure,
    )


def _title(name: str) -> str:
    measure = measure_of(*name.split(".", 1))
    return name if measure is None else measure.title


def charged(penalty: FaultPenalty, figure: Figure) -> Figure:
    """Return the seconds that a penalty by a measure takes, with the interval of the measure."""
    value, low, high = (
        min(max(v - penalty.free, 0.0) * penalty.seconds, penalty.at_most)
        for v in (figure.value, figure.low, figure.high)
    )
    return Figure(value, low, high, "s")


def decided(
    found: Iterable[Proposal], decisions: Iterable[JudgeEntry], *, measured: bool
) -> tuple[tuple[Proposal, ...], list[Problem]]:
    """Return the proposals with the judges' last word on each, and what they decided of something that is not proposed.

    `measured`: whether the run could be measured.
    """
    proposals, wrong = list(found), []
    for decision in decisions:
        if decision.kind not in KINDS:
            continue
        meant = [
            i
            for i, one in enumerate(proposals)
            if one.about == decision.about and decision.transmitter in ("", one.transmitter)
        ]
        if len(meant) == 1:
            place = meant[0]
            proposals[place] = replace(proposals[place], state=KINDS[decision.kind], said=decision.said)
        else:
            wrong.append(_refused(decision, [proposals[i] for i in meant], proposals, measured=measured))
    return tuple(proposals), wrong


def _refused(decision: JudgeEntry, meant: list[Proposal], proposals: list[Proposal], *, measured: bool) -> Problem:
    """Return why a decision cannot stand: it is about nothing that is proposed, or about several things."""
    where = f"event.toml, [[judge]] {decision.number}, {decision.kind}"
    place = f"judge[{decision.number}].{decision.kind}"
    if meant:
        names = ", ".join(one.transmitter for one in meant)
        what = f"{decision.about} is proposed {len(meant)} times for bib {decision.bib} on {decision.drill}"
        return Problem(place, where, what, f"write which as transmitter: {names}")
    of = f" of {decision.transmitter}" if decision.transmitter else ""
    what = f"{decision.about}{of} is not proposed for bib {decision.bib} on {decision.drill}"
    if not measured:
        what += ", whose run is not measured"
    elif proposals:
        what += f"; proposed: {', '.join(f'{one.about} of {one.transmitter}' for one in proposals)}"
    do = "write penalty_s for what you saw yourself" if decision.kind == "confirms" else "remove the entry"
    return Problem(place, where, what, do)


def row_at(facts: RunFacts, at_s: float) -> int | None:
    """Return the row of the timeline in which a moment lies; the last one where it is just past the end."""
    ends = facts.timeline_ends_s
    return next((i for i, end in enumerate(ends) if at_s <= end + 1e-6), len(ends) - 1) if ends else None


def not_seen(rules: EventRules, facts: RunFacts) -> tuple[str, ...]:
    """Return for what nothing can be proposed because the evidence does not tell, in words."""
    lines = []
    if any(penalty.finding for penalty in rules.penalties) and not facts.logged:
        lines.append("no log of the readings: fewer penalties can be proposed")
    asked = {penalty.measure for penalty in rules.penalties if penalty.measure}
    lines += [
        f"{name} of {transmitter} is not known ({figure.why}): nothing can be proposed"
        for name, transmitter, figure, _ in facts.measures
        if name in asked and not isinstance(figure, Figure)
    ]
    return tuple(lines)
