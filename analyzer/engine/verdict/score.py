"""Scores 0..100 from the ledger and the measures, by the rule sheet.

Every point lost is one entry: seconds that the reference searcher would not have spent, by cause, or a measure beyond
what the sheet leaves free. The entries of a phase add up to what its score lacks of 100. Unexplained time costs
nothing: what the evidence cannot explain is nobody's fault.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.model.account import LedgerRow, PointLoss, Scores, Search
from analyzer.model.figure import HALF_90, Figure, Measured, NotAssessable
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.rules import Deduction, Rules

FREE = ("on_reference", "unexplained")
UNSCORED_SIGNAL = "without readings or a mark the first signal is not known"


@dataclass(frozen=True, slots=True)
class _Loss:
    """Points lost with the bounds of what they may be. `points` is what counts."""

    points: float
    low: float
    high: float
    measure: str
    rows: tuple[int, ...]


def score(searches: Sequence[Search], rows: Sequence[LedgerRow], spans: Sequence[PhaseSpan], rules: Rules) -> Scores:
    """Return the scores of a run.

    Parameters
    ----------
    searches : sequence of Search
        One per transmitter of the drill. One that was not found loses all points of the phases it never reached.
    rows : sequence of LedgerRow
    spans : sequence of PhaseSpan
    rules : Rules
    """
    weights = dict(rules.weights)
    phases: dict[str, Measured] = {}
    losses: list[PointLoss] = []
    for phase in PHASES:
        phases[phase], lost = _phase(phase, searches, rows, spans, rules)
        losses += lost
    overall = _overall(phases, weights)
    return Scores((("overall", overall), *phases.items()), tuple(losses))


def _phase(
    phase: str, searches: Sequence[Search], rows: Sequence[LedgerRow], spans: Sequence[PhaseSpan], rules: Rules
) -> tuple[Measured, list[PointLoss]]:
    counted = [s for s in searches if _counts(phase, s, spans)]
    if not counted:
        return NotAssessable("no such phase in this run"), []
    if phase == SIGNAL and any(math.isnan(s.end_sigma_s) for s in spans if s.phase == SIGNAL):
        return NotAssessable(UNSCORED_SIGNAL), []
    share, down, up, losses = 1.0 / len(counted), 0.0, 0.0, []
    for search in counted:
        own = _capped(_losses(phase, search, rows, spans, rules))
        losses += [PointLoss(phase, one.points * share, one.measure, one.rows) for one in own if one.points > 0.0]
        down += sum(((one.high - one.points) * share) ** 2 for one in own)
        up += sum(((one.points - one.low) * share) ** 2 for one in own)
    value = 100.0 - sum(one.points for one in losses)
    value = value if value > 1e-9 else 0.0
    low, high = max(value - math.sqrt(down), 0.0), min(value + math.sqrt(up), 100.0)
    return Figure(value, low, high, "points"), losses


def _counts(phase: str, search: Search, spans: Sequence[PhaseSpan]) -> bool:
    reached = any(s.phase == phase and s.transmitter == search.transmitter for s in spans)
    return reached or (phase != SIGNAL and not search.found)


def _losses(
    phase: str, search: Search, rows: Sequence[LedgerRow], spans: Sequence[PhaseSpan], rules: Rules
) -> list[_Loss]:
    span = next((s for s in spans if s.phase == phase and s.transmitter == search.transmitter), None)
    if span is None:
        return [_Loss(100.0, 100.0, 100.0, "found", ())]
    losses = _seconds_losses(phase, search, rows, span, dict(rules.seconds_points).get(phase, 0.0))
    losses += [lost for d in rules.deductions if d.phase == phase and (lost := _deducted(d, search)) is not None]
    return losses


def _seconds_losses(
    phase: str, search: Search, rows: Sequence[LedgerRow], span: PhaseSpan, per_s: float
) -> list[_Loss]:
    by_cause: dict[str, list[int]] = {}
    for i, row in enumerate(rows):
        if (row.phase, row.transmitter) == (phase, search.transmitter) and row.cause not in FREE:
            by_cause.setdefault(row.cause, []).append(i)
    if not by_cause or per_s <= 0.0:
        return []
    bound = math.hypot(*(0.0 if math.isnan(s) else s for s in (span.start_sigma_s, span.end_sigma_s)))
    losses = []
    for cause, numbers in by_cause.items():
        seconds = sum(rows[i].seconds for i in numbers)
        # The bounds of the phase move the end of its account: one standard error of them each way, 90 %.
        below, above = _seconds_spread(cause, search, HALF_90 * bound / math.sqrt(len(by_cause)))
        losses.append(
            _Loss(
                seconds * per_s,
                max(seconds - below, 0.0) * per_s,
                (seconds + above) * per_s,
                f"ledger.{cause}",
                tuple(numbers),
            )
        )
    return losses


def _seconds_spread(cause: str, search: Search, bound_s: float) -> tuple[float, float]:
    """Return how many seconds fewer or more than stated a cause may have cost (90 %)."""
    name, factor = {"standing": ("standing_s", 1.0), "wrong_way": ("wrong_way_s", 2.0)}.get(cause, ("", 1.0))
    figure = search.figure("coarse", name)
    if not isinstance(figure, Figure):
        return bound_s, bound_s
    return factor * (figure.value - figure.low), factor * (figure.high - figure.value)


def _deducted(rule: Deduction, search: Search) -> _Loss | None:
    group, name = rule.measure.split(".", 1)
    figure = search.figure(group, name)
    if not isinstance(figure, Figure):
        return None

    def points(value: float) -> float:
        return min(max((value - rule.free) * rule.points_per_unit, 0.0), rule.at_most)

    ends = sorted((points(figure.low), points(figure.high)))
    return _Loss(points(figure.value), ends[0], ends[1], rule.measure, ())


def _capped(losses: list[_Loss]) -> list[_Loss]:
    """Return losses scaled to 100 points where they are more: a phase cannot lose more than it has."""
    total = sum(one.points for one in losses)
    if total <= 100.0:
        return losses
    f = 100.0 / total
    return [_Loss(one.points * f, one.low * f, one.high * f, one.measure, one.rows) for one in losses]


def _overall(phases: dict[str, Measured], weights: dict[str, float]) -> Measured:
    """Return the weighted mean of the phases that have a score; their weights are scaled to add up to 1."""
    have = {p: f for p, f in phases.items() if isinstance(f, Figure) and weights.get(p, 0.0) > 0.0}
    total = sum(weights[p] for p in have)
    if not have or not {COARSE, FINE, PINPOINT} & set(have):
        return NotAssessable("no phase of this run could be scored")
    value = sum(weights[p] * f.value for p, f in have.items()) / total
    down = math.sqrt(sum((weights[p] * (f.value - f.low)) ** 2 for p, f in have.items())) / total
    up = math.sqrt(sum((weights[p] * (f.high - f.value)) ** 2 for p, f in have.items())) / total
    return Figure(value, max(value - down, 0.0), min(value + up, 100.0), "points")


def points_of(losses: Sequence[PointLoss], measure: str) -> float:
    """Return the points one measure cost in all phases."""
    return sum(one.points for one in losses if one.measure == measure)
