"""Runs held against each other: which, from which moment on, and which differences are clear. No Dash."""

from dataclasses import dataclass, replace
from urllib.parse import parse_qs, urlencode

from analyzer.model.figure import Figure, Measured, difference
from analyzer.model.phases import COARSE, FINE, SIGNAL
from analyzer.model.result import RunResult
from dashboard.view_models.entries import RunEntry
from dashboard.wording import GROUPS

LEAST, MOST = 2, 6
BY_PHASES = "phases"
ALIGNMENTS = {BY_PHASES: "Each phase", "start": "Start", "first_reading": "First reading", "fine_search": "Fine search"}


@dataclass(frozen=True, slots=True)
class Selection:
    """What a page compares. `runs`: in the order of the page; `base`: the run that the others are held against.

    A run of the page's drill has its name, one of another drill has that drill's name and "/" before it.
    """

    runs: tuple[str, ...]
    align: str = BY_PHASES
    base: str = ""

    def query(self) -> str:
        """Return the query part of the address that opens this selection."""
        pairs = [("run", run) for run in self.runs or ("",)] + [("align", self.align)]
        return "?" + urlencode([*pairs, ("base", self.base)] if self.base else pairs)


def reference_of(run: RunEntry, drill: str) -> str:
    """Return how a selection on the page of `drill` names a run."""
    return run.run if run.drill == drill else f"{run.drill}/{run.run}"


def place_of(reference: str, drill: str) -> tuple[str, str]:
    """Return drill and run that a selection on the page of `drill` names."""
    other, _, run = reference.rpartition("/")
    return other or drill, run


def asked_by_address(search: str | None) -> dict[str, object]:
    """Return what the query part of an address asks for, as `selection_of` takes it."""
    query = parse_qs((search or "").removeprefix("?"), keep_blank_values=True)
    return {key: values if key == "run" else values[-1] for key, values in query.items()}


def chosen(selection: Selection, kind: str, value: str, *, known: tuple[str, ...]) -> Selection:
    """Return the selection after a button was pressed: one that takes a run in or out, or sets `align` or `base`.

    Runs stand in the drill's order, not in that of the clicks.
    """
    if kind == "align":
        return replace(selection, align=value)
    if kind == "base":
        return replace(selection, base=value)
    wanted = set(selection.runs) ^ {value}
    runs = tuple(run for run in known if run in wanted)
    return replace(selection, runs=runs, base=selection.base if selection.base in runs else runs[0] if runs else "")


def pressed(selection: Selection, kind: str, value: str) -> bool:
    """Return whether a button of the choice is pressed."""
    return value in {"run": selection.runs, "align": (selection.align,), "base": (selection.base,)}[kind]


def selection_of(
    asked: dict[str, object], *, known: tuple[str, ...], offered: tuple[str, ...] = ()
) -> tuple[Selection, list[str]]:
    """Return the selection of an address and what was not usable in it, in words.

    `asked`: query of the address, a value being a text or a list of texts. `known`: the drill's runs. `offered`: those
    that an address means that names no runs; without any, the first two.
    """
    wanted = asked.get("run", list(offered or known[:LEAST]))
    names = [str(name) for name in (wanted if isinstance(wanted, list) else [wanted]) if name]
    runs = tuple(dict.fromkeys(name for name in names if name in known))
    said = [f"There is no run {name} in this drill." for name in dict.fromkeys(names) if name not in known]
    if len(runs) > MOST:
        said.append(f"At most {MOST} runs are shown side by side; the first {MOST} of {len(runs)} are.")
        runs = runs[:MOST]
    align, base = str(asked.get("align", BY_PHASES)), str(asked.get("base", ""))
    if align not in ALIGNMENTS:
        said.append("What the runs are aligned on could not be read from the link; each phase is taken.")
        align = BY_PHASES
    return Selection(runs, align, base if base in runs else runs[0] if runs else ""), said


def zero_of(result: RunResult, align: str) -> float | None:
    """Return the time of the run that becomes zero, None where the run does not show that moment."""
    if align == "start":
        return 0.0
    if align == "fine_search":
        return next((p.start_s for p in result.phases if p.phase == FINE), None)
    signal = next((p for p in result.phases if p.phase == SIGNAL), None)
    if signal is not None:
        return signal.end_s if signal.end_sigma_s is not None else None
    return next((p.start_s for p in result.phases if p.phase == COARSE), None)


def change_between(base: Measured | None, other: Measured | None) -> Figure | None:
    """Return `other` less `base`; None where one of them is not assessable.

    The errors of the runs are taken as independent. Runs of a drill share the transmitters' places, which would make
    the interval of some differences shorter: what is called clear is.
    """
    if not isinstance(base, Figure) or not isinstance(other, Figure):
        return None
    return difference(other, base)


def transmitters_of(results: list[RunResult]) -> list[str]:
    """Return the ids of all transmitters that some run searched for, in the order of the first run that did."""
    return list(dict.fromkeys(s.transmitter for r in results for s in r.searches))


def measures_of(results: list[RunResult], transmitter: str) -> list[tuple[str, str]]:
    """Return (group, key) of every measure that some run has of the search for a transmitter, in the usual order."""
    searches = [s for r in results for s in r.searches if s.transmitter == transmitter]
    return [
        (group, key)
        for group in GROUPS
        for key in dict.fromkeys(key for s in searches for key, _ in getattr(s, group))
        if any(isinstance(s.figure(group, key), Figure) for s in searches)
    ]


def figure_of(result: RunResult, transmitter: str, group: str, key: str) -> Measured | None:
    """Return one measure of a run, None where the run has no such search or figure."""
    search = next((s for s in result.searches if s.transmitter == transmitter), None)
    return None if search is None else search.figure(group, key)
