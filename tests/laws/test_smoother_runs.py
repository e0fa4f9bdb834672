"""Runs of one drill share its transmitters: what one tells is counted once, and what tells nothing changes nothing."""

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.fuse import FusionSettings, fuse_drill
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, simulate_drill, simulate_run

SETTINGS = FusionSettings(draws=64)


def far_away():
    """Return a run that hears nothing, marks nothing and never comes near: it knows nothing of any transmitter."""
    time_s, points = builders.walk([(150.0, 150.0), (150.0, 220.0)], pace=1.2)
    return builders.recording_of(builders.track_of(time_s, points), run_id="far away")


@pytest.mark.parametrize("seed", range(3))
def test_a_run_that_tells_nothing_changes_nothing(seed):
    """Evidence of the first run must not count twice because a second one is there."""
    drill = simulate_drill(DrillSettings(position_sigma_m=2.5), seed=seed)
    run = simulate_run(drill, seed=seed).recording
    plane = SlopePlane(drill.drill.slope)
    (alone,) = fuse_drill([run], drill.drill, plane, SETTINGS)
    beside, _ = fuse_drill([run, far_away()], drill.drill, plane, SETTINGS)
    np.testing.assert_allclose(beside.transmitter_sigma_m, alone.transmitter_sigma_m, rtol=0.03)
    np.testing.assert_allclose(beside.sigma_m, alone.sigma_m, rtol=0.03)
    away = np.linalg.norm(beside.draws.path_m[0] - alone.draws.path_m[0], axis=1)
    assert np.max(away / alone.sigma_m) < 0.15  # both stop a little before the very mode


def test_runs_together_know_the_transmitter_at_least_as_well():
    drill = simulate_drill(DrillSettings(position_sigma_m=2.5), seed=5)
    runs = [simulate_run(drill, seed=50 + i, run_id=f"run-{i}").recording for i in range(3)]
    plane = SlopePlane(drill.drill.slope)
    together = fuse_drill(runs, drill.drill, plane, SETTINGS)
    for i, run in enumerate(runs):
        (alone,) = fuse_drill([run], drill.drill, plane, SETTINGS)
        assert together[i].transmitter_sigma_m[0] <= 1.02 * alone.transmitter_sigma_m[0]
    places = np.array([t.draws.transmitter_m[0, 0] for t in together])
    # One transmitter: the runs' answers for it differ by far less than its uncertainty.
    assert np.max(np.ptp(places, axis=0)) < 0.5 * together[0].transmitter_sigma_m[0]
