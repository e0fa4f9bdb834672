"""The fine search begins where the log says that the receiver was lowered, at the latest."""

from types import SimpleNamespace

import numpy as np

from analyzer.engine.phases.lowered import LOWERED_S, entered

TIME_S = np.arange(0.0, 60.0)


def run(lowered_s):
    return SimpleNamespace(time_s=TIME_S, height_m=np.where(lowered_s <= TIME_S, 0.1, 1.0))


def first_inside(metric):
    return TIME_S[np.argmax(metric <= 3.0, axis=1)]


def test_a_carried_reading_that_never_falls_to_the_radius():
    metric = np.maximum(20.0 - 0.5 * TIME_S, 4.0) + np.zeros((40, 1))
    start = first_inside(entered(run(35.0), metric, 3.0))
    assert np.all(np.abs(start - 34.0) <= 3.0)
    assert np.std(start) > 0.3  # when it was decided to lower it is not known to the second


def test_one_that_has_fallen_before_begins_there():
    metric = np.maximum(20.0 - 0.5 * TIME_S, 1.0) + np.zeros((40, 1))  # 3 m at 34 s
    assert np.all(first_inside(entered(run(35.0), metric, 3.0)) == 34.0)


def test_who_is_low_is_not_on_the_way_in():
    metric = np.where(TIME_S < 30.0, 2.9, 3.4) * np.ones((5, 1))
    held = entered(run(30.0), metric, 3.0)
    assert np.all(held[:, TIME_S >= 30.0 + LOWERED_S] <= 3.0)


def test_without_a_lowered_receiver_nothing_changes():
    metric = 10.0 + np.zeros((3, TIME_S.size))
    assert entered(run(99.0), metric, 3.0) is metric
