"""The database of a workspace: where it is, opened, brought to the present version, and its transactions."""

import json
import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session

from analyzer.errors import InputError
from analyzer.files.source import read_bytes, write_atomic
from analyzer.workspace.database.errors import REBUILD, explained
from analyzer.workspace.database.tables import Base, MetaRow
from analyzer.workspace.layout import DATABASE_FILE, WORKSPACE_MARK

ENVIRONMENT = "SEARCHWAKE_DB"
SCHEMA = "0002"
"""The last step of `migrations/versions`."""
BUSY_S = 10.0
"""How long another writer is waited for."""
WRITER_LOCK = 457_000
"""Number of the lock by which writers of a PostgreSQL database take turns; any number of our own."""


@dataclass(frozen=True, slots=True)
class Store:
    """An open database. `where`: its name in messages, without a password."""

    engine: Engine
    where: str

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Give a session that sees one state of the database and changes nothing."""
        with explained(self.where), Session(self.engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Give a session whose changes are all kept at its end, or none; writers take turns from the first line on."""
        with (
            explained(self.where),
            self.engine.connect().execution_options(writing=True) as connection,
            connection.begin(),
            Session(connection) as session,
        ):
            yield session
            session.flush()

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


@contextmanager
def opened(workspace: Path, *, busy_s: float = BUSY_S) -> Iterator[Store]:
    """Open the database of a workspace for the length of a `with` block; see `open_store`."""
    store = open_store(workspace, busy_s=busy_s)
    try:
        yield store
    finally:
        store.close()


def open_store(workspace: Path, *, busy_s: float = BUSY_S) -> Store:
    """Open the database of a workspace, made where it is missing and brought to the present version.

    It is `searchwake.db` in the workspace, or what SEARCHWAKE_DB names: the path of an SQLite file or the URL of a
    PostgreSQL database.

    Raises
    ------
    InputError
        Where there is no such workspace, or the database is locked, read-only, damaged, of a newer version, of another
        workspace, or does not answer.
    """
    if not workspace.is_dir():
        raise InputError(where=str(workspace), what="there is no such workspace", do="give a folder that holds drills/")
    named = os.environ.get(ENVIRONMENT, "")
    url = _url(named) if named else URL.create("sqlite", database=str(workspace / DATABASE_FILE))
    where = (url.database or "the database") if url.get_backend_name() == "sqlite" else url.render_as_string()
    engine = _engine(url, busy_s)
    try:
        with explained(where):
            _bring_up(engine, where)
        store = Store(engine, where)
        if named:
            _check_owner(store, workspace)
    except BaseException:
        engine.dispose()
        raise
    return store


def _url(named: str) -> URL:
    if "://" not in named:
        return URL.create("sqlite", database=named)
    try:
        url = make_url(named)
    except (ArgumentError, ValueError):
        url = None
    if url is None or url.get_backend_name() not in ("sqlite", "postgresql"):
        raise InputError(
            where=ENVIRONMENT,
            what="this is neither a path nor the URL of an SQLite or PostgreSQL database",
            do="write a path, or postgresql+psycopg://user@host/database",
        )
    return url.set(drivername="postgresql+psycopg") if url.get_backend_name() == "postgresql" else url


def _engine(url: URL, busy_s: float) -> Engine:
    settings: dict[str, Any] = {"json_serializer": _json}
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": busy_s}, **settings)
        event.listen(engine, "connect", _set_up_sqlite)
    else:
        wait = {"options": f"-c lock_timeout={int(1000 * busy_s)}", "connect_timeout": max(2, int(busy_s))}
        try:
            engine = create_engine(url, connect_args=wait, **settings)
        except ImportError:
            raise InputError(
                where=ENVIRONMENT, what="the driver for PostgreSQL is missing", do="pip install 'searchwake[club]'"
            ) from None
    event.listen(engine, "begin", _begin)
    return engine


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _set_up_sqlite(connection: Any, _: Any) -> None:
    connection.isolation_level = None  # the driver opens no transactions of its own: `_begin` does
    for setting in ("journal_mode=WAL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {setting}").close()


def _begin(connection: Connection) -> None:
    """Let writers take turns before they read: a writer that reads first could find its state outdated."""
    writing = connection.get_execution_options().get("writing", False)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")
    elif writing:
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _bring_up(engine: Engine, where: str) -> None:
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            _check_sound(connection, where)
        if _version(connection) == SCHEMA:
            return
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        version = _version(connection)
        if version != SCHEMA:  # another process may have been quicker
            _upgrade(connection, version, where)


def _check_sound(connection: Connection, where: str) -> None:
    found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    if found != "ok":
        raise InputError(where=where, what="the database is damaged", do=REBUILD)


def _version(connection: Connection) -> str | None:
    """Return the version of the tables, None where there are none."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    version: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return version


def _upgrade(connection: Connection, version: str | None, where: str) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    folder = str(resources.files("analyzer.workspace.database").joinpath("migrations"))
    config.set_main_option("script_location", folder.replace("%", "%%"))
    known = {step.revision for step in ScriptDirectory.from_config(config).walk_revisions()}
    if version is not None and version not in known:
        raise InputError(
            where=where,
            what=f"the database is of a newer version of searchwake ({version}; this one knows {SCHEMA})",
            do="update searchwake, or name another place in SEARCHWAKE_DB; nothing was changed",
        )
    foreign = set(inspect(connection).get_table_names()) & set(Base.metadata.tables)
    if version is None and foreign:
        raise InputError(
            where=where,
            what=f"there are tables of another program in it ({', '.join(sorted(foreign))})",
            do="name another database in SEARCHWAKE_DB; nothing was changed",
        )
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _check_owner(store: Store, workspace: Path) -> None:
    """Let a database outside serve one workspace only: indexing another one into it would take the first one's rows."""
    path = workspace / WORKSPACE_MARK
    if not path.exists():
        write_atomic(path, f"{uuid.uuid4()}\n".encode())
    mark = read_bytes(path).decode(errors="replace").strip()
    with store.reading() as session:
        known = session.get(MetaRow, "workspace")
        owner = known.value if known is not None else None
    if owner is None:
        with store.writing() as session:
            session.merge(MetaRow(key="workspace", value=mark))
    elif owner != mark:
        raise InputError(
            where=store.where,
            what="this is the database of another workspace",
            do=f"give each workspace a database of its own in {ENVIRONMENT}; nothing was changed",
        )
