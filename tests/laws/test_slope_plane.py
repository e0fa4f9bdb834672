"""Metres on the ellipsoid and in the slope plane, against geodesics, radii of curvature and trigonometry."""

import math
from pathlib import Path

import numpy as np
import pyproj
import pytest
from geographiclib.geodesic import Geodesic

from analyzer.geometry.slope_plane import LocalFrame, SlopePlane
from analyzer.model.drill import Origin, Slope

REFERENCE = Path(__file__).parents[1] / "reference"
GEODESICS = np.loadtxt(REFERENCE / "geodesics.csv", delimiter=",", comments="#")


def apart(a, b):
    """Degrees between two bearings."""
    return abs((a - b + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("row", GEODESICS, ids=lambda r: f"{r[4]:.0f} m")
def test_the_reference_library_and_proj_agree_with_published_lines(row):
    # what the tests below lean on
    lat1, lon1, lat2, lon2, metres, tolerance = row
    assert Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"] == pytest.approx(metres, abs=tolerance)
    assert pyproj.Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)[2] == pytest.approx(metres, abs=tolerance)


def test_short_line_in_the_local_frame():
    # (46, 7) to (46.001, 7.001): 135.480893 m, azimuth 34.872711 deg (geodesic library and own Vincenty)
    east, north = LocalFrame(Origin(46.0, 7.0)).to_metres(46.001, 7.001)[0]
    assert math.hypot(east, north) == pytest.approx(135.480893, abs=2e-6)
    assert math.degrees(math.atan2(east, north)) == pytest.approx(34.872711, abs=1e-5)


@pytest.mark.parametrize("origin", [Origin(46.0, 7.0), Origin(-44.0, 169.5), Origin(69.6, 18.9), Origin(0.0, 0.0)])
def test_lines_of_a_drill_are_geodesics(origin):
    rng = np.random.default_rng(1)
    lat = origin.latitude + rng.uniform(-2e-3, 2e-3, 30)
    lon = origin.longitude + rng.uniform(-2e-3, 2e-3, 30)
    metres = LocalFrame(origin).to_metres(lat, lon)
    for point, a, b in zip(metres, lat, lon, strict=True):
        line = Geodesic.WGS84.Inverse(origin.latitude, origin.longitude, a, b)
        # a tangent plane shortens 300 m by d^3 / 6 R^2 = 1e-7 m
        assert math.hypot(*point) == pytest.approx(line["s12"], abs=1e-6)
        bearing = math.degrees(math.atan2(point[0], point[1]))
        assert bearing == pytest.approx(line["azi1"], abs=1e-5)


def test_metres_per_degree_at_46():
    # radii of curvature M, N of WGS 84: 111151.3185 m of latitude and 77463.2991 m of longitude per degree
    step = 1e-5
    north = LocalFrame(Origin(46.0, 7.0)).to_metres(46.0 + step, 7.0)[0, 1]
    east = LocalFrame(Origin(46.0, 7.0)).to_metres(46.0, 7.0 + step)[0, 0]
    assert north / step == pytest.approx(111151.3185, abs=0.01)
    assert east / step == pytest.approx(77463.2991, abs=0.01)


def test_height_of_the_drill_lengthens_its_metres():
    # 1.000313536 at 2000 m, 31 mm per 100 m: 1 + h / radius of curvature, here mean of both directions
    low = LocalFrame(Origin(46.0, 7.0)).to_metres(46.001, 7.001)[0]
    high = LocalFrame(Origin(46.0, 7.0, 2000.0)).to_metres(46.001, 7.001)[0]
    assert math.hypot(*high) / math.hypot(*low) == pytest.approx(1.000313536, abs=6e-7)


@pytest.mark.parametrize("elevation", [0.0, 2500.0])
def test_degrees_and_back(elevation):
    frame = LocalFrame(Origin(46.3, 8.1, elevation))
    points = np.random.default_rng(2).uniform(-1000, 1000, size=(200, 2))
    degrees = frame.to_degrees(points[:, 0], points[:, 1])
    assert frame.to_metres(degrees[:, 0], degrees[:, 1]) == pytest.approx(points, abs=1e-6)


@pytest.mark.parametrize(("angle", "horizontal"), [(25, 36.252311), (30, 34.641016), (35, 32.766082), (40, 30.641778)])
def test_forty_metres_up_the_slope(angle, horizontal):
    plane = SlopePlane(Slope(angle, 180.0))
    assert plane.to_horizontal([0.0, 40.0]) == pytest.approx([0.0, horizontal], abs=6e-7)
    assert plane.to_horizontal([40.0, 0.0]) == pytest.approx([40.0, 0.0], abs=1e-12)


@pytest.mark.parametrize(("aspect", "upslope_bearing"), [(180.0, 0.0), (0.0, 180.0), (90.0, 270.0), (225.0, 45.0)])
def test_aspect_is_the_downhill_bearing(aspect, upslope_bearing):
    plane = SlopePlane(Slope(30.0, aspect))
    assert apart(plane.bearing_deg([0.0, 1.0]), upslope_bearing) < 1e-9
    # facing uphill, the contour runs to the right
    assert apart(plane.bearing_deg([1.0, 0.0]), upslope_bearing + 90.0) < 1e-9
    assert 0.0 <= plane.bearing_deg([0.0, 1.0]) < 360.0  # 2026-11-25: came out as 360 for north


def test_level_ground_is_east_north_up():
    plane = SlopePlane(Slope())
    assert plane.basis() == pytest.approx(np.eye(3), abs=1e-15)


@pytest.mark.parametrize("slope", [Slope(), Slope(32.0, 118.0), Slope(45.0, 301.0)])
def test_frame_is_right_handed_and_the_plane_returns_its_points(slope):
    plane = SlopePlane(slope)
    basis = plane.basis()
    assert basis @ basis.T == pytest.approx(np.eye(3), abs=1e-14)
    assert np.linalg.det(basis) == pytest.approx(1.0)
    points = np.random.default_rng(3).uniform(-100, 100, size=(50, 2))
    assert plane.to_horizontal(plane.to_plane(points)) == pytest.approx(points, abs=1e-11)
    # surface points: the height follows from the fall line
    flat = plane.to_plane(points)
    a, b = math.radians(slope.angle_deg), math.radians(slope.aspect_deg)
    height = -(points[:, 0] * math.sin(b) + points[:, 1] * math.cos(b)) * math.tan(a)
    assert np.hypot(*flat.T) == pytest.approx(np.sqrt(np.sum(points**2, axis=1) + height**2), abs=1e-10)


def test_axes_and_bearings_return():
    plane = SlopePlane(Slope(33.0, 77.0))
    for bearing in (0.0, 45.0, 190.0, 359.0):
        for tilt in (-60.0, 0.0, 12.5, 89.0):
            vector = plane.axis_vector(bearing, tilt)
            assert np.linalg.norm(vector) == pytest.approx(1.0)
            got_bearing, got_tilt = plane.axis_angles(vector)
            assert apart(got_bearing, bearing) < 1e-8
            assert 0.0 <= got_bearing < 360.0
            assert got_tilt == pytest.approx(tilt, abs=1e-8)
        assert apart(plane.bearing_deg(plane.direction(bearing)), bearing) < 1e-9
    assert plane.axis_vector(0.0, 90.0) == pytest.approx(plane.basis()[:, 2])


@pytest.mark.parametrize(
    ("angle", "offset", "hole"),
    [(25, 0.4663, 1.1034), (30, 0.5774, 1.1547), (35, 0.7002, 1.2208), (40, 0.8391, 1.3054)],
)
def test_plumb_probe_misses_a_transmitter_one_metre_along_the_normal(angle, offset, hole):
    # the point vertically over a transmitter 1 m under the surface: tan of the slope along the surface from the
    # point along the normal, at a depth of 1 / cos
    up = SlopePlane(Slope(angle, 180.0)).basis()[:, 2]
    plumb = up / up[2]  # reaches the surface from 1 m below it
    assert np.hypot(plumb[0], plumb[1]) == pytest.approx(offset, abs=6e-5)
    assert np.linalg.norm(plumb) == pytest.approx(hole, abs=6e-5)
