"""log.jsonl of an event: one line per scoring, each with the hash of the line before it."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.source import sha256_hex
from analyzer.workspace.layout import LOG_FILE


def append_log(folder: Path, **what: Any) -> None:
    """Add a line with the time, what was done, and the SHA-256 of the line before it ("" for the first)."""
    path = folder / LOG_FILE
    lines = path.read_bytes().splitlines() if path.is_file() else []
    before = sha256_hex(lines[-1]) if lines else ""
    now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    line = {"at": now, **what, "before": before}
    try:
        with path.open("ab") as stream:
            stream.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
    except OSError as error:
        raise InputError(
            where=LOG_FILE,
            what=f"the log cannot be written ({error.strerror})",
            do="allow writing to the event's folder",
        ) from None


def log_faults(folder: Path) -> list[str]:
    """Return a line for every break of the chain: a line that is no JSON, or does not hold the hash of the one before.

    The last line has none after it; that it belongs to scored.json is checked by its integrity.
    """
    path = folder / LOG_FILE
    if not path.is_file():
        return [f"{LOG_FILE}: it is missing"]
    faults, before = [], ""
    for number, line in enumerate(path.read_bytes().splitlines(), start=1):
        try:
            stated = json.loads(line)["before"]
        except (ValueError, KeyError, TypeError, RecursionError):
            faults.append(f"{LOG_FILE}, line {number}: it cannot be read")
        else:
            if stated != before:
                faults.append(f"{LOG_FILE}, line {number}: it follows another line than the one before it")
        before = sha256_hex(line)
    return faults


def last_log(folder: Path) -> dict[str, Any]:
    """Return the last line that can be read, {} where there is none."""
    path = folder / LOG_FILE
    for line in reversed(path.read_bytes().splitlines() if path.is_file() else []):
        try:
            found = json.loads(line)
        except (ValueError, RecursionError):
            continue
        if isinstance(found, dict):
            return found
    return {}
