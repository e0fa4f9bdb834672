"""Legs and lines of fine searches drawn with a ruler."""

import numpy as np
import pytest
from builders import exact_path, walk

from analyzer.engine.measures.fine_search import acute, crossing_figure
from analyzer.engine.measures.legs import drawn_groupings, lines_of, simplify
from analyzer.engine.measures.window import cut
from analyzer.model.phases import FINE, PhaseSpan


def lines_along(knots):
    time_s, points = walk(knots, pace=0.25)
    fused = exact_path(time_s, points)
    span = PhaseSpan(FINE, "A", 0.0, float(time_s[-1]), 0.0, 0.0, np.zeros(1), time_s[-1:])
    return lines_of(cut(fused, span))


def cross(angle_deg, arm_m=1.2):
    """Return the knots of an entry along the contour, back, and a line across it at an angle."""
    u = arm_m * np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    return [(-3.0, 0.0), (1.2, 0.0), (0.0, 0.0), tuple(u), tuple(-u), (0.0, 0.0)]


@pytest.mark.parametrize("angle_deg", [90.0, 75.0, 55.0, 40.0, 120.0])
def test_the_crossing_angle_is_that_of_the_ruler(angle_deg):
    lines = lines_along(cross(angle_deg))
    found = crossing_figure(lines.first_axis, lines.crossing_axis)
    assert found.value == pytest.approx(acute(angle_deg), abs=5.0)  # design aim for survey-grade positions: 5 degrees


def test_reach_is_half_the_crossing_line():
    # One position a second at 0.25 m/s may miss each end by half a step.
    assert lines_along(cross(90.0, arm_m=1.2)).reach_m[0] == pytest.approx(1.2, abs=0.125)
    assert lines_along(cross(90.0, arm_m=0.7)).reach_m[0] == pytest.approx(0.7, abs=0.125)


def test_without_a_crossing_line_the_reach_across_is_small():
    lines = lines_along([(-3.0, 0.0), (1.2, 0.0), (0.0, 0.1)])
    assert lines.crossing_axis is None
    assert lines.reach_m[0] < 0.2


def test_legs_turn_where_the_path_turns():
    assert len(lines_along(cross(90.0)).legs) == 5


def test_simplify_keeps_the_corner_of_an_out_and_back():
    there = np.column_stack([np.linspace(0.0, 4.0, 21), np.zeros(21)])
    assert 20 in simplify(np.vstack([there, there[-2::-1]]), 0.2)


def test_out_and_back_are_one_line():
    _, points = walk([(0.0, 0.0), (3.0, 0.0), (0.0, 0.0), (0.0, 2.0)], pace=0.5)
    assert [len(g) for g in drawn_groupings(points, [(0, 6), (6, 12), (12, 16)])[0]] == [2, 1]


def test_the_interval_about_a_right_angle_is_not_folded():
    rng = np.random.default_rng(1)
    first, second = np.zeros(65), np.pi / 2 + 0.05 * rng.standard_normal(65)
    second[0] = np.radians(88.0)
    found = crossing_figure(first, second)
    assert found.value == pytest.approx(88.0)
    assert found.high == 90.0


def test_a_poorly_known_angle_is_not_assessable():
    rng = np.random.default_rng(2)
    found = crossing_figure(np.zeros(65), np.pi / 2 + 0.5 * rng.standard_normal(65), widest=18.0)
    assert "either way" in found.why
