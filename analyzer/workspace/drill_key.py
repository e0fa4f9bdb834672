"""The key of a drill's inputs, and the index of what was analysed: a second pass over unchanged files does nothing.

Light on purpose: no numerical library is needed to find that nothing changed.
"""

import hashlib
import json
from pathlib import Path
from typing import Any

from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.files.results import RESULT_FORMAT
from analyzer.files.source import MAX_BYTES, write_atomic
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS, run_endings
from analyzer.workspace.layout import CACHE_FILE, LOCK_FILE
from analyzer.workspace.lock import locked

HEAD_BYTES = 300


def drill_key(folder: Path, *, settings: tuple[str, ...]) -> str:
    """Return a SHA-256 over all input files of a drill folder and `settings` (rules, engine version, ...)."""
    digest = hashlib.sha256()
    for text in settings:
        _feed(digest, text)
    for path in sorted(p for p in folder.iterdir() if p.name == DRILL_FILE or p.suffix.lower() in WAYPOINT_ENDINGS):
        _feed_file(digest, path)
    runs = folder / RUNS
    for run in sorted(p for p in runs.iterdir() if p.is_dir()) if runs.is_dir() else []:
        _feed(digest, run.name)
        for path in sorted(p for p in run.iterdir() if _is_input(p)):
            _feed_file(digest, path)
    return digest.hexdigest()


def _is_input(path: Path) -> bool:
    return path.suffix.lower() in run_endings() and path.name[0] not in ".~"


def _feed(digest: Any, text: str) -> None:
    data = text.encode(errors="surrogateescape")
    digest.update(len(data).to_bytes(8, "big") + data)


def _feed_file(digest: Any, path: Path) -> None:
    _feed(digest, path.name)
    try:
        size = path.stat().st_size
        # A file over the limit is refused unread, whatever is in it.
        _feed(
            digest,
            f"{size} bytes"
            if size > MAX_BYTES or not path.is_file()
            else hashlib.sha256(path.read_bytes()).hexdigest(),
        )
    except OSError as error:
        _feed(digest, f"unreadable: {error.errno}")


def read_index(out: Path) -> dict[str, Any]:
    """Return the index of an output folder by drill, an empty one where there is none or it cannot be read."""
    try:
        drills = json.loads((out / CACHE_FILE).read_bytes())["drills"]
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    return drills if isinstance(drills, dict) else {}


def write_index(out: Path, drills: dict[str, Any]) -> None:
    """Write the index of an output folder."""
    write_atomic(out / CACHE_FILE, json.dumps({"drills": drills}, separators=(",", ":")).encode())


def keep_entry(out: Path, name: str, entry: dict[str, Any] | None) -> None:
    """Put the entry of one drill into the index on disk, or take it out with None; other processes may do the same."""
    with locked(out / LOCK_FILE):
        drills = read_index(out)
        if entry is None:
            drills.pop(name, None)
        else:
            drills[name] = entry
        write_index(out, drills)


def is_current(out: Path, name: str, key: str, index: dict[str, Any]) -> bool:
    """Return whether the index and every result file of a drill carry `key`, and those files the present format."""
    entry = index.get(name)
    if not isinstance(entry, dict) or entry.get("key") != key:
        return False
    return all(_carries(out / name / f"{row['run']}.json", key) for row in entry.get("rows", []))


def _carries(path: Path, key: str) -> bool:
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
            return key.encode() in head and f'"{RESULT_FORMAT}"'.encode() in head
    except OSError:
        return False
