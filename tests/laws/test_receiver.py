"""Readings over a plane against closed forms and published figures."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from analyzer.physics.receiver import offsets, reading_m, seen_amplitude

REFERENCE = Path(__file__).parents[1] / "reference"
UP, ALONG = [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]
NEAR = 1e-3  # scene size in metres: the radiating parts, of order (r / 104 m)^2, vanish and closed forms are exact


def rows(name):
    return np.loadtxt(REFERENCE / name, delimiter=",", comments="#")


def over_plane(x, axis, *, antennas=3, heading=None, y=0.0):
    """Seen amplitude at height 1, scaled so that the unit is the depth."""
    offset = np.stack(np.broadcast_arrays(x, y, 1.0), axis=-1) * NEAR
    return seen_amplitude(offset, axis, antennas=antennas, heading=heading) * NEAR**3


def test_broadside_shows_the_distance_and_coaxial_falls_short_by_a_quarter():
    # field ratio 2:1, so readings differ by 2^(1/3) = 1.259921 (Griffiths, 5.4.3)
    broadside, coaxial = reading_m([[0, 2.0, 0], [2.0, 0, 0]], ALONG)
    assert broadside == pytest.approx(2.0, rel=2e-4)
    assert broadside / coaxial == pytest.approx(1.259921, rel=4e-4)


def test_reading_grows_with_scale_and_distance():
    offset = np.array([0.3, 0.4, 1.0])
    one = reading_m(offset, UP)
    assert reading_m(offset, UP, scale=1.15) == pytest.approx(1.15 * one, rel=1e-14)
    assert reading_m(2 * offset, UP) == pytest.approx(2.0 * one, rel=1e-3)


@pytest.mark.parametrize("row", rows("near_field.csv"), ids=lambda r: f"{r[0]:g} m")
def test_reading_far_out(row):
    range_m, _, _, axial_percent, equatorial_percent = row
    coaxial = reading_m([range_m, 0, 0], ALONG) / (range_m / 2 ** (1 / 3))
    broadside = reading_m([0, range_m, 0], ALONG) / range_m
    # the table's error is that of the distance taken from the field: minus what the reading is off
    assert (1 / coaxial - 1) * 100 == pytest.approx(axial_percent, abs=0.006)
    assert (1 / broadside - 1) * 100 == pytest.approx(equatorial_percent, abs=0.006)


def test_vertical_dipole_horizontal_part_peaks_at_half_the_depth():
    # 3 x / (1 + x^2)^2.5: peak 0.8586501034 at x = 0.5, from the derivative
    best = minimize_scalar(
        lambda x: -over_plane(x, UP, antennas=2), bounds=(0.1, 1.5), method="bounded", options={"xatol": 1e-10}
    )
    assert best.x == pytest.approx(0.5, abs=1e-6)
    assert -best.fun == pytest.approx(0.8586501034, rel=1e-8)
    assert over_plane(0.0, UP, antennas=2) == pytest.approx(0.0, abs=1e-12)


def test_vertical_dipole_vertical_part_vanishes_at_root_two():
    def vertical(x):  # what three antennas see beyond two
        return over_plane(x, UP) ** 2 - over_plane(x, UP, antennas=2) ** 2

    best = minimize_scalar(vertical, bounds=(1.0, 2.0), method="bounded", options={"xatol": 1e-9})
    assert best.x == pytest.approx(math.sqrt(2.0), abs=1e-5)


@pytest.mark.parametrize(("x", "relative"), [(0.25, 0.892707), (0.5, 0.659697), (1.0, 0.279508)])
def test_vertical_dipole_total(x, relative):
    # sqrt(4 + x^2) / (1 + x^2)^2 relative to 2
    assert over_plane(x, UP) / over_plane(0.0, UP) == pytest.approx(relative, abs=6e-7)


@pytest.mark.parametrize("row", rows("flat_dipole_along.csv"), ids=lambda r: f"x = {r[0]:g}")
def test_flat_dipole_along_its_axis(row):
    x, relative = row
    assert over_plane(x, ALONG) / over_plane(0.0, ALONG) == pytest.approx(relative, abs=6e-8)


@pytest.mark.parametrize(("drop", "reach", "across"), [(0.01, 0.252607, 0.081992), (0.05, 0.404415, None)])
def test_flat_minimum(drop, reach, across):
    # 1 - 3 (x/d)^4 along the axis, (1 + x^2)^-1.5 across it
    def excess(x, y=0.0):
        return over_plane(x, ALONG, y=y) / over_plane(0.0, ALONG) - (1.0 - drop)

    assert brentq(excess, 0.0, 1.0) == pytest.approx(reach, abs=6e-7)
    if across is not None:
        assert brentq(lambda y: excess(0.0, y), 0.0, 1.0) == pytest.approx(across, abs=6e-7)


def test_flat_dipole_seen_by_one_antenna_along_it():
    # null at sqrt(1/2), side lobe of 0.20238577 at sqrt(3/2): (2 x^2 - 1) / (1 + x^2)^2.5
    def seen(x):
        return over_plane(x, ALONG, antennas=1, heading=[1.0, 0.0])

    assert seen(math.sqrt(0.5)) == pytest.approx(0.0, abs=1e-9)  # radiating parts: (1 mm / 104 m)^2
    assert seen(math.sqrt(1.5)) / seen(0.0) == pytest.approx(0.20238577, abs=6e-9)


@pytest.mark.parametrize(("angle_deg", "share"), [(20.0, 0.979479), (85.0, 0.443369)])
def test_range_of_one_antenna_turned_from_parallel(angle_deg, share):
    # range goes with the cube root of the coupling: 2 % loss at 20 degrees, 45 % left 5 degrees off
    # perpendicular (Swiss Alpine Club journal, article on optimising range: 2 % and about 45 %)
    turn = math.radians(angle_deg)
    straight = reading_m([0, NEAR, 0], ALONG, antennas=1, heading=[1.0, 0.0])
    turned = reading_m([0, NEAR, 0], ALONG, antennas=1, heading=[math.cos(turn), math.sin(turn)])
    assert straight / turned == pytest.approx(share, abs=6e-7)


def test_fewer_antennas_never_see_more():
    rng = np.random.default_rng(1)
    offset, axis = rng.normal(size=(500, 3)) * 4, rng.normal(size=(500, 3))
    axis /= np.linalg.norm(axis, axis=1, keepdims=True)
    turn = rng.uniform(0, 2 * np.pi, 500)
    three, two = (seen_amplitude(offset, axis, antennas=n) for n in (3, 2))
    one = seen_amplitude(offset, axis, antennas=1, heading=np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert (two <= three * (1 + 1e-12)).all()
    assert (one <= two * (1 + 1e-12)).all()
    assert (one < 0.9 * two).any()


def test_what_is_not_seen_reads_infinite():
    assert reading_m([0.0, 0.0, 1.0], UP, antennas=2) == np.inf


@pytest.mark.parametrize(("antennas", "message"), [(1, "one antenna needs a heading"), (4, "antennas must be")])
def test_wrong_antennas(antennas, message):
    with pytest.raises(ValueError, match=message):
        seen_amplitude([0, 0, 1.0], UP, antennas=antennas)


def test_offsets_point_from_the_transmitter_to_the_receiver():
    d = offsets([[3.0, 4.0], [1.0, 0.0]], [1.0, 0.1], [1.0, 1.0], 1.4)
    assert d == pytest.approx(np.array([[2.0, 3.0, 2.4], [0.0, -1.0, 1.5]]))
