"""Scores 0..100 by the seconds of the account, and the rule sheet's deductions. See docs/methods/score.md.

    phase   = 100 x reference / (reference + losses) - deductions, at least 0
    overall = the same over the sums of all phases and transmitters; the deductions of a phase count by its share of
              the reference seconds

Losses are the positive values of the account's rows. All is taken from rows and measures as they stand in a result, so
that a result read back can be scored under another sheet.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from analyzer.model.account import AccountRow, PointLoss, Scores, Search
from analyzer.model.figure import Figure, Measured, NotAssessable, exact
from analyzer.model.measures import measure_of
from analyzer.model.phases import COARSE, PHASES, PINPOINT
from analyzer.model.rules import Deduction, Rules

FULL = 100.0
MISSED = "missed"
"""The cause of the points that a transmitter not found costs."""
UNRECORDED_S = 15.0
"""With more of a phase off the record it has no score: as long as the shortest hole of a recording."""
LEAST_REFERENCE_S = 5.0
"""A phase with a shorter reference has no score of its own: one step more would halve it. Our choice."""
LEAST_WAY_M = 0.5
"""A reference that walks less, as in a pinpoint, says nothing of extra metres."""
TINY_S = 1e-9
UNCOUNTED = ("reference", "not_recorded")
UNKNOWN_BORDER = "without readings or a mark the first signal is not known"
HIT_UNSEEN = "the hit is marked, and the recording does not show it"
NOT_TOGETHER = "the files of this run do not fit together"
NO_REFERENCE = "there is no reference searcher to hold it against"


@dataclass(frozen=True, slots=True)
class _Part:
    """What one phase is scored by, over all transmitters: seconds and points, or why it cannot be."""

    reference: tuple[Figure, ...] = ()
    losses: tuple[tuple[str, Figure], ...] = ()
    deductions: tuple[tuple[str, Figure], ...] = ()
    why: str = ""

    @property
    def reference_s(self) -> float:
        """Seconds of the reference searcher."""
        return sum(f.value for f in self.reference)

    @property
    def lost_s(self) -> float:
        """Seconds lost."""
        return sum(f.value for _, f in self.losses)


def score(searches: Sequence[Search], account: Sequence[AccountRow], rules: Rules, *, team: bool = False) -> Scores:
    """Return the scores of a run.

    Parameters
    ----------
    searches : sequence of Search
        One per transmitter of the drill; each that was not found adds the sheet's `missed_s` to the losses.
    account : sequence of AccountRow
        Of the whole run.
    rules : Rules
    team : bool
        Several searchers looked for the same burials: what one did not find is not held against them.
    """
    parts = {p: _part(p, searches, account, rules, team) for p in PHASES if any(r.phase == p for r in account)}
    for row in account:
        if row.cause == "not_assessed":
            parts |= {p: _Part(why=UNKNOWN_BORDER) for p in (row.phase, COARSE)}
    if account and all(row.cause == "not_told_apart" for row in account):
        parts = dict.fromkeys(parts, _Part(why=NOT_TOGETHER))
    for search in searches if account else ():
        if search.found and not any(r.phase == PINPOINT and r.transmitter == search.transmitter for r in account):
            parts |= {PINPOINT: _Part(why=HIT_UNSEEN)}  # found, so nothing is missed; how, nobody knows
    missed_s = 0.0 if team else rules.missed_s * sum(not s.found for s in searches)
    phases: dict[str, Measured] = {p: _of_phase(parts.get(p)) for p in PHASES}
    losses = [lost for p in parts if isinstance(phases[p], Figure) for lost in _points(p, parts[p])]
    overall = _overall(parts, missed_s)
    if missed_s > 0.0 and isinstance(overall, Figure):
        whole_s = missed_s + sum(part.reference_s + part.lost_s for part in parts.values())
        losses.append(PointLoss("overall", FULL * missed_s / whole_s, cause=MISSED))
    return Scores((("overall", overall), *phases.items()), tuple(losses))


def _part(phase: str, searches: Sequence[Search], account: Sequence[AccountRow], rules: Rules, team: bool) -> _Part:
    rows = [r for r in account if r.phase == phase]
    names = {r.transmitter for r in rows}
    reference = {r.transmitter: r for r in rows if r.cause == "reference"}
    unrecorded_s = sum(r.seconds.value for r in rows if r.cause == "not_recorded")
    if unrecorded_s > UNRECORDED_S:
        return _Part(why=f"{unrecorded_s:.0f} s of it were not recorded or held")
    if len(reference) < len(names):
        return _Part(why=NO_REFERENCE)
    asked = [(d, s) for d in rules.deductions if d.phase == phase for s in searches if s.transmitter in names]
    taken = [(d.measure, _deducted(d, search, held=not search.found and not team)) for d, search in asked]
    untold = [f"{_title(measure)}: {f.why}" for measure, f in taken if isinstance(f, NotAssessable)]
    if untold:
        return _Part(why=untold[0])
    lost = [(r.cause, _lost(r, reference[r.transmitter])) for r in rows if r.cause not in UNCOUNTED]
    points = [(measure, _scaled(f, 1.0 / len(names))) for measure, f in taken if isinstance(f, Figure)]
    return _Part(tuple(r.seconds for r in reference.values()), tuple(lost), tuple(points))


def _lost(row: AccountRow, reference: AccountRow) -> Figure:
    """Return the seconds that a row counts as lost; its bounds are the row's, counted the same way."""

    def count(seconds: float) -> float:
        own_s, own_m = reference.seconds.value + seconds, reference.metres + row.metres
        if row.cause != "not_told_apart" or reference.metres < LEAST_WAY_M or own_m <= 0.0:
            return max(seconds, 0.0)
        # Told apart, a fast pace would not make good for long lines: nor does it where they cannot be.
        longer = row.metres * max(own_s, 0.0) / own_m
        return max(longer, 0.0) + max(seconds - longer, 0.0)

    return _through(count, row.seconds)


def _deducted(rule: Deduction, search: Search, *, held: bool) -> Measured:
    """Return the points that a deduction takes from one search, or why that cannot be said; `held`: that it did not end
    with the transmitter counts against the searcher."""
    group, key = rule.measure.split(".", 1)
    figure = search.figure(group, key) or NotAssessable("it was not measured in this run")
    if isinstance(figure, NotAssessable):
        if rule.measure == "coarse.turnaround_s" and isinstance(search.figure("coarse", "wrong_way_m"), Figure):
            return exact(0.0, "points")  # no wrong way to turn round from
        # Who did not find it may never have come so far: nothing good was shown, and nothing is left open.
        return exact(rule.at_most, "points") if held else figure
    return _through(lambda value: min(max((value - rule.free) * rule.points_per_unit, 0.0), rule.at_most), figure)


def _through(function: Callable[[float], float], figure: Figure) -> Figure:
    """Return a monotone function of a figure."""
    value, *ends = (function(v) for v in (figure.value, figure.low, figure.high))
    return Figure(value, min(value, *ends), max(value, *ends), "")


def _scaled(figure: Figure, factor: float) -> Figure:
    return Figure(figure.value * factor, figure.low * factor, figure.high * factor, figure.unit)


def _of_phase(part: _Part | None) -> Measured:
    if part is None:
        return NotAssessable("no such phase in this run")
    if part.why:
        return NotAssessable(part.why)
    if part.reference_s < LEAST_REFERENCE_S:
        return NotAssessable(f"the reference searcher needs {part.reference_s:.0f} s only: too little to score it by")
    return _figure(part.reference, [f for _, f in part.losses], [f for _, f in part.deductions])


def _overall(parts: Mapping[str, _Part], missed_s: float) -> Measured:
    """Return the score of the whole run; not assessable, with the phases named, where one of them could not be."""
    unknown: dict[str, list[str]] = {}
    for phase, part in parts.items():
        if part.why:
            unknown.setdefault(part.why, []).append(phase.replace("_", " "))
    whole_s = sum(part.reference_s for part in parts.values())
    if unknown:
        return NotAssessable("; ".join(f"{' and '.join(phases)} ({why})" for why, phases in unknown.items()))
    if whole_s < LEAST_REFERENCE_S:
        return NotAssessable("no phase of this run could be scored")
    losses = [f for part in parts.values() for _, f in part.losses]
    shares = [(f, part.reference_s / whole_s) for part in parts.values() for _, f in part.deductions]
    reference = [f for part in parts.values() for f in part.reference]
    return _figure(reference, [*losses, exact(missed_s, "s")], [_scaled(f, share) for f, share in shares])


def _figure(reference: Sequence[Figure], losses: Sequence[Figure], deductions: Sequence[Figure]) -> Figure:
    """Return a score. Its interval: the score with each figure at either bound, the changes joined in quadrature."""
    inputs = [*reference, *losses, *deductions]
    upto, after = len(reference), len(reference) + len(losses)

    def points(values: Sequence[float]) -> float:
        reference_s, lost_s = sum(values[:upto]), sum(values[upto:after])
        return max(FULL * (reference_s / max(reference_s + lost_s, TINY_S)) - sum(values[after:]), 0.0)

    values = [f.value for f in inputs]
    value = points(values)
    down = up = 0.0
    for i, figure in enumerate(inputs):
        moved = [points([*values[:i], bound, *values[i + 1 :]]) - value for bound in (figure.low, figure.high)]
        down, up = math.hypot(down, min(moved)), math.hypot(up, max(moved))
    return Figure(value, max(value - down, 0.0), min(value + up, FULL), "points")


def _points(phase: str, part: _Part) -> list[PointLoss]:
    """Return what a phase lost its points to: they add up to what its score lacks of 100."""
    whole_s, taken = part.reference_s + part.lost_s, sum(f.value for _, f in part.deductions)
    left = FULL * part.reference_s / whole_s
    share = min(left / taken, 1.0) if taken > 0.0 else 1.0  # a phase cannot lose more than it has
    by_cause: dict[tuple[str, str], float] = {}
    for cause, figure in part.losses:
        by_cause[cause, ""] = by_cause.get((cause, ""), 0.0) + FULL * figure.value / whole_s
    for measure, figure in part.deductions:
        by_cause["", measure] = by_cause.get(("", measure), 0.0) + share * figure.value
    return [PointLoss(phase, points, *names) for names, points in by_cause.items() if points > 0.0]


def points_of(losses: Sequence[PointLoss], name: str) -> float:
    """Return the points that one cause or measure cost in all phases."""
    return sum(one.points for one in losses if name in (one.cause, one.measure))


def _title(measure: str) -> str:
    found = measure_of(*measure.split(".", 1))
    return measure if found is None else found.title.lower()
