"""The ideal cross of a fine search."""

import numpy as np
import pytest

from analyzer.engine.ideal.bracket import bracket_ideal

KIND = {"transmitter": "T1", "arm_m": 1.5}


def test_cross_over_a_lowest_reading_straight_ahead():
    got = bracket_ideal([0.0, -3.0], [0.0, 0.0], **KIND)
    # 3 + 1.5 out, 1.5 back, 1.5 aside, 3 across, 1.5 back to the middle
    assert got.length_m == pytest.approx(3.0 + 1.5 + 1.5 + 1.5 + 3.0 + 1.5)
    assert got.cross_m[1] == pytest.approx([0.0, 1.5])
    assert got.cross_m[-1] == pytest.approx([0.0, 0.0])


def test_entry_line_that_passes_to_one_side():
    got = bracket_ideal([0.0, -3.0], [0.4, 0.0], direction=[0.0, 2.0], **KIND)
    foot = got.cross_m[2]
    assert foot == pytest.approx([0.0, 0.0])
    first, second = got.cross_m[3], got.cross_m[4]
    assert first == pytest.approx([1.5, 0.0])
    assert second == pytest.approx([-1.5, 0.0])
    assert got.length_m == pytest.approx(4.5 + 1.5 + 1.5 + 3.0 + 1.9)
    mirrored = bracket_ideal([0.0, -3.0], [-0.4, 0.0], direction=[0.0, 2.0], **KIND)
    assert mirrored.length_m == pytest.approx(got.length_m)
    assert mirrored.cross_m[3] == pytest.approx([-1.5, 0.0])


def test_arms_cross_at_right_angles():
    got = bracket_ideal([2.0, 1.0], [0.3, -0.2], direction=[-1.0, -0.4], **KIND)
    along, across = got.cross_m[1] - got.cross_m[0], got.cross_m[4] - got.cross_m[3]
    assert along @ across == pytest.approx(0.0, abs=1e-12)
    assert np.hypot(*(got.lowest_m - [0.3, -0.2])) == 0.0


@pytest.mark.parametrize("direction", [[0.0, -1.0], [0.0, 0.0], [np.nan, 1.0]])
def test_heading_that_misses_is_replaced(direction):
    straight = bracket_ideal([0.0, -3.0], [0.0, 0.0], **KIND)
    assert bracket_ideal([0.0, -3.0], [0.0, 0.0], direction=direction, **KIND).length_m == straight.length_m


def test_start_on_the_lowest_reading():
    got = bracket_ideal([1.0, 1.0], [1.0, 1.0], **KIND)
    assert got.length_m == pytest.approx(6 * 1.5)


def test_length_turns_with_the_scene():
    turn = np.array([[0.8, -0.6], [0.6, 0.8]])
    one = bracket_ideal([2.0, 1.0], [0.3, -0.2], direction=[-1.0, -0.4], **KIND)
    other = bracket_ideal(turn @ [2.0, 1.0], turn @ [0.3, -0.2], direction=turn @ [-1.0, -0.4], **KIND)
    assert other.cross_m == pytest.approx(one.cross_m @ turn.T)
