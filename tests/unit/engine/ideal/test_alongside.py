"""The reference searcher in time, against closed forms."""

import math

import numpy as np
import pytest

from analyzer.engine.ideal.reference import times_along
from analyzer.engine.ideal.reference_timing import timed_coarse, timed_fine, timed_signal
from analyzer.files.rules_toml import default_rules
from analyzer.model.rules import PaceKnot

RULES = default_rules()


def with_pace(*knots):
    from dataclasses import replace

    return replace(RULES, pace=tuple(PaceKnot(r, p) for r, p in knots))


def test_coarse_towards_the_transmitter_takes_the_integral_of_slowness():
    # pace = a + b r along a straight line from 40 m to 3 m: time = ln(pace(40) / pace(3)) / b.
    b = (2.0 - 0.5) / 37.0
    times, line = timed_coarse([(40.0, 0.0), (3.0, 0.0)], (0.0, 0.0), with_pace((3.0, 0.5), (40.0, 2.0)))
    assert times[-1] == pytest.approx(math.log(2.0 / 0.5) / b, abs=1e-3)
    assert np.hypot(*np.diff(line, axis=0).T).max() <= 0.5 + 1e-9
    middle = np.searchsorted(-line[:, 0], -20.0)
    assert times[middle] == pytest.approx(math.log(2.0 / (0.5 + b * (line[middle, 0] - 3.0))) / b, abs=1e-3)


def test_coarse_takes_what_the_account_counts():
    line = np.array([(30.0, 4.0), (18.0, 9.0), (7.0, 6.0), (3.0, 0.5)])
    assert timed_coarse(line, (0.0, 0.0), RULES)[0][-1] == pytest.approx(times_along(line, (0, 0), RULES)[-1], abs=0.02)


def test_signal_ends_where_the_transmitter_is_heard():
    times, line = timed_signal([(0.0, 0.0), (100.0, 0.0), (100.0, 20.0)], (60.0, 30.0), 50.0, RULES)
    assert line[-1] == pytest.approx((20.0, 0.0), abs=0.26)  # 40 m before the foot of a 30-40-50 triangle
    assert times[-1] == pytest.approx(line[-1, 0] / RULES.signal_pace_mps)


def test_signal_that_hears_at_once_has_no_length():
    times, line = timed_signal([(0.0, 0.0), (100.0, 0.0)], (5.0, 0.0), 50.0, RULES)
    assert (times.tolist(), line.tolist()) == ([0.0], [[0.0, 0.0]])


def test_fine_goes_at_one_pace():
    times, _ = timed_fine([(0.0, 0.0), (3.0, 4.0), (3.0, 2.0)], RULES)
    assert times == pytest.approx(np.array([0.0, 5.0, 7.0]) / RULES.bracket_pace_mps)
