"""The index of a workspace: every drill measured and its rows in the database, the result files first.

What is in the files already is read, not measured again; so a database that is gone is made again in little time.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from analyzer import __version__
from analyzer.engine.run_line import run_line
from analyzer.errors import InputError
from analyzer.files.results.result_json import parse_result
from analyzer.files.results.run_line_json import to_json
from analyzer.files.rules_toml import default_rules
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.model.people import name_key
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.workspace.batch import Batch, Outcome, outcomes
from analyzer.workspace.database.connection import Store, opened
from analyzer.workspace.database.tables import DrillRow, RunRow
from analyzer.workspace.layout import DRILLS, RESULTS
from analyzer.workspace.people.people_toml import read_people
from analyzer.workspace.people.rows import note, put_people

LINES_VERSION = 2
"""To be raised when lines are made from results in another way: the rows are then made again, from the files."""


@dataclass(slots=True)
class Report:
    """What one pass did. `measured`, `read`: runs measured now, and runs whose rows were made from files that were
    there; `gone`: drills that are no longer there."""

    drills: int = 0
    runs: int = 0
    measured: int = 0
    read: int = 0
    gone: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)


def index_workspace(
    workspace: Path,
    *,
    jobs: int = 1,
    again: bool = False,
    rules: Rules | None = None,
    kept: Callable[[str], None] = lambda drill: None,
) -> Report:
    """Measure what is new or changed in a workspace and bring its database up to date.

    Parameters
    ----------
    workspace : Path
        A folder that holds `drills/`.
    jobs : int
        Drills measured at the same time.
    again : bool
        Measure what has not changed as well.
    rules : Rules, optional
        The rule sheet; the built-in one by default.
    kept : callable
        Told the name of each drill once its files and rows are on disk.

    Raises
    ------
    InputError
        Where there is no workspace, people.toml is bad, or the database cannot be used.
    """
    folders, report = drill_folders(workspace), Report()
    batch = Batch(out=workspace / RESULTS, rules=rules or default_rules())
    people = read_people(workspace)
    with opened(workspace) as store:
        with store.writing() as session:
            put_people(session, people)
            report.gone = _drop_gone(session, workspace / DRILLS)
        known = _known(store)
        for outcome in _usable(folders, batch, known, jobs=jobs, again=again):
            _keep(store, batch, outcome, known.get(outcome.name), report)
            kept(outcome.name)
        if report.measured or report.read or report.gone:
            with store.writing() as session:
                words = f"indexed: {report.measured} runs measured, {report.read} read from files"
                note(session, f"{words}, {len(report.gone)} drills gone")
    return report


def drill_folders(workspace: Path) -> list[Path]:
    """Return the drill folders of a workspace by name.

    Raises
    ------
    InputError
        Where there is no drills/, or the name of a folder is not text.
    """
    drills = workspace / DRILLS
    if not drills.is_dir():
        raise InputError(
            where=str(workspace), what="there is no folder drills/ in it", do="give a workspace: a folder with drills/"
        )
    found = sorted(p for p in drills.iterdir() if p.is_dir() and not p.name.startswith("."))
    for folder in found:
        if any(0xD800 <= ord(c) < 0xE000 for c in folder.name):
            raise InputError(where=repr(folder.name), what="the folder's name is not UTF-8", do="rename it")
    return found


@dataclass(frozen=True, slots=True)
class Known:
    """What the database holds of a drill. `results`: run -> SHA-256 of its result file and whether it is stale."""

    key: str
    failures: tuple[str, ...]
    results: dict[str, tuple[str, bool]]


def _known(store: Store) -> dict[str, Known]:
    found: dict[str, Known] = {}
    with store.reading() as session:
        columns = (DrillRow.name, DrillRow.key, DrillRow.lines_version, DrillRow.failures)
        for name, key, version, failures in session.execute(select(*columns)):
            found[name] = Known(key if version == LINES_VERSION else "", tuple(failures), {})
        query = select(DrillRow.name, RunRow.name, RunRow.result_sha256, RunRow.stale).join(DrillRow.runs)
        for drill, run, sha256, stale in session.execute(query):
            found[drill].results[run] = (sha256, stale)
    return found


def _usable(folders: list[Path], batch: Batch, known: dict[str, Known], *, jobs: int, again: bool) -> Iterator[Outcome]:
    """Yield all outcomes; a drill whose files cannot be read and whose rows are not there is measured once more."""
    damaged = []
    for outcome in outcomes(folders, batch, jobs=jobs, again=again):
        before = known.get(outcome.name)
        if not outcome.measured and (before is None or before.key != outcome.key):
            try:
                for row in outcome.rows:
                    _result(_result_path(batch, outcome.name, row["run"]))
            except InputError:
                damaged.append(outcome.name)
                continue
        yield outcome
    yield from outcomes([f for f in folders if f.name in damaged], batch, jobs=jobs, again=True)


def _result_path(batch: Batch, drill: str, run: str) -> Path:
    return batch.out / drill / f"{run}.json"


def _keep(store: Store, batch: Batch, outcome: Outcome, known: Known | None, report: Report) -> None:
    """Bring the rows of one drill up to date, in one transaction, if they are not."""
    report.drills += 1
    report.runs += len(outcome.rows)
    report.failures += outcome.failures
    if outcome.measured:
        report.measured += len(outcome.rows)
    elif known is not None and known.key == outcome.key:
        report.failures += _mark_stale(store, batch, outcome, known)
        return
    else:
        report.read += len(outcome.rows)
    runs, unreadable = _run_rows(batch, outcome)
    report.failures += unreadable
    with store.writing() as session:
        session.execute(delete(DrillRow).where(DrillRow.name == outcome.name))
        session.add(
            DrillRow(
                name=outcome.name,
                key=outcome.key if outcome.final else "",
                rules_sha256=batch.rules.sha256,
                engine=__version__,
                lines_version=LINES_VERSION,
                failures=[_storable(line) for line in (*outcome.failures, *unreadable)],
                runs=runs,
            )
        )


def _mark_stale(store: Store, batch: Batch, outcome: Outcome, known: Known) -> list[str]:
    """Return a line for each result file that is not the one indexed; its row keeps what was indexed, marked stale."""
    now = {run: _sha256(_result_path(batch, outcome.name, run)) != known.results[run][0] for run in known.results}
    changed = [run for run, stale in now.items() if stale != known.results[run][1]]
    if changed:
        with store.writing() as session:
            drill = session.scalars(select(DrillRow).where(DrillRow.name == outcome.name)).one()
            for row in drill.runs:
                row.stale = now.get(row.name, row.stale)
    do = "measure it again with searchwake index --again, or put the file back"
    return [
        f"{outcome.name}/{run}: the result file was changed after it was indexed, and was not taken over; {do}"
        for run, stale in now.items()
        if stale
    ]


def _sha256(path: Path) -> str:
    try:
        return sha256_hex(path.read_bytes())
    except OSError:
        return ""


def _result(path: Path) -> tuple[str, RunResult]:
    data = read_bytes(path)
    return sha256_hex(data), parse_result(data, name=path.name)


def _run_rows(batch: Batch, outcome: Outcome) -> tuple[list[RunRow], list[str]]:
    """Return the rows of a drill's runs, and a line for each result file that cannot be read."""
    rows, lines = [], []
    for row in outcome.rows:
        try:
            rows.append(_run_row(batch, outcome.name, row))
        except InputError as error:
            lines.append(f"{outcome.name}/{error}")
    return rows, lines


def _run_row(batch: Batch, drill: str, row: dict[str, Any]) -> RunRow:
    sha256, result = _result(_result_path(batch, drill, row["run"]))
    line = to_json(run_line(result, drill, row["run"]))
    return RunRow(
        name=row["run"],
        searcher=_storable(result.searcher),
        searcher_key=_storable(name_key(result.searcher)),
        result_sha256=sha256,
        time_zero=line["time_zero"],
        duration_s=line["duration_s"],
        score=row["score"],
        score_low=row["score_low"],
        score_high=row["score_high"],
        line=_storable(line),
        stale=False,
    )


def _storable(value: Any) -> Any:
    """Return texts without the character 0, which PostgreSQL does not store; of a number that is none, None."""
    if isinstance(value, str):
        return value.replace("\x00", "\ufffd")
    if isinstance(value, dict):
        return {_storable(k): _storable(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_storable(v) for v in value]
    return value


def _drop_gone(session: Session, drills: Path) -> list[str]:
    """Remove the rows of drills whose folders are gone; looked at now, for another process may have added some."""
    gone = [name for name in session.scalars(select(DrillRow.name)) if not (drills / name).is_dir()]
    session.execute(delete(DrillRow).where(DrillRow.name.in_(gone)))
    return gone
