"""The same run with a fault and without: what a fault costs, and that it leaves the rest as it was."""

import math
from dataclasses import replace

import numpy as np
import pytest

from analyzer.lab.simulate import FAULTS, DrillSettings, paired_cost_s, simulate_drill, simulate_pair, simulate_run
from analyzer.lab.simulate.faults import PHASES
from analyzer.lab.simulate.pairs import lasted_s

WIDE = DrillSettings(area_width_m=120.0, near_strip_m=5.0)
SCATTER_S = 0.3
SEEDS = range(8)
AFTER = ("coarse_search", "fine_search", "pinpoint")
# Fault -> later phases that it truly changes: it leads to the transmitter another way.
CARRIED_ON = {"detour": ("fine_search",), "missed_strip": ("coarse_search", "fine_search")}


def pair_of(fault, seed):
    return simulate_pair(simulate_drill(WIDE, seed=seed), fault=fault, seed=seed)


@pytest.mark.parametrize("fault", FAULTS)
def test_phases_that_a_fault_does_not_touch_last_as_long_without_it(fault):
    rest = set(AFTER) - set(PHASES[fault]) - set(CARRIED_ON.get(fault, ()))
    for phase in rest:
        off = []
        for seed in SEEDS:
            pair = pair_of(fault, seed)
            off.append(lasted_s(pair.faulty.truth, phase, "T1") - lasted_s(pair.faultless.truth, phase, "T1"))
        assert np.std(off) <= SCATTER_S


def test_a_pair_shares_walk_noise_recorder_and_readings_up_to_the_fault():
    pair = pair_of("standing", 3)
    begin = pair.faulty.truth.faults[0].from_s - 0.1
    faulty, faultless = pair.faulty, pair.faultless
    assert begin > 20.0
    rows = faulty.truth.time_s < begin
    np.testing.assert_array_equal(faulty.truth.plane_m[rows], faultless.truth.plane_m[: rows.sum()])
    for one, other in ((faulty.recording.track, faultless.recording.track),):
        fixes = one.time_s < begin
        np.testing.assert_array_equal(one.east_m[fixes], other.east_m[: fixes.sum()])
    one, other = faulty.recording.readings, faultless.recording.readings
    shown = one.time_s + faulty.truth.clock_offset_s < begin
    assert shown.sum() > 3
    np.testing.assert_array_equal(one.reading_m[shown], other.reading_m[: shown.sum()])
    assert faulty.truth.clock_offset_s == faultless.truth.clock_offset_s


def test_the_error_of_the_recorder_is_the_same_at_the_same_time_after_the_fault():
    pair = pair_of("long_probing", 2)
    both = [r.recording.track for r in (pair.faulty, pair.faultless)]
    paths = [
        np.column_stack([np.interp(t.time_s, r.truth.time_s, v) for v in (r.truth.east_m, r.truth.north_m)])
        for t, r in zip(both, (pair.faulty, pair.faultless), strict=True)
    ]
    errors = [np.column_stack([t.east_m, t.north_m]) - p for t, p in zip(both, paths, strict=True)]
    n = len(errors[1])
    np.testing.assert_array_equal(both[0].time_s[:n], both[1].time_s)
    np.testing.assert_allclose(errors[0][:n], errors[1], atol=0.013)  # degrees are stored to 1e-7


def test_stops_cost_their_seconds_and_the_braking():
    over = []
    for seed in range(12):
        pair = pair_of("standing", seed)
        done = pair.faulty.truth.faults
        over.append((paired_cost_s(pair) - sum(f.amount for f in done)) / len(done))
    # 1.2 m/s taken down and up again at 1 m/s2 at most costs about 1.2 s, the lag of 0.5 s the rest.
    assert 1.0 < np.mean(over) < 2.2
    assert np.std(over) <= SCATTER_S


def test_probing_too_long_costs_its_seconds():
    for seed in SEEDS:
        pair = pair_of("long_probing", seed)
        assert paired_cost_s(pair) == pytest.approx(pair.faulty.truth.faults[0].amount, abs=SCATTER_S)


def test_ground_covered_twice_costs_the_walk_to_and_fro():
    for seed in SEEDS:
        pair = pair_of("covered_twice", seed)
        (done,) = pair.faulty.truth.faults
        assert paired_cost_s(pair) == pytest.approx(done.to_s - done.from_s, abs=1.0)


def test_a_wrong_way_costs_the_way_out_and_back():
    for seed in SEEDS:
        pair = pair_of("wrong_way", seed)
        event = max(pair.faulty.truth.searches[0].wrong_way, key=lambda e: e.metres)
        # Turning round costs a moment on either side of the event.
        assert event.to_s - event.from_s - 1.0 < paired_cost_s(pair) < event.to_s - event.from_s + 4.0


def test_a_run_alone_is_the_faulty_one_of_its_pair():
    drill = simulate_drill(WIDE, seed=5)
    alone, pair = simulate_run(drill, fault="detour", seed=5), simulate_pair(drill, fault="detour", seed=5)
    np.testing.assert_array_equal(alone.truth.plane_m, pair.faulty.truth.plane_m)
    plain = simulate_run(drill, seed=5)
    np.testing.assert_array_equal(plain.truth.plane_m, pair.faultless.truth.plane_m)
    assert pair.faultless.truth.faults == ()


def test_what_could_not_be_carried_out_has_no_cost():
    pair = pair_of("standing", 1)
    undone = replace(pair.faulty, truth=replace(pair.faulty.truth, faults=()))
    assert math.isnan(paired_cost_s(replace(pair, faulty=undone)))
