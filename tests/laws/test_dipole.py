"""The dipole against a reference library, closed forms and the laws of magnetostatics."""

import math
from pathlib import Path

import numpy as np
import pytest
from magpylib.core import dipole_Hfield

from analyzer.physics.constants import NEAR_FIELD_LENGTH_M
from analyzer.physics.dipole import dipole_field, harmonic_parts

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    return np.loadtxt(REFERENCE / name, delimiter=",", comments="#")


def random_units(rng, count):
    v = rng.normal(size=(count, 3))
    return v / np.linalg.norm(v, axis=1, keepdims=True)


def size(vectors):
    return np.linalg.norm(vectors, axis=-1)


def amplitude(offset, axis):
    real, imaginary = harmonic_parts(offset, axis)
    return np.sqrt(np.sum(real**2 + imaginary**2, axis=-1))


def test_field_equals_magpylib():
    rng = np.random.default_rng(1)
    offset = rng.normal(size=(500, 3)) * rng.uniform(0.3, 50.0, size=(500, 1))
    axis = random_units(rng, 500)
    # magpylib takes moments in A m^2 and returns H in A/m: m / (4 pi r^3) ...
    expected = dipole_Hfield(observers=offset, moments=4.0 * math.pi * axis)
    assert dipole_field(offset, axis) == pytest.approx(expected, rel=1e-12, abs=1e-18)


def test_axial_field_is_twice_the_equatorial():
    axis = [0.0, 0.0, 1.0]
    axial, equatorial = dipole_field([0, 0, 7.0], axis), dipole_field([7.0, 0, 0], axis)
    assert axial == pytest.approx([0, 0, 2 / 343.0], rel=1e-14)
    assert equatorial == pytest.approx([0, 0, -1 / 343.0], rel=1e-14)


@pytest.mark.parametrize("theta_deg", [0.0, 30.0, 45.0, 60.0, 75.0, 90.0])
def test_magnitude_over_colatitude(theta_deg):
    # |B| = sqrt(1 + 3 cos^2 theta) / r^3 (Griffiths, 5.4.3)
    th = math.radians(theta_deg)
    b = dipole_field([2 * math.sin(th), 0, 2 * math.cos(th)], [0, 0, 1])
    assert size(b) == pytest.approx(math.sqrt(1 + 3 * math.cos(th) ** 2) / 8.0, rel=1e-14)


@pytest.mark.parametrize(
    ("theta_deg", "to_radial_deg"), [(30, 16.1021), (45, 26.5651), (60, 40.8934), (75, 61.8132), (90, 90.0)]
)
def test_angle_of_field_to_radial(theta_deg, to_radial_deg):
    # atan2(sin theta, 2 cos theta) (Griffiths, 5.4.3), computed to 1e-4 degrees
    th = math.radians(theta_deg)
    radial = np.array([math.sin(th), 0, math.cos(th)])
    b = dipole_field(3 * radial, [0, 0, 1])
    assert math.degrees(math.acos(b @ radial / size(b))) == pytest.approx(to_radial_deg, abs=6e-5)


def test_field_falls_with_the_third_power():
    rng = np.random.default_rng(2)
    offset, axis = rng.normal(size=(100, 3)) * 5, random_units(rng, 100)
    assert dipole_field(3.0 * offset, axis) * 27.0 == pytest.approx(dipole_field(offset, axis), rel=1e-12)


def test_field_is_mirrored_through_the_transmitter_and_turned_with_the_axis():
    rng = np.random.default_rng(3)
    offset, axis = rng.normal(size=(100, 3)) * 5, random_units(rng, 100)
    b = dipole_field(offset, axis)
    assert dipole_field(-offset, axis) == pytest.approx(b, rel=1e-14)
    assert dipole_field(offset, -axis) == pytest.approx(-b, rel=1e-14)


def test_field_turns_with_the_frame():
    rng = np.random.default_rng(4)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    offset, axis = rng.normal(size=(100, 3)) * 5, random_units(rng, 100)
    assert dipole_field(offset @ turn.T, axis @ turn.T) == pytest.approx(
        dipole_field(offset, axis) @ turn.T, rel=1e-11, abs=1e-15
    )


def test_field_has_no_divergence_and_no_curl():
    rng = np.random.default_rng(5)
    offset, axis = random_units(rng, 50) * rng.uniform(1, 4, size=(50, 1)), random_units(rng, 50)
    step = 1e-4
    gradient = np.stack(
        [
            (dipole_field(offset + step * e, axis) - dipole_field(offset - step * e, axis)) / (2 * step)
            for e in np.eye(3)
        ],
        axis=1,
    )  # [i, j]: d B_j / d x_i
    scale = size(dipole_field(offset, axis))
    assert np.trace(gradient, axis1=1, axis2=2) / scale == pytest.approx(np.zeros(50), abs=1e-6)
    curl = gradient - np.swapaxes(gradient, 1, 2)
    assert curl / scale[:, None, None] == pytest.approx(np.zeros((50, 3, 3)), abs=1e-6)


def test_field_at_the_dipole_is_not_finite():
    assert not np.isfinite(dipole_field([0.0, 0.0, 0.0], [0, 0, 1])).any()


@pytest.mark.parametrize("row", rows("transmitter_fields.csv"), ids=lambda r: f"{r[0]:g} m")
def test_transmitter_at_the_upper_limit(row):
    range_m, axial, equatorial = row
    per_unit = 0.01401150324 / (4 * math.pi) * 1e6  # uA/m for the unit dipole
    assert size(dipole_field([0, 0, range_m], [0, 0, 1])) * per_unit == pytest.approx(axial, rel=1e-8)
    assert size(dipole_field([range_m, 0, 0], [0, 0, 1])) * per_unit == pytest.approx(equatorial, rel=1e-8)


@pytest.mark.parametrize("row", rows("near_field.csv"), ids=lambda r: f"{r[0]:g} m")
def test_radiating_parts(row):
    range_m, axial, equatorial, *_ = row
    for offset, factor in (([0, 0, range_m], axial), ([range_m, 0, 0], equatorial)):
        assert amplitude(offset, [0, 0, 1.0]) / size(dipole_field(offset, [0, 0, 1.0])) == pytest.approx(
            factor, abs=6e-6
        )


def test_wavelength_over_two_pi():
    # 299792458 m/s over 2 pi 457 kHz
    assert pytest.approx(104.405802, abs=1e-6) == NEAR_FIELD_LENGTH_M


def test_radiating_field_equals_the_full_vector_formula():
    # Jackson 9.18: H = k^2 (n x m) x n e^{ikr}/r + (3 n (n.m) - m)(1/r^3 - ik/r^2) e^{ikr}, up to 1/(4 pi);
    # with the other sign of time j = -i. Amplitudes are compared; near the dipole they are the parts themselves.
    rng = np.random.default_rng(6)
    axis, n = random_units(rng, 200), random_units(rng, 200)
    r = rng.uniform(0.5, 60.0, size=(200, 1))
    k = 1.0 / NEAR_FIELD_LENGTH_M
    along = np.sum(n * axis, axis=1, keepdims=True)
    h = k**2 * (axis - along * n) / r + (3 * along * n - axis) * (1 / r**3 - 1j * k / r**2)
    assert amplitude(r * n, axis) == pytest.approx(size(np.abs(h)), rel=1e-12)


def test_static_field_is_good_to_one_percent_inside_15_m():
    rng = np.random.default_rng(7)
    offset, axis = 14.9 * random_units(rng, 1000), random_units(rng, 1000)
    assert amplitude(offset, axis) / size(dipole_field(offset, axis)) == pytest.approx(np.ones(1000), abs=0.0105)
