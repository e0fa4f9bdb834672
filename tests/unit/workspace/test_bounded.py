"""Recognising in a process of its own, within a limit of time."""

import os
import signal
from pathlib import Path

import pytest

from analyzer.workspace.intake import bounded
from analyzer.workspace.intake.bounded import BoundedRecogniser
from analyzer.workspace.intake.recognise import recognise

SAMPLE = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
FILES = ("drill.toml", "runs/mara-1/track.gpx", "runs/mara-1/readings.csv")


@pytest.fixture
def reader():
    made = BoundedRecogniser()
    yield made
    made.close()


def test_files_are_what_they_are_without_it(reader):
    for name in FILES:
        data = (SAMPLE / name).read_bytes()
        assert reader(data, name=name) == recognise(data, name=name)
    bad = b"time,reading_m\nnoon,3\n"
    assert reader(bad, name="a.csv") == recognise(bad, name="a.csv")


def test_a_file_that_takes_too_long_has_its_line_and_the_next_one_is_read():
    """Without a limit the answer would come all the same, so that the process is held to be too slow from the start."""
    slow = BoundedRecogniser(most_s=0.0, most_s_per_byte=0.0)
    found = slow(b"elapsed,reading_m\n1,3\n", name="odd.csv")
    assert found.problem.startswith("odd.csv: reading it took more than 0 s and was given up; it is kept and not used")
    slow._most_s = 60.0
    assert slow(b"elapsed,reading_m\n1,3\n", name="a.csv").kind == "readings"
    slow.close()


def test_a_process_that_ends_is_told_and_started_again(reader):
    data = (SAMPLE / FILES[0]).read_bytes()
    reader(data, name="drill.toml")
    os.kill(reader._process.pid, signal.SIGSTOP)  # so that it is alive when it is asked, and gone when it should answer
    killer = bounded.threading.Timer(0.2, os.kill, (reader._process.pid, signal.SIGKILL))
    killer.start()
    assert "ended the process that reads files" in reader(data, name="drill.toml").problem
    killer.join()
    assert reader(data, name="drill.toml").kind == "drill"


def test_ending_it_leaves_no_process(reader):
    reader(b"x", name="x")
    pid = reader._process.pid
    reader.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
