"""Totals drawn within their uncertainty: what all totals may truly be, at once.

Each mark of a run errs by itself (normal, the sheet's `mark_sigma_s`). The start mark of a run is one mark: its error
is in every strike of that run alike, and in no other run. A strike near the limit is in time in some draws and late in
others. A confirmed penalty by a measure is drawn from the interval of the measure, each side normal for itself. Fields
are runs of their own and err independently, as do entries. What judges and the rule sheet add is exact.

Column 0 is what was counted, columns 1.. are draws. The draws of an entry on a field hang on its bib and the drill
alone, so who else takes part changes none of them.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from analyzer.events.model import CONFIRMED, FASTEST, OVERALL, Event, EventField, EventRules, FieldScore, RunFacts
from analyzer.events.timing import limit_of
from analyzer.files.source import sha256_hex
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import HALF_90, Figure

DRAWN = 200
"""How often totals are drawn. Our choice, because 200 entries are then placed anew within 0.1 s, and a tail of 5 %
still holds ten draws; the errors of each mark are spread evenly over their distribution (a Latin hypercube)."""
EVEN = np.array([[NormalDist().inv_cdf((k + 0.5) / DRAWN) for k in range(DRAWN)]])
SEED_DIGITS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Totals of one scope. `seconds`, `targets`: (entries, 1 + DRAWN), NaN in the rows of entries without a place;
    `row`: bib -> row."""

    seconds: FloatArray
    targets: FloatArray
    row: dict[str, int]


def drawn_totals(
    event: Event, facts: Mapping[tuple[str, str], RunFacts], scores: Sequence[FieldScore]
) -> dict[str, Drawn]:
    """Return the drawn totals of every field and overall; `facts`: (drill, run) -> what was measured."""
    by_scope: dict[str, list[FieldScore]] = {}
    for score in scores:
        by_scope.setdefault(score.drill, []).append(score)
    found = {f.drill: _of_field(event, f, facts, by_scope.get(f.drill, [])) for f in event.fields}
    found[OVERALL] = _overall(event, by_scope.get(OVERALL, []), found)
    return found


def _of_field(
    event: Event, field: EventField, facts: Mapping[tuple[str, str], RunFacts], scores: Sequence[FieldScore]
) -> Drawn:
    rules, limit = event.rules, limit_of(field, event.rules)[0]
    struck_s = _struck(field, facts, scores, rules)
    last_s, struck = np.full(struck_s.shape[1:], -np.inf), np.zeros(struck_s.shape[1:])
    for own in struck_s:
        in_time = own <= limit  # not so of NaN
        struck += in_time
        np.maximum(last_s, own, out=last_s, where=in_time)
    if rules.kind == FASTEST:
        missed_s = 0.0 if field.team else rules.missed_transmitter_s
        # A draw in which no strike is in time is no result: its time is infinite, behind all that have one.
        seconds = np.where(struck > 0, last_s + missed_s * (len(field.transmitters) - struck), np.inf)
    else:
        full = struck == (rules.targets or len(field.transmitters))
        seconds = np.where(full | math.isinf(limit), np.maximum(last_s, 0.0), limit)
    for number, score in enumerate(scores):
        told = [line for line in score.lines if line.rule.startswith(("judge.", "penalty."))]
        if told:
            exact = math.fsum(line.seconds for line in told if not isinstance(line.figure, Figure))
            seconds[number] += exact + _by_measures(event, score)
            struck[number] += math.fsum(line.points for line in told)
        if score.seconds is None:
            seconds[number], struck[number] = np.nan, np.nan
    return Drawn(seconds, struck, {score.bib: i for i, score in enumerate(scores)})


def _struck(
    field: EventField, facts: Mapping[tuple[str, str], RunFacts], scores: Sequence[FieldScore], rules: EventRules
) -> FloatArray:
    """Return when each strike that may count truly was (strikes, entries, 1 + DRAWN), NaN where there is none."""
    count = min(rules.targets or len(field.transmitters), len(field.transmitters))
    found = np.full((count, len(scores), 1 + DRAWN), np.nan)
    for number, score in enumerate(scores):
        if score.seconds is None:
            continue
        strikes = facts[field.drill, score.run].strikes
        own = np.array([at_s for who, at_s, _ in strikes if who in field.transmitters][:count])
        if own.size:
            errors = rules.mark_sigma_s * _errors(field.drill, score.bib, 1 + count)
            found[: own.size, number, 0] = own
            found[: own.size, number, 1:] = own[:, None] + errors[1 : 1 + own.size] - errors[0]
    return found


@lru_cache(maxsize=4096)
def _errors(drill: str, bib: str, marks: int) -> FloatArray:
    """Return the errors of a run's marks (marks, DRAWN) in standard deviations: the start's, then the strikes'."""
    return _spread(np.random.default_rng([_number(drill, bib), marks]), marks)


def _spread(rng: np.random.Generator, count: int) -> FloatArray:
    """Return normal deviates (count, DRAWN): in each row evenly over their distribution, in an order of its own."""
    return rng.permuted(EVEN.repeat(count, axis=0), axis=1)


def forget() -> None:
    """Draw every error anew, equal to what it was, as in a new process."""
    _errors.cache_clear()


def _number(drill: str, bib: str) -> int:
    """Return a number that hangs on a drill and a bib alone, and is the same in every process."""
    return int(sha256_hex(f"{drill}/{bib}".encode())[:SEED_DIGITS], 16)


def _by_measures(event: Event, score: FieldScore) -> FloatArray:
    """Return the seconds (1 + DRAWN,) of confirmed penalties by measures, drawn from the measures' intervals."""
    seconds = np.zeros(1 + DRAWN)
    confirmed = [p for p in score.proposals if p.state == CONFIRMED]
    for number, figure, rule in ((i, p.figure, p.rule) for i, p in enumerate(confirmed)):
        if not isinstance(figure, Figure):
            continue
        rng = np.random.default_rng([_number(score.drill, score.bib), 0, number])
        penalty = next(p for p in event.rules.penalties if p.key == rule)
        error = np.concatenate([[0.0], _spread(rng, 1)[0]]) / HALF_90
        side = np.where(error > 0.0, figure.high - figure.value, figure.value - figure.low)
        values = figure.value + error * side
        seconds += np.clip((values - penalty.free) * penalty.seconds, 0.0, penalty.at_most)
    return seconds


def _overall(event: Event, scores: Sequence[FieldScore], fields: Mapping[str, Drawn]) -> Drawn:
    """Return the sums over the fields; a field that counts by the rule sheet alone is exact."""
    seconds = np.zeros((len(scores), 1 + DRAWN))
    targets = np.zeros((len(scores), 1 + DRAWN))
    for number, score in enumerate(scores):
        if score.seconds is None:
            seconds[number] = targets[number] = np.nan
            continue
        for line in score.lines:
            own = fields[line.source]
            if line.figure is None:
                seconds[number] += line.seconds
            else:
                seconds[number] += own.seconds[own.row[score.bib]]
                targets[number] += own.targets[own.row[score.bib]]
    return Drawn(seconds, targets, {score.bib: i for i, score in enumerate(scores)})
