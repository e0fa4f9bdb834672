"""A rule sheet of the form before, written anew in the present form. Comments of the file go; the old file is kept."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.rules_toml import ENDED, default_rules, rules_of
from analyzer.files.source import read_bytes, write_atomic, write_new
from analyzer.files.toml_table import read_toml
from analyzer.files.writers import write_rules_toml

OLD = ".old"
RENEWED = ", renewed"


def renewed_rules(data: bytes, *, name: str = "rules.toml") -> bytes:
    """Return a sheet in the present form: the same paces, lengths and deductions; what is new as in the built-in sheet.

    Its version says that it was renewed, for a version is never of two contents.

    Raises
    ------
    FileError
        Where it has other mistakes.
    InputError
        Where it is no TOML, or of the present form already.
    """

    def read(outer: Any) -> Any:
        if not set(ENDED) & set(outer.values):
            raise InputError(where=name, what="this rule sheet is of the present form", do="leave it as it is")
        return rules_of(replace(outer, values=_present(outer.values)), "")

    rules = read_toml(read, data, name=name)
    return write_rules_toml(replace(rules, version=f"{rules.version}{RENEWED}"))


def renew_rules(path: Path) -> Path:
    """Rewrite a sheet in place and return where the old one is kept, byte for byte: beside it, as FILE.old.

    Raises
    ------
    InputError
        As `renewed_rules`, or where FILE.old exists or cannot be written; nothing has changed then.
    """
    data = read_bytes(path)
    return replaced(path, data, renewed_rules(data, name=path.name))


def replaced(path: Path, data: bytes, new: bytes) -> Path:
    """Write `new` in place of `data`, which is kept beside it as FILE.old, and return where.

    Raises
    ------
    InputError
        Where FILE.old exists or cannot be written; nothing has changed then.
    """
    kept = path.with_name(path.name + OLD)
    write_new(kept, data)
    try:
        write_atomic(path, new)
    except OSError as error:
        kept.unlink(missing_ok=True)
        what = f"the file cannot be written ({error.strerror})"
        raise InputError(where=path.name, what=what, do="make room, or allow writing to the folder") from None
    return kept


def _present(values: dict[str, Any]) -> dict[str, Any]:
    built_in = default_rules()
    kept = {key: value for key, value in values.items() if key not in ENDED}
    if isinstance(kept.get("reference"), dict):
        kept["reference"] = {"marking_s": built_in.marking_s, "missed_s": built_in.missed_s} | kept["reference"]
    return kept
