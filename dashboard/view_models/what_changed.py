"""What a change of its files did to a run: findings that came and went, and the measures that differ most. No Dash."""

from dataclasses import dataclass

from analyzer.model.account import Search
from analyzer.model.figure import Figure, Measured, NotAssessable, value_of
from analyzer.model.result import RunResult
from dashboard.view_models.run_summary import what_happened
from dashboard.wording import GROUPS, TIERS, as_shown, counted, figure_text, measure_name

MOST = 5
"""Measures that are told; our choice: what fits on a phone."""

NOTHING = "Nothing: findings, measures and score are as before."


@dataclass(frozen=True, slots=True)
class Difference:
    """A measure of one search before and after. `size`: of the difference, over the widths of both intervals."""

    words: str
    size: float


def what_changed(before: RunResult, after: RunResult) -> tuple[str, ...]:
    """Return lines on what differs between two results of one run, the weightiest first; one where nothing does."""
    lines = [*_evidence(before, after), *_searches(before, after), *_score(before, after)]
    lines += [*_findings(before, after), *_measures(before, after)]
    return (*lines, *_made_otherwise(before, after)) if lines else (NOTHING,)


def _made_otherwise(before: RunResult, after: RunResult) -> list[str]:
    """Return a line where more than the run's own files differed, so that not all need come of what was changed."""
    others = [
        {(r.run, r.sha256) for r in result.shared.runs if r.run != result.run_id} if result.shared else set()
        for result in (before, after)
    ]
    also = ["the version of the program"] if before.engine != after.engine else []
    also += ["the rule sheet"] if before.rules.sha256 != after.rules.sha256 else []
    also += ["the other runs that it was measured with"] if others[0] != others[1] else []
    return [f"Not all of this need come of the change: {' and '.join(also)} differed as well."] if also else []


def _evidence(before: RunResult, after: RunResult) -> list[str]:
    old, new = (TIERS.get(r.evidence.tier, r.evidence.tier) for r in (before, after))
    return [f"Evidence: {old}; now {new[0].lower()}{new[1:]}."] if old != new else []


def _searches(before: RunResult, after: RunResult) -> list[str]:
    """Return lines on transmitters that are searched for or found in one of the results only."""
    old, new = ({s.transmitter: s.found for s in r.searches} for r in (before, after))
    lines = [f"A search for transmitter {name} is told now, and was not before." for name in new if name not in old]
    lines += [f"No search for transmitter {name} is told any more." for name in old if name not in new]
    words = {True: "found", False: "not found"}
    both = [name for name in new if name in old and new[name] != old[name]]
    return [*lines, *(f"Transmitter {name}: {words[old[name]]} before, {words[new[name]]} now." for name in both)]


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
    """Return lines on measures that are assessable now or not any more, and on those that differ most."""
    old = {search.transmitter: search for search in before.searches}
    gained: list[str] = []
    lost: list[str] = []
    found: list[Difference] = []
    for search in after.searches:
        if search.transmitter in old:
            found += _of_search(old[search.transmitter], search, gained, lost)
    found.sort(key=lambda d: -d.size)
    lines = [_listed("Assessable now, and not before", gained), _listed("Not assessable any more", lost)]
    lines += [d.words for d in found[:MOST]]
    more = len(found) - MOST
    return [line for line in (*lines, f"{counted(more, 'further measure')} differ less." if more > 0 else "") if line]


def _listed(head: str, names: list[str]) -> str:
    """Return a line with the first names of a list, and how many more there are."""
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return f"{head}: {', '.join(names[:MOST])}{more}." if names else ""


def _of_search(old: Search, new: Search, gained: list[str], lost: list[str]) -> list[Difference]:
    found = []
    for group, name in GROUPS.items():
        was = dict(getattr(old, group))
        have = dict(getattr(new, group))
        for key in dict.fromkeys((*have, *was)):
            none = NotAssessable("it is not measured")
            figures = (was.get(key, none), have.get(key, none))
            known = [isinstance(figure, Figure) for figure in figures]
            measure = measure_name(group, key)
            if known == [True, True]:
                texts = [figure_text(as_shown(group, key, figure)) for figure in figures]
                where = f"{name}, transmitter {new.transmitter}"
                words = f"{where}: {measure} {texts[0]} before, {texts[1]} now."
                found += [Difference(words, _size(*figures))] if texts[0] != texts[1] else []
            elif known != [False, False]:
                (gained if known[1] else lost).append(f"{measure[0].lower()}{measure[1:]}")
    return found


def _size(old: Figure, new: Figure) -> float:
    """Return how much two figures differ, in widths of their intervals; without any, in shares of the value."""
    width = old.high - old.low + new.high - new.low
    return abs(new.value - old.value) / max(width, 1e-9 + 0.01 * abs(old.value))


def _text(figure: Measured) -> str:
    return "not assessable" if isinstance(figure, NotAssessable) or value_of(figure) is None else figure_text(figure)
