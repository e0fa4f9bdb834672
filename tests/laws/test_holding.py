"""What is seen where it is not known how the receiver is held, against samples of how it may be held."""

import numpy as np
import pytest

from analyzer.physics.dipole import dipole_field
from analyzer.physics.holding import TILT_RAD, Held, seen_log
from analyzer.physics.receiver import seen_amplitude

SAMPLES = 200_000


def sampled(offset, axis, *, antennas, heading_rad=0.0, sigma_rad=0.0):
    """Return ln of the amplitude seen by receivers held in SAMPLES ways: tilted about both axes, turned."""
    rng = np.random.default_rng(9)
    field = dipole_field(offset, axis)
    if antennas == 2:
        tilt = TILT_RAD * rng.standard_normal((SAMPLES, 2))
        return np.log(np.hypot(*(field[:2, None] + tilt.T * field[2])))
    angle = heading_rad + sigma_rad * rng.standard_normal(SAMPLES)
    return np.log(np.abs(field[0] * np.cos(angle) + field[1] * np.sin(angle)))


@pytest.mark.parametrize(
    ("offset", "axis"),
    [
        ([1.0, 0.3, 1.4], [0.6, 0.0, 0.8]),
        ([0.2, 0.1, 1.2], [0.0, 0.1, 0.995]),  # next to nothing in the plane
        ([3.0, -1.0, 1.5], [1.0, 0.0, 0.0]),
    ],
)
def test_two_antennas_that_may_be_tilted(offset, axis):
    offset, axis = np.array(offset), np.array(axis) / np.linalg.norm(axis)
    mean, variance = seen_log(offset, axis, Held(2))
    samples = sampled(offset, axis, antennas=2)
    assert mean == pytest.approx(np.mean(samples), abs=0.02)
    assert variance == pytest.approx(np.var(samples), rel=0.12)


@pytest.mark.parametrize("sigma_deg", [15.0, 40.0, 200.0])
@pytest.mark.parametrize("off_deg", [0.0, 50.0, 90.0])
def test_one_antenna_whose_heading_is_known_within_a_spread(off_deg, sigma_deg):
    # A flat antenna straight below the receiver: the field has no part across the plane, so that tilt changes nothing.
    offset, axis = np.array([0.0, 0.0, 1.5]), np.array([1.0, 0.0, 0.0])
    heading = np.array([np.cos(np.radians(off_deg)), np.sin(np.radians(off_deg))])
    mean, variance = seen_log(offset, axis, Held(1, heading, np.radians(sigma_deg)))
    samples = sampled(offset, axis, antennas=1, heading_rad=np.radians(off_deg), sigma_rad=np.radians(sigma_deg))
    assert mean == pytest.approx(np.mean(samples), abs=0.02)
    assert variance == pytest.approx(np.var(samples), rel=0.03, abs=0.002)


def test_a_heading_known_well_gives_what_the_receiver_shows():
    offset, axis = np.array([[2.0, 1.0, 1.5], [5.0, -2.0, 2.0]]), np.array([0.8, 0.6, 0.0])
    heading = np.array([[1.0, 0.0], [0.6, 0.8]])
    mean, _ = seen_log(offset, axis, Held(1, heading, np.full(2, 0.01)))
    shown = np.log(seen_amplitude(offset, axis, antennas=1, heading=heading))
    np.testing.assert_allclose(mean, shown, atol=0.05)


def test_one_antenna_needs_a_heading():
    with pytest.raises(ValueError, match="heading"):
        seen_log(np.array([1.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]), Held(1))
