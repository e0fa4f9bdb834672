"""Pipes, sockets and devices are no files: nothing waits for them; and folders that may not be looked into are told."""

import os
import signal
import socket
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.errors import InputError
from analyzer.files.source import listed, read_bytes
from analyzer.workspace.drill_key import read_index
from analyzer.workspace.intake.store import drill_places
from analyzer.workspace.intake.upload_session import load_basket
from analyzer.workspace.people.people_toml import read_people

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")

DRILL = """[drill]
name = "Bowl"
origin = { latitude = 46.0, longitude = 7.0 }
[[transmitter]]
id = "A"
east_m = 12
north_m = 0
depth_m = 1
"""
EVENT = """[event]
name = "Invented cup"
rules = "fastest"
[[class]]
id = "open"
name = "Open"
[[field]]
drill = "bowl"
name = "Bowl"
[[entry]]
bib = 1
name = "M"
class = "open"
runs = {bowl = "a-1"}
"""
TRACK = "time,east_m,north_m\n" + "".join(f"2026-01-17T09:30:{i:02d}Z,{i},0\n" for i in range(30))
WAITS_S = 20
"""Longer than any of these commands takes; a reader of a pipe would wait for ever."""


@pytest.fixture(autouse=True)
def no_waiting():
    """End a test that waits for a pipe."""

    def ring(*_):
        pytest.fail("it waits for a pipe")  # no Exception, which a command would catch

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(WAITS_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def club(tmp_path) -> Path:
    """A workspace with a drill of two runs and an event."""
    for run in ("a-1", "b-1"):
        folder = tmp_path / "club" / "drills" / "bowl" / "runs" / run
        folder.mkdir(parents=True)
        (folder / "track.csv").write_text(TRACK.replace(",0\n", f",{len(run)}{run[0] == 'a':d}\n"))
    (tmp_path / "club" / "drills" / "bowl" / "drill.toml").write_text(DRILL)
    (tmp_path / "club" / "events" / "cup").mkdir(parents=True)
    (tmp_path / "club" / "events" / "cup" / "event.toml").write_text(EVENT)
    return tmp_path / "club"


def piped(path: Path) -> Path:
    path.unlink(missing_ok=True)
    os.mkfifo(path)
    return path


def test_a_pipe_a_socket_and_a_device_are_no_files(tmp_path):
    listening = socket.socket(socket.AF_UNIX)
    listening.bind(str(tmp_path / "socket"))
    for path in (piped(tmp_path / "pipe"), tmp_path / "socket", Path(os.devnull)):
        with pytest.raises(InputError, match="no file but a pipe, a socket or a device"):
            read_bytes(path)
    listening.close()


@pytest.mark.parametrize("name", ["track.csv", "readings.csv", "marks.csv", "run.toml"])
def test_a_pipe_among_the_files_of_a_run_is_told_and_the_other_run_measured(name, club, tmp_path, capsys):
    piped(club / "drills" / "bowl" / "runs" / "a-1" / name)
    assert cli.main(["analyze", str(club / "drills" / "bowl"), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"bowl/a-1/{name}: this is no file but a pipe, a socket or a device; remove it")
    assert (tmp_path / "out" / "bowl" / "b-1.json").is_file()
    assert cli.main(["check", str(club)]) == 1
    assert f"drills/bowl/runs/a-1/{name}: this is no file but a pipe" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["track.csv", "marks.csv"])
@pytest.mark.parametrize(("run", "code"), [("a-1", 1), ("b-1", 0)])
def test_a_pipe_in_a_run_of_an_event_is_not_waited_for(name, run, code, club, capsys):
    """`standings` took the hash of every file of the drill, and waited. b-1 is nobody's, and told as such."""
    piped(club / "drills" / "bowl" / "runs" / run / name)
    assert cli.main(["standings", str(club / "events" / "cup")]) == code
    said = capsys.readouterr().err
    assert f"bowl/{run}/{name}: this is no file but a pipe" in said
    assert "1 run of no entry set aside: b-1" in said


@pytest.mark.parametrize("place", ["events/cup/event.toml", "rules/cup.toml", "drills/bowl/drill.toml"])
def test_a_pipe_in_place_of_a_file_of_a_workspace_is_told(place, club, capsys):
    (club / "rules").mkdir()
    piped(club / place)
    assert cli.main(["check", str(club)]) == 1
    assert "this is no file but a pipe" in capsys.readouterr().out


def test_our_own_files_are_not_waited_for(club):
    """What stands in for a file of ours counts as damaged: it is told, or measured anew."""
    results = club / "results"
    results.mkdir()
    piped(results / ".searchwake-cache.json")
    assert read_index(results) == {}
    piped(club / "people.toml")
    with pytest.raises(InputError, match="no file but a pipe"):
        read_people(club)
    (club / "incoming" / "abcdefghijklmnop").mkdir(parents=True)
    piped(club / "incoming" / "abcdefghijklmnop" / "basket.json")
    with pytest.raises(InputError, match="the list of this load cannot be read"):
        load_basket(club, "abcdefghijklmnop")
    piped(club / "drills" / "bowl" / "runs" / "a-1" / "track.csv")
    (place,) = drill_places(club)
    assert place.runs[0][0] == "a-1"


@pytest.mark.parametrize("place", ["drills/bowl/runs/a-1", "drills/bowl/runs", "drills/bowl", "drills"])
def test_a_folder_that_may_not_be_looked_into_is_one_line(place, club, tmp_path, monkeypatch, capsys):
    closed, iterdir = club / place, Path.iterdir

    def refuse(self):
        if self == closed:
            raise PermissionError(13, "Permission denied", str(self))
        return iterdir(self)

    monkeypatch.setattr(Path, "iterdir", refuse)
    name = Path(place).name
    with pytest.raises(InputError, match=f"{name}: the folder cannot be read"):
        listed(closed)
    assert cli.main(["check", str(club)]) in (1, 2)
    shown = capsys.readouterr()
    assert "the folder cannot be read (Permission denied); check its permissions" in shown.out + shown.err
    if place in ("drills/bowl/runs/a-1", "drills/bowl/runs"):
        assert cli.main(["analyze", str(club / "drills" / "bowl"), "--out", str(tmp_path / "out")]) == 1
        (line,) = capsys.readouterr().err.splitlines()
        assert line.endswith(f"{name}: the folder cannot be read (Permission denied); check its permissions")
    if name == "a-1":
        assert [p.name for p in (tmp_path / "out" / "bowl").glob("*.json")] == ["b-1.json"]


def test_check_tells_of_a_file_that_may_not_be_read_and_goes_on(club, monkeypatch, capsys):
    """It ended at the first one, and told of nothing else."""
    assert cli.main(["index", str(club), "--jobs", "1"]) == 0
    closed, really = club / "drills" / "bowl" / "runs" / "a-1" / "track.csv", Path.read_bytes

    def refuse(self):
        if self == closed:
            raise PermissionError(13, "Permission denied", str(self))
        return really(self)

    monkeypatch.setattr(Path, "read_bytes", refuse)
    (club / "drills" / "bowl" / "runs" / "b-1" / "run.toml").write_text("searcher = 1\n")
    capsys.readouterr()
    assert cli.main(["check", str(club)]) == 1
    shown = capsys.readouterr().out
    assert "runs/a-1/track.csv: the file cannot be read (Permission denied)" in shown
    assert "runs/b-1/run.toml" in shown
