"""Forget a person: files, results, rows and their entry. What was done stays in the audit log, not of whom.

The order is such that a call that is killed can be repeated: the entry in people.toml goes last.
"""

import csv
import io
import json
import shutil
from pathlib import Path

from sqlalchemy import select

from analyzer.errors import InputError
from analyzer.files.checks_toml import parse_checks_toml, write_checks_toml
from analyzer.files.csv_cells import safe_cell
from analyzer.files.source import PART, regular_bytes, write_atomic
from analyzer.model.people import People, name_key
from analyzer.workspace.database.connection import Store, opened
from analyzer.workspace.database.tables import DrillRow
from analyzer.workspace.drill_key import keep_entry
from analyzer.workspace.layout import (
    BIN,
    BIN_RESULT,
    DEVICES_FILE,
    EARLIER_ENDING,
    EVERY_BINNED,
    EVERY_EARLIER,
    INCOMING,
    LOCK_FILE,
    LOG_FILE,
    MOVED_FILE,
    ORIGINALS,
    RESULTS,
    SUMMARY_FILE,
)
from analyzer.workspace.lock import locked
from analyzer.workspace.people.changes import person_named
from analyzer.workspace.people.people_toml import change_people
from analyzer.workspace.people.personal_data import PersonalData, find_traces, log_lines
from analyzer.workspace.people.rows import note, put_people

FORGOTTEN = "forgotten"


def to_forget(workspace: Path, name: str) -> tuple[PersonalData, bool]:
    """Return what forgetting a person would remove, and whether people.toml has them; nothing is changed.

    Raises
    ------
    InputError
        Where nothing is known of the name.
    """
    person, listed = person_named(workspace, name)
    personal_data = find_traces(workspace, person)
    found = personal_data
    parts = (found.runs, found.results, found.binned, found.phones, found.checks)
    if not (listed or any(parts)):
        raise InputError(
            where=name, what="there is nothing of this name", do="look at searchwake people WORKSPACE list"
        )
    return personal_data, listed


def forget_person(workspace: Path, name: str) -> PersonalData:
    """Remove a person's runs, results, originals, rows and entry, and return what was removed.

    Raises
    ------
    InputError
        Where nothing is known of the name, or a file or the database cannot be changed: the call can be repeated.
    """
    with opened(workspace) as store:
        personal_data, listed = to_forget(workspace, name)
        try:
            _remove_files(workspace, personal_data)
        except OSError as error:
            raise InputError(
                where=str(error.filename or workspace),
                what=f"it cannot be removed ({error.strerror})",
                do="allow writing to the workspace and repeat the command; a part is removed already",
            ) from None
        _remove_rows(store, personal_data)
        if listed:
            people = change_people(workspace, lambda people: _without(people, personal_data))
            with store.writing() as session:
                put_people(session, people)
        with store.writing() as session:
            note(
                session,
                f"a person was forgotten: {len(personal_data.runs)} runs, {len(personal_data.results)} results, "
                f"{len(personal_data.originals)} originals",
            )
        _sweep(store)
    return personal_data


def _without(people: People, personal_data: PersonalData) -> People:
    return People(tuple(p for p in people.persons if p.name != personal_data.person.name))


def _remove_files(workspace: Path, personal_data: PersonalData) -> None:
    """Originals first: it is by the files of the runs that they are found."""
    removed = {path.name for path in (*personal_data.originals, *personal_data.archives)}
    for path in (*personal_data.originals, *personal_data.archives):
        path.unlink(missing_ok=True)
    _clean_log(workspace / ORIGINALS, removed)
    _clean_phones(workspace / INCOMING / DEVICES_FILE, personal_data.phones)
    for load in personal_data.loads:
        shutil.rmtree(load)
    for path in personal_data.results:
        path.unlink(missing_ok=True)
    for path in (workspace / RESULTS).glob(EVERY_EARLIER):
        if (path.parent.name, path.name.removesuffix(f".json{EARLIER_ENDING}")) in personal_data.places or _names(
            path, personal_data
        ):
            path.unlink(missing_ok=True)
    out, places = workspace / RESULTS, personal_data.places | personal_data.binned_places
    for drill in sorted({drill for drill, _ in places}):
        keep_entry(out, drill, None)
        for left in (out / drill).glob(f".*{PART}"):  # what a killed process had begun to write
            left.unlink(missing_ok=True)
        (out / drill / MOVED_FILE).unlink(missing_ok=True)
        _unname(out / drill, {run for name, run in places if name == drill})
    _clean_summary(out / SUMMARY_FILE, personal_data.places)
    for entry in personal_data.binned:
        shutil.rmtree(entry)
    for drill in {drill for drill, _ in places}:
        _remove_kept_results(workspace, drill)
    for path in personal_data.checks:
        _clean_checks(path, {name_key(name) for name in personal_data.person.names})
    for run in personal_data.runs:
        shutil.rmtree(run)


def _clean_checks(path: Path, keys: set[str]) -> None:
    """Take a person's entries out of what was checked before a drill; what others say of them stays theirs."""
    rest = [check for check in parse_checks_toml(regular_bytes(path) or b"") if name_key(check.who) not in keys]
    write_atomic(path, write_checks_toml(rest))


def _remove_kept_results(workspace: Path, drill: str) -> None:
    """Remove what the bin has of other runs' results of a drill: they say which runs were measured with them."""
    for path in (workspace / BIN).glob(EVERY_BINNED):
        try:
            same = json.loads(path.read_bytes())["drill"] == drill
        except (ValueError, KeyError, TypeError, RecursionError):
            same = True
        if same:
            (path.parent / BIN_RESULT).unlink(missing_ok=True)


def _names(path: Path, personal_data: PersonalData) -> bool:
    """Return whether a result set aside is of the person, or of nobody knows whom."""
    try:
        searcher = json.loads(path.read_bytes())["run"]["searcher"]
        return name_key(searcher) in {name_key(name) for name in personal_data.person.names}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return True


def _unname(results: Path, runs: set[str]) -> None:
    """Take the names of runs out of what the results of other runs say of their fit; they are measured anew next."""
    for path in results.glob("*.json"):
        try:
            values = json.loads(path.read_bytes())
        except (ValueError, RecursionError):  # damaged: it is measured anew, and names nobody by what can be read of it
            continue
        shared = values.get("shared") if isinstance(values, dict) else None
        named = [one for one in shared["runs"] if one["run"] in runs] if isinstance(shared, dict) else []
        for one in named:
            one["run"] = FORGOTTEN
        if named:
            write_atomic(path, (json.dumps(values, ensure_ascii=False, separators=(",", ":")) + "\n").encode())


def _clean_log(originals: Path, removed: set[str]) -> None:
    """Leave of each removed file that it came, not under which name."""
    if not (originals / LOG_FILE).is_file():
        return
    with locked(originals / LOCK_FILE):  # a file that is loaded meanwhile has its line after this
        lines = log_lines(originals)
        if not any(line.get("sha256") in removed for line in lines):
            return
        for line in lines:
            if line.get("sha256") in removed:
                line["name"] = FORGOTTEN
        text = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
        write_atomic(originals / LOG_FILE, text.encode("utf-8", "surrogateescape"))


def _clean_phones(path: Path, phones: tuple[str, ...]) -> None:
    """Take the person's phones out of the list of those that are let in."""
    if not phones:
        return
    with locked(path.with_name(f".{DEVICES_FILE}.lock")):
        values = json.loads(path.read_bytes())
        values["devices"] = [one for one in values["devices"] if one["id"] not in phones]
        write_atomic(path, json.dumps(values, ensure_ascii=True, indent=1).encode())


def _clean_summary(path: Path, places: frozenset[tuple[str, str]]) -> None:
    if not path.is_file():
        return
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
    gone = {(safe_cell(drill), safe_cell(run)) for drill, run in places}
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(row for row in rows if tuple(row[:2]) not in gone)
    write_atomic(path, stream.getvalue().encode())


def _remove_rows(store: Store, personal_data: PersonalData) -> None:
    """Remove the person's runs and what is said of them; their drills are measured again at the next index."""
    keys, places = {name_key(name) for name in personal_data.person.names}, personal_data.places
    with store.writing() as session:
        for drill in session.scalars(select(DrillRow)):
            gone = [r for r in drill.runs if r.searcher_key in keys or (drill.name, r.name) in places]
            names = {row.name for row in gone} | {run for name, run in places if name == drill.name}
            if not names:
                continue
            drill.runs = [row for row in drill.runs if row not in gone]
            starts = tuple(f"{drill.name}/{run}{end}" for run in names for end in ("/", ":", ","))
            drill.failures = [line for line in drill.failures if not line.startswith(starts)]
            drill.key = ""


def _sweep(store: Store) -> None:
    """Leave nothing of removed rows in the pages of an SQLite file; PostgreSQL has its own vacuum for that."""
    if store.engine.dialect.name != "sqlite":
        return
    from analyzer.workspace.database.errors import explained

    with explained(store.where):
        connection = store.engine.raw_connection()
        try:
            for command in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
                connection.cursor().execute(command).fetchall()
        finally:
            connection.close()
