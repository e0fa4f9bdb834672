"""Strips and coverage against areas that are known."""

import math

import numpy as np
import pytest
import shapely

from analyzer.engine.ideal.strips import coverage, fewest_zigzags, ideal_strips, length_to_range, mean_length_to_range
from analyzer.geometry.polyline import length

FIELD = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]])
WIDTH = {"strip_width_m": 40.0}


def line(*points):
    return np.array(points, float)


def test_two_strips_over_a_field():
    walk = ideal_strips(FIELD, [0.0, 0.0], **WIDTH)
    # from the corner: 20 m up, 100 m along, 40 m up, 100 m back; the other way round three strips would be needed
    assert float(length(walk)) == pytest.approx(260.0)
    assert walk[0] == pytest.approx([0.0, 0.0])


def test_walk_begins_near_the_entry():
    walk = ideal_strips(FIELD, [100.0, 80.0], **WIDTH)
    assert walk[1] == pytest.approx([100.0, 60.0])


@pytest.mark.parametrize("corners", [FIELD, np.array([[0, 0], [70, 10], [90, 60], [30, 110], [-20, 50.0]])])
def test_ideal_strips_cover_and_do_not_overlap(corners):
    got = coverage(ideal_strips(corners, corners[0], **WIDTH), corners, **WIDTH)
    assert got.covered_fraction > 0.96
    assert got.overlap_fraction < 0.1  # strips of even spacing are a little closer than their width


def test_narrow_area_takes_one_strip():
    narrow = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 30.0], [0.0, 30.0]])
    walk = ideal_strips(narrow, [0.0, 15.0], **WIDTH)
    assert walk == pytest.approx(line([0, 15], [0, 15], [200, 15]))


def test_strips_turn_with_the_area():
    turn = np.array([[0.8, -0.6], [0.6, 0.8]])
    one, other = ideal_strips(FIELD, [0, 0], **WIDTH), ideal_strips(FIELD @ turn.T, [0, 0], **WIDTH)
    assert float(length(one)) == pytest.approx(float(length(other)))


@pytest.mark.parametrize("path", [line([-20, 30], [120, 30]), line([10, 10], [80, 20], [50, 75]), line([50, 40])])
def test_covered_fraction_equals_the_buffered_path(path):
    disc = shapely.Point(path[0]) if len(path) == 1 else shapely.LineString(path)
    expected = shapely.intersection(shapely.Polygon(FIELD), disc.buffer(20.0, quad_segs=64)).area / 8000.0
    assert coverage(path, FIELD, **WIDTH).covered_fraction == pytest.approx(expected, abs=0.01)
    assert coverage(path, FIELD, **WIDTH, cells=20000).covered_fraction == pytest.approx(expected, abs=0.005)


def test_walking_the_same_strip_twice_is_overlap():
    once = coverage(line([-30, 40], [130, 40]), FIELD, **WIDTH)
    assert once.covered_fraction == pytest.approx(0.5, abs=0.01)
    assert once.overlap_fraction == 0.0
    back = coverage(line([-30, 40], [190, 40], [-30, 40]), FIELD, **WIDTH)
    assert back.covered_fraction == pytest.approx(0.5, abs=0.01)
    assert back.overlap_fraction == pytest.approx(0.5, abs=0.01)


def test_overlap_of_two_strips_that_lie_too_close():
    # middle lines 30 m apart, 40 m wide: a band of 10 m, and the turn outside the field
    path = line([-60, 20], [160, 20], [160, 50], [-60, 50])
    assert coverage(path, FIELD, **WIDTH).overlap_fraction == pytest.approx(10.0 / 80.0, abs=0.015)


def test_crossing_paths_overlap_where_they_cross():
    # two bands of 40 m at right angles share a square
    path = line([50, -60], [50, 140], [160, 140], [160, 40], [-40, 40])
    assert coverage(path, FIELD, **WIDTH).overlap_fraction == pytest.approx(1600.0 / 8000.0, abs=0.015)


def test_a_stop_and_a_turn_are_no_overlap():
    assert (
        coverage(line([0, 40], [50, 40], [50, 40], [55, 45], [50, 40], [100, 40]), FIELD, **WIDTH).overlap_fraction
        == 0.0
    )


def test_path_elsewhere_covers_nothing():
    got = coverage(line([500, 500], [600, 500]), FIELD, **WIDTH)
    assert (got.covered_fraction, got.overlap_fraction) == (0.0, 0.0)


def test_length_until_the_signal_is_heard():
    walk = line([0, 0], [100, 0], [100, 40], [0, 40])
    assert length_to_range(walk, [60.0, 0.0], 20.0) == pytest.approx(40.0)
    assert length_to_range(walk, [50.0, 55.0], 25.0) == pytest.approx(140.0 + 50.0 - 20.0)
    assert length_to_range(walk, [50.0, 500.0], 25.0) == pytest.approx(240.0)
    assert length_to_range(walk, [0.0, 0.0], 25.0) == 0.0
    assert math.isclose(length_to_range(walk, [60.0, 0.0], 0.2), 59.8)


FOUR = (
    line([0, 20], [100, 20], [100, 60], [0, 60]),
    line([100, 20], [0, 20], [0, 60], [100, 60]),
    line([0, 60], [100, 60], [100, 20], [0, 20]),
    line([100, 60], [0, 60], [0, 20], [100, 20]),
)
"""The zigzags of two strips over FIELD; across it three strips would be needed. By hand."""


def as_written(walks):
    return sorted(np.round(walk, 9).tolist() for walk in walks)


@pytest.mark.parametrize("corners", [FIELD, np.insert(FIELD, 1, [50.0, 0.0], axis=0), FIELD[::-1]])
def test_the_zigzags_with_fewest_strips_begin_on_each_side_and_at_each_end(corners):
    assert as_written(fewest_zigzags(corners, **WIDTH)) == as_written(FOUR)


def test_corners_a_centimetre_off_ask_for_no_third_strip():
    """2026-11-26: an area of 80.005 by 100 m, corners rounded to centimetres, was given three strips of 27 m, and its
    sides counted as two directions."""
    taped = np.array([[0.0, 0.0], [100.0, -0.001], [100.006, 80.005], [-0.004, 80.0]])
    walks = fewest_zigzags(taped, **WIDTH)
    assert [len(walk) for walk in walks] == [4, 4, 4, 4]
    starts = np.array([walk[0] for walk in walks])
    gaps = np.hypot(*(starts[:, None] - np.array([w[0] for w in FOUR])).transpose(2, 0, 1))
    assert np.all(np.sort(gaps, axis=1)[:, 0] < 0.02)
    assert sorted(np.argmin(gaps, axis=1)) == [0, 1, 2, 3]
    assert len(ideal_strips(taped, [0.0, 0.0], **WIDTH)) == 1 + 4


def test_a_square_has_eight_zigzags():
    square = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])
    walks = fewest_zigzags(square, **WIDTH)
    assert len(walks) == 8
    assert {float(length(walk)) for walk in walks} == {200.0}


def test_the_mean_length_until_zigzags_come_near():
    """At (60, 20) with a range of 20 m: after 40, 20, 100 + 40 + 20 and 100 + 40 + 40 m. By hand."""
    places = np.array([[60.0, 20.0], [60.0, 20.0], [0.0, 20.0], [50.0, 40.0]])
    found = mean_length_to_range(fewest_zigzags(FIELD, **WIDTH), places, np.array([20.0, 0.0, 10.0, 19.0]))
    # With a range of 0 m only the place itself is near: 60, 40, 180, 200. At a strip's end, 10 m: 0, 90, 230 and
    # 100 + 30. Between the strips 19 m are never reached.
    assert found == pytest.approx([100.0, 120.0, (0.0 + 90.0 + 230.0 + 130.0) / 4.0, np.inf])
