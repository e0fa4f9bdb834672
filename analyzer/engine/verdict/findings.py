"""All remarks on a run, the dearest first."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.engine.verdict import coarse_remarks, fine_remarks
from analyzer.engine.verdict.fine_remarks import UNTOLD_AT_MOST
from analyzer.engine.verdict.remark import Case, Remark
from analyzer.model.account import POSSIBLE_FROM, Finding, MeasuredSearch
from analyzer.model.clock import clock
from analyzer.model.phases import FINE, PINPOINT, PhaseSpan
from analyzer.model.rules import Rules

POSSIBLY = {
    "missed_strip": "You may have left a strip out at {start} and come back to it at {end}.",
    "covered_twice": "From {start} to {end} you may have searched ground that you had already covered.",
    "wrong_way": "Between {start} and {end} you may have walked away from the transmitter.",
    "detour": "From {start} to {end} you may have been off the line that the arrow shows, at some cost.",
    "standing": "About {start} you may have stood still on the way in.",
    "pace": "Between {start} and {end} you may have been slower than the reference pace.",
    "late_slow_down": "At 3 m, about {start}, you may still have been going fast.",
    "rushed_bracketing": "You may have bracketed faster than the display follows.",
    "narrow_bracketing": "Your brackets may have ended before the reading had clearly risen.",
    "oblique_bracketing": "Your second line may not have crossed the first at a right angle.",
    "extra_lines": "Between {start} and {end} you may have walked more lines than one cross.",
    "off_lowest": "You may have begun to probe beside the lowest reading.",
    "long_probing": "The probing may have taken longer than it needs.",
}
"""What is said of a remark that is possible only; one for each."""
OF_WHOLE_BRACKETS = ("narrow_bracketing", "oblique_bracketing", "extra_lines", "off_lowest")
REMARKS = (
    coarse_remarks.missed_strip,
    coarse_remarks.covered_twice,
    coarse_remarks.wrong_way,
    coarse_remarks.detour,
    coarse_remarks.standing,
    coarse_remarks.pace,
    coarse_remarks.late_slow_down,
    fine_remarks.rushed_bracketing,
    fine_remarks.narrow_bracketing,
    fine_remarks.oblique_bracketing,
    fine_remarks.extra_lines,
    fine_remarks.off_lowest,
    fine_remarks.long_probing,
)


@dataclass(frozen=True, slots=True)
class Findings:
    """What is said of a run, and what may have been so, the dearest first."""

    said: tuple[Finding, ...]
    possible: tuple[Finding, ...]


def findings(searches: Sequence[MeasuredSearch], spans: Sequence[PhaseSpan], rules: Rules) -> Findings:
    """Return the findings of a run, sorted by what they cost: seconds, or what they rank as.

    What is not worth a remark, and what is less likely than `POSSIBLE_FROM`, is not told at all.
    """
    told = [r for r in remarks(searches, spans, rules) if r.worth]
    possible = [r for r in told if not r.said and r.finding.probability >= POSSIBLE_FROM]
    return Findings(
        tuple(r.finding for r in told if r.said), tuple(replace(r.finding, text=in_doubt(r.finding)) for r in possible)
    )


def remarks(searches: Sequence[MeasuredSearch], spans: Sequence[PhaseSpan], rules: Rules) -> list[Remark]:
    """Return all remarks that have a sign in a run, however likely and however small, the dearest first."""
    found: list[Remark] = []
    for search in searches:
        case = Case(search, tuple(spans), rules)
        own = [one for look in REMARKS if (one := look(case)) is not None]
        found += [if_finished(case, one) for one in own if on_record(case, one.finding.phase)]
    return sorted(found, key=lambda r: (-r.rank_s, r.finding.from_s, r.finding.id))


def on_record(case: Case, phase: str) -> bool:
    """Return whether a phase is recorded well enough for a remark.

    In a hole of the bracketing or the probing lies what they would be judged by; of the ways to them enough is left.
    """
    if phase not in (FINE, PINPOINT):
        return True
    return all(case.row(p, "not_recorded") is None for p in (FINE, PINPOINT))


def if_finished(case: Case, one: Remark) -> Remark:
    """Return a remark on a whole bracket as possible at most where no hit tells that it came to its end.

    A recording may end within it, and of lines that it cuts off nobody knows the rest. Without a probing nothing is
    said at all.
    """
    probing = case.span(PINPOINT)
    if one.finding.id.split(":", 1)[0] not in OF_WHOLE_BRACKETS or (probing is not None and probing.hit_s is not None):
        return one
    likely = 0.0 if probing is None else min(one.finding.probability, UNTOLD_AT_MOST)
    return replace(one, finding=replace(one.finding, probability=likely))


def in_doubt(finding: Finding) -> str:
    """Return what may have been so, in words that blame nobody."""
    name = finding.id.split(":", 1)[0]
    return POSSIBLY[name].format(start=clock(finding.from_s), end=clock(finding.to_s))
