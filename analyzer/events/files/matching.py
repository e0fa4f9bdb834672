"""Which run of the workspace is whose in an event, and what is left over: told and set aside, never in the way."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.events.files.event_toml import EventDraft, bib_number
from analyzer.events.model import Event, EventField, EventRules
from analyzer.files.folder import track_file
from analyzer.files.hashes import UNREADABLE, hash_at
from analyzer.files.names import RUN_FILE, RUNS
from analyzer.files.run_toml import read_run_toml
from analyzer.files.source import listed
from analyzer.files.toml_table import nearest
from analyzer.model.people import name_key
from analyzer.workspace.layout import DRILLS, EARLIER_ENDING, EVENT_FILE


@dataclass(frozen=True, slots=True)
class Aside:
    """What is told of an event that is scored all the same. `where`, `what`, `do`: as in `AnalyzerError`. `fault`:
    whether it should be mended; else it may be meant so."""

    where: str
    what: str
    do: str
    fault: bool = True

    def __str__(self) -> str:
        """Return the one line that is shown."""
        return " ".join(f"{self.where}: {self.what}; {self.do}".split())


def run_names(drill: Path) -> tuple[str, ...]:
    """Return the run folders of a drill folder."""
    runs = drill / RUNS
    return tuple(p.name for p in listed(runs) if p.is_dir() and p.name[0] != ".") if runs.is_dir() else ()


def matched(
    draft: EventDraft,
    rules: EventRules,
    fields: tuple[EventField, ...],
    workspace: Path,
    forgotten: Mapping[tuple[str, str], str],
    results: Path,
) -> tuple[Event, tuple[Aside, ...]]:
    """Return the event with each entry's runs, and what is told of the rest.

    Parameters
    ----------
    draft : EventDraft
    rules : EventRules
    fields : tuple of EventField
    workspace : Path
    forgotten : mapping
        (drill, run) -> bib, of runs whose searchers were forgotten and whose times are kept.
    results : Path
        The event's folder of results, which may tell of a run that is not there any more.

    Raises
    ------
    InputError
        Where an entry names a run that is another's, has finished without one, two runs state its bib, or one recording
        is used twice.
    """
    taken: dict[tuple[str, str], str] = {}
    aside: list[Aside] = [*_same_names(draft)]
    for field in fields:
        folder = workspace / DRILLS / field.drill
        bibs = {run: bib for (drill, run), bib in forgotten.items() if drill == field.drill}
        bibs |= {run: _bib(folder / RUNS / run, aside) for run in run_names(folder)}
        own, left = _owners(draft, field.drill, bibs, results, aside)
        taken |= {(field.drill, bib): run for bib, run in own.items()}
        aside += _strays(draft, field.drill, {run: bibs[run] for run in left})
    entries = []
    for entry in draft.entries:
        own_runs = tuple((f.drill, taken[(f.drill, entry.bib)]) for f in fields if (f.drill, entry.bib) in taken)
        for drill, status in entry.statuses:
            if status == "finished" and drill not in dict(own_runs):
                raise InputError(
                    where=f"{draft.where[entry.bib]}, status",
                    what=f"bib {entry.bib} has finished {drill} without a run there",
                    do="name the run under runs, or write absent or stopped",
                )
        aside += _absent_with_a_run(draft, entry.bib, dict(entry.statuses), dict(own_runs))
        entries.append(replace(entry, runs=own_runs))
    told = tuple(str(one) for one in aside)
    event = Event(draft.name, draft.date, rules, draft.classes, fields, tuple(entries), draft.judge, told)
    _no_recording_twice(event, workspace, draft)
    return event, tuple(aside)


def _same_names(draft: EventDraft) -> list[Aside]:
    """Return a line for each entry that has the name of another one of its class."""
    first: dict[tuple[str, str], str] = {}
    found = []
    for entry in draft.entries:
        bib = first.setdefault((entry.class_id, name_key(entry.name)), entry.bib)
        if bib != entry.bib:
            what = f"{quoted(entry.name)} is bib {bib} as well, in the same class {quoted(entry.class_id)}"
            do = "take one of the entries out, or write the names so that the two can be told apart"
            found.append(Aside(f"{draft.where[entry.bib]}, name", what, do))
    return found


def _absent_with_a_run(
    draft: EventDraft, bib: str, statuses: Mapping[str, str], runs: Mapping[str, str]
) -> list[Aside]:
    """Return a line for each run of an entry that did not start, by the judges' last word or the organiser's."""
    words = {drill: (status, f"{draft.where[bib]}, status") for drill, status in statuses.items()}
    for decision in draft.judge:
        if decision.bib == bib and decision.kind == "status":
            words[decision.drill] = (decision.status, f"{EVENT_FILE}, [[judge]] {decision.number}, status")
    return [
        Aside(
            where,
            f"bib {bib} is absent on {drill} and has the run {quoted(runs[drill])} there, which does not count",
            "take the status out if they started, or give the run to whom it belongs",
        )
        for drill, (status, where) in words.items()
        if status == "absent" and drill in runs
    ]


def _strays(draft: EventDraft, drill: str, left: Mapping[str, str]) -> list[Aside]:
    """Return a line for each run with a bib that nobody has, and one for those without; `left`: run -> bib."""
    known = {bib_number(bib) for bib in draft.where}
    unknown = {run: bib for run, bib in left.items() if bib and bib_number(bib) not in known}
    found = [
        Aside(
            f"{drill}/{RUNS}/{run}/{RUN_FILE}, bib",
            f"no entry has the bib {bib}: the run is set aside",
            _near(bib, draft.where),
        )
        for run, bib in unknown.items()
    ]
    rest = [run for run in left if run not in unknown]
    if rest:
        what = f"{len(rest)} run{'' if len(rest) == 1 else 's'} of no entry set aside: {', '.join(rest)}"
        found.append(Aside(drill, what, "enter them, or leave it", fault=False))
    return found


def _near(bib: str, bibs: Iterable[str]) -> str:
    """Return what to do about a bib that nobody has; hundreds of bibs are no help to choose from."""
    likely = nearest(bib, bibs)
    return f"mend the bib or enter it ({likely})" if "mean" in likely else "mend the bib or enter it"


def _bib(run: Path, aside: list[Aside]) -> str:
    """Return the bib that run.toml states, "" where there is none or the file cannot be used, which is told."""
    if not (run / RUN_FILE).is_file():
        return ""
    try:
        return read_run_toml(run / RUN_FILE).bib
    except AnalyzerError as error:
        place = f"{run.parent.parent.name}/{RUNS}/{run.name}"
        what = f"{error.what} (no bib is read from it)"
        aside.append(Aside(f"{place}/{error.where}", what, error.do))
        return ""


def _owners(
    draft: EventDraft, drill: str, bibs: Mapping[str, str], results: Path, aside: list[Aside]
) -> tuple[dict[str, str], list[str]]:
    """Return bib -> run of one field, by the entries' words first, then by the bibs of the runs; and runs of nobody.

    `bibs`: run -> the bib that it states, for all runs of the field. An entry that names a run that is not there is
    told in `aside`; it has no run then, not another one that states its bib.
    """
    own: dict[str, str] = {}
    without: set[str] = set()
    for entry in draft.entries:
        run = dict(entry.runs).get(drill)
        if run is None:
            continue
        where = f"{draft.where[entry.bib]}, runs"
        if run not in bibs:
            without.add(entry.bib)
            aside.append(_no_run(where, drill, run, bibs, results, bib=entry.bib))
            continue
        owner = next((bib for bib, theirs in own.items() if theirs == run), None)
        if owner is not None:
            raise InputError(
                where=where,
                what=f"the run {quoted(run)} of {drill} is bib {owner}'s already",
                do="a recording counts for one entry; name the right run",
            )
        if bib_number(bibs[run]) not in ("", bib_number(entry.bib)):
            raise InputError(
                where=where,
                what=f"the run {quoted(run)} of {drill} states the bib {bibs[run]} in its run.toml",
                do=f"name the run of bib {entry.bib}, or mend the bib",
            )
        own[entry.bib] = run
    own |= _by_stated_bibs(draft, drill, bibs, {*own, *without})
    taken = set(own.values())
    return own, [run for run in bibs if run not in taken]


def _by_stated_bibs(draft: EventDraft, drill: str, bibs: Mapping[str, str], settled: set[str]) -> dict[str, str]:
    """Return bib -> run of the entries that name none, by the bibs that the runs state."""
    found: dict[str, str] = {}
    written = {bib_number(bib): bib for bib in draft.where}
    stating: dict[str, list[str]] = {}
    for run, stated in bibs.items():
        stating.setdefault(bib_number(stated), []).append(run)
    for number, runs in stating.items():
        bib = written.get(number, "")
        if not bib or bib in settled:
            continue
        if len(runs) > 1:
            raise InputError(
                where=f"{drill}/{RUNS}/{runs[0]}/{RUN_FILE}, bib",
                what=f"the runs {quoted(runs[0])} and {quoted(runs[1])} both state the bib {bib}",
                do="name the one that counts under runs of the entry",
            )
        found[bib] = runs[0]
    return found


def _no_run(where: str, drill: str, run: str, there: Iterable[str], results: Path, *, bib: str) -> Aside:
    """Return what to say of a run that an entry names and that is not there; of a lost one, that it was there."""
    what = f"there is no run {quoted(run)} in {drill}, so bib {bib} has no result there"
    name = f"{Path(run).name}.json"
    if not any((results / drill / one).is_file() for one in (name, f"{name}{EARLIER_ENDING}")):
        return Aside(where, what, nearest(run, there))
    return Aside(
        where,
        f"{what} any more, though it was measured for this event",
        f"put its folder back into {DRILLS}/{drill}/{RUNS}, or take it out here: the standing of before is kept",
    )


def _no_recording_twice(event: Event, workspace: Path, draft: EventDraft) -> None:
    seen: dict[str, str] = {}
    for entry in event.entries:
        for drill, run in entry.runs:
            track = track_file(workspace / DRILLS / drill / RUNS / run)
            if track is None:
                continue
            digest, here = hash_at(str(track)), f"{drill}/{run} of bib {entry.bib}"
            if digest is None or digest.startswith(UNREADABLE):
                continue  # told when the run is measured
            if digest in seen:
                raise InputError(
                    where=f"{draft.where[entry.bib]}, runs",
                    what=f"one recording is used twice: {track.name} of {here} is that of {seen[digest]}",
                    do="put the right recording into the folder",
                )
            seen[digest] = here
