"""A track whose times count from the start of the run."""

import dataclasses
import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run

DRILL = parse_drill_toml(
    b"""[drill]
name = "Bowl"
date = 2026-01-17
origin = {latitude = 46.0, longitude = 7.0, elevation_m = 0.0}
[[transmitter]]
id = "A"
east_m = 5.0
north_m = 5.0
depth_m = 1.0
"""
)
TRACK = b"elapsed,latitude,longitude\n" + b"".join(b"%d,46.0000%02d,7.0\n" % (i, i) for i in range(20))
START = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)


def test_it_begins_at_the_start_mark():
    marks = b"time,mark\n2026-01-17T09:30:00Z,start\n"
    run = parse_run("mara-1", {"track.csv": TRACK, "marks.csv": marks}, DRILL)
    assert run.time_zero == START
    assert run.track.time_s.tolist() == list(range(20))
    assert ("counted from the start, put behind it", 20) in run.inputs[0].dropped


def test_it_begins_at_the_start_of_the_drill():
    run = parse_run("mara-1", {"track.csv": TRACK}, dataclasses.replace(DRILL, start=START))
    assert run.time_zero == START


def test_without_a_start_it_cannot_be_placed():
    with pytest.raises(InputError, match=r"track.csv: its times count from the start of the run, and nothing says"):
        parse_run("mara-1", {"track.csv": TRACK}, DRILL)
