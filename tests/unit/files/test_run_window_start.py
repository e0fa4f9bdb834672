"""Where elapsed times count from in a run that is a part of its recording."""

import datetime as dt
from dataclasses import replace

import pytest

from analyzer.files.folder import parse_run
from analyzer.files.writers import write_gpx
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.recorder import as_track


def test_a_drill_start_outside_the_window_is_not_that_runs_start() -> None:
    """The drill's start lay within the day's recording, and the second run's log was counted from it (2026-11-27)."""
    drill = simulate_drill(seed=4)
    zero = dt.datetime(2026, 2, 14, 9, 0, tzinfo=dt.UTC)
    laid = replace(drill.drill, start=zero + dt.timedelta(seconds=20))
    run = simulate_run(drill, seed=41)
    gpx = write_gpx(as_track(run.fixes, laid), LocalFrame(laid.origin), time_zero=zero, name="day")
    files = {"track.gpx": gpx, "readings.csv": b"elapsed,reading_m\n5,30\n15,25\n25,20\n"}
    window = b'window = ["2026-02-14T09:00:30Z", "2026-02-14T09:01:30Z"]\n'
    recording = parse_run("late", files | {"run.toml": window}, laid)
    assert (recording.time_zero - zero).total_seconds() == pytest.approx(30.0, abs=1.0)
    assert recording.readings.time_s.tolist() == pytest.approx([5.0, 15.0, 25.0])
