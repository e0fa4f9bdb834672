"""Scatter by running sums against scipy's integrals and numpy's covariance."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from analyzer.engine.measures.line_scatter import Moments, across

PIECES = [(0, 11), (11, 30), (35, 59)]


def wander(rows=3, points=60, seed=4):
    rng = np.random.default_rng(seed)
    path = np.cumsum(rng.normal(0.0, 0.3, (1, points, 2)), axis=1) + rng.normal(0.0, 0.05, (rows, points, 2))
    return path + np.array([4000.0, -900.0])


def integrated(path_m, along_m, a, b):
    """Return xx, yy, xy about the middle of one stretch of one row, each an integral over metres walked."""
    s, part = along_m[a : b + 1], path_m[a : b + 1]
    mean = trapezoid(part, s, axis=0) / (s[-1] - s[0])
    mixed = [trapezoid(part[:, i] * part[:, j], s) - (s[-1] - s[0]) * mean[i] * mean[j] for i, j in ((0, 0), (1, 1))]
    return [*mixed, trapezoid(part[:, 0] * part[:, 1], s) - (s[-1] - s[0]) * mean[0] * mean[1]]


def test_scatter_is_the_integral_over_the_metres_walked():
    path = wander()
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path[0], axis=0).T))])
    expected = np.array([[integrated(row - row[0], along, a, b) for a, b in PIECES] for row in path])
    found = Moments(path).each(PIECES)
    np.testing.assert_allclose(np.moveaxis(found, 0, -1), expected, rtol=1e-9, atol=1e-9)


def test_a_pause_does_not_count():
    path = wander(rows=1)
    paused = np.concatenate([path[:, :20], np.repeat(path[:, 20:21], 30, axis=1), path[:, 20:]], axis=1)
    np.testing.assert_allclose(Moments(paused).scatter([(0, 89)]), Moments(path).scatter([(0, 59)]), rtol=1e-9)


def test_the_axis_is_that_of_the_covariance_and_turns_with_the_path():
    t = np.linspace(-1.0, 1.0, 201)
    path = np.column_stack([3.0 * t, 0.2 * np.sin(9.0 * t)])[None]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path[0], axis=0).T))])
    weight = np.gradient(along)
    values, vectors = np.linalg.eigh(np.cov(path[0].T, aweights=weight, bias=True))
    lead = vectors[:, 1]
    found = Moments(path).axis([(0, 200)])[0]
    assert abs(np.cos(found) * lead[0] + np.sin(found) * lead[1]) == pytest.approx(1.0, abs=1e-5)
    assert across(Moments(path).scatter([(0, 200)]))[0] == pytest.approx(values[0] * along[-1], rel=0.02)


def test_a_stretch_without_length_has_no_scatter():
    still = np.zeros((2, 5, 2)) + 7.0
    assert np.array_equal(Moments(still).scatter([(0, 4)]), np.zeros((3, 2)))
