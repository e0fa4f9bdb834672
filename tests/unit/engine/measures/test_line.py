"""Progress along a line, the way beside it, and what stretches leave free."""

import numpy as np
import pytest

from analyzer.engine.measures.line import beside_m, progress_of
from analyzer.engine.measures.spells import gaps
from analyzer.files.rules_toml import default_rules
from analyzer.model.figure import Figure
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.pace import pace_at

RULES = default_rules()
STRAIGHT = np.column_stack([np.linspace(30.0, 3.0, 109), np.zeros(109)])


def straight_ideal():
    """Return the ideal of a search along the contour from 30 m to 3 m: the line on an axis along it."""
    return CoarseIdeal("A", STRAIGHT, np.array([27.0]), Figure(27.0, 27.0, 27.0, "m"), 27.0)


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
