"""Standings from before an event was scored again: put away under a name of their own, never overwritten."""

import contextlib
import time
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.events.decisions_log import read_log
from analyzer.events.files.scored_json import SCORED_FILE
from analyzer.files.json_source import own_values
from analyzer.files.source import PART, sha256_hex, write_new
from analyzer.workspace.layout import EARLIER_STANDINGS, LOG_FILE

SHORT = 8
"""Digits of a hash in a file's name."""
LEFT_AFTER_S = 3600.0
"""Our choice: no file of an event takes so long to be written."""


def refuse_scored_from_nothing(event: Path) -> None:
    """Raise `InputError` where the log tells of a scoring and scored.json is missing."""
    scorings = scorings_of(event)
    if scorings and not (event / SCORED_FILE).is_file():
        at = scorings[-1].get("at", "a time that is not noted")
        raise InputError(
            where=f"{event.name}/{SCORED_FILE}",
            what=f"the file is missing, and {LOG_FILE} says that this event was scored (last at {at})",
            do=f"put {SCORED_FILE} back, or score anew with --again: the log will say that it was missing",
        )


def scorings_of(event: Path) -> list[dict[str, Any]]:
    """Return the lines of the log that tell of a scoring."""
    return [line for line in read_log(event) if line.get("integrity")]


def put_away(event: Path) -> dict[str, str]:
    """Copy scored.json as it is, readable or not, to earlier/, and return the copy's name and SHA-256; {} without one.

    The name is the time of the scoring by the log, or "undated", and the beginning of the file's integrity, or of its
    SHA-256 where none can be read.

    Raises
    ------
    InputError
        Where the copy cannot be written, or another file has its name; scored.json is as it was then.
    """
    target = event / SCORED_FILE
    if not target.is_file() or not target.stat().st_size:
        return {}
    data = target.read_bytes()
    sha256 = sha256_hex(data)
    integrity = stated_integrity(target)
    noted = [line for line in read_log(event) if line.get("integrity") == integrity]
    at = str(noted[-1].get("at") if noted else "undated").replace(":", "").replace("/", "")
    kept = event / EARLIER_STANDINGS / f"{at}-{(integrity or sha256)[:SHORT]}.json"
    if kept.is_file() and sha256_hex(kept.read_bytes()) != sha256:
        kept = kept.with_stem(f"{kept.stem}-{sha256[:SHORT]}")
    if not kept.is_file():
        write_new(kept, data)
    return {kept.name: sha256}


def left_parts(event: Path, *, after_s: float = LEFT_AFTER_S) -> list[Path]:
    """Return what killed calls had begun to write beside the event's files and its earlier standings, so long ago.

    None of it had its name yet, so that nothing rests on it: what it was to be is still there or is written anew.
    """
    now, found = time.time(), []
    for folder in (event, event / EARLIER_STANDINGS):
        for path in sorted(folder.glob(f".*{PART}")):
            with contextlib.suppress(OSError):
                if now - path.stat().st_mtime >= after_s:
                    found.append(path)
    return found


def stated_integrity(target: Path) -> str:
    """Return the integrity that a scored.json of any version states, "" where none can be read."""
    found = own_values(target).get("integrity")
    return found if isinstance(found, str) and found.isalnum() else ""
