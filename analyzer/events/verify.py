"""Compute an event anew from its files and name everything that differs from what is stored."""

import json
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError
from analyzer.events.decisions_log import log_faults, log_head
from analyzer.events.files.folder import EventFolder, read_event_folder
from analyzer.events.files.scored_json import SCORED_FILE, parse_scored, scored_bytes
from analyzer.events.lost import noted_as_lost
from analyzer.events.store import changes, computed
from analyzer.events.written import earlier_faults, written_faults
from analyzer.files.hashes import forget_hashes
from analyzer.files.source import read_bytes
from analyzer.workspace.layout import CACHE_FILE, EVERY_RESULT, FACTS_FILE, LOG_FILE, RESULTS, SUMMARY_FILE

MOST_PER_FILE = 20


def verify_event(place: Path, *, jobs: int = 1, scratch: Path | None = None) -> tuple[list[str], int]:
    """Return a line for every difference, and how many files were compared; nothing of the event is written.

    Everything is measured again into a folder that is thrown away afterwards.

    Parameters
    ----------
    place : Path
        The event's folder.
    jobs : int
        Processes.
    scratch : Path, optional
        A folder that keeps what is measured, for one who verifies many times: a run is measured once for each state
        of its files. Nothing of the event may write into it.

    Raises
    ------
    InputError
        Where the event itself cannot be read.
    """
    forget_hashes()
    folder = read_event_folder(place)
    target = folder.path / SCORED_FILE
    if not target.is_file():
        was = f"; {LOG_FILE} says that it was" if (folder.path / LOG_FILE).is_file() else ""
        return [f"{SCORED_FILE}: the event is not scored yet{was}"], 0
    lines = _stored_lines(folder)
    with tempfile.TemporaryDirectory(prefix="searchwake-verify-") as temporary:
        out = Path(temporary) if scratch is None else scratch
        anew = computed(folder, out, lost=noted_as_lost(folder.path), jobs=jobs)
        compared = 1
        for name in sorted(_names(folder.path / RESULTS) | _names(out)):
            compared += 1
            lines += _compared(f"{RESULTS}/{name}", folder.path / RESULTS / name, out / name)
        (out / SCORED_FILE).write_bytes(scored_bytes(replace(anew, log_head=log_head(folder.path))))
        lines += _compared(SCORED_FILE, target, out / SCORED_FILE)
    return lines, compared


def _names(results: Path) -> set[str]:
    """Return the files of a folder of results: all that later calls rely on, not the results alone."""
    found = {p.relative_to(results).as_posix() for p in results.glob(EVERY_RESULT)}
    return found | {name for name in (SUMMARY_FILE, CACHE_FILE, FACTS_FILE) if (results / name).is_file()}


def _stored_lines(folder: EventFolder) -> list[str]:
    """Return what is wrong with the stored files by their own hashes, and what has changed since the scoring."""
    try:
        scored = parse_scored(read_bytes(folder.path / SCORED_FILE))
    except AnalyzerError as error:
        return [*log_faults(folder.path), *earlier_faults(folder.path), str(error)]
    return [*written_faults(folder.path, scored), *(change.line for change in changes(scored, folder.inputs))]


def _compared(name: str, stored: Path, anew: Path) -> list[str]:
    """Return a line per value that differs; where only the spelling does, one that says so."""
    if not stored.is_file() or not anew.is_file():
        which = "is not stored, but computed anew" if anew.is_file() else "is stored, but nothing gives it any more"
        return [f"{name}: {which}"]
    old, new = stored.read_bytes(), anew.read_bytes()
    if old == new:
        return []
    if name.endswith(".csv"):
        return _lines_differing(name, old, new)
    try:
        a, b = json.loads(old), json.loads(new)
    except (ValueError, RecursionError) as error:
        return [f"{name}: what is stored cannot be read ({error})"]
    found = [f"{name}, {key}: stored {_shown(x)}, computed anew {_shown(y)}" for key, x, y in differences(a, b)]
    if not found and name == f"{RESULTS}/{CACHE_FILE}":  # its drills stand in the order in which they were measured
        new = json.dumps(a, separators=(",", ":")).encode()
    if not found and old != new:
        return [f"{name}: equal values, but the bytes differ from how they are written"]
    more = len(found) - MOST_PER_FILE
    return [*found[:MOST_PER_FILE], *([f"{name}: and {more} more values"] if more > 0 else [])]


def _lines_differing(name: str, old: bytes, new: bytes) -> list[str]:
    a, b = old.decode(errors="replace").splitlines(), new.decode(errors="replace").splitlines()
    count = max(len(a), len(b))
    a, b = a + [""] * (count - len(a)), b + [""] * (count - len(b))
    found = [
        f"{name}, line {i}: stored {_shown(x)}, computed anew {_shown(y)}"
        for i, (x, y) in enumerate(zip(a, b, strict=True), start=1)
        if x != y
    ]
    return found[:MOST_PER_FILE] or [f"{name}: the ends of its lines differ"]


MISSING = "nothing"


def differences(stored: Any, anew: Any, key: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Yield (key, stored, anew) of every value that is not exactly equal, with keys like `phases[2].end_s`."""
    if isinstance(stored, dict) and isinstance(anew, dict):
        for name in (*stored, *(n for n in anew if n not in stored)):
            inner = f"{key}.{name}" if key else str(name)
            yield from differences(stored.get(name, MISSING), anew.get(name, MISSING), inner)
    elif isinstance(stored, list) and isinstance(anew, list) and len(stored) == len(anew):
        for number, (a, b) in enumerate(zip(stored, anew, strict=True)):
            yield from differences(a, b, f"{key}[{number}]")
    elif stored != anew or type(stored) is not type(anew):
        yield key, stored, anew


def _shown(value: Any) -> str:
    text = value if value == MISSING else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:77]}..."
