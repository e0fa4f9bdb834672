"""Runs changed, moved and deleted by people. What is replaced or deleted goes into the bin first.

Changes take turns, by a lock of the file system: of two who save at once, the second one sees what the first one wrote.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.names import RUN_FILE, RUNS
from analyzer.files.source import disk_error, regular_bytes, write_atomic, write_new
from analyzer.workspace.intake.names import free_name
from analyzer.workspace.intake.originals import sync_folder
from analyzer.workspace.layout import DRILLS, RUNS_LOCK
from analyzer.workspace.lock import locked
from analyzer.workspace.runs.at_hand import (
    READ,
    RunAtHand,
    check_fits,
    check_kinds_stay,
    drill_at_hand,
    file_bytes,
    run_at_hand,
    run_names,
    same_log,
)
from analyzer.workspace.runs.bin import CHANGED, DELETED, MOVED, Note, drop_entry, kept_file, kept_run, new_entry, now
from analyzer.workspace.runs.kept_results import copy_result, drop_result, index_of
from analyzer.workspace.runs.rewrite import Value, rewritten


@contextmanager
def turn(workspace: Path) -> Iterator[None]:
    """Hold the workspace's runs while they are looked at and changed; a disk that refuses is told in one line."""
    try:
        with locked(workspace / DRILLS / RUNS_LOCK):
            yield
    except OSError as error:
        raise disk_error(error) from None


def edit_run(
    workspace: Path, out: Path, drill: str, run: str, changes: Mapping[str, Value], *, sha256: str, what: str
) -> str:
    """Change keys of a run's run.toml, and return the name of the bin's folder with the old one, "" where nothing did.

    Parameters
    ----------
    workspace, out : Path
        `out`: its folder of results.
    drill, run : str
    changes : mapping
        As for `rewritten`.
    sha256 : str
        Of run.toml as it was when the person began, "" where there was none.
    what : str
        What is changed, in words for the bin.

    Raises
    ------
    InputError
        Where the run is gone, run.toml is not what the person saw, the run would be refused by its reader, or the
        workspace cannot be written to; nothing is changed then.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        if found.sha256 != sha256:
            raise InputError(
                where=f"{drill}/{run}",
                what="the run was changed by someone else since this page was opened",
                do="look at what it says now, and save again if yours is to stand",
            )
        data = rewritten(file_bytes(found.folder / RUN_FILE), changes)
        return replace_files(workspace, out, found, {RUN_FILE: data}, what=what)


def put_evidence(workspace: Path, out: Path, drill: str, run: str, files: Mapping[str, bytes]) -> str:
    """Add readings, marks or settings to a run, or replace them, and return the name of the bin's folder.

    Parameters
    ----------
    workspace, out, drill, run
        As for `edit_run`.
    files : mapping
        Name of the file in the run (of READ) -> bytes.

    Raises
    ------
    InputError
        As `edit_run`, where the run has all of these bytes already, and where a workbook with readings and marks
        would be replaced by one kind alone.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        instead = {name: [old for old in found.files if same_log(name, old)] for name in files}
        words = ", ".join(f"{name} {'replaced' if instead[name] else 'added'}" for name in files)
        gone = dict.fromkeys((old for olds in instead.values() for old in olds), None)
        check_kinds_stay(found, {**gone, **files})
        entry = replace_files(workspace, out, found, {**gone, **files}, what=words)
    if not entry:
        raise InputError(
            where=f"{drill}/{run}", what="the run has these very files already", do="nothing is to be done"
        )
    return entry


def replace_files(workspace: Path, out: Path, found: RunAtHand, new: Mapping[str, bytes | None], *, what: str) -> str:
    """Replace files of a run whose turn is held; the old ones, and a copy of the result, go into the bin.

    Raises
    ------
    InputError
        As `put_evidence`.
    """
    there = {name: regular_bytes(found.folder / name) or b"" for name in found.files if name in READ}
    wanted = {name: data for name, data in new.items() if there.get(name) != data}
    if not wanted:
        return ""
    _, drill = drill_at_hand(workspace, found.drill)
    check_fits(found, drill, dict(wanted), before=drill)
    old = {name: there[name] for name in wanted if name in there}
    made = tuple(name for name in wanted if name not in there)
    note = _note(CHANGED, out, found, what, files=tuple(old), made=made)
    entry = new_entry(workspace, note)
    try:
        for name, before in old.items():
            write_new(kept_file(entry, name), before)
        copy_result(out, found.drill, found.run, entry)
    except (OSError, InputError):
        drop_entry(entry)
        raise
    _write(found.folder, wanted, entry)
    return entry.name


def _write(folder: Path, wanted: Mapping[str, bytes | None], entry: Path) -> None:
    """Write files of a run of which the bin has the old ones; what is written needs room, so what goes goes last."""
    done: list[str] = []
    try:
        for name, data in sorted(wanted.items(), key=lambda item: item[1] is None):
            if data is None:
                (folder / name).unlink()
            else:
                write_atomic(folder / name, data)
            done.append(name)
    except OSError as error:
        if not done:
            drop_entry(entry)
            raise
        what = f"only {', '.join(done)} could be changed ({error.strerror})"
        do = "make room or allow writing, then take the change back on the page Bin, and repeat it"
        raise InputError(where=folder.name, what=what, do=do) from None


def delete_run(workspace: Path, out: Path, drill: str, run: str) -> str:
    """Move a run with its result into the bin, and return the name of its folder there.

    Raises
    ------
    InputError
        Where the run is gone, or the workspace cannot be written to.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        entry = new_entry(workspace, _note(DELETED, out, found, "deleted"))
        _take_away(out, found, entry, lambda: found.folder.rename(kept_run(entry)))
    return entry.name


def move_run(workspace: Path, out: Path, drill: str, run: str, to: str) -> tuple[str, str]:
    """Move a run into another drill; return the name of the bin's folder that tells of it, and its name there.

    Raises
    ------
    InputError
        Where the run or the drill is gone, the run does not fit that drill, or the workspace cannot be written to.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        if to == drill:
            raise InputError(where=f"{drill}/{run}", what="the run is in this drill already", do="choose another one")
        (_, before), (target, into) = drill_at_hand(workspace, drill), drill_at_hand(workspace, to)
        check_fits(found, into, {}, before=before)
        name = free_name(run, run_names(workspace, to))
        note = _note(MOVED, out, found, f"moved to {to}", to_drill=to, to_run=name)
        (target / RUNS).mkdir(exist_ok=True)
        entry = new_entry(workspace, note)
        _take_away(out, found, entry, lambda: found.folder.rename(target / RUNS / name))
    return entry.name, name


def _note(kind: str, out: Path, found: RunAtHand, what: str, **more: Any) -> Note:
    """Return the note of a change of a run, with all by which the run is known again."""
    index, track = index_of(out, found.drill, found.run), found.track_sha256
    return Note(kind, now(), found.drill, found.run, found.info.title, what, index=index, track=track, **more)


def _take_away(out: Path, found: RunAtHand, entry: Path, rename: Callable[[], object]) -> None:
    """Take a run out of its drill by `rename`; where the disk refuses, all is as it was.

    What needs room comes first: after the run is gone from its place nothing can fail any more.
    """
    try:
        copy_result(out, found.drill, found.run, entry)
        rename()
    except OSError:
        drop_entry(entry)
        raise
    sync_folder(found.folder.parent)
    drop_result(out, found.drill, found.run)
