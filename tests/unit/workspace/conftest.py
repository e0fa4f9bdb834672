"""A workspace with an invented pipeline, on SQLite and on PostgreSQL."""

import contextlib
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def _load(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


tiny = _load("tiny_workspace", HERE / "tiny_workspace.py")
sys.modules.setdefault("tiny_workspace", tiny)


def _postgres_programs() -> Path | None:
    """Return the folder of Debian's server programs, newest first, else where the path finds them."""
    debian = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[-3].split(".")[0]))
    found = [*debian[::-1], *(Path(p) for p in [shutil.which("initdb")] if p)]
    return found[0].parent if found else None


@pytest.fixture(scope="session")
def postgres():
    """Start a PostgreSQL server of our own and give the folder of its socket; the server is thrown away after.

    Without its programs the tests are skipped, but fail where CI is set, so that they never go missing.
    """
    programs = _postgres_programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is needed in CI: install Debian's package postgresql")
        pytest.skip("PostgreSQL is not installed")
    as_other = {}
    folder = Path(tempfile.mkdtemp(prefix="swpg"))  # a short path: a socket's may have 107 bytes
    if os.geteuid() == 0:  # the server refuses to run as root
        import pwd

        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_other = {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}

    def run(program, *words):
        done = subprocess.run(
            [programs / program, *words], cwd=folder, capture_output=True, text=True, timeout=60, **as_other
        )
        assert done.returncode == 0, done.stdout + done.stderr

    data = str(folder / "data")
    try:
        run("initdb", "-D", data, "-U", "searchwake", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        run("pg_ctl", "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start")
        yield folder
        run("pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_url(postgres, request):
    """Return the URL of a new, empty database."""
    import psycopg

    name = f"t{os.getpid()}_{abs(hash(request.node.nodeid))}"
    with contextlib.closing(psycopg.connect(f"host={postgres} user=searchwake dbname=postgres", autocommit=True)) as c:
        c.execute(f"CREATE DATABASE {name}")
    return f"postgresql://searchwake@/{name}?host={postgres}"


@pytest.fixture(params=["sqlite", "postgresql"])
def club(request, tmp_path, monkeypatch):
    """Return an empty workspace whose database is of either kind."""
    if request.param == "postgresql":
        monkeypatch.setenv("SEARCHWAKE_DB", request.getfixturevalue("postgres_url"))
    else:
        monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    (tmp_path / "club" / "drills").mkdir(parents=True)
    return tmp_path / "club"


@pytest.fixture
def measured(monkeypatch):
    """Put an invented pipeline in the place of the true one; return the list of names of drills measured."""
    fake, calls = tiny.fake_pipeline()
    monkeypatch.setitem(sys.modules, "analyzer.engine.pipeline", fake)
    return calls
