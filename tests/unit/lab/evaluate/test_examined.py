"""The examiner's runs through the readers: recording, truth and figures fit each other."""

import numpy as np
import pytest

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import EXAMINER, blocks_of
from analyzer.lab.evaluate.examined import KINDS, examined_run
from analyzer.lab.evaluate.trial import paired_errors, raw_rms, trial_of
from analyzer.lab.examiner.search import LostError, plan_coarse
from analyzer.model.account import AccountRow
from analyzer.model.figure import Figure


@pytest.mark.parametrize("kind", KINDS)
def test_recording_and_truth_are_of_one_walk(kind):
    run = examined_run(kind, None, seed=61, number=0)
    truth, true = run.truth, run.truth.searches[0]
    assert run.recording.info.antennas == {"two_antennas": 2, "one_antenna": 1}.get(kind, 3)
    assert (run.recording.readings is None) == (kind in ("track", "three_track"))
    assert len(truth.searches) == len(run.drill.transmitters) == (3 if kind.startswith("three") else 1)
    plane = SlopePlane(run.drill.slope)
    off = raw_rms(run.recording, truth, true, plane)
    assert off < (0.06 if kind == "survey" else 12.0)
    east, north = plane.to_horizontal(truth.plane_m).T
    np.testing.assert_allclose(
        np.column_stack([east, north]), np.column_stack([truth.east_m, truth.north_m]), atol=1e-6
    )
    assert np.isnan(run.cost_s)
    assert [p.phase for p in truth.phases][-1] == "pinpoint"


def test_readings_of_the_log_are_those_of_the_true_place():
    run = examined_run("readings", "standing", seed=62, number=1)
    truth, true = run.truth, run.truth.searches[0]
    assert [f.name for f in truth.faults] == ["standing"]
    assert run.cost_s > 3.0
    readings = run.recording.readings
    t = readings.time_s + truth.clock_offset_s
    source = truth.sources[0]
    place = np.column_stack([np.interp(t, truth.time_s, truth.plane_m[:, j]) for j in (0, 1)])
    away = np.hypot(*(place - (source.x, source.y)).T)
    coarse = (away > 6.0) & (t < true.probe_hit_s)
    # At one range a reading differs by up to 1.26 from broadside to coaxial, by the receiver's scale by 15 %.
    ratio = readings.reading_m[coarse] / away[coarse]
    assert 0.6 < np.median(ratio) < 1.4
    assert np.std(np.log(ratio)) < 0.25


def test_a_trial_of_the_examiner_has_the_numbers_of_the_others(rules):
    blocks = {b.key: b for b in blocks_of(phones={}, noises=())}
    trial = trial_of(blocks[f"{EXAMINER}/faults/readings"], 0, seed=63, rules=rules, draws=8)
    assert trial.error == ""
    (fault,) = trial.faults
    assert {"fused_rms_m", "coarse_start_s", f"paired_{fault}_s", f"cost_{fault}_s"} <= set(trial.numbers)
    assert trial.whole


def test_what_was_charged_is_held_against_what_the_fault_cost():
    run = examined_run("readings", "standing", seed=62, number=1)

    class Charged:
        account = (
            AccountRow("coarse_search", "1", "reference", Figure(30.0, 29.0, 31.0, "s"), 0.0),
            AccountRow("coarse_search", "1", "standing", Figure(run.cost_s + 2.0, 0.0, 99.0, "s"), 0.0),
            AccountRow("fine_search", "1", "standing", Figure(7.0, 6.0, 8.0, "s"), 0.0),
        )

    numbers = paired_errors(Charged, run.truth, run.cost_s)
    assert numbers["paired_standing_s"] == pytest.approx(2.0)
    assert paired_errors(Charged, run.truth, float("nan")) == {}
    Charged.account = Charged.account[1:2]
    assert np.isnan(paired_errors(Charged, run.truth, run.cost_s)["paired_standing_s"])  # that phase was not assessed


def test_a_first_reading_too_near_for_a_pause_is_drawn_again():
    """2026-11-27: a further transmitter that was heard within 5 m ended the whole draw with an error of numpy."""

    def drawn(first, seed):
        return plan_coarse("none", first, np.random.default_rng(seed), np.random.default_rng(seed))

    pausing = [seed for seed in range(20) if drawn(30.0, seed).pauses]
    assert pausing
    with pytest.raises(LostError, match="too near for a pause"):
        drawn(4.0, pausing[0])
