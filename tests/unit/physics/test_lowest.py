"""Where the reading is lowest, against published optima and a fine grid."""

import math
from pathlib import Path

import numpy as np
import pytest

from analyzer.physics.lowest_reading import lowest_reading
from analyzer.physics.receiver import offsets, reading_m

REFERENCE = Path(__file__).parents[2] / "reference"


def tilted(degrees_from_vertical):
    a = math.radians(degrees_from_vertical)
    return [math.sin(a), 0.0, math.cos(a)]


@pytest.mark.parametrize(
    "row",
    np.loadtxt(REFERENCE / "tilted_dipole_offset.csv", delimiter=",", comments="#"),
    ids=lambda r: f"{r[0]:g} deg",
)
def test_offset_of_three_antennas(row):
    degrees, in_depths, tolerance = row
    low = lowest_reading(tilted(degrees), depth_m=1.1, height_m=0.1)
    assert low.distance_m[0] / 1.2 == pytest.approx(in_depths, abs=tolerance)


def test_offset_never_exceeds_a_quarter_of_the_depth():
    angles = np.radians(np.linspace(0, 180, 3601))
    axes = np.column_stack([np.sin(angles), np.zeros_like(angles), np.cos(angles)])
    distance = lowest_reading(axes, depth_m=0.9, height_m=0.1).distance_m
    assert distance.max() == pytest.approx(0.25, abs=1e-6)  # Ayuso et al. 2015: 25 % of the depth
    assert math.degrees(angles[np.argmax(distance[:1801])]) == pytest.approx(77.471, abs=0.05)


def test_offset_of_two_antennas_is_half_the_depth_over_an_upright_axis():
    # peak of 3 x / (1 + x^2)^2.5 at x = 1/2; Ayuso et al. 2015: 50 % of the depth
    assert lowest_reading([0, 0, 1.0], depth_m=0.9, height_m=0.1, antennas=2).distance_m[0] == pytest.approx(
        0.5, abs=1e-5
    )
    angles = np.radians(np.linspace(0, 90, 61))
    axes = np.column_stack([np.sin(angles), np.zeros_like(angles), np.cos(angles)])
    assert lowest_reading(axes, depth_m=0.9, height_m=0.1, antennas=2).distance_m.max() <= 0.5 + 1e-5


def test_offset_of_one_antenna_across_a_flat_axis():
    # 3 x y / r^5 along the diagonal: largest at a distance of sqrt(2/3), from the derivative
    low = lowest_reading([1.0, 0, 0], depth_m=0.9, height_m=0.1, antennas=1, heading=[0.0, 1.0])
    assert low.distance_m[0] == pytest.approx(math.sqrt(2.0 / 3.0), abs=1e-5)


@pytest.mark.parametrize("antennas", [1, 2, 3])
def test_no_point_of_a_fine_grid_reads_lower(antennas):
    rng = np.random.default_rng(31)
    axes = rng.normal(size=(12, 3))
    axes /= np.linalg.norm(axes, axis=1, keepdims=True)
    seen = {"antennas": antennas, "heading": [0.6, 0.8]}
    low = lowest_reading(axes, depth_m=1.3, height_m=0.1, **seen)
    side = np.linspace(-2.0, 2.0, 161)
    grid = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    for axis, offset in zip(axes, low.offset_m, strict=True):
        best = reading_m(offsets(grid, 0.1, [0, 0], 1.3), axis, **seen).min()
        assert reading_m(offsets(offset, 0.1, [0, 0], 1.3), axis, **seen) <= best * (1 + 2e-6)


def test_offset_scales_with_depth_and_turns_with_the_axis():
    axis = np.array([0.5, 0.4, 0.768])
    axis /= np.linalg.norm(axis)
    one = lowest_reading(axis, depth_m=0.9, height_m=0.1).offset_m[0]
    assert lowest_reading(axis, depth_m=1.9, height_m=0.1).offset_m[0] == pytest.approx(2.0 * one)
    assert one[0] * axis[1] == pytest.approx(one[1] * axis[0])
    assert one @ axis[:2] > 0.0
    assert lowest_reading(-axis, depth_m=0.9, height_m=0.1).offset_m[0] == pytest.approx(one)


def test_flat_stretch_over_a_flat_antenna():
    # field within 1 % over +/- 0.252607 depths along the axis: readings within 1 - 0.99^(1/3)
    within = 0.99 ** (-1.0 / 3.0) - 1.0
    low = lowest_reading([1.0, 0, 0], depth_m=0.9, height_m=0.1, within=within)
    assert low.flat_m[0] == pytest.approx(2 * 0.252607, abs=2e-5)
    # upright: sqrt(4 + x^2) / (1 + x^2)^2 falls to 0.892707 at x = 1/4
    upright = lowest_reading([0, 0, 1.0], depth_m=0.9, height_m=0.1, within=0.892707 ** (-1 / 3) - 1.0)
    assert upright.flat_m[0] == pytest.approx(0.5, abs=2e-5)


@pytest.mark.parametrize("antennas", [1, 0])
def test_wrong_receivers_are_refused(antennas):
    with pytest.raises(ValueError, match=r"heading|antennas"):
        lowest_reading([0, 0, 1.0], depth_m=1.0, height_m=0.1, antennas=antennas)
