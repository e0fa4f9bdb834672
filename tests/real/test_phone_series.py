"""Errors of real phones on foot, taken against a survey-grade reference, as noise of the simulator."""

import csv
import io
import os
from pathlib import Path

import numpy as np
import pytest

from analyzer.lab.simulate import RecorderSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.series import phone_series

REALDATA = Path(os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata"))
TABLE = REALDATA / "truth" / "ucalgary_tdcp_uwb_all_data.csv"
pytestmark = pytest.mark.skipif(not TABLE.is_file(), reason="needs the real recordings")


@pytest.mark.parametrize("kind", ["single_epoch", "carrier_smoothed"])
def test_series_are_metres_and_without_gaps(kind):
    pieces = phone_series(TABLE.read_text(), kind=kind)
    assert len(pieces) >= 4
    for piece in pieces:
        assert piece.time_s[0] == 0.0
        assert piece.time_s[-1] >= 60.0
        assert np.min(np.diff(piece.time_s)) > 0.0
        assert np.max(np.diff(piece.time_s)) <= 5.0
        assert 0.1 < np.sqrt(np.mean(piece.error_m**2)) < 5.0


def test_differences_to_the_reference_are_those_of_the_table():
    # The table has its author's own column of 2-D differences of the phone that walked.
    rows = csv.DictReader(io.StringIO(TABLE.read_text()))
    table = np.array([float(row["psr_minus_rtk_2d_meters_uut1"]) for row in rows])
    for piece in phone_series(TABLE.read_text()):
        gap = np.abs(np.hypot(*piece.error_m.T)[:, None] - table)
        assert np.all(gap.min(axis=1) < 2e-4)


def test_a_run_takes_its_error_from_a_phone():
    piece = phone_series(TABLE.read_text())[0]
    recorder = RecorderSettings(noise=piece, spikes_per_minute=0.0, gaps_per_minute=0.0)
    run = simulate_run(simulate_drill(seed=1), RunSettings(recorder=recorder), seed=1)
    track, truth = run.recording.track, run.truth
    off = track.east_m - np.interp(track.time_s, truth.time_s, truth.east_m)
    assert piece.error_m[:, 0].min() - 0.05 <= off.min()
    assert off.max() <= piece.error_m[:, 0].max() + 0.05
    assert np.std(off) > 0.1
