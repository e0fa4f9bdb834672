"""checks.toml beside drill.toml: who was checked before a drill, with which receiver; for people, not for the fit."""

from collections.abc import Sequence

from analyzer.errors import quoted
from analyzer.files.names import CHECKS_FILE
from analyzer.files.toml_table import TomlTable, nearest, read_toml
from analyzer.files.writers import toml_text
from analyzer.model.checks import GROUP_CHECKS, NOT_DONE, DrillCheck
from analyzer.model.people import name_key

KEYS = ("who", "receiver", "battery_percent", "firmware", "group_check", "remarks")
MOST_CHECKS, LONGEST = 200, 300
"""Our own limits: more than any group, and longer than any remark."""
HEAD = "# What was checked before the drill. No result depends on it."


def parse_checks_toml(data: bytes, *, name: str = CHECKS_FILE) -> tuple[DrillCheck, ...]:
    """Return the checks of a drill.

    Raises
    ------
    FileError
        With every key that is unknown or missing, and every value that is out of range.
    InputError
        Where the file is no TOML.
    """
    return read_toml(_checks, data, name=name)


def _checks(outer: TomlTable) -> tuple[DrillCheck, ...]:
    outer.allow("check")
    found: list[DrillCheck] = []
    for table in outer.tables("check"):
        table.allow(*KEYS)
        who = table.text("who")
        if not who.strip() and not table.wrong("who"):
            table.report("who", "nobody is named", "write who it was, or take the entry out")
        if who.strip() and name_key(who) in {name_key(one.who) for one in found}:
            table.report("who", f"{quoted(who)} is here twice", "keep one entry a person")
        group = table.text("group_check", NOT_DONE)
        if group not in GROUP_CHECKS and not table.wrong("group_check"):
            table.report("group_check", f"{quoted(group)} is not known", nearest(group, GROUP_CHECKS))
        battery = table.optional_number("battery_percent", low=0.0, high=100.0)
        words = {key: table.text(key, "") for key in ("receiver", "firmware", "remarks")}
        for key, text in (words | {"who": who}).items():
            if len(text) > LONGEST:
                table.report(key, f"it has {len(text)} signs; at most {LONGEST} are taken", "shorten it")
        found.append(DrillCheck(who, battery_percent=battery, group_check=group, **words))
    if len(found) > MOST_CHECKS:
        outer.report("check", f"there are {len(found)} entries; at most {MOST_CHECKS} are taken", "split the drill")
    return tuple(found)


def write_checks_toml(checks: Sequence[DrillCheck]) -> bytes:
    """Return checks.toml; what is empty is left out."""
    lines = [HEAD]
    for check in checks:
        lines += ["", "[[check]]"]
        for key in KEYS:
            value = getattr(check, key)
            if isinstance(value, float):
                lines.append(f"{key} = {value:g}")
            elif value:
                lines.append(f"{key} = {toml_text(value)}")
    return ("\n".join(lines) + "\n").encode()
