"""Links that lead out of a folder: followed where we read, as their owner put them there; never written through."""

import os
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.files.source import write_atomic, write_new
from tests.support.small_drill import DRILL, TRACK

pytestmark = pytest.mark.skipif(os.name == "nt", reason="links need rights there")


def test_a_linked_track_and_a_linked_run_are_read(tmp_path):
    elsewhere, drill = tmp_path / "elsewhere", tmp_path / "bowl"
    (elsewhere / "b-1").mkdir(parents=True)
    (elsewhere / "b-1" / "track.csv").write_text(TRACK)
    (drill / "runs" / "a-1").mkdir(parents=True)
    (drill / "drill.toml").write_text(DRILL)
    (drill / "runs" / "a-1" / "track.csv").symlink_to(elsewhere / "b-1" / "track.csv")
    (drill / "runs" / "b-1").symlink_to(elsewhere / "b-1")
    assert cli.main(["analyze", str(drill), "--out", str(tmp_path / "out")]) == 0
    assert sorted(p.name for p in (tmp_path / "out" / "bowl").glob("*.json")) == ["a-1.json", "b-1.json"]


def test_a_file_is_not_written_through_a_link(tmp_path):
    (tmp_path / "mine").write_text("mine")
    link = tmp_path / "summary.csv"
    link.symlink_to(tmp_path / "mine")
    write_atomic(link, b"ours")
    assert (tmp_path / "mine").read_text() == "mine"
    assert link.read_bytes() == b"ours"
    assert not link.is_symlink()


def test_a_new_file_is_not_written_through_a_link(tmp_path):
    link = tmp_path / "sheet.toml"
    link.symlink_to(tmp_path / "not there")
    with pytest.raises(ValueError, match="already such a file"):
        write_new(link, b"ours")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["sheet.toml"]


def test_a_link_to_itself_is_one_line(tmp_path, capsys):
    drill = tmp_path / "bowl"
    (drill / "runs" / "a-1").mkdir(parents=True)
    (drill / "drill.toml").write_text(DRILL)
    track = drill / "runs" / "a-1" / "track.csv"
    track.symlink_to(track)
    assert cli.main(["analyze", str(drill), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("bowl/a-1/track.csv: the file cannot be read (Too many levels of symbolic links)")


def test_a_dangling_link_is_one_line(tmp_path, capsys):
    drill = tmp_path / "bowl"
    (drill / "runs" / "a-1").mkdir(parents=True)
    (drill / "drill.toml").write_text(DRILL)
    (drill / "runs" / "a-1" / "track.csv").symlink_to(Path("nowhere"))
    assert cli.main(["analyze", str(drill), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "track.csv: there is no such file" in line
