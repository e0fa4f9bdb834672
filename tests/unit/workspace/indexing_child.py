"""Index a workspace in a process of its own, with the invented pipeline: `once`, or `killed` as often as said.

`killed` starts children from an interpreter that has loaded everything, so that a kill hits the work, not the start.
It prints one line per kill: whether the child was still at work, which drills it had told to be kept, what the
database holds after, and all drills measured until then.
"""

import contextlib
import importlib.util
import json
import os
import random
import signal
import sqlite3
import sys
import time
import traceback
from pathlib import Path

from sqlalchemy import select

sys.path.insert(0, str(Path.cwd()))

import analyzer.files.folder
import analyzer.files.results.result_json  # noqa: F401 (loaded before the children are made, not in each)
from analyzer.workspace.database.connection import opened
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.database.tables import DrillRow

_spec = importlib.util.spec_from_file_location("tiny_workspace", Path(__file__).with_name("tiny_workspace.py"))
tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(tiny)

MOST_TOLD, LONGEST_S = 3, 0.03


def begin(club: Path) -> tuple[int, int]:
    """Start a child that indexes, and return its number and the pipe into which it tells what is kept."""
    reading, writing = os.pipe()
    child = os.fork()
    if child:
        os.close(writing)
        return child, reading
    try:
        index_workspace(club, kept=lambda drill: os.write(writing, f"{drill}\n".encode()))
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


def kill(child: int, reading: int, before: int, rng: random.Random) -> tuple[bool, list[str]]:
    """Kill a child some time after it told of what was there `before` and some more drills.

    Return whether it was at work, and all that it told.
    """
    with os.fdopen(reading, "rb") as stream:
        first = [stream.readline() for _ in range(before + rng.randint(0, MOST_TOLD))]
        time.sleep(rng.uniform(0.0, LONGEST_S))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        return os.WIFSIGNALED(status), (b"".join(first) + stream.read()).decode().split()


def rows(club: Path) -> list[str]:
    """Return the drills in the database, opened as anybody would."""
    with opened(club) as store, store.reading() as session:
        return list(session.scalars(select(DrillRow.name)))


def sound(club: Path) -> str:
    """Return what SQLite finds of its file, "ok" for a server that answers."""
    path = club / "searchwake.db"
    if os.environ.get("SEARCHWAKE_DB"):
        return "ok" if rows(club) is not None else "gone"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA integrity_check").fetchone()[0]


def killed(club: Path, log: Path, kills: int) -> None:
    """Kill children at random moments."""
    rng = random.Random(4)
    with opened(club):
        pass  # the first tables; killing that is a matter of the database alone
    for _ in range(kills):
        at_work, told = kill(*begin(club), len(rows(club)), rng)
        line = {"killed": at_work, "told": told, "sound": sound(club), "rows": rows(club)}
        say(json.dumps(line | {"measured": log.read_text().split() if log.exists() else []}))


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    """Do what the command line says."""
    what, club, log = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    sys.modules["analyzer.engine.pipeline"], _ = tiny.fake_pipeline(0.01, log)
    if what == "once":
        index_workspace(club, kept=say)
    else:
        killed(club, log, int(sys.argv[4]))


if __name__ == "__main__":
    main()
