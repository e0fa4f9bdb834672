"""What a change of its files did to a run: findings that came and went, and the measures that differ most. No Dash."""

from dataclasses import dataclass

from analyzer.model.account import Search
from analyzer.model.figure import Figure, Measured, NotAssessable, value_of
from analyzer.model.result import RunResult
from dashboard.view_models.run_summary import what_happened
from dashboard.wording import GROUPS, TIERS, as_shown, figure_text, measure_name

MOST = 5
"""Measures that are told; our choice: what fits on a phone."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A measure of one search before and after. `size`: of the difference, over the widths of both intervals."""

    words: str
    size: float


def what_changed(before: RunResult, after: RunResult) -> tuple[str, ...]:
    """Return lines on what differs between two results of one run, the weightiest first; one where nothing does."""
    lines = [*_evidence(before, after), *_score(before, after), *_findings(before, after), *_measures(before, after)]
    return tuple(lines) or ("Nothing: findings, measures and score are as before.",)


def _evidence(before: RunResult, after: RunResult) -> list[str]:
    old, new = (TIERS.get(r.evidence.tier, r.evidence.tier) for r in (before, after))
    return [f"Evidence: {old}; now {new[0].lower()}{new[1:]}."] if old != new else []


def _score(before: RunResult, after: RunResult) -> list[str]:
    old, new = (dict(r.scores.by_phase).get("overall") for r in (before, after))
    if old is None or new is None or _text(old) == _text(new):
        return []
    return [f"Overall score: {_text(old)} before, {_text(new)} now."]


def _findings(before: RunResult, after: RunResult) -> list[str]:
    old, new = ({f.id: f for f in r.findings} for r in (before, after))
    gone = [f"Finding gone: {what_happened(old[i].text)}" for i in old if i not in new]
    return [*[f"New finding: {what_happened(new[i].text)}" for i in new if i not in old], *gone]


def _measures(before: RunResult, after: RunResult) -> list[str]:
    old = {search.transmitter: search for search in before.searches}
    found = [
        difference
        for search in after.searches
        if search.transmitter in old
        for difference in _of_search(old[search.transmitter], search)
    ]
    found.sort(key=lambda d: -d.size)
    more = len(found) - MOST
    lines = [d.words for d in found[:MOST]]
    return [*lines, f"{more} further measures differ." if more > 1 else found[MOST].words] if more > 0 else lines


def _of_search(old: Search, new: Search) -> list[Difference]:
    found = []
    for group, name in GROUPS.items():
        was = dict(getattr(old, group))
        for key, figure in getattr(new, group):
            if key in was and _text(as_shown(group, key, was[key])) != _text(as_shown(group, key, figure)):
                texts = [_text(as_shown(group, key, one)) for one in (was[key], figure)]
                where = f"{name}, transmitter {new.transmitter}"
                words = f"{where}: {measure_name(group, key)} {texts[0]} before, {texts[1]} now."
                found.append(Difference(words, _size(was[key], figure)))
    return found


def _size(old: Measured, new: Measured) -> float:
    """Return how much two figures differ, in widths of their intervals; one that came or went is above all others."""
    if not isinstance(old, Figure) or not isinstance(new, Figure):
        return float("inf")
    width = old.high - old.low + new.high - new.low
    return abs(new.value - old.value) / max(width, 1e-9 + 0.01 * abs(old.value))


def _text(figure: Measured) -> str:
    return "not assessable" if isinstance(figure, NotAssessable) or value_of(figure) is None else figure_text(figure)
