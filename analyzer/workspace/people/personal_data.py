"""Everything that a workspace's files hold of one person: what is exported for them, and what is forgotten."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError
from analyzer.files.folder import track_file
from analyzer.files.hashes import hash_now
from analyzer.files.names import CHECKS_FILE, RUN_FILE, TRUTH_FILE
from analyzer.files.results.result_json import RunHead, read_head
from analyzer.files.source import listed, regular_bytes, sha256_hex
from analyzer.model.people import Person, name_key
from analyzer.workspace.intake.store import drill_paths
from analyzer.workspace.layout import (
    BIN_FILES,
    BIN_RUN,
    DEVICES_FILE,
    DRILLS,
    EVENTS,
    EVERY_RESULT,
    EVERY_RUN,
    EVERY_UPLOAD,
    INCOMING,
    LOG_FILE,
    ORIGINALS,
    RESULTS,
)
from analyzer.workspace.people.in_the_bin import binned_of, checked_in, searcher_in

NOT_THEIRS = ("drill", "waypoints")
"""Roles of input files that belong to the drill, not to the run."""


@dataclass(frozen=True, slots=True)
class PersonalData:
    """What there is of a person.

    `runs`: run folders. `results`: result files. `originals`: loaded files with the same bytes as theirs; `archives`:
    zips that those came in. `shared`: how many of their files others have as well, byte for byte: not theirs alone.
    `binned`: what the bin has of their runs; `binned_places`: drill and run of these. `loads`: lists of loads that
    speak of their files. `unread`: a line for each run or result of which nobody can say whose it is. `mentions`:
    files of events that name them. `phones`: ids of the phones on the network that came in under their name.
    `checks`: checks.toml of the drills before which they were checked.
    """

    person: Person
    runs: tuple[Path, ...]
    results: tuple[Path, ...]
    originals: tuple[Path, ...]
    archives: tuple[Path, ...]
    shared: int
    loads: tuple[Path, ...]
    unread: tuple[str, ...]
    mentions: tuple[Path, ...]
    binned: tuple[Path, ...] = ()
    binned_places: frozenset[tuple[str, str]] = frozenset()
    phones: tuple[str, ...] = ()
    checks: tuple[Path, ...] = ()

    @property
    def places(self) -> frozenset[tuple[str, str]]:
        """Drill and run of all of their runs and results."""
        return frozenset((p.parent.parent.name, p.name) for p in self.runs) | frozenset(
            (p.parent.name, p.stem) for p in self.results
        )


def find_traces(workspace: Path, person: Person) -> PersonalData:
    """Return what the files of a workspace hold of a person; the files are looked at, not the database."""
    keys, unread = {name_key(name) for name in person.names}, list[str]()
    mine: list[Path] = []
    others: list[Path] = []
    for run in _run_folders(workspace):
        (mine if _searcher_of_run(run, unread) in keys else others).append(run)
    places = {(run.parent.parent.name, run.name) for run in mine}
    results, hashes = [], set[str]()
    for path in sorted((workspace / RESULTS).glob(EVERY_RESULT)):
        head = _head(workspace, path, unread)
        known = head is not None and name_key(head.searcher) in keys
        if known or (path.parent.name, path.stem) in places:
            results.append(path)
            hashes |= {i.sha256 for i in (head.inputs if head else ()) if i.role not in NOT_THEIRS}
    live = [(run.parent.parent.name, run.name, hash_now(track_file(run))) for run in mine]
    live += [(path.parent.name, path.stem, "") for path in results if (path.parent.name, path.stem) not in places]
    binned_folders, binned_places = binned_of(workspace, keys, live)
    phones = _phones(workspace, keys)
    hashes |= {digest for digests in phones.values() for digest in digests}
    hashes |= {digest for run in mine for digest in _hashes(run)}
    hashes |= {digest for entry in binned_folders for part in (BIN_RUN, BIN_FILES) for digest in _kept(entry / part)}
    theirs = hashes - {digest for run in others for digest in _hashes(run)}
    folder = workspace / ORIGINALS
    archives = _archives(folder, theirs)
    checks = _checks(workspace, keys, unread)
    return PersonalData(
        person=person,
        runs=tuple(mine),
        results=tuple(results),
        originals=tuple(p for p in (folder / h for h in sorted(theirs)) if p.is_file()),
        archives=tuple(p for p in (folder / h for h in sorted(archives)) if p.is_file()),
        shared=len(hashes - theirs),
        loads=_loads(workspace, theirs | archives),
        unread=tuple(unread),
        mentions=_mentions(workspace, person),
        binned=binned_folders,
        binned_places=binned_places - {(run.parent.parent.name, run.name) for run in others},
        phones=tuple(phones),
        checks=checks,
    )


def _checks(workspace: Path, keys: set[str], unread: list[str]) -> tuple[Path, ...]:
    """Return the checks.toml that have an entry of a person; one that cannot be read is told, and counts as none."""
    found = []
    for folder in drill_paths(workspace).values():
        lost: list[str] = []
        if checked_in(folder / CHECKS_FILE, lost) & keys:
            found.append(folder / CHECKS_FILE)
        unread += [f"{folder.name}/{line}" for line in lost]
    return tuple(found)


def _phones(workspace: Path, keys: set[str]) -> dict[str, tuple[str, ...]]:
    """Return id -> hashes of what was handed in, of each phone that came in under one of the names."""
    try:
        devices = json.loads((workspace / INCOMING / DEVICES_FILE).read_bytes())["devices"]
        return {
            str(one["id"]): tuple(str(digest) for h in one["handed"] for digest in h["sha256"])
            for one in devices
            if name_key(one["name"]) in keys
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _kept(folder: Path) -> Iterator[str]:
    return _hashes(folder) if folder.is_dir() else iter(())


def _run_folders(workspace: Path) -> Iterator[Path]:
    for path in sorted((workspace / DRILLS).glob(EVERY_RUN)):
        if path.is_dir() and not path.is_symlink():
            yield path


def _searcher_of_run(run: Path, unread: list[str]) -> str:
    lost: list[str] = []
    searcher = searcher_in(run / RUN_FILE, lost)
    unread += [f"{run.parent.parent.name}/{run.name}/{line}" for line in lost]
    return searcher


def _head(workspace: Path, path: Path, unread: list[str]) -> RunHead | None:
    try:
        return read_head(path)
    except AnalyzerError as error:
        unread.append(f"{path.relative_to(workspace).as_posix()}: {error}")
        return None


def _hashes(run: Path) -> Iterator[str]:
    for path in listed(run):
        if path.is_file() and path.name != TRUTH_FILE:
            yield sha256_hex(path.read_bytes())


def _archives(originals: Path, hashes: set[str]) -> set[str]:
    """Return the hashes of zips out of which files with these hashes came; their other files are kept singly."""
    return {line["from"] for line in log_lines(originals) if line.get("sha256") in hashes and "from" in line}


def log_lines(originals: Path) -> list[dict[str, Any]]:
    """Return the lines of the log of loaded files; what is no line of it is left out."""
    path, lines = originals / LOG_FILE, []
    for text in path.read_bytes().splitlines() if path.is_file() else []:
        try:
            line = json.loads(text)
        except (ValueError, RecursionError):
            continue
        if isinstance(line, dict):
            lines.append(line)
    return lines


def _loads(workspace: Path, hashes: set[str]) -> tuple[Path, ...]:
    found = []
    for path in sorted((workspace / INCOMING).glob(EVERY_UPLOAD)):
        text = (regular_bytes(path) or b"").decode("utf-8", errors="replace")
        if any(digest in text for digest in hashes):
            found.append(path.parent)
    return tuple(found)


def _mentions(workspace: Path, person: Person) -> tuple[Path, ...]:
    """Return files of events in which one of the names stands as a word of its own."""
    names = "|".join(re.escape(name) for name in person.names)
    plain = re.compile(rf"(?<!\w)(?:{names})(?!\w)", re.IGNORECASE)
    files = (p for p in sorted((workspace / EVENTS).rglob("*")) if p.is_file())
    return tuple(p for p in files if plain.search(p.read_text(encoding="utf-8", errors="replace")))
