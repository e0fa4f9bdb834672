"""Places: shared on ties, with the range that the uncertainty of all totals leaves, and with who is not clearly apart.

Ties share the better place and the next one is left out ("1, 2, 2, 4"). Equal means equal after rounding to the sheet's
resolution. The range of a place is the 90 % interval of the places in `analyzer.events.draw`. Two entries of a table
are not clearly apart where the 90 % interval of the difference of their totals holds zero: its bounds are the halves
of both intervals added in quadrature, for the errors of two runs are independent. Every entry is compared with all.

While results are still to come, who has done more fields is placed before who has done fewer.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from analyzer.events.draw import Drawn, drawn_totals
from analyzer.events.model import FASTEST, OVERALL, Event, EventRules, FieldScore, Place, RunFacts, Standings, Unclear
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import bounds_along

SortKey = tuple[int, float, int]
DONE_STEP, TARGET_STEP = 1e13, 1e9
"""What a field done and a target weigh against a step of the resolution where all three are one number: more than the
others together can make up."""


def all_standings(
    event: Event, scores: Sequence[FieldScore], facts: Mapping[tuple[str, str], RunFacts]
) -> tuple[Standings, ...]:
    """Return the tables of every field and overall, each for all classes and for every class.

    `scores`: those of `field_scores`, from the same `facts`.
    """
    who = {entry.bib: (entry.name, entry.class_id) for entry in event.entries}
    drawn = drawn_totals(event, facts, scores)
    by_scope: dict[str, list[FieldScore]] = {}
    for score in scores:
        by_scope.setdefault(score.drill, []).append(score)
    tables = []
    for scope in (*(field.drill for field in event.fields), OVERALL):
        own = by_scope.get(scope, [])
        near = not_apart(own, event.rules)
        for class_id in ("", *(c.id for c in event.classes)):
            chosen = [s for s in own if class_id in ("", who[s.bib][1])]
            tables.append(Standings(scope, class_id, places(chosen, who, event.rules, drawn[scope], near)))
    return tuple(tables)


def sort_key(score: FieldScore, rules: EventRules) -> SortKey:
    """Return what a score is ordered by, smaller first; its seconds in whole steps of the resolution, half up."""
    seconds = score.seconds.value if score.seconds is not None else math.inf
    steps = math.floor(seconds / rules.resolution_s + 0.5 + 1e-9)
    return (-score.done, 0.0 if rules.kind == FASTEST else -round(score.targets, 6), steps)


def places(
    scores: Iterable[FieldScore],
    who: dict[str, tuple[str, str]],
    rules: EventRules,
    drawn: Drawn | None = None,
    near: Mapping[str, tuple[Unclear, ...]] | None = None,
) -> tuple[Place, ...]:
    """Return the rows of a table: ranked ones by place, then those without one by bib.

    Parameters
    ----------
    scores : iterable of FieldScore
        Of one scope. One without seconds has no place.
    who : dict
        Bib -> name and class.
    rules : EventRules
    drawn : Drawn, optional
        Drawn totals of the scope; without them the range of a place is the place.
    near : mapping, optional
        What `not_apart` returns for the scope; of these scores alone where it is left out.
    """
    given = list(scores)
    timed = [(sort_key(s, rules), s.seconds.value, bib_order(s.bib), s) for s in given if s.seconds is not None]
    ranked = [item[3] for item in sorted(timed, key=lambda item: item[:3])]  # of a shared place, the shorter time first
    keys = [sort_key(s, rules) for s in ranked]
    first = {key: number + 1 for number, key in reversed(list(enumerate(keys)))}
    ranks = [first[key] for key in keys]
    ranges = [(rank, rank) for rank in ranks] if drawn is None else _ranges(ranked, ranks, rules, drawn)
    beside = not_apart(given, rules) if near is None else near
    bibs = {score.bib for score in ranked}
    if len(bibs) < len(beside):  # a class of a scope
        beside = {bib: tuple(u for u in beside[bib] if u.bib in bibs) for bib in bibs}
    rows = [
        Place(rank, score, *who[score.bib], beside[score.bib], *span)
        for rank, score, span in zip(ranks, ranked, ranges, strict=True)
    ]
    rest = sorted((s for s in given if s.seconds is None), key=lambda s: bib_order(s.bib))
    return (*rows, *(Place(None, s, *who[s.bib]) for s in rest))


def _ranges(
    ranked: Sequence[FieldScore], ranks: Sequence[int], rules: EventRules, drawn: Drawn
) -> list[tuple[int, int]]:
    """Return the 90 % range of the places of each score, widened to hold its own place."""
    if not ranked:
        return []
    low, high = bounds_along(drawn_places(ranked, rules, drawn))
    return [(min(rank, math.floor(a)), max(rank, math.ceil(b))) for rank, a, b in zip(ranks, low, high, strict=True)]


def drawn_places(ranked: Sequence[FieldScore], rules: EventRules, drawn: Drawn) -> FloatArray:
    """Return the places (n, draws) of the scores of a table, all with seconds, in the draws of its scope."""
    rows = [drawn.row[score.bib] for score in ranked]
    keys = np.floor(drawn.seconds[rows, 1:] / rules.resolution_s + 0.5 + 1e-9)
    if rules.kind != FASTEST:
        keys -= np.round(drawn.targets[rows, 1:], 6) * TARGET_STEP
    keys -= np.array([[score.done * DONE_STEP] for score in ranked])
    return ranks_of(keys)


def ranks_of(keys: FloatArray) -> FloatArray:
    """Return the ranks (n, draws) of keys (n, draws) within each column, from 1; equal keys share the better one."""
    columns = np.ascontiguousarray(keys.T)
    order = np.argsort(columns, axis=1)
    inorder = np.take_along_axis(columns, order, axis=1)
    begins = np.ones(columns.shape, dtype=bool)
    begins[:, 1:] = inorder[:, 1:] != inorder[:, :-1]
    first = np.maximum.accumulate(np.where(begins, np.arange(1, columns.shape[1] + 1), 0), axis=1)
    ranks = np.empty(columns.shape)
    np.put_along_axis(ranks, order, first.astype(float), axis=1)
    return np.ascontiguousarray(ranks.T)


def not_apart(scores: Iterable[FieldScore], rules: EventRules) -> dict[str, tuple[Unclear, ...]]:
    """Return, by bib, the others of one scope that an entry is not clearly apart from, in the order of their places.

    Those that are equal share a place and are not named; nor are those that have done another number of fields.
    """
    ranked = sorted(
        ((sort_key(s, rules), bib_order(s.bib), s, s.seconds) for s in scores if s.seconds is not None),
        key=lambda item: item[:2],
    )
    if not ranked:
        return {}
    value, low, high = np.array([(f.value, f.low, f.high) for *_, f in ranked]).T
    down, up = value - low, high - value
    gap = value[None, :] - value[:, None]
    least = gap - np.hypot(down[None, :], up[:, None])
    most = gap + np.hypot(up[None, :], down[:, None])
    near = (least <= 0.0) & (most >= 0.0)
    done, targets, fewest, highest = np.array(
        [(s.done, s.targets, s.targets_low, s.targets_high) for _, _, s, _ in ranked]
    ).T
    by_targets = (targets[:, None] != targets[None, :]) & (rules.kind != FASTEST)
    maybe_equal = (fewest[:, None] <= highest[None, :]) & (fewest[None, :] <= highest[:, None])
    tied = np.cumsum([0, *(a != b for (a, *_), (b, *_) in pairwise(ranked))])
    near = np.where(by_targets, maybe_equal, near) & (done[:, None] == done[None, :]) & (tied[:, None] != tied[None, :])
    bibs = np.array([s.bib for _, _, s, _ in ranked], dtype=object)
    rows, others = np.nonzero(near)
    because = np.where(by_targets[near], "targets", "time")
    columns = (bibs[others], gap[near], least[near], most[near], because)
    found = list(map(Unclear, *(column.tolist() for column in columns)))
    begins = np.searchsorted(rows, np.arange(len(bibs) + 1)).tolist()
    return {bib: tuple(found[a:b]) for bib, (a, b) in zip(bibs, pairwise(begins), strict=True)}


def bib_order(bib: str) -> tuple[int, int, str]:
    """Return what bibs are ordered by: numbers by size, then the others by letters."""
    return (0, int(bib), "") if bib.isascii() and bib.isdigit() else (1, 0, bib)
