"""The searcher's own field in plain floats equals the field package; its line is the textbook line."""

import math

import numpy as np
import pytest

from analyzer.lab.simulate.world import NOTHING_M, Receiver, Source, field_at, line_direction, reading_at, trace_line
from analyzer.physics.dipole import dipole_field
from analyzer.physics.receiver import reading_m


def sources(count=40, seed=1):
    rng = np.random.default_rng(seed)
    for _ in range(count):
        axis = rng.standard_normal(3)
        axis /= np.linalg.norm(axis)
        yield Source("T", *rng.uniform(-5, 5, 2), rng.uniform(0.3, 2.0), tuple(axis)), rng.uniform(-30, 30, 2)


@pytest.mark.parametrize("antennas", [1, 2, 3])
def test_plain_readings_equal_the_field_package(antennas):
    heading = (0.6, -0.8)
    for source, (x, y) in sources():
        offset = [x - source.x, y - source.y, 1.0 + source.depth_m]
        want = float(reading_m(offset, source.axis, scale=1.1, antennas=antennas, heading=heading))
        got = reading_at(source, Receiver(antennas, 1.1), x, y, 1.0, heading)
        assert got == pytest.approx(min(want, NOTHING_M), rel=1e-9)


def test_plain_field_equals_the_field_package():
    for source, (x, y) in sources():
        offset = [x - source.x, y - source.y, 0.1 + source.depth_m]
        assert field_at(source, x, y, 0.1)[:3] == pytest.approx(dipole_field(offset, source.axis).tolist(), rel=1e-9)


def test_nothing_is_shown_where_two_antennas_see_nothing():
    assert reading_at(Source("T", 0, 0, 1, (0, 0, 1)), Receiver(2, 1.0), 0.0, 0.0, 1.0, (1, 0)) == NOTHING_M


# Arc from the equator of a dipole down to r = 3 m, along r = R sin^2 theta: closed form of Chapman and Sugiura,
# J. Geophys. Res. 61 (1956) 485. A source of depth 0 seen at height 0 has its line in the plane.
@pytest.mark.parametrize(("far_m", "arc_m"), [(20.0, 24.572382937), (30.0, 38.385178506), (40.0, 52.192161224)])
def test_traced_line_has_the_length_of_the_closed_form(far_m, arc_m):
    # Along the pole |B| = 2/r^3 ... the reading at r = 3 m and theta_stop, scale 1:
    stop = math.asin(math.sqrt(3.0 / far_m))
    radius = 3.0 * (1.0 + 3.0 * math.cos(stop) ** 2) ** (-1.0 / 6.0)
    line = trace_line(
        Source("T", 0.0, 0.0, 0.0, (1.0, 0.0, 0.0)), Receiver(3, 1.0), (0.0, far_m), height_m=0.0, radius_m=radius
    )
    assert np.sum(np.hypot(*np.diff(line, axis=0).T)) == pytest.approx(arc_m, abs=0.1)


def test_line_of_an_upright_antenna_is_straight():
    line = trace_line(
        Source("T", 0.0, 0.0, 0.5, (0.0, 0.0, 1.0)), Receiver(3, 1.0), (18.0, 24.0), height_m=1.0, radius_m=3.0
    )
    assert abs(line[:, 0] * 0.8 - line[:, 1] * 0.6).max() < 1e-6
    assert np.hypot(*line[-1]) < 3.0


def test_direction_is_signed_towards_falling_readings():
    for source, (x, y) in sources(seed=2):
        cx, cy = line_direction(source, x, y, 1.0, (1.0, 0.0))
        receiver = Receiver(3, 1.0)
        here = reading_at(source, receiver, x, y, 1.0, (1, 0))
        ahead = reading_at(source, receiver, x + 0.05 * cx, y + 0.05 * cy, 1.0, (1, 0))
        assert math.hypot(cx, cy) == pytest.approx(1.0)
        assert ahead < here + 0.05 * 0.06
