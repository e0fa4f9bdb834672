"""The database of a workspace: versions, faults and transactions."""

import contextlib
import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

import pytest
from sqlalchemy import text

from analyzer.errors import InputError
from analyzer.workspace.database.connection import SCHEMA, opened
from analyzer.workspace.database.queries import audit_lines
from analyzer.workspace.database.tables import Base, DrillRow, RunRow
from analyzer.workspace.people.rows import note


@pytest.fixture
def plain(tmp_path, monkeypatch):
    """Return a workspace with a database of its own in it."""
    monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    (tmp_path / "drills").mkdir()
    with opened(tmp_path) as store, store.writing() as session:
        note(session, "made")
    return tmp_path


def test_steps_lead_to_the_tables(club):
    """What the migrations make is what the tables say, and the last of them is the version we ask for."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with opened(club) as store, store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []
        assert context.get_current_revision() == SCHEMA


def test_a_later_opening_needs_no_migration(club, monkeypatch):
    with opened(club):
        pass
    monkeypatch.setattr("alembic.command.upgrade", lambda *_: pytest.fail("migrated again"))
    with opened(club) as store:
        assert audit_lines(store) == ()


def half(store):
    """Write, then fail."""
    with store.writing() as session:
        note(session, "never")
        session.flush()
        raise ZeroDivisionError


def test_all_or_nothing(club):
    with opened(club) as store:
        with pytest.raises(ZeroDivisionError):
            half(store)
        with store.writing() as session:
            note(session, "kept")
        assert [line.what for line in audit_lines(store)] == ["kept"]


def test_runs_go_with_their_drill(club):
    with opened(club) as store:
        with store.writing() as session:
            texts = dict.fromkeys(("searcher", "searcher_key", "result_sha256", "time_zero"), "")
            run = RunRow(name="r", **texts, duration_s=1.0, line={})
            texts = dict.fromkeys(("key", "rules_sha256", "engine"), "")
            session.add(DrillRow(name="d", **texts, lines_version=1, failures=[], runs=[run]))
        with store.writing() as session:
            session.execute(text("DELETE FROM drill"))
        with store.reading() as session:
            assert session.execute(text("SELECT count(*) FROM run")).scalar() == 0


def test_readers_cannot_write_on_a_server(tmp_path, monkeypatch, postgres_url):
    monkeypatch.setenv("SEARCHWAKE_DB", postgres_url)
    with (
        opened(tmp_path) as store,
        pytest.raises(InputError, match="the database is read-only"),
        store.reading() as session,
    ):
        session.execute(text("DELETE FROM drill"))


def test_newer_version(club):
    with opened(club) as store, store.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    words = r"newer version of searchwake \(9999; this one knows 0002\); update"
    with pytest.raises(InputError, match=words), opened(club):
        pass


def test_tables_of_another_program(club):
    with opened(club) as store, store.writing() as session:
        session.execute(text("DROP TABLE alembic_version"))
    with pytest.raises(InputError, match="there are tables of another program in it"), opened(club):
        pass


@pytest.mark.parametrize("mode", ["BEGIN EXCLUSIVE", "PRAGMA journal_mode=DELETE"])
def test_locked(plain, mode):
    """By a writer, and by a program that has the file for itself."""
    with contextlib.closing(sqlite3.connect(plain / "searchwake.db", isolation_level=None)) as other:
        if mode.startswith("PRAGMA"):
            other.execute(mode)
            other.execute("PRAGMA locking_mode=EXCLUSIVE")
            other.execute("BEGIN EXCLUSIVE")
        else:
            other.execute(mode)
        with (
            pytest.raises(InputError, match="another program holds the database locked; wait"),
            opened(plain, busy_s=0.05) as store,
            store.writing() as session,
        ):
            note(session, "too late")
    with opened(plain) as store:
        assert [line.what for line in audit_lines(store)] == ["made"]


def test_locked_server(club):
    with opened(club) as first, opened(club, busy_s=0.05) as second:
        with (
            first.writing(),
            pytest.raises(InputError, match="another program holds the database locked"),
            second.writing() as session,
        ):
            note(session, "too late")
        assert audit_lines(second) == ()


@contextlib.contextmanager
def as_nobody():
    """Drop the rights of root, which may write to everything, for a while."""
    if os.geteuid() != 0:
        yield
        return
    os.setegid(65534)
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(0)


@pytest.fixture
def open_folder():
    """Return a folder that others can reach, unlike those of the tests of root."""
    folder = Path(tempfile.mkdtemp(prefix="swro"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_read_only(plain, open_folder):
    club = open_folder / "club"
    shutil.copytree(plain, club)
    for path in (club / "searchwake.db", club):
        path.chmod(0o555)
    with (
        as_nobody(),
        pytest.raises(InputError, match="SEARCHWAKE_DB") as caught,
        opened(club) as store,
        store.writing() as session,
    ):
        note(session, "never")
    assert "read-only" in caught.value.what or "cannot be opened" in caught.value.what
    club.chmod(0o755)


def test_folder_that_may_not_be_written_to(open_folder):
    (open_folder / "drills").mkdir()
    open_folder.chmod(0o555)
    with as_nobody(), pytest.raises(InputError, match="the database cannot be opened; check"), opened(open_folder):
        pass


@pytest.mark.parametrize("how", ["no database", "cut off", "overwritten", "table gone"])
def test_damaged(plain, how):
    path = plain / "searchwake.db"
    data = path.read_bytes()
    if how == "no database":
        path.write_bytes(b"something else, and quite a lot of it" * 200)
    elif how == "cut off":
        path.write_bytes(data[: len(data) // 2])
    elif how == "overwritten":
        path.write_bytes(data[:4096] + b"\xff" * (len(data) - 4096))
    else:
        with contextlib.closing(sqlite3.connect(path)) as other:
            other.execute("DROP TABLE audit")
    with pytest.raises(InputError, match="the database is damaged") as caught, opened(plain) as store:
        audit_lines(store)
    assert "run searchwake index again: no measurement is lost" in caught.value.do


def test_named_elsewhere(tmp_path, monkeypatch):
    """A path in SEARCHWAKE_DB is used, and serves one workspace."""
    monkeypatch.setenv("SEARCHWAKE_DB", str(tmp_path / "elsewhere.db"))
    for name in ("a", "b"):
        (tmp_path / name / "drills").mkdir(parents=True)
    for _ in range(2):
        with opened(tmp_path / "a"):
            assert (tmp_path / "elsewhere.db").is_file()
    assert not (tmp_path / "a" / "searchwake.db").exists()
    with pytest.raises(InputError, match="this is the database of another workspace"), opened(tmp_path / "b"):
        pass


@pytest.mark.parametrize(
    ("named", "what"),
    [
        ("mysql://a@b/c", "neither a path nor the URL"),
        ("postgresql://a@b:port/c", "neither a path nor the URL"),
        ("/no/such/folder/x.db", "cannot be opened"),
        ("postgresql://who:secret@/none?host=/no/such/place", "does not work"),
    ],
)
def test_bad_names(tmp_path, monkeypatch, named, what):
    monkeypatch.setenv("SEARCHWAKE_DB", named)
    with pytest.raises(InputError, match=what) as caught, opened(tmp_path):
        pass
    assert "secret" not in str(caught.value)


def test_no_workspace(tmp_path):
    with pytest.raises(InputError, match="there is no such workspace"), opened(tmp_path / "none"):
        pass
