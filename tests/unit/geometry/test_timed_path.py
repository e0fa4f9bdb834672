"""Paths in time against plain cases."""

import numpy as np
import pytest

from analyzer.geometry.timed_path import crossing_share, place_at, walked_at, walked_between

TIME_S = np.array([0.0, 2.0, 3.0, 7.0])
PATH_M = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 0.0], [4.0, 8.0]])  # 2 m/s, a second's rest, 2 m/s


def test_places_are_straight_between_and_hold_outside():
    found = place_at(TIME_S, PATH_M, [-1.0, 1.0, 2.5, 5.0, 9.0])
    assert found.tolist() == [[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [4.0, 4.0], [4.0, 8.0]]
    assert place_at(TIME_S, PATH_M, 1.0).shape == (2,)
    assert place_at(TIME_S, PATH_M, np.zeros((3, 5))).shape == (3, 5, 2)


def test_metres_walked_stand_still_at_a_rest():
    assert walked_at(TIME_S, PATH_M, [0.0, 1.0, 2.0, 3.0, 4.0, 7.0, 8.0]).tolist() == [0, 2, 4, 4, 6, 12, 12]
    assert walked_between(TIME_S, PATH_M, 1.0, 4.0) == 4.0
    assert walked_between(TIME_S, PATH_M, 2.0, 3.0) == 0.0


@pytest.mark.parametrize(
    ("before", "after", "level", "share"),
    [(4.0, 2.0, 3.5, 0.25), (2.0, 4.0, 3.5, 0.75), (4.0, 2.0, 5.0, 0.0), (4.0, 2.0, 1.0, 1.0), (3.0, 3.0, 3.0, 0.6)],
)
def test_a_level_is_crossed_in_proportion(before, after, level, share):
    assert crossing_share(before, after, level, flat=0.6) == share


def test_many_crossings_at_once():
    assert crossing_share([4.0, 1.0], [2.0, 1.0], 3.0, flat=0.0).tolist() == [0.5, 0.0]
