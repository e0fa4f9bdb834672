"""What differs most between runs, said only where the difference is clear; and pairs of runs worth a look. No Dash."""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.model.account import NOBODYS_CAUSES
from analyzer.model.figure import Figure
from analyzer.model.people import name_key
from analyzer.model.result import RunResult
from dashboard.view_models.account import REFERENCE, SURE_S, ComparedRow, compared_accounts
from dashboard.view_models.comparison import change_between
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.wording import clock, seconds_interval

MOST_PAIRS = 8


@dataclass(frozen=True, slots=True)
class Pair:
    """Two runs that are offered to be compared. `words`: why, "Ilvo Castrein, first and last"."""

    runs: tuple[str, str]
    words: str


def most_different(results: Sequence[RunResult], base: int) -> str:
    """Return one sentence on the cause that differs most from run `base`, with its interval; "" where none is clear.

    Clear: a second at least lies between the runs, with 95 %. Runs by different rule sheets have different references:
    nothing is said of them.
    """
    if len({result.rules.sha256 for result in results}) > 1:
        return ""
    found = []
    for number, other in enumerate(results):
        if number != base:
            rows = compared_accounts([results[base], other])
            found += [(change, row, number) for row in rows if (change := _clear(row)) is not None]
    if not found:
        return ""
    change, row, number = max(found, key=lambda one: abs(one[0].value))
    names = _names(results)
    word = "more" if change.value > 0.0 else "less"
    low, top = sorted((abs(change.low), abs(change.high)))
    interval = seconds_interval(Figure(abs(change.value), low, top, "s"))
    title, group = f"{row.title[0].lower()}{row.title[1:]}", f"{row.group[0].lower()}{row.group[1:]}"
    return (
        f"What differs most: {names[number]} spent {_time(abs(change.value))} {word} than {names[base]} on "
        f'"{title}" in the {group} (90 %: {interval}).'
    )


def _time(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 59.5 else f"{clock(seconds)} min"


def _clear(row: ComparedRow) -> Figure | None:
    """Return how the second of two runs differs in a cause, None where that is not clear, or no cause of the run."""
    if row.cause in ("", REFERENCE, *NOBODYS_CAUSES) or any(cell.why for cell in row.cells):
        return None
    change = change_between(row.cells[0].figure, row.cells[1].figure)
    return change if change is not None and (change.low >= SURE_S or change.high <= -SURE_S) else None


def _names(results: Sequence[RunResult]) -> list[str]:
    """Return a name for each run; the run's own is added where one searcher has several."""
    names = [result.searcher or result.called for result in results]
    return [
        name if names.count(name) == 1 else f"{name} ({result.called})"
        for name, result in zip(names, results, strict=True)
    ]


def pairs_of(runs: Sequence[RunEntry]) -> list[Pair]:
    """Return pairs of runs to begin with: of each searcher with several runs the first and the last, by name."""
    people: dict[str, list[RunEntry]] = {}
    for run in runs:
        if run.problem is None and name_key(run.searcher):
            people.setdefault(name_key(run.searcher), []).append(run)
    several = [sorted(own, key=_when) for _, own in sorted(people.items()) if len(own) > 1]
    return [Pair((own[0].run, own[-1].run), f"{own[-1].searcher}, first and last") for own in several][:MOST_PAIRS]


def elsewhere(entry: DrillEntry, drills: Sequence[DrillEntry]) -> list[RunEntry]:
    """Return the runs of a drill's searchers in other drills, the newest first."""
    here = {name_key(run.searcher) for run in entry.runs if run.problem is None} - {""}
    others = (run for drill in drills if drill.key != entry.key for run in drill.runs if run.problem is None)
    return sorted((run for run in others if name_key(run.searcher) in here), key=_when, reverse=True)


def _when(run: RunEntry) -> tuple[float, str]:
    return (run.began.timestamp() if run.began is not None else 0.0, run.run)
