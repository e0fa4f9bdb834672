"""An event's folder in its workspace: which run is whose, and the hashes of everything a score rests on."""

import functools
import os
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.events.files.event_toml import EventDraft, checked_points, parse_event_toml
from analyzer.events.files.rules_toml import parse_event_rules
from analyzer.events.model import Event, EventField, EventRules, RunFacts
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.names import DRILL_FILE, MARKS_FILE, RUN_FILE, RUNS
from analyzer.files.rules_toml import default_rules, read_rules_toml
from analyzer.files.run_toml import read_run_toml
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.files.toml_table import nearest
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS, run_endings, track_endings
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.model.drill import Drill
from analyzer.model.rules import Rules
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVERY_DRILL, RULE_SHEETS


@dataclass(frozen=True, slots=True)
class EventFolder:
    """An event as read. `inputs`: path from the workspace -> SHA-256 of every file that the scores rest on.

    `forgotten`: (drill, run) -> what a score rests on, of runs whose searchers were forgotten.
    """

    path: Path
    workspace: Path
    event: Event
    measuring: Rules
    inputs: dict[str, str]
    forgotten: dict[tuple[str, str], RunFacts]

    @property
    def key(self) -> str:
        """The name of the folder."""
        return self.path.name

    def drills(self) -> tuple[Path, ...]:
        """Return the folders of those fields that have runs."""
        folders = (self.workspace / DRILLS / field.drill for field in self.event.fields)
        return tuple(folder for folder in folders if _run_names(folder))


def workspace_of(folder: Path) -> Path:
    """Return the nearest parent folder that holds drills/.

    Raises
    ------
    InputError
        Where there is none.
    """
    found = next((p for p in folder.resolve().parents if (p / DRILLS).is_dir()), None)
    if found is None:
        raise InputError(
            where=str(folder),
            what="no parent folder holds drills/",
            do="put the event into WORKSPACE/events/<event>, beside WORKSPACE/drills",
        )
    return found


def read_event_folder(place: Path | str) -> EventFolder:
    """Return an event, its runs matched with the drills of its workspace.

    Parameters
    ----------
    place : Path or str
        The event's folder, or its event.toml.

    Raises
    ------
    InputError
        As `parse_event_toml`, and where a drill, run, bib or rule sheet is not there, a run has two owners, or one
        recording is used twice.
    """
    folder = Path(place).parent if Path(place).name == EVENT_FILE else Path(place)
    if not (folder / EVENT_FILE).is_file():
        raise InputError(where=str(place), what="there is no event.toml", do="give the folder of an event")
    folder = folder.resolve()
    workspace = workspace_of(folder)
    draft = parse_event_toml(read_bytes(folder / EVENT_FILE))
    rules, files = draft.rules, [folder / EVENT_FILE]
    if rules is None:
        path = _beside(folder, workspace, draft.rules_file, "rules")
        rules, files = parse_event_rules(read_bytes(path), name=path.name), [*files, path]
    measuring = default_rules()
    if draft.measuring_file:
        path = _beside(folder, workspace, draft.measuring_file, "measuring_rules")
        measuring, files = read_rules_toml(path), [*files, path]
    checked_points(draft, rules)
    fields = tuple(_field(workspace, draft, number, rules) for number in range(len(draft.fields)))
    event = _matched(draft, rules, fields, workspace)
    inputs = input_hashes(workspace, (field.drill for field in fields), files)
    return EventFolder(folder, workspace, event, measuring, inputs, {})


def _beside(folder: Path, workspace: Path, name: str, key: str) -> Path:
    where = f"{EVENT_FILE}, [event], {key}"
    if Path(name).name != name:
        raise InputError(
            where=where,
            what=f"{quoted(name)} is no plain name of a file",
            do="put the sheet beside event.toml or into WORKSPACE/rules, and write its name",
        )
    found = next((p for p in (folder / name, workspace / RULE_SHEETS / name) if p.is_file()), None)
    if found is None:
        raise InputError(
            where=where,
            what=f"there is no file {quoted(name)} beside event.toml or in rules/",
            do="put it there, or name another sheet",
        )
    return found


def _field(workspace: Path, draft: EventDraft, number: int, rules: EventRules) -> EventField:
    written = draft.fields[number]
    folder = workspace / DRILLS / written.drill
    if not (folder / DRILL_FILE).is_file():
        known = sorted(p.parent.name for p in workspace.glob(EVERY_DRILL))
        raise InputError(
            where=f"{written.where}, drill",
            what=f"there is no drill {quoted(written.drill)} in drills/",
            do=nearest(written.drill, known),
        )
    drill = _drill(folder)
    ids = tuple(t.id for t in drill.transmitters)
    if rules.targets is not None and rules.targets > len(ids):
        raise InputError(
            where=f"{written.where}, drill",
            what=f"the rule sheet wants {rules.targets} targets, {written.drill} has {len(ids)}",
            do="bury more, or use a sheet with fewer targets",
        )
    limit = written.time_limit_s if written.time_limit_s is not None else drill.time_limit_s
    return EventField(written.drill, written.name, ids, limit)


def _drill(folder: Path) -> Drill:
    """Return a drill that may have no runs yet."""
    data = read_bytes(folder / DRILL_FILE)
    file = waypoint_file(data)
    points = {} if file is None else parse_waypoints(read_bytes(folder / file), name=file)
    try:
        return parse_drill_toml(data, waypoints_of=lambda _: points)
    except InputError as error:
        raise error.under(folder.name) from None


def _run_names(drill: Path) -> tuple[str, ...]:
    runs = drill / RUNS
    return tuple(sorted(p.name for p in runs.iterdir() if p.is_dir() and p.name[0] != ".")) if runs.is_dir() else ()


def _matched(draft: EventDraft, rules: EventRules, fields: tuple[EventField, ...], workspace: Path) -> Event:
    taken: dict[tuple[str, str], str] = {}
    aside: list[str] = []
    for field in fields:
        folder = workspace / DRILLS / field.drill
        runs = _run_names(folder)
        bibs = {run: _bib(folder / RUNS / run) for run in runs}
        own, left = _owners(draft, field.drill, runs, bibs)
        taken |= {(field.drill, bib): run for bib, run in own.items()}
        if left:
            aside.append(
                f"{field.drill}: {len(left)} run{'' if len(left) == 1 else 's'} of no entry set aside: "
                f"{', '.join(left)}"
            )
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
        entries.append(replace(entry, runs=own_runs))
    event = Event(draft.name, draft.date, rules, draft.classes, fields, tuple(entries), draft.judge, tuple(aside))
    _no_recording_twice(event, workspace, draft)
    return event


def _bib(run: Path) -> str:
    """Return the bib that run.toml states, "" where there is none."""
    if not (run / RUN_FILE).is_file():
        return ""
    try:
        return read_run_toml(run / RUN_FILE).bib
    except InputError as error:
        raise error.under(f"{run.parent.parent.name}/runs/{run.name}") from None


def _owners(
    draft: EventDraft, drill: str, runs: tuple[str, ...], bibs: dict[str, str]
) -> tuple[dict[str, str], list[str]]:
    """Return bib -> run of one field, by the entries' words first, then by the bibs of the runs; and runs of nobody."""
    own: dict[str, str] = {}
    for entry in draft.entries:
        run = dict(entry.runs).get(drill)
        if run is None:
            continue
        where = f"{draft.where[entry.bib]}, runs"
        if run not in runs:
            raise InputError(where=where, what=f"there is no run {quoted(run)} in {drill}", do=nearest(run, runs))
        owner = next((bib for bib, theirs in own.items() if theirs == run), None)
        if owner is not None:
            raise InputError(
                where=where,
                what=f"the run {quoted(run)} of {drill} is bib {owner}'s already",
                do="a recording counts for one entry; name the right run",
            )
        if bibs[run] not in ("", entry.bib):
            raise InputError(
                where=where,
                what=f"the run {quoted(run)} of {drill} states the bib {bibs[run]} in its run.toml",
                do=f"name the run of bib {entry.bib}, or mend the bib",
            )
        own[entry.bib] = run
    for run in runs:
        bib = bibs[run]
        place = f"{drill}/runs/{run}/run.toml, bib"
        if bib and bib not in draft.where:
            raise InputError(where=place, what=f"no entry has the bib {bib}", do=nearest(bib, draft.where))
        if bib and bib not in own:
            twin = next((other for other in runs if other != run and bibs[other] == bib), None)
            if twin is not None:
                raise InputError(
                    where=place,
                    what=f"the runs {quoted(run)} and {quoted(twin)} both state the bib {bib}",
                    do="name the one that counts under runs of the entry",
                )
            own[bib] = run
    return own, [run for run in runs if run not in own.values()]


def track_file(run: Path) -> Path | None:
    """Return the track of a run folder, None where there is none."""
    return next((p for p in sorted(run.iterdir()) if p.stem == "track" and p.suffix.lower() in track_endings()), None)


def _no_recording_twice(event: Event, workspace: Path, draft: EventDraft) -> None:
    seen: dict[str, str] = {}
    for entry in event.entries:
        for drill, run in entry.runs:
            track = track_file(workspace / DRILLS / drill / RUNS / run)
            if track is None:
                continue
            digest, here = file_hash(track), f"{drill}/{run} of bib {entry.bib}"
            if digest in seen:
                raise InputError(
                    where=f"{draft.where[entry.bib]}, runs",
                    what=f"one recording is used twice: {track.name} of {here} is that of {seen[digest]}",
                    do="put the right recording into the folder",
                )
            seen[digest] = here


def starts_with_a_mark(run: Path) -> bool:
    """Return whether the run's clock begins with a start mark."""
    try:
        return any(mark.mark == "start" for mark in parse_marks_csv(read_bytes(run / MARKS_FILE)))
    except AnalyzerError:
        return False


def input_hashes(workspace: Path, drills: Iterable[str], files: Iterable[Path]) -> dict[str, str]:
    """Return the SHA-256 of `files` and of every file that the drills are measured from, by path from the workspace.

    A file that is not there any more is left out. All runs of a drill count, for they decide which run is whose.
    """
    found = {path.relative_to(workspace).as_posix(): file_hash(path) for path in files if path.is_file()}
    for drill in drills:
        place = f"{DRILLS}/{drill}"
        for item in _listed(workspace / place):
            if item.name == DRILL_FILE or item.name.lower().endswith(WAYPOINT_ENDINGS):
                found[f"{place}/{item.name}"] = _hash_of(item)
        for run in _listed(workspace / place / RUNS):
            if run.is_dir() and run.name[0] != ".":
                found |= {
                    f"{place}/{RUNS}/{run.name}/{item.name}": _hash_of(item)
                    for item in _listed(Path(run.path))
                    if _is_input(item.name)
                }
    return dict(sorted(found.items()))


def _listed(folder: Path) -> list[os.DirEntry[str]]:
    """Return what is in a folder, nothing where there is no such folder; thousands of files are looked at at once."""
    if not folder.is_dir():
        return []
    with os.scandir(folder) as found:
        return list(found)


def _is_input(name: str) -> bool:
    return name.lower().endswith(run_endings()) and name[0] not in ".~"


def _hash_of(item: os.DirEntry[str]) -> str:
    status = item.stat()
    return _file_hash(item.path, status.st_mtime_ns, status.st_size)


def file_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes; it is taken again where the time or size of the file differs."""
    status = path.stat()
    return _file_hash(str(path), status.st_mtime_ns, status.st_size)


def hash_at(path: str) -> str | None:
    """Return the SHA-256 of a file as `file_hash` does, None where there is no such file."""
    try:
        status = os.stat(path)  # noqa: PTH116 - called for hundreds of files of one page
    except FileNotFoundError:
        return None
    return _file_hash(path, status.st_mtime_ns, status.st_size)


def forget_hashes() -> None:
    """Take every hash anew from the bytes, even of files whose time and size are as they were."""
    _file_hash.cache_clear()


@functools.lru_cache(maxsize=16384)
def _file_hash(path: str, modified_ns: int, size: int) -> str:
    del modified_ns, size
    return sha256_hex(Path(path).read_bytes())
