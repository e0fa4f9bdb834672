"""Which of the things in a workspace's bin are of one person: by the name in them, and by the run that they are of."""

import contextlib
import json
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.checks_toml import parse_checks_toml
from analyzer.files.names import CHECKS_FILE, RUN_FILE
from analyzer.files.results.result_json import read_head
from analyzer.files.run_toml import read_run_toml
from analyzer.files.source import read_bytes
from analyzer.model.people import name_key
from analyzer.workspace.layout import BIN, BIN_FILES, BIN_NOTE, BIN_RESULT, BIN_RUN, EVERY_BINNED

RunKey = tuple[str, str, str]
"""Drill, run, and SHA-256 of its track, "" where that is not known."""


@dataclass(frozen=True, slots=True)
class _Entry:
    """A thing in the bin. `runs`: of which it is, under all names that it had; `names`: whom it names, as keys;
    `unread`: nobody can say whose it is."""

    folder: Path
    runs: tuple[RunKey, ...]
    names: frozenset[str]
    unread: bool


def binned_of(
    workspace: Path, keys: Collection[str], live: Collection[RunKey]
) -> tuple[tuple[Path, ...], frozenset[tuple[str, str]]]:
    """Return the folders of the bin that are a person's, and drill and run of what is in them.

    Theirs is what names them; what is of a run of theirs that is in use; and what names nobody and is of a run of
    theirs that is in the bin itself, such as readings that were replaced before the run was deleted. Of what cannot
    be read nobody can say whose it is: it counts as theirs.

    Parameters
    ----------
    workspace : Path
    keys : collection of str
        The person's names, as keys.
    live : collection of RunKey
        Their runs in use.
    """
    rest = [_entry(path.parent) for path in sorted((workspace / BIN).glob(EVERY_BINNED))]
    found: list[_Entry] = []

    def take(known: set[RunKey], fits: Callable[[_Entry], bool]) -> None:
        """Take what is of known runs, as long as that makes more runs known: one may have been moved on and on."""
        while own := [e for e in rest if fits(e) and any(_same(a, b) for a in e.runs for b in known)]:
            found.extend(own)
            rest[:] = [e for e in rest if e not in own]
            known |= {run for e in own for run in e.runs}

    take(set(live), lambda _: True)
    named = [e for e in rest if e.unread or e.names & set(keys)]
    found += named
    rest = [e for e in rest if e not in named]
    take({run for e in found for run in e.runs}, lambda e: not e.names)
    folders = tuple(sorted(e.folder for e in found))
    return folders, frozenset((drill, run) for e in found for drill, run, _ in e.runs)


def _same(a: RunKey, b: RunKey) -> bool:
    """Return whether two are one run: another one may have had its name, and has another track."""
    return a[:2] == b[:2] and (a[2] == b[2] or not a[2] or not b[2])


def _entry(folder: Path) -> _Entry:
    lost: list[str] = []
    names = {searcher_in(folder / part / RUN_FILE, lost) for part in (BIN_RUN, BIN_FILES)}
    names |= checked_in(folder / BIN_FILES / CHECKS_FILE, lost)
    with contextlib.suppress(AnalyzerError):  # there is none, or it tells nothing
        names.add(name_key(read_head(folder / BIN_RESULT).searcher))
    runs: set[RunKey] = set()
    try:
        note = json.loads((folder / BIN_NOTE).read_bytes())
        track = str(note.get("track", ""))
        runs = {(str(note[at + "drill"]), str(note[at + "run"]), track) for at in ("", "to_") if note[at + "run"]}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        lost.append("note")
    known = frozenset(names - {""})
    return _Entry(folder, tuple(sorted(runs)), known, bool(lost) and not known)


def searcher_in(path: Path, lost: list[str]) -> str:
    """Return the key of the searcher that a run.toml names, "" where none; what is wrong with it goes to `lost`."""
    if not path.exists():
        return ""
    try:
        return name_key(read_run_toml(path).searcher)
    except AnalyzerError as error:
        lost.append(str(error))
        return ""


def checked_in(path: Path, lost: list[str]) -> set[str]:
    """Return the keys of the people whom a checks.toml names; what is wrong with it goes to `lost`."""
    if not path.exists():
        return set()
    try:
        return {name_key(check.who) for check in parse_checks_toml(read_bytes(path))}
    except AnalyzerError as error:
        lost.append(str(error))
        return set()
