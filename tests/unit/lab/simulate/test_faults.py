"""Faults do what their truth says, and show in the figures they are about."""

import math

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.lab.simulate import FAULTS, DrillSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.strips import missing_route, silent_start
from analyzer.lab.simulate.truth import stops_in, wrong_ways

SEEDS = range(6)


def runs(fault):
    wide = DrillSettings(area_width_m=120.0, near_strip_m=5.0)
    for seed in SEEDS:
        drill = simulate_drill(wide, seed=seed)
        run = simulate_run(drill, fault=fault, seed=seed)
        yield drill, run.truth, run.truth.searches[0]


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_is_carried_out_and_told_within_the_run(fault):
    for _, truth, _ in runs(fault):
        done = [f for f in truth.faults if f.name == fault]
        assert done
        assert all(0.0 <= f.from_s < f.to_s <= truth.time_s[-1] for f in done)
        assert {f.name for f in truth.faults} == {fault}


def test_wrong_way_shows_as_a_rise_of_range_of_its_size():
    for _, truth, search in runs("wrong_way"):
        told = truth.faults[0]
        event = max(search.wrong_way, key=lambda e: e.metres)
        assert event.metres >= told.amount - 1e-6
        assert event.metres == pytest.approx(told.amount, rel=0.35, abs=1.5)
        assert told.from_s - 5.0 < event.from_s < event.turn_s <= told.to_s + 1.0
        ranges = np.hypot(*(truth.plane_m - (truth.sources[0].x, truth.sources[0].y)).T)
        at = np.interp([event.from_s, event.turn_s, event.to_s], truth.time_s, ranges)
        assert at[1] - at[0] == pytest.approx(event.metres, abs=0.05)
        assert at[2] == pytest.approx(at[0], abs=0.1)


def test_hesitation_shows_as_standing_of_its_length():
    for _, truth, search in runs("standing"):
        told = sum(f.amount for f in truth.faults)
        assert search.standing_s == pytest.approx(told, abs=0.5 * len(truth.faults) + 0.5)


def test_a_detour_lengthens_the_way():
    assert np.median([search.path_ratio for _, _, search in runs("detour")]) > 1.05


def test_late_slow_down_runs_through_the_radius():
    for _, truth, search in runs("late_slow_down"):
        plain = simulate_run(
            simulate_drill(DrillSettings(area_width_m=120.0, near_strip_m=5.0), seed=truth.seed), seed=truth.seed
        ).truth.searches[0]
        end = next(p.end_s for p in truth.phases if p.phase == "coarse_search")
        row = np.searchsorted(truth.time_s, end)
        speed = math.dist(truth.plane_m[row], truth.plane_m[row - 4]) / 0.2
        assert speed > 0.9
        assert search.overshoot_m > plain.overshoot_m
        assert search.overshoot_m > 1.0


def test_rushed_bracketing_is_fast_and_short():
    for _, truth, _ in runs("rushed_bracketing"):
        fine = next(p for p in truth.phases if p.phase == "fine_search")
        assert fine.walked_m / (fine.end_s - fine.start_s) > 0.35


def test_narrow_bracketing_stays_near():
    for _, truth, search in runs("narrow_bracketing"):
        assert max(search.arms_m[1:]) < truth.faults[0].amount + 0.35
        assert search.reach_m < 0.9


def test_oblique_bracketing_crosses_at_its_angle():
    for _, truth, search in runs("oblique_bracketing"):
        assert search.crossing_angle_deg == pytest.approx(truth.faults[0].amount, abs=4.0)


def test_extra_brackets_add_their_lines():
    for _, truth, search in runs("extra_lines"):
        assert len({leg.line for leg in search.legs}) == 2 + truth.faults[0].amount


def test_off_minimum_probing_settles_off_the_lowest():
    for _, truth, search in runs("off_lowest"):
        away = math.dist(search.settled_m, search.lowest_m)
        assert away == pytest.approx(truth.faults[0].amount, abs=0.5)


def test_a_missed_strip_lengthens_the_signal_search():
    for drill, truth, _ in runs("missed_strip"):
        plain = simulate_run(drill, seed=truth.seed).truth.phases[0]
        assert truth.phases[0].walked_m > plain.walked_m
        assert truth.phases[0].walked_m > 150.0


def test_several_faults_come_together():
    drill = simulate_drill(seed=1)
    truth = simulate_run(drill, fault=("wrong_way", "standing", "oblique_bracketing"), seed=1).truth
    assert {f.name for f in truth.faults} == {"wrong_way", "standing", "oblique_bracketing"}


def test_an_unknown_fault_is_refused():
    with pytest.raises(InputError, match="sleeping"):
        simulate_run(simulate_drill(seed=1), fault="sleeping", seed=1)


@pytest.mark.parametrize("width_m", [40.0, 80.0])
def test_a_strip_cannot_be_missed_where_there_are_fewer_than_three(width_m):
    with pytest.raises(InputError, match="one or two strips"):
        simulate_run(simulate_drill(DrillSettings(area_width_m=width_m), seed=1), fault="missed_strip", seed=1)


def test_a_missed_strip_is_not_merely_the_last_of_strips_side_by_side():
    across, ends = [20.0, 60.0, 100.0], (0.0, 100.0)
    for best in across:
        # A reading that is the distance to a transmitter in the middle of the strip in question.
        def away(points, spot=(best, 50.0)):
            return min(math.dist(p, spot) for p in points)

        route, _ = missing_route(across, ends, 60.0, away)
        order = [x for x, _ in route[::2]]
        assert order[-1] == best
        assert order not in (across, across[::-1])


def test_ground_covered_twice_is_a_strip_that_hears_nothing_walked_once_more():
    for _, truth, search in runs("covered_twice"):
        (told,) = truth.faults
        signal = truth.phases[0]
        assert signal.phase == "signal_search"
        assert told.to_s < signal.end_s
        place = [np.interp(t, truth.time_s, truth.plane_m[:, 1]) for t in (told.from_s, told.to_s)]
        assert place[0] == pytest.approx(place[1], abs=3.0)
        inside = (truth.time_s >= told.from_s) & (truth.time_s <= told.to_s)
        assert np.sum(np.hypot(*np.diff(truth.plane_m[inside], axis=0).T)) == pytest.approx(told.amount, abs=8.0)
        assert np.ptp(truth.plane_m[inside, 0]) < 8.0
        assert search.path_ratio < 1.15


def test_the_first_strip_that_is_walked_twice_hears_nothing():
    routes = [((20.0, 0.0), (20.0, 100.0), (60.0, 100.0), (60.0, 0.0)), ((60.0, 0.0), (60.0, 100.0), (20.0, 100.0))]

    def away(points):
        return min(math.dist(p, (62.0, 50.0)) for p in points)

    kept, reception = silent_start([(*r, r[-1]) for r in routes], 60.0, away)
    assert [r[0] for r in kept] == [(20.0, 0.0)]
    assert reception == pytest.approx(0.95 * 42.0)
    with pytest.raises(InputError, match="one strip wide"):
        silent_start([routes[0][:2]], 60.0, away)


def test_long_probing_stays_on_the_spot_that_is_hit():
    for _, truth, search in runs("long_probing"):
        (told,) = truth.faults
        assert search.probe_hit_s - told.from_s > told.amount
        inside = (truth.time_s >= told.from_s) & (truth.time_s <= told.to_s)
        assert np.max(np.hypot(*(truth.plane_m[inside] - search.settled_m).T)) < 1.0


def test_wrong_ways_of_a_made_up_range():
    # Down to 8, up to 10, back to 8 at 7 s, then down with a rise of 0.2 that is too small to count.
    t = np.arange(11.0)
    r = np.array([10.0, 9.0, 8.0, 9.0, 10.0, 9.0, 8.5, 8.0, 6.0, 6.2, 5.0])
    (event,) = wrong_ways(t, r)
    assert (event.from_s, event.turn_s, event.to_s, event.metres) == (2.0, 4.0, 7.0, 2.0)


def test_stops_of_a_made_up_speed():
    t = np.arange(0.0, 5.0, 0.5)
    speed = np.array([1, 0.05, 1, 1, 0.0, 0.05, 0.09, 0.0, 1, 1.0])
    assert stops_in(t, speed) == ((2.0, 4.0),)
