"""Polylines against a geometry library and plain cases."""

import numpy as np
import pytest
import shapely

from analyzer.geometry.polyline import (
    cumulative_length,
    densify,
    first_crossing,
    inside_polygon,
    length,
    nearest,
    point_at,
    polygon_area,
    resample,
)

CORNER = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])


def wiggle(seed, count):
    return np.cumsum(np.random.default_rng(seed).normal(size=(count, 2)), axis=0)


def test_lengths():
    assert length(CORNER) == pytest.approx(7.0)
    assert cumulative_length(CORNER) == pytest.approx([0.0, 3.0, 7.0])
    assert length(np.stack([CORNER, 2 * CORNER])) == pytest.approx([7.0, 14.0])
    assert length(CORNER[:1]) == 0.0


def test_length_equals_shapely():
    line = wiggle(1, 200)
    assert length(line) == pytest.approx(shapely.LineString(line).length, rel=1e-12)


def test_points_along_equal_shapely():
    line = wiggle(2, 50)
    at = np.linspace(0, float(length(line)), 33)
    expected = shapely.get_coordinates(shapely.line_interpolate_point(shapely.LineString(line), at))
    assert point_at(line, at) == pytest.approx(expected, abs=1e-9)


def test_points_outside_hold_the_ends():
    assert point_at(CORNER, [-1.0, 99.0]) == pytest.approx(CORNER[[0, 2]])


def test_resampled_points_are_evenly_spaced_along_the_line():
    got = resample(CORNER, 2.0)
    assert len(got) == 5  # 7 m in 4 parts of 1.75 m
    assert got[[0, -1]] == pytest.approx(CORNER[[0, 2]])
    assert got[1] == pytest.approx([1.75, 0.0])
    assert resample(CORNER[[0, 0]], 1.0) == pytest.approx(CORNER[[0, 0]])


def test_densified_line_keeps_corners_and_length():
    line = wiggle(3, 30)
    got = densify(line, 0.3)
    assert length(got) == pytest.approx(float(length(line)), rel=1e-12)
    assert np.hypot(*np.diff(got, axis=0).T).max() <= 0.3 + 1e-9
    assert (np.abs(got[:, None] - line[None]).sum(axis=2).min(axis=0) < 1e-12).all()


def test_densify_bears_repeated_points():
    assert densify([[0, 0], [0, 0], [1, 0.0]], 0.5) == pytest.approx(np.array([[0, 0], [0, 0], [0.5, 0], [1, 0]]))


def test_distances_equal_shapely():
    line, points = wiggle(4, 300), wiggle(5, 400)
    distance, along = nearest(points, line)
    there = shapely.LineString(line)
    assert distance == pytest.approx(shapely.distance(shapely.points(points), there), abs=1e-9)
    assert np.hypot(*(point_at(line, along) - points).T) == pytest.approx(distance, abs=1e-9)


def test_batches_of_points_and_lines():
    points = np.stack([wiggle(6, 40), wiggle(7, 40)])
    lines = np.stack([wiggle(8, 20), wiggle(9, 20)])
    both, along = nearest(points, lines)
    shared, _ = nearest(points, lines[0])
    for i in (0, 1):
        assert both[i] == pytest.approx(nearest(points[i], lines[i])[0])
        assert along[i] == pytest.approx(nearest(points[i], lines[i])[1])
        assert shared[i] == pytest.approx(nearest(points[i], lines[0])[0])


def test_line_of_one_point_and_repeated_points():
    assert nearest([[3.0, 4.0]], [[0.0, 0.0]])[0] == pytest.approx([5.0])
    assert nearest([[3.0, 4.0]], [[0.0, 0.0], [0.0, 0.0], [0.0, 4.0]])[0] == pytest.approx([3.0])


def test_distances_move_with_the_scene():
    line, points = wiggle(10, 50), wiggle(11, 60)
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    moved = nearest(points @ turn.T + [50, -7], line @ turn.T + [50, -7])[0]
    assert moved == pytest.approx(nearest(points, line)[0], abs=1e-9)


def test_inside_and_area_equal_shapely():
    bay = np.array([[0, 0], [10, 0], [10, 8], [6, 8], [5, 3], [4, 8], [0, 8.0]])
    points = np.random.default_rng(14).uniform(-2, 12, size=(2000, 2))
    polygon = shapely.Polygon(bay)
    assert (inside_polygon(points, bay) == shapely.contains(polygon, shapely.points(points))).all()
    assert polygon_area(bay) == pytest.approx(polygon.area)
    assert polygon_area(bay[::-1]) == pytest.approx(polygon.area)


@pytest.mark.parametrize("seed", range(40))
def test_an_outline_is_simple_where_the_geometry_library_says_so(seed):
    corners = np.random.default_rng(seed).integers(0, 9, (5, 2)).astype(float)
    ring = shapely.LinearRing(corners)
    assert (first_crossing(corners) is None) == ring.is_simple


def test_the_crossing_edges_are_named():
    assert first_crossing([[0, 0], [9, 9], [9, 0], [0, 9]]) == (0, 2)
    assert first_crossing([[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]) is None
    assert first_crossing([[0, 0], [5, 0], [9, 0]]) == (0, 2)
