"""Joint coverage against shapely's union of discs along the paths, who heard first against the normal distribution."""

import math

import numpy as np
import pytest
import shapely
from scipy.stats import norm

from analyzer.engine.ideal.team_search import SHOWN_SIGMA_S, team_search
from analyzer.model.team import TeamMember

FIELD = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]])
NAN = math.nan


def member(name, *points, heard_s=NAN, sigma_s=1.0, pace_mps=2.0):
    """Return somebody who walks straight from point to point at an even pace."""
    path = np.array(points, float)
    time_s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1)) / pace_mps])
    every = np.arange(0.0, time_s[-1] + 0.5)
    walk = np.column_stack([np.interp(every, time_s, path[:, j]) for j in (0, 1)])
    return TeamMember(name.lower(), name, every, walk, heard_s, sigma_s if math.isfinite(heard_s) else NAN)


LOW = ((0.0, 15.0), (100.0, 15.0))
HIGH = ((0.0, 65.0), (100.0, 65.0))
NEAR = ((0.0, 30.0), (100.0, 30.0))


@pytest.mark.parametrize("walks", [(LOW, HIGH), (LOW, NEAR), (LOW, LOW), (LOW, NEAR, HIGH)])
def test_shares_are_those_of_discs_along_the_paths(walks):
    found = team_search([member(f"P{i}", *walk) for i, walk in enumerate(walks)], FIELD, strip_width_m=40.0)
    field = shapely.Polygon(FIELD)
    discs = [shapely.LineString(walk).buffer(20.0, quad_segs=64) & field for walk in walks]
    union = shapely.union_all(discs)
    twice = shapely.union_all([a & b for i, a in enumerate(discs) for b in discs[:i]])
    assert found.covered == pytest.approx(union.area / field.area, abs=0.015)
    assert found.twice == pytest.approx(twice.area / field.area, abs=0.015)
    for one, own in zip(found.members, discs, strict=True):
        others = shapely.union_all([disc for disc in discs if disc is not own])
        assert one.covered == pytest.approx(own.area / field.area, abs=0.015)
        assert one.alone == pytest.approx((own - others).area / field.area, abs=0.015)
        assert one.walked_m == pytest.approx(100.0)


def test_only_what_was_walked_before_the_first_signal_counts():
    found = team_search([member("Ana", *LOW, heard_s=25.0), member("Bo", *HIGH)], FIELD, strip_width_m=40.0)
    half = shapely.union_all([shapely.LineString([(0, y), (50, y)]).buffer(20.0) for y in (15.0, 65.0)])
    assert found.until_s == 25.0
    assert found.covered == pytest.approx((half & shapely.Polygon(FIELD)).area / 8000.0, abs=0.015)
    assert found.members[1].walked_m == pytest.approx(50.0)
    assert found.left_out == ("bo",)


@pytest.mark.parametrize(
    ("ahead_s", "sigmas"), [(0.0, (1.0, 1.0)), (3.0, (1.0, 2.0)), (12.0, (0.5, 3.0)), (1.0, (4.0, 4.0))]
)
def test_who_heard_first_is_as_sure_as_two_normal_moments(ahead_s, sigmas):
    one = member("Ana", *LOW, heard_s=20.0 + ahead_s, sigma_s=sigmas[0])
    two = member("Bo", *HIGH, heard_s=20.0, sigma_s=sigmas[1])
    found = team_search([one, two], FIELD, strip_width_m=40.0)
    assert found.first == ("bo" if ahead_s else "ana")  # of equals, the one that is named first
    assert found.sure == pytest.approx(norm.cdf(ahead_s / math.hypot(*sigmas, SHOWN_SIGMA_S, SHOWN_SIGMA_S)))


@pytest.mark.parametrize("ahead_s", [(1.5, 1.5), (0.0, 0.0, 0.0), (2.0, 30.0), (3.0, 3.2, 8.0)])
def test_of_several_the_first_is_before_all_others_and_not_the_second_alone(ahead_s):
    moments = np.array([20.0, *(20.0 + s for s in ahead_s)])
    team = [member(f"P{i}", *LOW, heard_s=at, sigma_s=1.0 + i) for i, at in enumerate(moments)]
    found = team_search(team, FIELD, strip_width_m=40.0)
    spread = np.hypot(1.0 + np.arange(len(moments)), SHOWN_SIGMA_S)
    drawn = np.random.default_rng(7).normal(moments, spread, (400_000, len(moments)))
    assert found.sure == pytest.approx(np.mean(drawn.argmin(axis=1) == 0), abs=0.003)


def test_without_any_reading_all_that_was_walked_counts():
    found = team_search([member("Ana", *LOW), member("Bo", *LOW[:1], (30.0, 15.0))], FIELD, strip_width_m=40.0)
    assert (found.first, found.second, found.left_out) == ("", "", ())
    assert found.until_s == 50.0
    assert found.members[1].walked_m == pytest.approx(30.0)


def test_somebody_who_set_out_after_the_first_signal_covered_nothing():
    late = member("Cara", *HIGH)
    late = TeamMember("cara", "Cara", late.time_s + 100.0, late.path_m, NAN, NAN)
    found = team_search([member("Ana", *LOW, heard_s=25.0), late], FIELD, strip_width_m=40.0)
    assert (found.members[1].covered, found.members[1].walked_m) == (0.0, 0.0)
