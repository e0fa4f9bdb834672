"""The robust line: a published worked example, scipy, Kendall's distribution, and what its interval holds."""

import itertools

import numpy as np
import pytest
from scipy import stats

from analyzer.seasons.theil_sen import inversions, line_through, pair_slopes

SEN_X = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
SEN_Y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])


def test_worked_example_of_sen():
    """Sen (1968), J. Am. Stat. Assoc. 63, 1379-1389, as quoted by scipy's tests: slope 4, bounds 3.71 and 4.38.

    The bounds are the 4th and the 18th of the 21 slopes. Sen calls that 93 % by his table; counted over all 5040 orders
    the two leave out the true slope in 2 x 76 of them, which is 97.0 %.
    """
    confidence = 1.0 - 2.0 * 76.0 / 5040.0
    line = line_through(SEN_X, SEN_Y, confidence=confidence)
    assert line.slope == pytest.approx(4.0)
    assert line.low == pytest.approx(3.71, abs=0.005)
    assert line.high == pytest.approx(4.38, abs=0.005)
    assert line.at_zero == pytest.approx(4.0)


def test_worked_example_of_five_years():
    """Hollander, Wolfe & Chicken, Nonparametric Statistical Methods, 3rd ed., example 9.1 (cloud seeding): its data.

    Slopes by hand, sorted: -0.15, -0.13, -0.08, -0.07, -0.0575, -0.055, -0.045, -0.0333, 0.01, 0.04. Leaving out one at
    either end is exact at 1 - 2 x 5/120 = 91.7 %.
    """
    line = line_through(np.arange(1.0, 6.0), np.array([1.26, 1.27, 1.12, 1.16, 1.03]), confidence=1.0 - 10.0 / 120.0)
    assert (line.slope, line.low, line.high) == pytest.approx((-0.05625, -0.13, 0.01))


@pytest.mark.parametrize("seed", range(20))
def test_slope_and_intercept_are_scipys_and_the_bounds_lie_beside_its_own(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 25))
    x = np.sort(rng.choice(60, n, replace=False)).astype(float)
    y = 0.3 * x + rng.standard_t(3, n)
    got, theirs = line_through(x, y), stats.theilslopes(y, x, 0.9, method="separate")
    assert got.slope == pytest.approx(theirs.slope)
    assert got.at_zero == pytest.approx(theirs.intercept)
    # scipy rounds to a whole slope by a normal approximation; ours is between the exact neighbours: one slope apart.
    slopes = pair_slopes(x, y)
    for bound, other in ((got.low, theirs.low_slope), (got.high, theirs.high_slope)):
        k = int(np.argmin(np.abs(slopes - other)))
        assert slopes[max(k - 1, 0)] - 1e-12 <= bound <= slopes[min(k + 1, len(slopes) - 1)] + 1e-12


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 7])
def test_inversions_are_those_of_all_permutations(n):
    counts = np.zeros(n * (n - 1) // 2 + 1)
    for order in itertools.permutations(range(n)):
        counts[sum(a > b for a, b in itertools.combinations(order, 2))] += 1
    assert inversions(n) == pytest.approx(counts / counts.sum())


@pytest.mark.parametrize("seed", range(10))
def test_chance_is_kendalls_exact_test(seed):
    rng = np.random.default_rng(100 + seed)
    n = int(rng.integers(5, 15))
    x, y = np.arange(float(n)), rng.standard_normal(n) + 0.2 * np.arange(n)
    assert line_through(x, y).chance == pytest.approx(stats.kendalltau(x, y, method="exact").pvalue)


def test_equal_values_are_no_trend():
    line = line_through(np.arange(8.0), np.full(8, 3.0))
    assert (line.slope, line.low, line.high, line.chance) == (0.0, 0.0, 0.0, 1.0)


def test_the_interval_leaves_out_zero_only_where_the_test_does():
    rng = np.random.default_rng(3)
    seen = set()
    for _ in range(400):
        line = line_through(np.arange(8.0), rng.standard_normal(8) + 0.2 * np.arange(8.0))
        assert (line.low * line.high > 0.0) == (line.chance <= 0.1)
        seen.add(line.chance <= 0.1)
    assert seen == {True, False}


def test_one_wild_day_moves_the_slope_little():
    x, y = np.arange(10.0), 5.0 - 0.4 * np.arange(10.0)
    wild = y.copy()
    wild[3] += 50.0
    assert line_through(x, wild).slope == pytest.approx(-0.4, abs=1e-12)


def test_too_few_points_have_no_bounds():
    line = line_through(np.arange(3.0), np.array([1.0, 2.0, 3.0]))
    assert np.isneginf(line.low)
    assert np.isposinf(line.high)


@pytest.mark.parametrize("n", [4, 6, 8, 12])
def test_interval_holds_in_ninety_per_cent(n):
    """Independent errors with heavy tails, 2000 times: the distribution-free bounds hold at their confidence."""
    rng = np.random.default_rng(n)
    x = np.arange(float(n))
    lines = [line_through(x, 0.5 * x + rng.standard_t(3, n)) for _ in range(2000)]
    held = np.mean([line.low <= 0.5 <= line.high for line in lines])
    assert 0.88 <= held <= 0.92
