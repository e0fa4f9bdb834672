"""log.jsonl of an event: one line per thing that was done, each with its own hash and that of the line before it.

The hash of the last line is the head of the log. It stands in scored.json and on every list that is given out: who
noted it on paper can tell later whether this log and this standing are the ones that were shown.
"""

import datetime as dt
import json
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.source import regular_bytes, sha256_hex
from analyzer.workspace.append import append_line
from analyzer.workspace.layout import LOG_FILE

HEAD_GROUPS, HEAD_GROUP = 4, 4
"""What is shown of a hash: 16 hexadecimal digits in four groups. Our own choice: few enough to be noted by hand."""


def append_log(folder: Path, **what: Any) -> str:
    """Add a line with the time, what was done, the head of the log before it ("" for the first) and its own hash.

    Returns
    -------
    str
        The hash of the line: the head of the log from now on.

    Several writers take turns: each line follows the one that stands before it in the file.

    Raises
    ------
    InputError
        Where the log cannot be written.
    """
    written: list[str] = []

    def following(_: list[bytes]) -> bytes:
        now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        line = {"at": now, **what, "before": log_head(folder)}
        written.append(line_hash(line))
        return line_bytes(line | {"hash": written[-1]})

    try:
        append_line(folder / LOG_FILE, following)
    except OSError as error:
        raise InputError(
            where=LOG_FILE,
            what=f"the log cannot be written ({error.strerror})",
            do="allow writing to the event's folder",
        ) from None
    return written[-1]


def line_bytes(line: dict[str, Any]) -> bytes:
    """Return a line as it is written, without its end."""
    return json.dumps(line, ensure_ascii=False).encode()


def line_hash(line: dict[str, Any]) -> str:
    """Return the SHA-256 of a line without its own hash, in one spelling: sorted keys, no white space."""
    rest = {key: value for key, value in line.items() if key != "hash"}
    return sha256_hex(json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode())


def log_head(folder: Path) -> str:
    """Return the hash of the last line, "" where there is none. A line of an earlier version has that of its bytes."""
    lines = _lines(folder)
    return _head_of(lines[-1]) if lines else ""


def shown_head(head: str) -> str:
    """Return the beginning of a head in groups of digits, to be printed and noted by hand: "3f9a 1c22 07de b5c1"."""
    return " ".join(head[i * HEAD_GROUP : (i + 1) * HEAD_GROUP] for i in range(HEAD_GROUPS)).strip()


def log_faults(folder: Path) -> list[str]:
    """Return a line for every break of the chain: a line that cannot be read, whose own hash is not that of what it
    says, that is spelt otherwise than it was written, or that does not hold the hash of the line before it.

    Lines of earlier versions have no hash of their own; none may follow a line that has one. Whether the last line is
    the one that scored.json was written with is not asked here.
    """
    if not (folder / LOG_FILE).is_file():
        return [f"{LOG_FILE}: it is missing"]
    faults, before, hashed = [], "", False
    lines = _lines(folder)
    for number, data in enumerate(lines, start=1):
        found, values = f"{LOG_FILE}, line {number}", _values(data)
        if values is None or not isinstance(values.get("before"), str):
            faults.append(f"{found}: it cannot be read")
        elif values["before"] != before:
            faults.append(f"{found}: it follows another line than the one before it")
        if values is not None and (hashed or "hash" in values):
            hashed = True
            if values.get("hash") != line_hash(values):
                faults.append(f"{found}: it was changed after it was written (its own hash differs)")
            elif data != line_bytes(values):
                faults.append(f"{found}: equal values, but the bytes differ from how they are written")
        before = _head_of(data)
    if lines and not (folder / LOG_FILE).read_bytes().endswith(b"\n"):
        faults.append(f"{LOG_FILE}, line {len(lines)}: its end is missing")
    return faults


def read_log(folder: Path) -> list[dict[str, Any]]:
    """Return the lines that can be read, in their order."""
    return [values for values in map(_values, _lines(folder)) if values is not None]


def last_log(folder: Path) -> dict[str, Any]:
    """Return the last line that can be read, {} where there is none."""
    found = read_log(folder)
    return found[-1] if found else {}


def _lines(folder: Path) -> list[bytes]:
    path = folder / LOG_FILE
    lines = (regular_bytes(path) or b"").split(b"\n")
    return lines[:-1] if lines and not lines[-1] else lines


def _values(data: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _head_of(data: bytes) -> str:
    values = _values(data)
    own = values.get("hash") if values is not None else None
    return own if isinstance(own, str) else sha256_hex(data)
