"""Geometry of the figures against closed forms and shapely."""

import math

import numpy as np
import pytest
import shapely

from analyzer.model.result import PathTable
from dashboard.figures.shapes import AROUND_90, band, bounds, circle, pace_mps, position_at, stretch


def table(time_s, points):
    points = np.asarray(points, float)
    ones = np.ones(len(points))
    return PathTable(np.asarray(time_s, float), points[:, 0], points[:, 1], ones, ones)


def pieces(outline):
    cut = np.flatnonzero(np.isnan(outline[:, 0]))
    return [part[np.isfinite(part[:, 0])] for part in np.split(outline, cut)[:-1]]


def test_ninety_percent_radii():
    from scipy import stats

    assert pytest.approx(stats.rayleigh.ppf(0.90), abs=1e-3) == AROUND_90


def test_circle_is_closed_and_anticlockwise():
    ring = shapely.LinearRing(circle(3.0, -2.0, 1.5))
    assert ring.is_ccw
    assert shapely.Polygon(ring).area == pytest.approx(math.pi * 1.5**2, rel=0.01)


def test_band_is_the_ground_within_the_radius_also_where_the_path_folds():
    points = np.column_stack(
        [np.r_[np.linspace(0, 10, 51), np.linspace(10, 0.5, 48)], np.r_[np.zeros(51), np.linspace(0.0, 1.0, 48)]]
    )
    outline = band(points, np.full(len(points), 1.2))
    parts = [shapely.Polygon(part) for part in pieces(outline)]
    assert all(shapely.LinearRing(part.exterior).is_ccw for part in parts)  # one winding: non-zero filling has no holes
    union, buffer = shapely.union_all(parts), shapely.LineString(points).buffer(1.2)
    assert union.symmetric_difference(buffer).area / buffer.area < 0.04


def test_band_of_a_searcher_who_stands_is_one_disc():
    outline = band(np.zeros((60, 2)), np.full(60, 0.5))
    assert len(pieces(outline)) == 1


def test_positions_and_stretches_are_linear_between_rows():
    path = table([0, 2, 4], [(0, 0), (2, 0), (2, 4)])
    assert position_at(path, 3.0) == (2.0, 2.0)
    assert stretch(path, 1.0, 3.0).tolist() == [[1, 0], [2, 0], [2, 2]]
    assert len(stretch(path, 5.0, 6.0)) == 0


@pytest.mark.parametrize(("aspect_deg", "direction"), [(180.0, (0, 1)), (90.0, (1, 0)), (225.0, (-1, -1))])
def test_pace_up_the_fall_line_is_longer_than_on_the_map(aspect_deg, direction):
    time_s = np.arange(0.0, 30.0)
    unit = np.array(direction) / math.hypot(*direction)
    path = table(time_s, 0.8 * time_s[:, None] * unit)
    pace = pace_mps(path, slope_deg=30.0, aspect_deg=aspect_deg)
    assert pace[5:-5] == pytest.approx(0.8 / math.cos(math.radians(30.0)))


def test_pace_along_the_contour_is_as_on_the_map():
    time_s = np.arange(0.0, 30.0)
    path = table(time_s, np.column_stack([0.8 * time_s, 0 * time_s]))
    assert pace_mps(path, slope_deg=30.0, aspect_deg=180.0)[5:-5] == pytest.approx(0.8)


def test_bounds_leave_out_gaps_and_empty_parts():
    assert bounds(np.empty((0, 2)), np.array([[1.0, 2.0], [np.nan, np.nan], [-3.0, 5.0]])) == (-3.0, 1.0, 2.0, 5.0)
    assert bounds() == (0.0, 0.0, 0.0, 0.0)
