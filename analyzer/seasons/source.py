"""Where a season's lines come from: the database of a workspace, or the result files themselves."""

import os
from pathlib import Path

from sqlalchemy import select

from analyzer.engine.run_line import run_line
from analyzer.errors import InputError
from analyzer.files.results.result_json import parse_result
from analyzer.files.results.run_line_json import from_json
from analyzer.model.people import People
from analyzer.model.run_line import RunLine
from analyzer.workspace.database.connection import ENVIRONMENT, opened
from analyzer.workspace.database.queries import run_lines
from analyzer.workspace.database.tables import DrillRow, RunRow
from analyzer.workspace.layout import DATABASE_FILE, DRILLS
from analyzer.workspace.people.people_toml import read_people


def indexed_season(workspace: Path) -> tuple[tuple[RunLine, ...], People]:
    """Return the lines of a workspace's indexed runs, and its people.

    Raises
    ------
    InputError
        Where there is no workspace or nothing in its index, or the database or people.toml cannot be used.
    """
    if not (workspace / DRILLS).is_dir():
        raise InputError(
            where=str(workspace),
            what="there is no workspace here: no drills/ in it",
            do="give the folder that holds drills/",
        )
    with opened(workspace) as store:
        lines = run_lines(store)
    if not lines:
        raise InputError(
            where=str(workspace), what="no run is indexed", do=f"run searchwake index {workspace}, then ask again"
        )
    return lines, read_people(workspace)


def known_lines(workspace: Path) -> dict[str, RunLine]:
    """Return what the database holds, by the SHA-256 of the result file that a line was made from.

    Where there is no database yet, none is made.

    Raises
    ------
    InputError
        Where the database cannot be used.
    """
    if database_files(workspace) == () and not os.environ.get(ENVIRONMENT):
        return {}
    with opened(workspace) as store, store.reading() as session:
        rows = session.execute(select(RunRow.result_sha256, RunRow.line).join(DrillRow)).all()
    known = {}
    for sha256, values in rows:
        try:
            known[sha256] = from_json(values)
        except InputError:
            continue  # a damaged row: its result file is read instead
    return known


def database_files(workspace: Path) -> tuple[Path, ...]:
    """Return the files of the workspace's own database; () where there is none or it is elsewhere."""
    if os.environ.get(ENVIRONMENT):
        return ()
    names = (DATABASE_FILE, f"{DATABASE_FILE}-wal")
    return tuple(path for path in (workspace / name for name in names) if path.is_file())


def line_of_bytes(data: bytes, *, drill: str, run: str) -> RunLine:
    """Return the line of a result file.

    Raises
    ------
    InputError
        Where the file cannot be used.
    """
    return run_line(parse_result(data, name=f"{run}.json"), drill, run)
