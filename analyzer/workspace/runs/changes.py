"""Runs changed, moved and deleted by people. What is replaced or deleted goes into the bin first.

Changes take turns, by a lock of the file system: of two who save at once, the second one sees what the first one wrote.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

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
    drill_at_hand,
    file_bytes,
    run_at_hand,
    run_names,
    same_log,
)
from analyzer.workspace.runs.bin import CHANGED, DELETED, MOVED, Note, kept_file, kept_run, new_entry, now
from analyzer.workspace.runs.kept_results import copy_result, index_of, take_result
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
        As `edit_run`, and where the run has all of these bytes already.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        instead = {name: [old for old in found.files if same_log(name, old)] for name in files}
        words = ", ".join(f"{name} {'replaced' if instead[name] else 'added'}" for name in files)
        gone = dict.fromkeys((old for olds in instead.values() for old in olds), None)
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
    index = index_of(out, found.drill, found.run)
    note = Note(
        CHANGED, now(), found.drill, found.run, found.info.title, what, files=tuple(old), made=made, index=index
    )
    entry = new_entry(workspace, note)
    for name, before in old.items():
        write_new(kept_file(entry, name), before)
    copy_result(out, found.drill, found.run, entry)
    for name, data in wanted.items():
        if data is None:
            (found.folder / name).unlink()
        else:
            write_atomic(found.folder / name, data)
    return entry.name


def delete_run(workspace: Path, out: Path, drill: str, run: str) -> str:
    """Move a run with its result into the bin, and return the name of its folder there.

    Raises
    ------
    InputError
        Where the run is gone, or the workspace cannot be written to.
    """
    with turn(workspace):
        found = run_at_hand(workspace, drill, run)
        index = index_of(out, drill, run)
        entry = new_entry(workspace, Note(DELETED, now(), drill, run, found.info.title, "deleted", index=index))
        found.folder.rename(kept_run(entry))
        sync_folder(found.folder.parent)
        take_result(out, drill, run, entry)
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
        name = free_name(run, {n.casefold() for n in run_names(workspace, to)})
        index = index_of(out, drill, run)
        what = f"moved to {to}"
        note = Note(MOVED, now(), drill, run, found.info.title, what, to_drill=to, to_run=name, index=index)
        entry = new_entry(workspace, note)
        (target / RUNS).mkdir(exist_ok=True)
        found.folder.rename(target / RUNS / name)
        sync_folder(found.folder.parent)
        take_result(out, drill, run, entry)
    return entry.name, name
