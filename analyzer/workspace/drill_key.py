"""The key of a drill's inputs, and the index of what was analysed: a second pass over unchanged files does nothing.

Light on purpose: no numerical library is needed to find that nothing changed.
"""

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.files.names import DRILL_FILE, RUN_FILE, RUN_WORDS, RUNS
from analyzer.files.results import RESULT_FORMAT
from analyzer.files.source import MAX_BYTES, regular_bytes, write_atomic
from analyzer.files.toml_source import toml_values
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS, is_run_input
from analyzer.workspace.layout import CACHE_FILE, LOCK_FILE
from analyzer.workspace.lock import locked

HEAD_BYTES = 300
NOTHING_MEASURED = ("{}", '{"run": {}}')
"""What a result depends on of a run.toml with words alone: it is as if there were none."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What the index keeps of a run. `key`: of its own files and the drill's; `result`: the key that its result
    carries, "" where there is none; `size`: of the result, bytes; `failure`: the line that says why there is none;
    `row`: of the summary."""

    key: str
    result: str = ""
    failure: str = ""
    row: dict[str, Any] | None = None
    size: int = 0

    def entry(self) -> dict[str, Any]:
        """Return what stands in the index; rows stand there in a list of their own."""
        return {"key": self.key, "result": self.result, "failure": self.failure, "size": self.size}


@dataclass(frozen=True, slots=True)
class DrillKeys:
    """SHA-256 keys of a drill's input files and of settings. `whole`: of all of them. `runs`: run -> key of the drill's
    own files and those of this run, so that a run's key is the same whatever other runs there are."""

    whole: str
    runs: dict[str, str]


def drill_keys(folder: Path, *, settings: tuple[str, ...], only: str = "") -> DrillKeys:
    """Return the keys of a drill folder under `settings` (rules, engine version, ...); of all runs or `only` one."""
    digest = hashlib.sha256()
    for text in settings:
        _feed(digest, text)
    for path in _inside(digest, folder):
        if path.name != DRILL_FILE and path.suffix.lower() not in WAYPOINT_ENDINGS:
            continue
        _feed_file(digest, path)
    runs, keys = folder / RUNS, {}
    for run in _inside(digest, runs) if runs.is_dir() else []:
        if not run.is_dir() or only not in ("", run.name):
            continue
        own = digest.copy()
        _feed(own, run.name)
        for path in _inside(own, run):
            if not is_run_input(path.name):
                continue
            if path.name == RUN_FILE:
                measured = _measured_of(path)
                for text in () if measured in NOTHING_MEASURED else (path.name, measured):
                    _feed(own, text)
            else:
                _feed_file(own, path)
        keys[run.name] = own.hexdigest()
    for key in keys.values():
        _feed(digest, key)
    return DrillKeys(digest.hexdigest(), keys)


def drill_key(folder: Path, *, settings: tuple[str, ...]) -> str:
    """Return a SHA-256 over all input files of a drill folder and `settings`."""
    return drill_keys(folder, settings=settings).whole


def result_key(run_key: str, shared: Iterable[tuple[str, str]]) -> str:
    """Return the key that a result carries: that of its run, and the runs with their hashes that it was fitted with."""
    digest = hashlib.sha256()
    for text in (run_key, *(part for run in shared for part in run)):
        _feed(digest, text)
    return digest.hexdigest()


def _inside(digest: Any, folder: Path) -> list[Path]:
    """Return what is in a folder, by name; of one that may not be looked into, that goes into the key."""
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        _feed(digest, f"unreadable: {error.errno}")
        return []


def _measured_of(path: Path) -> str:
    """Return what a run.toml holds that a result depends on: all but comments and the coach's words and decisions.

    A word of the wrong kind stays: the run is refused for it, until it is mended.
    """
    try:
        size = path.stat().st_size
        if size > MAX_BYTES or not path.is_file():
            return f"{size} bytes"
        data = path.read_bytes()
    except OSError as error:
        return f"unreadable: {error.errno}"
    try:
        outer = toml_values(data.decode("utf-8-sig"), name=path.name)
    except ValueError:  # an InputError as well: the run is refused for it, until it is mended
        return hashlib.sha256(data).hexdigest()
    table = outer.get("run")
    for level in (outer, table if isinstance(table, dict) else {}):
        for key in RUN_WORDS:
            if _is_word(level.get(key)):
                del level[key]
    return json.dumps(outer, sort_keys=True, default=repr)


def _is_word(value: object) -> bool:
    return isinstance(value, bool | str) or (isinstance(value, list) and all(isinstance(v, str) for v in value))


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
    """Return the index of an output folder by drill, an empty one where there is none or it cannot be read.

    It comes from a folder that others may have written: an entry that is not as this program writes it, or that names
    a file elsewhere, counts as none, and its drill is measured again.
    """
    try:
        drills = json.loads(regular_bytes(out / CACHE_FILE) or b"")["drills"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    if not isinstance(drills, dict):
        return {}
    return {name: entry for name, entry in drills.items() if is_plain_name(name) and _is_entry(entry)}


def is_plain_name(name: Any) -> bool:
    """Return whether a name is that of one file or folder, and of none elsewhere."""
    return isinstance(name, str) and name not in ("", ".", "..") and not any(c in "/\\\x00" for c in name)


def _is_entry(entry: Any) -> bool:
    if not isinstance(entry, dict) or not isinstance(entry.get("key"), str):
        return False
    rows, failures, runs = entry.get("rows"), entry.get("failures"), entry.get("runs", {})
    if not isinstance(rows, list) or not isinstance(failures, list) or not isinstance(runs, dict):
        return False
    return (
        all(isinstance(row, dict) and is_plain_name(row.get("run")) for row in rows)
        and all(isinstance(line, str) for line in failures)
        and all(is_plain_name(run) and _is_kept(kept) for run, kept in runs.items())
    )


def _is_kept(kept: Any) -> bool:
    texts = ("key", "result", "failure")
    return isinstance(kept, dict) and all(isinstance(kept.get(t), str) for t in texts) and type(kept.get("size")) is int


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


def change_entry(out: Path, name: str, change: Callable[[dict[str, Any]], dict[str, Any] | None]) -> None:
    """Change the entry of one drill in the index on disk, with nobody in between; with none, nothing is done."""
    with locked(out / LOCK_FILE):
        drills = read_index(out)
        if name not in drills:
            return
        changed = change(drills.pop(name))
        write_index(out, drills if changed is None else drills | {name: changed})


def is_current(out: Path, name: str, key: str, index: dict[str, Any]) -> bool:
    """Return whether the index carries `key` for a drill, and every one of its results is as the index has it."""
    entry = index.get(name)
    if not isinstance(entry, dict) or entry.get("key") != key:
        return False
    runs = entry.get("runs", {})
    return all(row["run"] in runs and result_is_kept(out, name, runs[row["run"]], row) for row in entry["rows"])


def kept_runs(out: Path, name: str, keys: dict[str, str], index: dict[str, Any]) -> dict[str, Kept]:
    """Return run -> what is kept of it, for the runs of a drill whose own files are those that were measured."""
    entry = index.get(name)
    if not isinstance(entry, dict):
        return {}
    rows = {row["run"]: row for row in entry.get("rows", [])}
    found = {}
    for run, kept in entry.get("runs", {}).items():
        if kept["key"] == keys.get(run) and (kept["failure"] or result_is_kept(out, name, kept, rows.get(run))):
            found[run] = Kept(kept["key"], kept["result"], kept["failure"], rows.get(run), kept["size"])
    return found


def result_is_kept(out: Path, name: str, kept: dict[str, Any], row: dict[str, Any] | None) -> bool:
    """Return whether the result file of a row carries the key that is kept and the present format, and is whole."""
    if row is None or not kept["result"]:
        return False
    return _carries(out / name / f"{row['run']}.json", kept["result"], kept["size"])


def _carries(path: Path, key: str, size: int) -> bool:
    try:
        if not path.is_file() or path.stat().st_size != size:
            return False
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
            return key.encode() in head and f'"{RESULT_FORMAT}"'.encode() in head
    except OSError:
        return False
