"""The robust line: a published worked example, scipy, Kendall's distribution, and what its interval holds."""

import itertools

import numpy as np
import pytest
from scipy import stats

from analyzer.seasons.theil_sen import CORRELATION, chance_of_rising, inversions, line_through, pair_slopes

SEN_X = np.array([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0])
SEN_Y = np.array([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0])


def test_worked_example_of_sen():
    """Sen (1968), J. Am. Stat. Assoc. 63, 1379-1389, as quoted by scipy's tests: slope 4, bounds 3.71 and 4.38.

    The bounds are the 4th and the 18th of the 21 slopes. Sen calls that 93 % by his table; counted over all 5040 orders
    the two leave out the true slope in 2 x 76 of them, which is 97.0 %.
    """
    confidence = 1.0 - 2.0 * 76.0 / 5040.0
    line = line_through(SEN_X, SEN_Y, confidence=confidence, correlation=0.0)
    assert line.slope == pytest.approx(4.0)
    assert line.low == pytest.approx(3.71, abs=0.005)
    assert line.high == pytest.approx(4.38, abs=0.005)
    assert line.at_zero == pytest.approx(4.0)


def test_worked_example_of_five_years():
    """Hollander, Wolfe & Chicken, Nonparametric Statistical Methods, 3rd ed., example 9.1 (cloud seeding): its data.

    Slopes by hand, sorted: -0.15, -0.13, -0.08, -0.07, -0.0575, -0.055, -0.045, -0.0333, 0.01, 0.04. Leaving out one at
    either end is exact at 1 - 2 x 5/120 = 91.7 %.
    """
    years, rain = np.arange(1.0, 6.0), np.array([1.26, 1.27, 1.12, 1.16, 1.03])
    line = line_through(years, rain, confidence=1.0 - 10.0 / 120.0, correlation=0.0)
    assert (line.slope, line.low, line.high) == pytest.approx((-0.05625, -0.13, 0.01))


@pytest.mark.parametrize("seed", range(20))
def test_slope_and_intercept_are_scipys_and_the_bounds_lie_beside_its_own(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 25))
    x = np.sort(rng.choice(60, n, replace=False)).astype(float)
    y = 0.3 * x + rng.standard_t(3, n)
    got, theirs = line_through(x, y, correlation=0.0), stats.theilslopes(y, x, 0.9, method="separate")
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
def test_chance_of_independent_days_is_kendalls_exact_test(seed):
    rng = np.random.default_rng(100 + seed)
    n = int(rng.integers(5, 15))
    x, y = np.arange(float(n)), rng.standard_normal(n) + 0.2 * np.arange(n)
    theirs = stats.kendalltau(x, y, method="exact", alternative="greater").pvalue
    assert chance_of_rising(y, correlation=0.0) == pytest.approx(theirs)


def _series(rng, many, n, correlation):
    """Return series (many, n) in which neighbours resemble each other, drawn another way than those under test."""
    lags = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    return rng.standard_normal((many, n)) @ np.linalg.cholesky(correlation**lags).T


@pytest.mark.parametrize("n", [6, 9, 34])
def test_chance_of_days_that_resemble_each_other(n):
    """4000 series without a trend, neighbours correlated by 0.3: said by chance as often as said. Beyond 30 days the
    answer is a normal distribution."""
    rng = np.random.default_rng(n)
    chances = np.array([chance_of_rising(y) for y in _series(rng, 4000, n, CORRELATION)])
    plain = np.array([chance_of_rising(y, correlation=0.0) for y in _series(rng, 4000, n, CORRELATION)])
    for level in (0.02, 0.05, 0.2):
        assert np.mean(chances <= level) <= level + 3.0 * np.sqrt(level / 4000)
    assert np.mean(chances <= 0.2) >= 0.12, "and not much more rarely"
    assert np.mean(plain <= 0.14) > 0.15, "taken as independent, chance would be called a trend too often: that is why"


def test_beyond_the_drawn_days_the_answer_goes_on_as_before():
    """S over its pairs, whose spread falls with the root of the number of days: drawn up to 30 days, then a formula."""
    spreads = []
    for n in (29, 30, 31, 32):
        falling = inversions(n, CORRELATION)
        share = 1.0 - 2.0 * np.arange(len(falling)) / (len(falling) - 1)
        spreads.append(np.sqrt(n * np.sum(share**2 * falling)))
    assert spreads == pytest.approx([np.mean(spreads)] * 4, rel=0.01)


def test_equal_values_are_no_trend():
    line = line_through(np.arange(8.0), np.full(8, 3.0))
    assert (line.slope, line.low, line.high) == (0.0, 0.0, 0.0)
    assert chance_of_rising(np.full(8, 3.0)) > 0.5


def test_equal_values_make_chance_larger_never_smaller():
    """Half of the days at the end of the scale, in 3000 series without a trend."""
    rng = np.random.default_rng(2)
    chances = [chance_of_rising(np.maximum(y, 0.0)) for y in _series(rng, 3000, 8, CORRELATION)]
    assert np.mean(np.array(chances) <= 0.05) <= 0.05


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
    """Independent errors with heavy tails, 2000 times: the distribution-free bounds hold at their confidence, and those
    for days that resemble each other hold as often where they do."""
    rng = np.random.default_rng(n)
    x = np.arange(float(n))
    independent = [line_through(x, 0.5 * x + rng.standard_t(3, n), correlation=0.0) for _ in range(2000)]
    alike = [line_through(x, 0.5 * x + y) for y in _series(rng, 2000, n, CORRELATION)]
    for lines in (independent, alike):
        held = np.mean([line.low <= 0.5 <= line.high for line in lines])
        assert 0.88 <= held <= (0.925 if np.isfinite(lines[0].low) else 1.0)
