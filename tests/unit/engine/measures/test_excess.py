"""The split of an excess, progress along a line, and the episodes of walks with one known fault."""

import itertools

import numpy as np
import pytest
from builders import exact_path, walk
from hypothesis import given
from hypothesis import strategies as st

from analyzer.engine.measures.line import beside_m, progress_of
from analyzer.engine.measures.standing import stops
from analyzer.engine.measures.time_loss import coarse_episodes, gaps, split_excess
from analyzer.engine.measures.window import cut, walked_draws
from analyzer.engine.measures.wrong_way import excursions
from analyzer.files.rules_toml import default_rules
from analyzer.model.figure import Figure
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.pace import pace_at
from analyzer.model.phases import COARSE, PhaseSpan

RULES = default_rules()
STRAIGHT = np.column_stack([np.linspace(30.0, 3.0, 109), np.zeros(109)])


def straight_ideal():
    """Return the ideal of a search along the contour from 30 m to 3 m: the line on an axis along it."""
    return CoarseIdeal("A", STRAIGHT, np.array([27.0]), Figure(27.0, 27.0, 27.0, "m"), 27.0)


def paced(knots, factor=1.0, step_s=1.0):
    """Return times and points of a walk along knots at the reference pace times `factor`."""
    _time_s, points = walk(knots, pace=0.1, step_s=0.5)
    away = np.hypot(points[:, 0], points[:, 1])
    step = np.hypot(*np.diff(points, axis=0).T)
    when = np.concatenate([[0.0], np.cumsum(step / (factor * pace_at(RULES, (away[1:] + away[:-1]) / 2.0)))])
    grid = np.arange(0.0, when[-1], step_s)
    return grid, np.column_stack([np.interp(grid, when, points[:, j]) for j in (0, 1)])


def episodes_of(time_s, points):
    fused = exact_path(time_s, points)
    end = float(time_s[-1])
    window = cut(fused, PhaseSpan(COARSE, "A", 0.0, end, 0.0, 0.0, np.zeros(1), np.array([end])))
    progress = progress_of(straight_ideal(), np.zeros(2), RULES)
    return coarse_episodes(window, progress, STRAIGHT, excursions(window), stops(window)), window


def seconds(episodes, cause):
    return sum(e.to_s - e.from_s for e in episodes if e.cause == cause)


@given(st.floats(0.1, 300.0), st.floats(0.1, 300.0), st.floats(0.1, 300.0), st.floats(0.0, 300.0))
def test_the_two_excesses_add_up_to_the_whole(spent, walked, reference_s, reference_m):
    extra, slow = split_excess(spent, walked, reference_s, reference_m)
    assert extra >= 0.0
    assert slow >= 0.0
    assert extra + slow == pytest.approx(max(spent - reference_s, 0.0), abs=1e-9)


def test_extra_metres_at_the_reference_pace_are_all_detour():
    assert split_excess(40.0, 40.0, 30.0, 30.0) == pytest.approx((10.0, 0.0))


def test_the_right_metres_at_half_the_pace_are_all_slow():
    assert split_excess(60.0, 30.0, 30.0, 30.0) == pytest.approx((0.0, 30.0))


def test_gaps_are_what_is_left():
    assert gaps(0.0, 10.0, [(2.0, 3.0), (2.5, 4.0), (9.0, 12.0)]) == [(0.0, 2.0), (4.0, 9.0)]


def test_progress_runs_from_nothing_to_the_whole_line():
    progress = progress_of(straight_ideal(), np.zeros(2), RULES)
    assert progress.metres(np.array([30.0, 3.0])) == pytest.approx([0.0, 27.0], abs=1e-6)
    # Independent sum of ds / pace in millimetre steps.
    r = np.linspace(3.0, 30.0, 27001)
    assert progress.seconds(np.array([3.0]))[0] == pytest.approx(np.trapezoid(1.0 / pace_at(RULES, r), r), rel=1e-3)


def test_beside_a_line_against_shapely():
    from shapely import LineString, Point

    rng = np.random.default_rng(3)
    line = np.cumsum(rng.standard_normal((12, 2)), axis=0)
    points = rng.standard_normal((50, 2)) * 4.0
    expected = [LineString(line).distance(Point(p)) for p in points]
    assert beside_m(points, line)[0] == pytest.approx(expected, abs=1e-12)


def test_the_reference_walk_has_no_excess():
    episodes, _ = episodes_of(*paced([(30, 0), (3, 0)]))
    assert episodes == ()


def test_half_pace_is_slow_for_half_of_the_time():
    time_s, points = paced([(30, 0), (3, 0)], factor=0.5)
    episodes, _ = episodes_of(time_s, points)
    assert seconds(episodes, "slow_pace") == pytest.approx(time_s[-1] / 2.0, abs=1.5)
    assert seconds(episodes, "off_line") == 0.0


def test_a_triangle_beside_the_line_costs_its_extra_metres():
    knots = [(30, 0), (24, 0), (20, 7), (16, 0), (3, 0)]
    episodes, window = episodes_of(*paced(knots))
    extra = float(walked_draws(window)[0]) - 27.0
    pace = float(pace_at(RULES, np.array([20.0]))[0])
    assert seconds(episodes, "off_line") + seconds(episodes, "wrong_way") == pytest.approx(extra / pace, abs=1.5)


def test_out_and_back_is_wrong_way_as_a_whole():
    episodes, _ = episodes_of(*paced([(30, 0), (20, 0), (26, 0), (3, 0)], step_s=0.2))
    assert [e.cause for e in episodes] == ["wrong_way"]
    assert episodes[0].metres == pytest.approx(12.0, abs=0.5)


def test_episodes_do_not_overlap():
    episodes, _ = episodes_of(*paced([(30, 0), (22, 4), (26, 0), (12, -3), (3, 0)], factor=0.6))
    assert len(episodes) >= 2
    for one, two in itertools.pairwise(episodes):
        assert one.to_s <= two.from_s + 1e-9
