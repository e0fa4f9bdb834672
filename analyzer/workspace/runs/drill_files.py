"""Files of a drill changed by people on pages: drill.toml and checks.toml. The old one goes into the bin first."""

from collections.abc import Callable
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from analyzer.errors import InputError
from analyzer.files.checks_toml import parse_checks_toml
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.names import CHECKS_FILE, DRILL_FILE
from analyzer.files.source import decode_text, read_bytes, sha256_hex, write_atomic, write_new
from analyzer.files.toml_source import toml_values
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.model.drill import Receiver
from analyzer.workspace.runs.at_hand import drill_at_hand
from analyzer.workspace.runs.bin import DRILL_CHANGED, Note, drop_entry, kept_file, new_entry, now
from analyzer.workspace.runs.changes import turn

DRILL_FILES = (DRILL_FILE, CHECKS_FILE)
"""Files of a drill that pages write and the bin puts back."""


def put_receiver(workspace: Path, drill: str, receiver: Receiver, *, seen: str) -> str:
    """Write a receiver into a drill's drill.toml, in the place of the one of its name; return the bin's folder.

    Parameters
    ----------
    workspace : Path
    drill : str
    receiver : Receiver
    seen : str
        SHA-256 of drill.toml when the person began.

    Raises
    ------
    InputError
        Where the drill is gone or is a link, drill.toml is not what the person saw, it would be refused by its reader,
        or it cannot be written; nothing is changed then.
    """
    return change_drill_file(
        workspace,
        drill,
        DRILL_FILE,
        lambda data: with_receiver_in(data or b"", receiver),
        seen=seen,
        what=f"receiver {receiver.name} from a range check",
    )


def with_receiver_in(data: bytes, receiver: Receiver) -> bytes:
    """Return a drill.toml with a receiver in it; comments, order and other keys stay as a person wrote them.

    Raises
    ------
    InputError
        Where it cannot be read, or rewritten.
    """
    text = decode_text(data, name=DRILL_FILE)
    toml_values(text, name=DRILL_FILE)  # bounds what the library below is given
    stated = {key: getattr(receiver, key) for key in ("scale", "scale_sigma", "strip_width_m")}
    try:
        document = tomlkit.parse(text)
        listed = document.get("receiver")
        if listed is None:
            listed = tomlkit.aot()
            document.append("receiver", listed)
        table = next((one for one in listed if one.get("name") == receiver.name), None)
        if table is None:
            table = tomlkit.table()
            table["name"] = receiver.name
            listed.append(table)
            table = listed[-1]
        for key, value in stated.items():
            if value is not None:
                table[key] = value
            elif key in table:
                del table[key]
        return tomlkit.dumps(document).encode()
    except (TOMLKitError, RecursionError, AttributeError, TypeError) as error:
        raise InputError(
            where=DRILL_FILE, what=f"it cannot be rewritten ({error})", do="change it in a text editor"
        ) from None


def change_drill_file(
    workspace: Path, drill: str, name: str, change: Callable[[bytes | None], bytes | None], *, seen: str, what: str
) -> str:
    """Change a file of a drill and return the name of the bin's folder with the old one, "" where nothing changed.

    `change`: bytes as they are, None where there is no such file, to what they become, None where it goes. `seen`:
    SHA-256 of the file when the person began, "" where there was none.

    Raises
    ------
    InputError
        As `put_receiver`.
    """
    with turn(workspace):
        folder, _ = drill_at_hand(workspace, drill)
        path = folder / name
        before = read_bytes(path) if path.is_file() else None
        if ("" if before is None else sha256_hex(before)) != seen:
            raise InputError(
                where=f"{drill}/{name}",
                what="it was changed by someone else since this page was opened",
                do="look at what it says now, and save again if yours is to stand",
            )
        return replace_drill_file(workspace, drill, name, change(before), what=what)


def replace_drill_file(workspace: Path, drill: str, name: str, data: bytes | None, *, what: str) -> str:
    """Replace a file of a drill whose turn is held; as `change_drill_file`."""
    folder, _ = drill_at_hand(workspace, drill)
    if folder.is_symlink():
        raise InputError(where=drill, what="this drill is a link to another folder", do="change it there")
    path = folder / name
    before = read_bytes(path) if path.is_file() else None
    if data == before:
        return ""
    if name == DRILL_FILE:
        parse_drill_toml(data or b"", waypoints_of=lambda file: parse_waypoints(read_bytes(folder / file), name=file))
    kept = () if before is None else (name,)
    if name == CHECKS_FILE and data is not None:
        parse_checks_toml(data)
    note = Note(DRILL_CHANGED, now(), drill, "", title=drill, what=what, files=kept, made=() if kept else (name,))
    entry = new_entry(workspace, note)
    try:
        if before is not None:
            write_new(kept_file(entry, name), before)
        if data is None:
            path.unlink()
        else:
            write_atomic(path, data)
    except (OSError, InputError):
        drop_entry(entry)
        raise
    return entry.name


def drill_file_back(workspace: Path, entry: Path, note: Note) -> bool:
    """Put back a file of a drill whose turn is held; False where it is as it was already. As it is now, it goes into
    the bin in turn.

    Raises
    ------
    InputError
        Where the drill is gone, or the note names no file of one.
    """
    names = (*note.files, *note.made)
    if len(names) != 1 or names[0] not in DRILL_FILES:
        raise InputError(where=f"bin/{entry.name}", what="the note names no file of a drill", do="put it back by hand")
    old = read_bytes(kept_file(entry, names[0])) if note.files else None
    return replace_drill_file(workspace, note.drill, names[0], old, what=f"taken back: {note.what}") != ""
