"""A robust line through few points: the Theil-Sen slope with its interval, and how often chance alone gives as much.

The slope is the median of the slopes of all pairs of points. How many of the pairs rise and how many fall (Kendall's S,
their difference) does not hang on the distribution of the errors. Where days are independent, every order of them is
equally likely and the number of falling pairs is that of the inversions of a random permutation, which is exact. People
have good and bad weeks: neighbouring days resemble each other, and then as many pairs go one way by chance far more
often. So chance is asked with a correlation of CORRELATION between neighbouring days (an autoregressive series of the
first order): the distribution of S has no closed form then, and is counted in SERIES drawn series.

The interval is that of Sen (1968): of the sorted slopes as many are left out at either end as chance leaves out in 5 %
of cases. With few points those counts jump (from 3.1 to 5.4 % for eight independent ones), so the bounds are
interpolated between the two neighbouring slopes: else a 90 % interval holds the truth in 94 %. Only where zero lies
between those two the outer one is taken.

Sen, P. K., "Estimates of the regression coefficient based on Kendall's tau", J. Am. Stat. Assoc. 63 (1968) 1379-1389.
Hamed, K. H., Rao, A. R., "A modified Mann-Kendall trend test for autocorrelated data", J. Hydrol. 204 (1998) 182-196:
what correlation does to S.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from analyzer.model.arrays import FloatArray

CONFIDENCE = 0.9
CORRELATION = 0.3
"""Between one day of practice and the next, without any change. Our choice: how people's days resemble each other is
not measured; a season of eight days cannot tell it, and one without any resemblance is judged too carefully."""
SERIES = 50_000
"""And their mirror images: the chance of what one series in a thousand has is then known to a tenth."""
MOST_DRAWN_DAYS = 30
"""Beyond, the normal distribution with the exact variance of S is close enough, and quicker."""


@dataclass(frozen=True, slots=True)
class Line:
    """A robust line: slope with bounds, value at x = 0."""

    slope: float
    low: float
    high: float
    at_zero: float


def line_through(
    x: FloatArray, y: FloatArray, *, confidence: float = CONFIDENCE, correlation: float = CORRELATION
) -> Line:
    """Return the Theil-Sen line through points.

    Parameters
    ----------
    x : array, shape (n,)
        No two equal; n at least 2.
    y : array, shape (n,)
    confidence : float
        Of the slope's interval, two-sided.
    correlation : float
        Of neighbouring points about the line, 0 to below 1.
    """
    slopes = pair_slopes(x, y)
    slope = float(np.median(slopes))
    k, part = _left_out(len(x), (1.0 - confidence) / 2.0, correlation)
    low = _between(slopes, k, part)
    high = -_between(-slopes[::-1], k, part)
    return Line(slope, low, high, float(np.median(y) - slope * np.median(x)))


def chance_of_rising(y: FloatArray, *, correlation: float = CORRELATION) -> float:
    """Return how often at least as many pairs of points rise, net of those that fall, without any trend.

    Parameters
    ----------
    y : array, shape (n,)
        In order; n at least 2. Pairs of equal values neither rise nor fall, which makes the answer too large, not too
        small.
    correlation : float
        Of neighbouring points, 0 to below 1.
    """
    i, j = np.triu_indices(len(y), 1)
    net = int(np.sign(y[j] - y[i]).sum())
    most_falling = (len(i) - net) // 2
    return float(_at_most(len(y), correlation)[most_falling])


def pair_slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the slopes (n (n - 1) / 2,) of all pairs of points, sorted."""
    i, j = np.triu_indices(len(x), 1)
    slopes: FloatArray = np.sort((y[j] - y[i]) / (x[j] - x[i]))
    return slopes


@cache
def inversions(n: int, correlation: float = 0.0) -> FloatArray:
    """Return the probability of 0, 1, ... n (n - 1) / 2 falling pairs among n points in order, without any trend.

    Parameters
    ----------
    n : int
    correlation : float
        Of neighbouring points. Without any, exact (Kendall's distribution): the k-th of n points adds 0 to k - 1
        falling pairs, each equally likely. With it, counted in series drawn from one seed.
    """
    if correlation == 0.0:
        found = np.ones(1)
        for k in range(2, n + 1):
            found = np.convolve(found, np.full(k, 1.0 / k))
    elif n <= MOST_DRAWN_DAYS:
        found = _drawn(n, correlation)
    else:
        found = _normal(n, correlation)
    found.flags.writeable = False
    return found


@cache
def _at_most(n: int, correlation: float) -> FloatArray:
    found: FloatArray = np.cumsum(inversions(n, correlation))
    return found


def _drawn(n: int, correlation: float) -> FloatArray:
    pairs = n * (n - 1) // 2
    y = np.random.default_rng(n).standard_normal((n, SERIES))
    for k in range(1, n):
        y[k] = correlation * y[k - 1] + np.sqrt(1.0 - correlation**2) * y[k]
    falling = np.zeros(SERIES, dtype=np.intp)
    for k in range(1, n):
        falling += np.count_nonzero(y[k] < y[:k], axis=0)
    counts = np.bincount(falling, minlength=pairs + 1).astype(float)
    counts += counts[::-1]  # a series and its mirror image are equally likely
    # What was not drawn at all is possible all the same: it is as rare as in one series of the normal distribution.
    shares: FloatArray = (counts + _normal(n, correlation)) / (2.0 * SERIES + 1.0)
    return shares


def _normal(n: int, correlation: float) -> FloatArray:
    """Return the normal distribution with the variance of S: of two differences of a normal series, the product of the
    signs is on average 2 / pi times the arc sine of their correlation."""
    i, j = np.triu_indices(n, 1)
    size = np.sqrt(2.0 * (1.0 - correlation ** (j - i)))
    variance = 0.0
    for a, b, s in zip(i, j, size, strict=True):
        common = _power(correlation, b - j) - _power(correlation, b - i) - _power(correlation, a - j)
        both = (common + _power(correlation, a - i)) / (s * size)
        variance += float((2.0 / np.pi * np.arcsin(np.clip(both, -1.0, 1.0))).sum())
    falling = np.arange(len(i) + 1)
    weights: FloatArray = np.exp(-0.5 * (len(i) - 2.0 * falling) ** 2 / variance)
    shares: FloatArray = weights / weights.sum()
    return shares


def _power(correlation: float, apart: np.ndarray) -> FloatArray:
    found: FloatArray = correlation ** np.abs(apart)
    return found


def _left_out(n: int, tail: float, correlation: float) -> tuple[int, float]:
    """Return how many slopes are left out at either end, and what part of the next; -1: not even all slopes hold."""
    shares, below = inversions(n, correlation), _at_most(n, correlation)
    k = int(np.searchsorted(below, tail + 1e-12, side="right")) - 1
    before = float(below[k]) if k >= 0 else 0.0
    part = (tail - before) / float(shares[k + 1])
    return k, min(max(part, 0.0), 1.0)


def _between(slopes: FloatArray, k: int, part: float) -> float:
    """Return the lower bound; where even all slopes do not reach the confidence there is none."""
    if k < 0:
        return -np.inf
    outer, inner = float(slopes[k]), float(slopes[min(k + 1, len(slopes) - 1)])
    return outer if outer <= 0.0 < inner else outer + part * (inner - outer)
