"""What commands do on a disk that does not take or give what it should, and on terminals that are not UTF-8."""

import errno
import io
import os
import sqlite3
import sys
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from analyzer import cli
from analyzer.commands.output import any_terminal, complain, say
from analyzer.errors import InputError
from analyzer.files import source
from analyzer.files.source import disk_error, write_atomic, write_new
from analyzer.workspace.database.errors import explained
from tests.support.small_drill import DRILL, TRACK


def a_drill(folder: Path, run: str = "a-1") -> Path:
    (folder / "runs" / run).mkdir(parents=True)
    (folder / "runs" / run / "track.csv").write_text(TRACK)
    (folder / "drill.toml").write_text(DRILL)
    return folder


@pytest.fixture
def full(monkeypatch):
    """A disk on which nothing more can be written."""

    def refuse(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(source.os, "fdopen", refuse)


@pytest.mark.parametrize(
    "arguments",
    [
        ["analyze", "DRILL", "--out", ""],
        ["demo", "--once", "--out", ""],
        ["serve", ".", "--once", "--out", ""],
        ["people", ".", "export", "Mara", "--out", " "],
        ["simulate", ""],
        ["standings", ".", "--csv", ""],
        ["evaluate", "--runs", "1", "--json", ""],
    ],
    ids=lambda a: a[0],
)
def test_an_empty_path_is_refused(arguments, tmp_path, monkeypatch, capsys):
    """It would mean the folder one is in: `analyze --out ""` wrote its results there."""
    monkeypatch.chdir(tmp_path)
    assert cli.main(arguments) == 2
    assert "the path is empty" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["analyze", "simulate", "index", "serve"])
def test_a_full_disk_is_one_line(command, tmp_path, capsys, full):
    drill = a_drill(tmp_path / "club" / "drills" / "bowl")
    arguments = {
        "analyze": ["analyze", str(drill), "--out", str(tmp_path / "out")],
        "simulate": ["simulate", str(tmp_path / "new")],
        "index": ["index", str(tmp_path / "club"), "--jobs", "1"],
        "serve": ["serve", str(tmp_path / "club"), "--once"],
    }[command]
    assert cli.main(arguments) == 2
    lines = capsys.readouterr().err.splitlines()
    assert "there is no room left on the disk; make room" in lines[-1]
    assert not any("Traceback" in line for line in lines)


def test_an_output_inside_a_file_is_one_line(tmp_path, capsys):
    (tmp_path / "out").write_text("mine")
    drill = a_drill(tmp_path / "bowl")
    assert cli.main(["analyze", str(drill), "--out", str(tmp_path / "out" / "results")]) == 2
    line = capsys.readouterr().err.splitlines()[-1]
    assert "a file is where a folder is needed" in line
    assert (tmp_path / "out").read_text() == "mine"


def test_what_cannot_be_written_names_its_file_and_leaves_nothing(tmp_path, full):
    path = tmp_path / "result.json"
    path.write_text("before")
    with pytest.raises(OSError, match="No space left") as caught:
        write_atomic(path, b"after")
    assert caught.value.filename == str(path)
    assert path.read_text() == "before"
    assert [p.name for p in tmp_path.iterdir()] == ["result.json"]


def test_a_name_as_long_as_the_disk_allows_is_written(tmp_path):
    """The temporary name was made of it, and longer."""
    path = tmp_path / ("a" * 250 + ".json")
    write_atomic(path, b"x")
    assert path.read_bytes() == b"x"


def test_a_new_file_is_whole_or_not_there(tmp_path, monkeypatch):
    """It was written under its own name, so that one that was killed left half of it."""
    seen = []
    monkeypatch.setattr(source.os, "fsync", lambda _: seen.append((tmp_path / "sheet.toml").exists()))
    write_new(tmp_path / "sheet.toml", b"whole")
    assert seen == [False]
    assert (tmp_path / "sheet.toml").read_bytes() == b"whole"
    with pytest.raises(InputError, match="already such a file"):
        write_new(tmp_path / "sheet.toml", b"other")
    assert (tmp_path / "sheet.toml").read_bytes() == b"whole"
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.toml"]


def test_a_new_file_on_a_disk_without_hard_links(tmp_path, monkeypatch):
    def refuse(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    write_new(tmp_path / "sheet.toml", b"whole")
    with pytest.raises(InputError, match="already such a file"):
        write_new(tmp_path / "sheet.toml", b"other")
    assert (tmp_path / "sheet.toml").read_bytes() == b"whole"


def test_a_run_whose_name_is_too_long_for_its_result_is_told_and_the_others_are_written(tmp_path, capsys):
    drill = a_drill(tmp_path / "bowl")
    a_drill(tmp_path / "bowl", run="b" * 253)
    assert cli.main(["analyze", str(drill), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "the name is too long for this disk; give it a shorter name" in line
    assert [p.name for p in (tmp_path / "out" / "bowl").glob("*.json")] == ["a-1.json"]


@pytest.mark.parametrize("name", ["summary.csv", ".searchwake-cache.json", ".searchwake-lock"])
def test_a_drill_named_like_a_file_of_the_results_is_told(name, tmp_path, capsys):
    """`summary.csv` became a folder, in whose place no summary could be written."""
    drill, other = a_drill(tmp_path / name), a_drill(tmp_path / "bowl")
    assert cli.main(["analyze", str(drill), str(other), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line == f"{name}: a file of the results has this name; rename the drill's folder"
    assert (tmp_path / "out" / "summary.csv").is_file()
    assert (tmp_path / "out" / "bowl" / "a-1.json").is_file()


@pytest.mark.parametrize("name", ["results", "drills", "runs", "incoming", "events", "index.sqlite", "searchwake.db"])
def test_a_drill_named_like_something_else_of_ours_is_measured(name, tmp_path):
    a_drill(tmp_path / "club" / "drills" / name)
    assert cli.main(["index", str(tmp_path / "club"), "--jobs", "1"]) == 0
    assert (tmp_path / "club" / "results" / name / "a-1.json").is_file()


@pytest.mark.parametrize(
    ("encoding", "minus", "name"),
    [("ascii", "-1 +/- 2", "J\\xf8rn"), ("latin-1", "-1 ± 2", "Jørn"), ("utf-8", "−1 ± 2", "Jørn")],
)
def test_every_terminal_takes_every_sign(encoding, minus, name, monkeypatch):
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding=encoding) for _ in range(2))
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    any_terminal()
    say("−1 ± 2")
    complain("Jørn")
    out.flush()
    err.flush()
    assert out.buffer.getvalue().decode(encoding) == f"{minus}\n"
    assert err.buffer.getvalue().decode(encoding) == f"{name}\n"


def test_a_name_that_is_no_text_is_printed(monkeypatch):
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    monkeypatch.setattr(sys, "stdout", out)
    any_terminal()
    say(os.fsdecode(b"bowl\xff"))
    out.flush()
    assert out.buffer.getvalue() == b"bowl\\udcff\n"


def test_a_disk_too_full_to_open_the_database_is_told():
    """SQLite cannot make the files beside its own then, and calls that an error of the disk."""
    trouble = OperationalError("BEGIN", {}, sqlite3.OperationalError("disk I/O error"))
    with (
        pytest.raises(InputError, match=r"club\.db: there is no room left on the disk of the database"),
        explained("club.db"),
    ):
        raise trouble


def test_an_error_without_a_place_or_words_is_told():
    assert str(disk_error(OSError("odd"))).startswith("the disk: odd; check the disk")
    assert str(disk_error(OSError(errno.EROFS, "x", "club/out"))).startswith("club/out: the disk is read-only; ")
