"""The events of a workspace in its database: name, place, hash, and when they were last scored."""

import datetime as dt
import tomllib
from pathlib import Path

from sqlalchemy import delete
from sqlalchemy.orm import Session

from analyzer.errors import InputError
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.workspace.database.tables import EventRow

SCORED = "scored.json"


def put_events(session: Session, workspace: Path) -> list[str]:
    """Make the rows of events those of `events/*/event.toml`; return a line for each that cannot be read."""
    session.execute(delete(EventRow))
    failures = []
    for path in sorted((workspace / "events").glob("*/event.toml")):
        place = path.parent.relative_to(workspace).as_posix()
        try:
            data = read_bytes(path)
            name = _name(data, where=f"{place}/event.toml") or path.parent.name
        except InputError as error:
            failures.append(str(error))
            continue
        session.add(EventRow(name=name, path=place, sha256=sha256_hex(data), scored_at=_scored_at(path.parent)))
    return failures


def _name(data: bytes, *, where: str) -> str:
    """Return the name of an event; what else is in the file is for the standings to check."""
    try:
        head = tomllib.loads(data.decode("utf-8-sig")).get("event")
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(where=where, what=f"this is not TOML ({error})", do="mend the line") from None
    return str(head.get("name", "")) if isinstance(head, dict) else ""


def _scored_at(folder: Path) -> str | None:
    try:
        changed = (folder / SCORED).stat().st_mtime
    except OSError:
        return None
    return dt.datetime.fromtimestamp(changed, dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
