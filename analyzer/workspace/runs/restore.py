"""Things of the bin put back where they were. What stands there by now is never overwritten: it goes into the bin."""

from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.folder import track_file
from analyzer.files.hashes import hash_now
from analyzer.files.names import RUNS
from analyzer.files.source import read_bytes
from analyzer.workspace.drill_key import is_plain_name
from analyzer.workspace.intake.names import free_name
from analyzer.workspace.layout import BIN
from analyzer.workspace.runs.at_hand import READ, RunAtHand, drill_at_hand, run_at_hand, run_names
from analyzer.workspace.runs.bin import (
    CHANGED,
    DELETED,
    DRILL_CHANGED,
    Binned,
    Note,
    binned_one,
    kept_file,
    kept_run,
    put_back,
)
from analyzer.workspace.runs.changes import replace_files, turn
from analyzer.workspace.runs.drill_files import drill_file_back
from analyzer.workspace.runs.kept_results import copy_result, drop_result, give_result_back


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put back: its drill and run now, "" for a drill's own file; a line on what is not as it was, "" where
    all is. `left`: the drill that it came out of, "" where that is the same one."""

    drill: str
    run: str
    line: str = ""
    left: str = ""


def restore(workspace: Path, out: Path, entry: str) -> Restored:
    """Put a thing of the bin back.

    Raises
    ------
    InputError
        Where it is not in the bin, its drill or run is gone, another run has its name, or the workspace cannot be
        written to; nothing is changed.
    """
    with turn(workspace):
        found = binned_one(workspace, entry)
        folder = workspace / BIN / entry
        if found.note.kind == DRILL_CHANGED:
            moved = drill_file_back(workspace, folder, found.note)
            restored = Restored(found.note.drill, "", "" if moved else "The drill is as it was already.")
        elif found.note.kind == CHANGED:
            restored = _files_back(workspace, out, folder, found)
        else:
            restored = _run_back(workspace, out, folder, found.note)
        put_back(folder, found.note)
    return restored


def _run_back(workspace: Path, out: Path, folder: Path, note: Note) -> Restored:
    """Put back a run that was deleted, or moved to another drill."""
    target, _ = drill_at_hand(workspace, note.drill)
    if note.run.startswith(".") or not is_plain_name(note.run):
        raise InputError(where=f"{BIN}/{folder.name}", what="the note names no run", do="put it back by hand")
    left = "" if note.kind == DELETED else note.to_drill
    source = kept_run(folder) if note.kind == DELETED else _moved(workspace, note)
    if source is None or not source.is_dir():
        if note.track and note.track == hash_now(track_file(target / RUNS / note.run)):
            return Restored(note.drill, note.run, "It is in its place: it was not taken out to the end.")
        what = "the run is not in the bin any more" if not left else f"the run is not in {left} any more"
        raise InputError(where=f"{BIN}/{folder.name}", what=what, do="it was taken out by hand, or is in the bin again")
    name = free_name(note.run, run_names(workspace, note.drill))
    (target / RUNS).mkdir(exist_ok=True)
    if left:
        copy_result(out, note.to_drill, note.to_run, _aside(folder))
    source.rename(target / RUNS / name)
    if left:
        drop_result(out, note.to_drill, note.to_run)
    if name != note.run:
        line = f"There is another run {note.run} in {note.drill} by now, which stays: this one is {name}."
        return Restored(note.drill, name, line, left)
    give_result_back(out, note.drill, name, folder, note.index)
    return Restored(note.drill, name, "", left)


def _moved(workspace: Path, note: Note) -> Path | None:
    """Return where a run is that was moved, None where it is not there any more."""
    if note.to_run not in run_names(workspace, note.to_drill):
        return None
    moved = run_at_hand(workspace, note.to_drill, note.to_run)
    _check_same(moved, note)
    return moved.folder


def _check_same(found: RunAtHand, note: Note) -> None:
    """Let a change be taken back only of the run that it was made of: another one may have its name by now.

    Raises
    ------
    InputError
        Where the track is another one. Of notes that do not know the track the name has to do.
    """
    if note.track and found.track_sha256 != note.track:
        raise InputError(
            where=f"{found.drill}/{found.run}",
            what=f"another run has this name by now: its track is not that of the run that was {note.kind}",
            do="put the right run back first, or leave this in the bin; nothing was changed",
        )


def _files_back(workspace: Path, out: Path, folder: Path, found: Binned) -> Restored:
    """Put back files of a run as they were before a change; as they are now, they go into the bin in turn."""
    note = found.note
    run = run_at_hand(workspace, note.drill, note.run)
    _check_same(run, note)
    old = {name: read_bytes(kept_file(folder, name)) for name in note.files if name in READ}
    new = old | dict.fromkeys((name for name in note.made if name in READ), None)
    if not replace_files(workspace, out, run, new, what=f"taken back: {note.what}".removesuffix(": ")):
        return Restored(note.drill, note.run, "The run is as it was before that change already.")
    return Restored(note.drill, note.run)


def _aside(folder: Path) -> Path:
    """Return a folder for the result of a run that goes back, so that it does not take the place of the older one."""
    aside = folder / "other"
    aside.mkdir(exist_ok=True)
    return aside
