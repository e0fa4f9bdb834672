"""Where one antenna points: as logged, along a brisk walk, held through the fine search and known less there."""

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.pointing import HELD_RAD, LOGGED_RAD, pointing_of
from analyzer.model.recording import Readings

NODE_S = np.arange(40.0)
# Ten seconds north, ten east, then slowly to and fro west and east.
VELOCITY = np.array([[0.0, 1.2]] * 10 + [[1.2, 0.0]] * 10 + [[-0.2, 0.0], [0.2, 0.0]] * 10)
NONE = np.full((3, 2), np.nan)


def rows(low_spans_s=()):
    blank = np.full(3, np.nan)
    log = Readings(np.array([5.0, 15.0, 25.0]), np.array([9.0, 5.0, 2.0]), (None,) * 3, blank, blank)
    return builders.reading_rows_of(log, low_spans=low_spans_s)


def test_it_points_along_the_walk_and_stays_as_one_came():
    pointing = pointing_of(NODE_S, VELOCITY, rows([(20.0, np.inf)]), 0.0, NONE)
    way, sigma = pointing.at(np.array([5.0, 15.0, 25.0, 26.0, 90.0]))
    np.testing.assert_allclose(way, [[0, 1], [1, 0], [1, 0], [1, 0], [1, 0]])
    assert np.all(sigma[:2] < 0.5 * sigma[2:].min())
    assert np.all(sigma[2:] >= HELD_RAD)


def test_a_fast_move_in_the_fine_search_does_not_turn_it():
    low_first = pointing_of(NODE_S, VELOCITY, rows([(10.0, np.inf)]), 0.0, NONE)
    np.testing.assert_allclose(low_first.at(np.array([15.0]))[0], [[0, 1]])


def test_the_log_of_the_spans_is_on_its_own_clock():
    pointing = pointing_of(NODE_S, VELOCITY, rows([(0.0, np.inf)]), 10.0, NONE)
    np.testing.assert_allclose(pointing.at(np.array([15.0]))[0], [[0, 1]])


def test_a_logged_heading_counts_and_is_on_the_clock_of_the_log():
    logged = np.array([[1.0, 0.0], [0.0, -1.0], [-1.0, 0.0]])
    way, sigma = pointing_of(NODE_S, VELOCITY, rows(), 3.0, logged).at(np.array([8.0, 17.9, 18.1, 30.0]))
    np.testing.assert_allclose(way, [[1, 0], [1, 0], [0, -1], [-1, 0]])
    assert sigma == pytest.approx(LOGGED_RAD)
