"""The index of a workspace: every drill measured and its rows in the database, the result files first.

What is in the files already is read, not measured again; so a database that is gone is made again in little time.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from analyzer import __version__
from analyzer.engine.run_line import run_line
from analyzer.errors import InputError
from analyzer.files.hashes import hash_now
from analyzer.files.results.result_json import parse_result
from analyzer.files.results.run_line_json import to_json
from analyzer.files.rules_toml import default_rules
from analyzer.files.source import listed, read_bytes, sha256_hex
from analyzer.files.toml_table import nearest
from analyzer.model.people import name_key
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.workspace.batch import Batch, Outcome, outcomes
from analyzer.workspace.database.connection import Store, opened
from analyzer.workspace.database.tables import DrillRow, RunRow
from analyzer.workspace.layout import DRILLS, RESULTS
from analyzer.workspace.moved import has_moved, move_words
from analyzer.workspace.people.people_toml import read_people
from analyzer.workspace.people.rows import note, put_people

LINES_VERSION = 3
"""To be raised when lines are made from results in another way: the rows are then made again, from the files."""


@dataclass(slots=True)
class Report:
    """What one pass did. `measured`, `read`: runs measured now, and runs whose rows were made from files that were
    there; `gone`: drills that are no longer there; `moved`: a line per run of a drill measured anew."""

    drills: int = 0
    runs: int = 0
    measured: int = 0
    read: int = 0
    gone: list[str] = field(default_factory=list)
    moved: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)


def index_workspace(
    workspace: Path,
    *,
    jobs: int = 1,
    again: bool = False,
    anew: Collection[str] = (),
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
    anew : collection of str
        Drills of which all runs are measured anew, together.
    rules : Rules, optional
        The rule sheet for all drills; by default that in each drill's folder, else the built-in one.
    kept : callable
        Told the name of each drill once its files and rows are on disk.

    Raises
    ------
    InputError
        Where there is no workspace or no drill that `anew` names, people.toml is bad, or the database cannot be used.
    """
    folders, report = drill_folders(workspace), Report()
    _known_drills(anew, [folder.name for folder in folders])
    batch = Batch(out=workspace / RESULTS, rules=rules or default_rules(), own=rules is None)
    people = read_people(workspace)
    with opened(workspace) as store:
        with store.writing() as session:
            put_people(session, people)
            report.gone = _drop_gone(session, workspace / DRILLS)
        known = _known(store)
        for outcome in _usable(folders, batch, known, jobs=jobs, again=again, anew=anew):
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
        Where there is no drills/ that may be looked into, or the name of a folder is not text.
    """
    drills = workspace / DRILLS
    if not drills.is_dir():
        raise InputError(
            where=str(workspace), what="there is no folder drills/ in it", do="give a workspace: a folder with drills/"
        )
    found = [p for p in listed(drills) if p.is_dir() and not p.name.startswith(".")]
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


def _known_drills(asked: Collection[str], names: list[str]) -> None:
    for name in asked:
        if name not in names:
            raise InputError(where=name, what="there is no such drill in drills/", do=nearest(name, names))


def _usable(
    folders: list[Path], batch: Batch, known: dict[str, Known], *, jobs: int, again: bool, anew: Collection[str]
) -> Iterator[Outcome]:
    """Yield all outcomes; a run whose result cannot be read and whose row is not there is measured once more."""
    damaged = []
    for outcome in outcomes(folders, batch, jobs=jobs, again=again, anew=anew):
        before = known.get(outcome.name)
        if before is None or before.key != outcome.key:
            files = [
                _result_path(batch, outcome.name, r["run"]) for r in outcome.rows if r["run"] not in outcome.measured
            ]
            unread = [path for path in files if not _can_be_read(path)]
            if unread:
                damaged.append(outcome.name)
                for path in unread:  # without its file a run is measured again, the others are not
                    path.unlink(missing_ok=True)
                continue
        yield outcome
    yield from outcomes([f for f in folders if f.name in damaged], batch, jobs=jobs)


def _can_be_read(path: Path) -> bool:
    try:
        _result(path)
    except InputError:
        return False
    return True


def _result_path(batch: Batch, drill: str, run: str) -> Path:
    return batch.out / drill / f"{run}.json"


def _keep(store: Store, batch: Batch, outcome: Outcome, known: Known | None, report: Report) -> None:
    """Bring the rows of one drill up to date, in one transaction, if they are not."""
    report.drills += 1
    report.runs += len(outcome.rows)
    report.failures += outcome.failures
    report.moved += [f"{outcome.name}/{move_words(move)}" for move in outcome.moves if has_moved(move)]
    report.measured += len(outcome.measured)
    if known is not None and known.key == outcome.key and not outcome.measured:
        report.failures += _mark_stale(store, batch, outcome, known)
        return
    held = _changed(batch, outcome, known)
    report.failures += [_changed_line(outcome.name, run) for run in held]
    rows = [row for row in outcome.rows if row["run"] not in held]
    report.read += len(rows) - len(outcome.measured)
    runs, unreadable = _run_rows(batch, outcome.name, rows)
    report.failures += unreadable
    with store.writing() as session:
        drill = session.scalars(select(DrillRow).where(DrillRow.name == outcome.name)).one_or_none()
        if drill is None:
            session.add(drill := DrillRow(name=outcome.name, runs=[]))
        drill.key = outcome.key if outcome.final else ""
        drill.rules_sha256 = outcome.rules or batch.rules.sha256
        drill.engine, drill.lines_version = __version__, LINES_VERSION
        drill.failures = [_storable(line) for line in (*outcome.failures, *unreadable)]
        _replace(session, drill, held, runs)


def _replace(session: Session, drill: DrillRow, held: list[str], runs: list[RunRow]) -> None:
    """Give a drill new rows in place of all but those that are held; they are stale."""
    drill.runs = [row for row in drill.runs if row.name in held]
    for row in drill.runs:
        row.stale = True
    session.flush()  # rows that are replaced go before the new ones come: no two runs have one name
    drill.runs = [*drill.runs, *runs]


def _changed(batch: Batch, outcome: Outcome, known: Known | None) -> list[str]:
    """Return runs whose files are not those indexed, of a drill of which other runs were measured now."""
    if known is None or not known.key or not outcome.measured:
        return []
    return [
        run
        for run in (row["run"] for row in outcome.rows if row["run"] not in outcome.measured)
        if run in known.results and known.results[run][0] != hash_now(_result_path(batch, outcome.name, run))
    ]


def _changed_line(drill: str, run: str) -> str:
    do = f"measure it again with searchwake index --anew {drill}, or put the file back"
    return f"{drill}/{run}: the result file was changed after it was indexed, and was not taken over; {do}"


def _mark_stale(store: Store, batch: Batch, outcome: Outcome, known: Known) -> list[str]:
    """Return a line for each result file that is not the one indexed; its row keeps what was indexed, marked stale."""
    now = {run: hash_now(_result_path(batch, outcome.name, run)) != known.results[run][0] for run in known.results}
    changed = [run for run, stale in now.items() if stale != known.results[run][1]]
    if changed:
        with store.writing() as session:
            drill = session.scalars(select(DrillRow).where(DrillRow.name == outcome.name)).one()
            for row in drill.runs:
                row.stale = now.get(row.name, row.stale)
    return [_changed_line(outcome.name, run) for run, stale in now.items() if stale]


def _result(path: Path) -> tuple[str, RunResult]:
    data = read_bytes(path)
    return sha256_hex(data), parse_result(data, name=path.name)


def _run_rows(batch: Batch, drill: str, summary: list[dict[str, Any]]) -> tuple[list[RunRow], list[str]]:
    """Return the rows of a drill's runs, and a line for each result file that cannot be read."""
    rows, lines = [], []
    for row in summary:
        try:
            rows.append(_run_row(batch, drill, row))
        except InputError as error:
            lines.append(f"{drill}/{error}")
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
