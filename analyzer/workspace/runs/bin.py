"""The bin of a workspace: what was taken out of use, with a note of where it was; nothing in it is ever overwritten.

Each thing in it has a folder of its own, `bin/<day and time>-<sign>/`. The note is written before anything is moved, so
that a program that is killed leaves nothing that nobody knows of.
"""

import datetime as dt
import json
import re
import secrets
import shutil
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.json_codec import codec, structured
from analyzer.files.source import regular_bytes, write_atomic, write_new
from analyzer.workspace.layout import BIN, BIN_FILES, BIN_NOTE, BIN_RESULT, BIN_RUN, EVERY_BINNED

DELETED, MOVED, CHANGED, DRILL_CHANGED = "deleted", "moved", "changed", "drill changed"
KINDS = (DELETED, MOVED, CHANGED, DRILL_CHANGED)
MENDED = "it is no note of this program: look into the folder by hand"
ENTRY = re.compile(r"\d{8}T\d{12}-[0-9a-f]{8}")
CODEC = codec()


@dataclass(frozen=True, slots=True)
class Note:
    """What lies in the bin, and where it was.

    `kind`: one of KINDS. `drill`, `run`: where it was; `run` is "" for a drill's own file. `to_drill`, `to_run`: where
    a moved run is now. `title`: what the run was called. `what`: in words. `files`: names of single files of a run or
    drill, as they were before a change; `made`:
    those that the change made, which were not there before. `index`: what the results' index had of the run. `track`:
    SHA-256 of its track, by which it is told from another run of its name, "" where it is not known. `undone`: when it
    was put back, "" while it was not.
    """

    kind: str
    when: str
    drill: str
    run: str
    title: str = ""
    what: str = ""
    to_drill: str = ""
    to_run: str = ""
    files: tuple[str, ...] = ()
    made: tuple[str, ...] = ()
    index: dict[str, Any] = field(default_factory=dict)
    track: str = ""
    undone: str = ""


@dataclass(frozen=True, slots=True)
class Binned:
    """One thing in the bin: the name of its folder, its note, and why the note cannot be read where it cannot."""

    entry: str
    note: Note
    problem: str = ""


def new_entry(workspace: Path, note: Note) -> Path:
    """Make a folder in the bin with a note in it, on the disk for certain, and return the folder.

    Raises
    ------
    InputError
        Where the workspace is full or cannot be written to.
    """
    stamp = dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%S%f")
    folder = workspace / BIN / f"{stamp}-{secrets.token_hex(4)}"
    write_new(folder / BIN_NOTE, _bytes(note))
    return folder


def drop_entry(folder: Path) -> None:
    """Take a folder of the bin away again whose change did not come about: what was in use is where it was."""
    if not kept_run(folder).exists():
        shutil.rmtree(folder, ignore_errors=True)


def change_note(folder: Path, note: Note) -> None:
    """Write the note of a thing in the bin anew."""
    write_atomic(folder / BIN_NOTE, _bytes(note))


def binned(workspace: Path) -> tuple[Binned, ...]:
    """Return what lies in the bin and can be put back, the newest first."""
    folders = sorted((path.parent for path in (workspace / BIN).glob(EVERY_BINNED)), reverse=True)
    found = (_read(folder) for folder in folders if ENTRY.fullmatch(folder.name))
    return tuple(one for one in found if not one.note.undone)


def binned_one(workspace: Path, entry: str) -> Binned:
    """Return one thing in the bin.

    Raises
    ------
    InputError
        Where there is none of this name, it was put back already, or its note cannot be read.
    """
    folder = workspace / BIN / entry
    if not ENTRY.fullmatch(entry) or not (folder / BIN_NOTE).is_file():
        raise InputError(
            where="bin", what="this is not in the bin", do="open the bin again: it may be put back already"
        )
    found = _read(folder)
    if found.problem:
        raise InputError(where=f"{BIN}/{entry}/{BIN_NOTE}", what=found.problem, do=MENDED)
    if found.note.undone:
        raise InputError(where="bin", what="this was put back already", do="open the bin again to see what is in it")
    return found


def kept_run(folder: Path) -> Path:
    """Return where in a folder of the bin a whole run lies."""
    return folder / BIN_RUN


def kept_file(folder: Path, name: str) -> Path:
    """Return where in a folder of the bin a single file of a run lies."""
    return folder / BIN_FILES / name


def kept_result(folder: Path) -> Path:
    """Return where in a folder of the bin the result of a run lies."""
    return folder / BIN_RESULT


def now() -> str:
    """Return the time as notes have it."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="seconds")


def put_back(folder: Path, note: Note) -> None:
    """Note that a thing of the bin is in its place again."""
    change_note(folder, replace(note, undone=now()))


def _bytes(note: Note) -> bytes:
    return json.dumps(asdict(note), ensure_ascii=False, indent=1).encode()


def _read(folder: Path) -> Binned:
    name = f"{BIN}/{folder.name}/{BIN_NOTE}"
    try:
        values = json.loads(regular_bytes(folder / BIN_NOTE) or b"")
        note = structured(CODEC, values, Note, name=name, noun="this note", do=MENDED)
    except (OSError, ValueError, RecursionError) as error:
        return Binned(folder.name, Note("", "", "", ""), str(error) or "it cannot be read")
    wrong = note.kind not in KINDS or not all(map(_plain, (*note.files, *note.made)))
    return Binned(folder.name, note, "the note is not as this program writes it" if wrong else "")


def _plain(name: str) -> bool:
    return name not in ("", ".", "..") and not any(c in "/\\\0" for c in name)
