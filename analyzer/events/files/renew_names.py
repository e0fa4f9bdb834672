"""Event files and rule sheets that call findings by names of the first version, written anew with those of today."""

import re
from pathlib import Path

from analyzer.errors import InputError
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.rules_toml import RENAMED, parse_event_rules
from analyzer.files.renew_rules import replaced
from analyzer.files.source import decode_text, read_bytes
from analyzer.files.toml_table import parse_toml

OLD_NAME = re.compile(rf"""(\bfinding[ \t]*=[ \t]*)(["'])({"|".join(RENAMED)})\2""")


def is_of_events(data: bytes, *, name: str) -> bool:
    """Return whether a file is an event or a rule sheet of events.

    Raises
    ------
    InputError
        Where it is no TOML.
    """
    table = parse_toml(data, name=name)
    return table.has("event") or table.has("event_rules")


def check_event_file(data: bytes, *, name: str) -> str:
    """Return the name of the event or of the rule sheet in a file, checked in itself.

    Raises
    ------
    FileError, InputError
        As `parse_event_toml` and `parse_event_rules`.
    """
    if parse_toml(data, name=name).has("event"):
        return parse_event_toml(data, name=name).name
    rules = parse_event_rules(data, name=name)
    return f"{rules.name}, version {rules.version}"


def renew_names(path: Path) -> Path:
    """Rewrite the names of findings in place, all else byte for byte, and return where the old file is kept: FILE.old.

    Raises
    ------
    FileError, InputError
        Where there is no old name, where the file has other mistakes, and where FILE.old exists or cannot be written;
        nothing has changed then.
    """
    data = read_bytes(path)
    text, count = OLD_NAME.subn(
        lambda found: f"{found[1]}{found[2]}{RENAMED[found[3]]}{found[2]}", decode_text(data, name=path.name)
    )
    if not count:
        raise InputError(where=path.name, what="no finding has an old name in this file", do="leave it as it is")
    new = text.encode()
    check_event_file(new, name=path.name)
    return replaced(path, data, new)
