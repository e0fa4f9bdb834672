"""All remarks on a run, the dearest first."""

from collections.abc import Sequence

from analyzer.engine.verdict import coarse_remarks, fine_remarks
from analyzer.engine.verdict.remark import Case, Remark
from analyzer.model.account import Finding, MeasuredSearch
from analyzer.model.phases import FINE, PINPOINT, PhaseSpan
from analyzer.model.rules import Rules

REMARKS = (
    coarse_remarks.missed_strip,
    coarse_remarks.covered_twice,
    coarse_remarks.wrong_way,
    coarse_remarks.detour,
    coarse_remarks.standing,
    coarse_remarks.pace,
    coarse_remarks.late_slow_down,
    fine_remarks.rushed,
    fine_remarks.narrow,
    fine_remarks.oblique,
    fine_remarks.extra_lines,
    fine_remarks.off_lowest,
    fine_remarks.long_probing,
)


def findings(searches: Sequence[MeasuredSearch], spans: Sequence[PhaseSpan], rules: Rules) -> tuple[Finding, ...]:
    """Return the findings of a run, sorted by what they cost: seconds, or points by the rule sheet's exchange rate."""
    remarks: list[Remark] = []
    for search in searches:
        case = Case(search, tuple(spans), rules)
        found = [one for look in REMARKS if (one := look(case)) is not None]
        remarks += [one for one in found if on_record(case, one.finding.phase)]
    remarks.sort(key=lambda r: (-r.rank_s, r.finding.from_s, r.finding.id))
    return tuple(r.finding for r in remarks)


def on_record(case: Case, phase: str) -> bool:
    """Return whether a phase is recorded well enough for a remark.

    In a hole of the bracketing or the probing lies what they would be judged by; of the ways to them enough is left.
    """
    if phase not in (FINE, PINPOINT):
        return True
    return all(case.row(p, "not_recorded") is None for p in (FINE, PINPOINT))
