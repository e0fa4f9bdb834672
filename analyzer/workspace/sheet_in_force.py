"""The rule sheet in force for a drill of a workspace: which one, and another one put in its place."""

from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.names import SHEET_FILE
from analyzer.files.rules_toml import default_rules, default_rules_bytes, own_rules, parse_rules_toml
from analyzer.files.source import read_bytes, sha256_hex, write_atomic
from analyzer.model.rules import Rules
from analyzer.workspace.intake.originals import keep
from analyzer.workspace.runs.at_hand import drill_at_hand
from analyzer.workspace.runs.changes import turn


def rules_in_force(folder: Path) -> Rules:
    """Return the rules that the drill in a folder is measured with.

    Raises
    ------
    FileError, InputError
        Where the sheet in the folder cannot be used.
    """
    return own_rules(folder) or default_rules()


def put_in_force(workspace: Path, drill: str, data: bytes, *, seen: str) -> bytes | None:
    """Put a rule sheet in force for one drill, and return the bytes of the one that was in its folder, None for none.

    The drill's folder gets a copy of the sheet, so that it goes where the drill goes; none for the built-in sheet. The
    one that was there is kept in `originals` under its hash.

    Parameters
    ----------
    workspace : Path
    drill : str
        Name of its folder.
    data : bytes
        The sheet.
    seen : str
        SHA-256 of the sheet that was in force when the person began.

    Raises
    ------
    FileError, InputError
        Where the sheet cannot be used, the drill is gone or is a link to another folder, another sheet came into force
        meanwhile, or the workspace cannot be written to; nothing is changed then.
    """
    parse_rules_toml(data, name="rule sheet")
    with turn(workspace):
        folder, _ = drill_at_hand(workspace, drill)
        if folder.is_symlink():
            raise InputError(where=drill, what="this drill is a link to another folder", do="change it there")
        path = folder / SHEET_FILE
        before = read_bytes(path) if path.exists() else None
        if sha256_hex(default_rules_bytes() if before is None else before) != seen:
            raise InputError(
                where=drill,
                what="another rule sheet came into force since this page was opened",
                do="reload the page to see which one; nothing was changed",
            )
        if before is not None:
            keep(workspace, f"{drill}/{SHEET_FILE}", [before], most=len(before))
        if data == default_rules_bytes():
            path.unlink(missing_ok=True)
        elif data != before:
            write_atomic(path, data)
    return before
