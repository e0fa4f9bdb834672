"""A run.toml with some keys changed: comments, order and all other keys stay as a person wrote them."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from analyzer.errors import InputError
from analyzer.files.names import RUN_FILE
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import decode_text
from analyzer.files.toml_source import toml_values
from analyzer.model.recording import RunInfo

Value = str | int | float | bool | tuple[str, ...]
EDITED = ("searcher", "bib", "antennas", "carry_height_m", "fine_height_m", "recorder", "receiver")
"""Keys that people change on a page, beside the words of `RUN_WORDS`."""


def rewritten(data: bytes | None, changes: Mapping[str, Value]) -> bytes | None:
    """Return a run.toml with some keys changed, None where nothing would stand in it and there was none.

    Parameters
    ----------
    data : bytes or None
        The file as it is; None where the run has none.
    changes : mapping
        Key -> its new value; one that is the default of a run without the key takes the key out. A key that says the
        same already is left as it is written.

    Raises
    ------
    FileError, InputError
        Where the file as it is, or as it would be, is refused by its reader.
    """
    before = RunInfo() if data is None else parse_run_toml(data)
    wanted = {key: value for key, value in changes.items() if getattr(before, key) != value}
    if not wanted:
        return data
    text = "" if data is None else decode_text(data, name=RUN_FILE)
    toml_values(text, name=RUN_FILE)  # bounds what the library below is given
    try:
        document = tomlkit.parse(text)
        table: Any = document.get("run", document)
        for key, value in wanted.items():
            _put(table, key, value)
        new = tomlkit.dumps(document).encode()
    except (TOMLKitError, RecursionError) as error:
        raise InputError(
            where=RUN_FILE, what=f"it cannot be rewritten ({error})", do="change it in a text editor"
        ) from None
    if not new.strip():
        return None if data is None else b"# nothing is known of this run\n"
    parse_run_toml(new)
    return new


def with_window(data: bytes | None, begin_s: float, end_s: float) -> bytes:
    """Return a run.toml with the window of a run, seconds since 1970 UTC; all else stays. None stands for no file.

    Raises
    ------
    FileError, InputError
        Where the file as it is, or as it would be, is refused by its reader.
    """
    text = "" if data is None else decode_text(data, name=RUN_FILE)
    toml_values(text, name=RUN_FILE)
    try:
        document = tomlkit.parse(text)
        table: Any = document.get("run", document)
        window = tomlkit.array()
        window.extend([dt.datetime.fromtimestamp(round(at, 3), tz=dt.UTC) for at in (begin_s, end_s)])
        table["window"] = window
        new = tomlkit.dumps(document).encode()
    except (TOMLKitError, RecursionError) as error:
        raise InputError(
            where=RUN_FILE, what=f"it cannot be rewritten ({error})", do="change it in a text editor"
        ) from None
    parse_run_toml(new)
    return new


def _put(table: Any, key: str, value: Value) -> None:
    if value == getattr(RunInfo(), key):
        table.pop(key, None)
        return
    if isinstance(value, tuple):
        listed = tomlkit.array()
        listed.extend(list(value))
        table[key] = listed.multiline(len(value) > 1)
    else:
        table[key] = value
