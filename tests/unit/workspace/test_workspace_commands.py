"""`searchwake index` and `searchwake people` as they are typed. The pipeline is invented."""

import io
import subprocess
import sys
from pathlib import Path

import pytest
import tiny_workspace as tiny

from analyzer import cli
from analyzer.workspace.people.people_toml import read_people

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def typed(tmp_path, monkeypatch, measured, capsys):
    """Return a function that runs a command on a workspace of two runs and gives exit code, output and complaints."""
    monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    monkeypatch.chdir(tmp_path)
    tiny.add_drill(tmp_path / "club", "bowl", {"mara-1": "Mara", "ilo-1": "Ilo"})

    def run(*words):
        code = cli.main(words)
        return code, *capsys.readouterr()

    return run


def test_index_says_what_it_did(typed):
    assert typed("index", "club", "--jobs", "1") == (
        0, "1 drill, 2 runs: 2 measured, 0 read from results, 0 as they were\n", ""
    )  # fmt: skip
    assert typed("index", "club")[1].endswith("0 measured, 0 read from results, 2 as they were\n")
    Path("club/searchwake.db").unlink()
    assert typed("index", "club")[1].endswith("0 measured, 2 read from results, 0 as they were\n")
    assert typed("index", "club", "--again")[1].endswith("2 measured, 0 read from results, 0 as they were\n")
    Path("club/drills/bowl").rename("bowl")
    assert typed("index", "club")[1].splitlines()[1] == "bowl: the drill is gone, and its rows with it"


def test_index_tells_of_failures(typed):
    tiny.add_drill(Path("club"), "gully", {"vague-1": "Ilo"})
    assert typed("index", "club") == (
        1,
        "2 drills, 2 runs: 2 measured, 0 read from results, 0 as they were\n",
        "gully/vague-1: no path; record longer\n",
    )


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("index", "nowhere"), "nowhere: there is no folder drills/ in it"),
        (("people", "nowhere", "list"), "nowhere: there is no such workspace"),
        (("people", "club", "change", "Mara"), "people change: nothing to change"),
        (("people", "club", "add", "Mara", "--consent", "soon"), "soon is neither a day like 2026-01-17 nor no"),
        (("people", "club", "merge", "Mara", "Ilo"), "people.toml: nobody is named 'Mara'"),
        (("people", "club"), "ACTION"),
    ],
)
def test_wrong_usage(typed, words, error):
    code, _, complaint = typed(*words)
    assert code == 2
    assert error in complaint


def test_people_from_first_to_last(typed, monkeypatch):
    typed("index", "club")
    assert typed("people", "club", "add", "Mara", "--group", "Tuesday", "--consent", "2026-01-17")[0] == 0
    assert typed("people", "club", "change", "Mara", "--consent", "no")[0] == 0
    person = read_people(Path("club")).persons[0]
    assert (person.group, person.consent, person.consent_date is None) == ("Tuesday", False, False)
    assert typed("people", "club", "merge", "Mara", "Ilo")[1] == "Mara: also Ilo\n"
    rows = [line.split() for line in typed("people", "club", "list")[1].splitlines() if "Tuesday" in line]
    assert [[row[i] for i in (1, 3, 5, 7)] for row in rows] == [["Mara", "Tuesday", "no", "2"]]
    assert typed("people", "club", "export", "Mara")[1] == "mara.zip: 2 runs, 2 results, 0 originals\n"
    assert Path("mara.zip").is_file()
    for answer in ("", "yes\n", "Ilo\n"):
        monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
        code, out, complaint = typed("people", "club", "forget", "Mara")
        assert (code, complaint) == (2, "nothing was removed\n")
        assert "This removes 2 runs, 2 results, 0 loaded files and the entry of Mara, for good." in out
        assert Path("club/drills/bowl/runs/mara-1/track.csv").is_file()
    monkeypatch.setattr(sys, "stdin", io.StringIO("mara\n"))
    assert typed("people", "club", "forget", "Mara")[0] == 0
    assert list(Path("club/drills/bowl/runs").iterdir()) == []
    log = typed("people", "club", "log")[1]
    assert log.splitlines()[-1].endswith("a person was forgotten: 2 runs, 2 results, 0 originals")
    assert "Mara" not in log


def test_forget_without_a_question(typed):
    assert typed("people", "club", "forget", "Ilo", "--yes")[0] == 0
    assert not Path("club/drills/bowl/runs/ilo-1").exists()


def test_help_needs_no_database():
    """The help of all commands, and of these two, loads neither SQLAlchemy nor numpy."""
    for words in (["--help"], ["index", "--help"], ["people", "--help"]):
        code = (
            f"import sys; from analyzer import cli; cli.main({words!r}); "
            "sys.exit(len({'sqlalchemy', 'alembic', 'numpy'} & set(sys.modules)))"
        )
        done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        assert "usage: searchwake" in done.stdout
