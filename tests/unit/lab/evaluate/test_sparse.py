"""Tracks are thinned to a fix every 11 to 30 s, and fixes far from the path are counted."""

from types import SimpleNamespace

import numpy as np
import pytest

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import LARGE, RUN_SETTINGS
from analyzer.lab.evaluate.sparse import fixes_near, thinned
from analyzer.lab.evaluate.truths import Bounds, log_tells_of_settling
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.model.drill import Slope
from analyzer.model.path import FixUse
from analyzer.model.recording import Readings, Track


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_steps_are_11_to_30_s_and_the_rest_is_as_it_was(seed):
    drill = simulate_drill(LARGE, seed=seed)
    whole = simulate_run(drill, RUN_SETTINGS["readings"], seed=seed).recording
    few = thinned(whole, seed=seed)
    steps = np.diff(few.track.time_s)
    assert np.all(steps[:-1] >= 11.0 - 1e-9)  # the last fix is kept, however soon it comes
    # A fix comes on whole seconds, and may be lost in a gap of the recording as it was.
    assert np.quantile(steps, 0.7) <= 31.0
    assert set(few.track.time_s) <= set(whole.track.time_s)
    assert (few.track.time_s[0], few.track.time_s[-1]) == (whole.track.time_s[0], whole.track.time_s[-1])
    assert few.readings is whole.readings
    assert few.marks is whole.marks
    same = np.isin(whole.track.time_s, few.track.time_s)
    np.testing.assert_array_equal(few.track.east_m, whole.track.east_m[same])


def test_another_seed_thins_otherwise():
    whole = simulate_run(simulate_drill(LARGE, seed=0), RUN_SETTINGS["track"], seed=0).recording
    assert len({tuple(thinned(whole, seed=s).track.time_s) for s in range(4)}) > 1


def test_used_fixes_are_held_against_their_own_sigma():
    """Four fixes of 2 m at 0, 4.8, 5.0 and 30 m off a standing path; the last has no weight in the fit."""
    time_s, off = np.arange(4.0), np.array([0.0, 4.8, 5.0, 30.0])
    blank = np.full(4, np.nan)
    track = Track(time_s, off, np.zeros(4), np.zeros(4), np.full(4, 2.0), blank)
    fused = SimpleNamespace(
        time_s=time_s, draws=SimpleNamespace(path_m=np.zeros((1, 4, 2))), survey_grade=False, fixes=FixUse(4, (3.0,), 1)
    )
    assert fixes_near(fused, track, SlopePlane(Slope(0.0, 0.0))) == {"fixes_used": 3.0, "fixes_near": 2.0}


def _told(time_s, reading_m):
    blank = np.full(len(time_s), np.nan)
    log = Readings(np.array(time_s), np.array(reading_m), (None,) * len(time_s), blank, blank)
    run = SimpleNamespace(recording=SimpleNamespace(readings=log), truth=SimpleNamespace(clock_offset_s=0.0))
    return log_tells_of_settling(run, SimpleNamespace(transmitter="1"), Bounds(0.0, 20.0, 60.0, 90.0))


def test_a_log_tells_of_settling_by_silence_or_by_its_swing():
    time_s = np.arange(0.0, 90.0)
    swinging = np.where(time_s < 60.0, 2.0 + 0.5 * np.sin(time_s), 2.0)
    assert _told(time_s, swinging)
    assert _told(time_s[:61], np.full(61, 2.0))  # silent from the settling on
    assert not _told(time_s, np.full(90, 2.0))
    assert not _told(time_s, 2.0 + 0.5 * np.sin(time_s))  # swings over the probe as well
