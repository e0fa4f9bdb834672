"""The reference searcher's times against closed integrals."""

import math

import numpy as np
import pytest

from analyzer.engine.ideal.bracket import bracket_ideal
from analyzer.engine.ideal.coarse import coarse_ideal
from analyzer.engine.ideal.reference import coarse_seconds, reference_times, times_along
from analyzer.model.pace import pace_at
from analyzer.model.rules import PaceKnot, Rules

RULES = Rules(
    name="test",
    version="1",
    sha256="",
    fine_radius_m=3.0,
    signal_pace_mps=2.0,
    pace=(PaceKnot(20.0, 2.0), PaceKnot(3.0, 0.3)),
    bracket_arm_m=1.5,
    bracket_pace_mps=0.25,
    pinpoint_reference_s=25.0,
    marking_s=30.0,
    missed_s=300.0,
    deductions=(),
)
CENTRE = [10.0, -5.0]


def radial(start, stop, count):
    r = np.linspace(start, stop, count)
    return np.column_stack([10.0 + 0.6 * r, -5.0 + 0.8 * r])


def test_pace_between_and_outside_the_knots():
    assert pace_at(RULES, [50.0, 20.0, 11.5, 3.0, 0.0]) == pytest.approx([2.0, 2.0, 1.15, 0.3, 0.3])


@pytest.mark.parametrize("count", [2, 100])
def test_time_straight_in(count):
    # pace = 0.1 r: 30 to 20 m at 2 m/s, then the integral of dr / (0.1 r) = 10 ln(20 / 3)
    got = times_along(radial(30.0, 3.0, count), CENTRE, RULES)
    assert got[0] == 0.0
    assert got[-1] == pytest.approx(5.0 + 10.0 * math.log(20.0 / 3.0), abs=1e-4)


def test_time_on_a_circle_has_one_pace():
    turn = np.linspace(0.0, np.pi, 721)
    circle = np.column_stack([10.0 + 12.0 * np.cos(turn), -5.0 + 12.0 * np.sin(turn)])
    assert times_along(circle, CENTRE, RULES)[-1] == pytest.approx(12.0 * np.pi / 1.2, rel=1e-4)


def test_times_rise_and_a_point_takes_none():
    assert (np.diff(times_along(radial(30.0, 3.0, 60), CENTRE, RULES)) > 0).all()
    assert times_along([[1.0, 2.0]], CENTRE, RULES) == pytest.approx([0.0])


def test_times_of_all_phases():
    coarse = coarse_ideal(
        [[10.0, 25.0]],
        [CENTRE],
        [[0.0, 0.0, 1.0]],
        transmitter="T1",
        depth_m=1.0,
        height_m=1.0,
        fine_radius_m=3.0,
        stop_on="ground",
    )
    bracket = bracket_ideal([10.0, -2.0], CENTRE, transmitter="T1", arm_m=1.5)
    got = reference_times(
        transmitter="T1", rules=RULES, transmitter_m=CENTRE, signal_m=80.0, coarse=coarse, bracket=bracket
    )
    assert got.signal_s == pytest.approx(40.0)
    assert got.coarse_s == pytest.approx(5.0 + 10.0 * math.log(20.0 / 3.0), abs=1e-4)
    assert got.fine_s == pytest.approx(12.0 / 0.25)
    assert got.pinpoint_s == 25.0


def test_phases_without_a_reference_are_none():
    got = reference_times(transmitter="T1", rules=RULES, transmitter_m=CENTRE, pinpoint=False)
    assert (got.signal_s, got.coarse_s, got.fine_s, got.pinpoint_s) == (None, None, None, None)


def test_seconds_per_draw_go_with_the_length():
    start = np.array([[10.0, 25.0], [10.0, 55.0], [np.nan, 1.0]])
    coarse = coarse_ideal(
        start,
        np.tile(CENTRE, (3, 1)),
        np.tile([0.0, 0.0, 1.0], (3, 1)),
        transmitter="T1",
        depth_m=1.0,
        height_m=1.0,
        fine_radius_m=3.0,
        stop_on="ground",
    )
    best, draws = coarse_seconds(coarse, CENTRE, RULES)
    assert draws[0] == best
    assert draws[1] == pytest.approx(best * 57.0 / 27.0, rel=1e-6)
    assert np.isnan(draws[2])
