"""Places: shared on ties, and marked where two neighbours are not clearly apart.

Ties share the better place and the next one is left out ("1, 2, 2, 4"). Equal means equal after rounding to the sheet's
resolution. Two neighbours are not clearly apart where the 90 % interval of the difference of their totals holds
zero: its bounds are the halves of both intervals added in quadrature, as if their errors were independent.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import groupby

from analyzer.events.model import FASTEST, OVERALL, Event, EventRules, FieldScore, Place, Standings, Unclear
from analyzer.model.figure import difference, holds_zero

SortKey = tuple[float, int]


def all_standings(event: Event, scores: Sequence[FieldScore]) -> tuple[Standings, ...]:
    """Return the tables of every field and overall, each for all classes and for every class."""
    who = {entry.bib: (entry.name, entry.class_id) for entry in event.entries}
    by_scope: dict[str, list[FieldScore]] = {}
    for score in scores:
        by_scope.setdefault(score.drill, []).append(score)
    tables = []
    for scope in (*(field.drill for field in event.fields), OVERALL):
        for class_id in ("", *(c.id for c in event.classes)):
            chosen = [s for s in by_scope.get(scope, []) if class_id in ("", who[s.bib][1])]
            tables.append(Standings(scope, class_id, places(chosen, who, event.rules)))
    return tuple(tables)


def sort_key(score: FieldScore, rules: EventRules) -> SortKey:
    """Return what a score is ordered by, smaller first; its seconds in whole steps of the resolution, half up."""
    seconds = score.seconds.value if score.seconds is not None else math.inf
    steps = math.floor(seconds / rules.resolution_s + 0.5 + 1e-9)
    return (0.0 if rules.kind == FASTEST else -round(score.targets, 6), steps)


def places(scores: Iterable[FieldScore], who: dict[str, tuple[str, str]], rules: EventRules) -> tuple[Place, ...]:
    """Return the rows of a table: ranked ones by place, then those without one by bib.

    Parameters
    ----------
    scores : iterable of FieldScore
        Of one scope. One without seconds has no place.
    who : dict
        Bib -> name and class.
    rules : EventRules
    """
    given = list(scores)
    ranked = sorted(
        ((sort_key(s, rules), bib_order(s.bib), s) for s in given if s.seconds is not None), key=lambda item: item[:2]
    )
    groups = [[item[2] for item in group] for _, group in groupby(ranked, key=lambda item: item[0])]
    rows, rank = [], 1
    for number, group in enumerate(groups):
        beside = [*(groups[number - 1] if number else []), *(groups[number + 1] if number + 1 < len(groups) else [])]
        for score in group:
            unclear = tuple(u for other in beside if (u := unclear_apart(score, other, rules)) is not None)
            rows.append(Place(rank, score, *who[score.bib], unclear))
        rank += len(group)
    rest = sorted((s for s in given if s.seconds is None), key=lambda s: bib_order(s.bib))
    return (*rows, *(Place(None, s, *who[s.bib]) for s in rest))


def unclear_apart(score: FieldScore, other: FieldScore, rules: EventRules) -> Unclear | None:
    """Return why a neighbour is not clearly apart, None where it is; seconds are its total less ours."""
    if score.seconds is None or other.seconds is None:
        return None
    gap = difference(other.seconds, score.seconds)
    if rules.kind != FASTEST and score.targets != other.targets:
        apart = score.targets_low > other.targets_high or other.targets_low > score.targets_high
        return None if apart else Unclear(other.bib, gap.value, gap.low, gap.high, "targets")
    return Unclear(other.bib, gap.value, gap.low, gap.high, "time") if holds_zero(gap) else None


def bib_order(bib: str) -> tuple[int, int, str]:
    """Return what bibs are ordered by: numbers by size, then the others by letters."""
    return (0, int(bib), "") if bib.isascii() and bib.isdigit() else (1, 0, bib)
