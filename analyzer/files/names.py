"""Names of the files of a drill folder and of its run folders, and which names the program makes; once."""

import re
from pathlib import PurePath

from analyzer.errors import InputError, quoted

DRILL_FILE = "drill.toml"
SHEET_FILE = "rules.toml"
"""Beside drill.toml: the rule sheet in force for this drill; without it, the one that comes with the program is."""
CHECKS_FILE = "checks.toml"
"""Beside drill.toml: who was checked before the drill, and with which receiver; no result depends on it."""
RUNS = "runs"
"""Sub-folder of a drill: a folder per run."""
READINGS_FILE = "readings.csv"
MARKS_FILE = "marks.csv"
LOG_ENDINGS = (".csv", ".txt", ".tsv", ".xlsx", ".ods")
"""A log may be a text table or a spreadsheet; a run has one of each kind."""
READINGS_FILES = tuple(PurePath(READINGS_FILE).with_suffix(ending).name for ending in LOG_ENDINGS)
MARKS_FILES = tuple(PurePath(MARKS_FILE).with_suffix(ending).name for ending in LOG_ENDINGS)
LOG_FILES = (*READINGS_FILES, *MARKS_FILES)
RUN_FILE = "run.toml"
RUN_WORDS = ("title", "note", "praised", "set_aside")
"""Keys of run.toml that no result depends on: what the run is called, and the coach's words and decisions."""
TRUTH_FILE = "truth.json"
"""What a simulated run truly was; beside its recordings, never read with them."""

RESERVED = re.compile(r"(con|prn|aux|nul|com[1-9¹²³]|lpt[1-9¹²³])\s*(\..*)?", re.IGNORECASE | re.DOTALL)
"""Names that Windows keeps for devices, with any ending ("Naming Files, Paths, and Namespaces" of its manual)."""
REFUSED_SIGNS = '<>:"/\\|?*'
"""Signs that no name there may hold (same source); control characters are refused as well."""


def is_meant_as_log(file: str) -> bool:
    """Return whether a file of a run's folder is a log, or surely meant as one by its name: "Readings Mara.xlsx"."""
    if file[:1] in (".", "~"):
        return False
    path = PurePath(file.lower())
    first = re.split(r"[^a-z]", path.stem, maxsplit=1)[0]
    named = first in ("reading", "readings", "mark", "marks")
    return file in LOG_FILES or (named and (path.suffix in LOG_ENDINGS or path.stem == first))


def check_new_name(name: str, *, where: str) -> None:
    """Let a file or folder be made only under a name that every system takes, so that a workspace can be carried on.

    Raises
    ------
    InputError
        Where Windows keeps the name for a device, or it holds a sign or an end that is refused there.
    """
    if RESERVED.fullmatch(name):
        raise InputError(
            where=where,
            what=f"Windows keeps the name {quoted(name)} for a device",
            do=f"give another one, such as my-{name}",
        )
    signs = sorted({c for c in name if c in REFUSED_SIGNS or ord(c) < 32})
    if signs:
        what = f"the name {quoted(name)} holds {' '.join(map(quoted, signs))}, which Windows refuses"
        raise InputError(where=where, what=what, do="give one of letters, digits, dashes and underscores")
    if name != name.rstrip(". "):
        what = f"the name {quoted(name)} ends with a dot or a space, which Windows cuts off"
        raise InputError(where=where, what=what, do=f"give {name.rstrip('. ') or 'another one'}")
