"""What a log says of when the searcher settled."""

import numpy as np
import pytest

from analyzer.engine.phases.reading_evidence import reading_evidence
from analyzer.model.path import UsedReadings

GRID = np.arange(0.0, 60.0) + 0.5


def log(times, shown, transmitter=0):
    times = np.asarray(times, float)
    count = times.size
    return UsedReadings(times, np.asarray(shown, float), np.full(count, transmitter), np.ones(count))


def test_without_a_log_nothing_is_said():
    assert not reading_evidence(None, 0, GRID, 60.0).any()
    assert not reading_evidence(log([1.0, 2.0], [3.0, 3.0], transmitter=1), 0, GRID, 60.0).any()


def test_a_log_that_ends_speaks_for_bracketing_before_and_for_probing_after():
    times = np.arange(0.0, 30.0)
    says = reading_evidence(log(times, np.full(30, 1.2)), 0, GRID, 60.0)
    assert np.all(says[GRID > 32.0] < -1.0)
    assert np.all(says[GRID < 25.0] > 0.0)


@pytest.mark.parametrize("every_s", [1.0, 10.0])
def test_a_gap_that_is_usual_for_the_log_is_no_end_of_it(every_s):
    times = np.arange(0.0, 58.0, every_s)
    assert np.all(reading_evidence(log(times, np.full(times.size, 1.2)), 0, GRID, 60.0) >= 0.0)


def test_readings_that_swing_speak_for_bracketing_more_than_those_that_rest():
    times = np.arange(0.0, 60.0)
    resting, swinging = np.full(60, 1.2), 1.2 + 0.5 * np.sin(times)
    said = [np.median(reading_evidence(log(times, shown), 0, GRID, 60.0)) for shown in (swinging, resting)]
    assert said[0] > said[1]


def test_a_log_ends_soon_after_settling_and_a_log_that_ended_long_after_says_little():
    times = np.arange(0.5, 40.0, 1.0)
    says = reading_evidence(log(times, np.full(times.size, 1.2)), 0, GRID, 60.0)
    just_before, long_before = says[(GRID > 33.0) & (GRID < 38.0)], says[GRID < 15.0]
    assert np.all(just_before > 0.2)
    assert np.all((long_before > 0.0) & (long_before < 0.1))
