"""Differences of measured figures against plain cases and a simulation."""

import numpy as np
import pytest

from analyzer.model.figure import Figure, difference, holds_zero, share_above


def test_a_difference_has_the_interval_of_two_independent_errors():
    # Means 10 and 16 with one-sided distances 3 and 4: 6 -+ 5 (3-4-5).
    found = difference(Figure(16.0, 12.0, 20.0, "s"), Figure(10.0, 7.0, 13.0, "s"))
    assert (found, holds_zero(found)) == (Figure(6.0, 1.0, 11.0, "s"), False)
    assert holds_zero(difference(Figure(14.0, 10.0, 18.0, "s"), Figure(10.0, 7.0, 13.0, "s")))


def test_a_lopsided_interval_is_turned_round_for_the_base():
    found = difference(Figure(20.0, 17.0, 20.0, "m"), Figure(10.0, 10.0, 14.0, "m"))
    assert (found.low, found.high) == (10.0 - 5.0, 10.0)  # hypot(3, 4) below, nothing above


def test_the_interval_holds_the_true_difference_in_nine_cases_of_ten():
    rng = np.random.default_rng(12)
    z = 1.6449  # half width of a 90 % interval in standard deviations (normal distribution)
    inside = 0
    for _ in range(2000):
        a, b = rng.normal(10.0, 1.0), rng.normal(13.0, 2.0)
        d = difference(Figure(b, b - 2 * z, b + 2 * z, "s"), Figure(a, a - z, a + z, "s"))
        inside += d.low <= 3.0 <= d.high
    assert inside / 2000 == pytest.approx(0.90, abs=0.02)


def test_difference_is_a_less_b_with_halves_in_quadrature():
    found = difference(Figure(10.0, 7.0, 14.0, "s"), Figure(6.0, 2.0, 9.0, "s"))
    assert (found.value, found.low, found.high) == pytest.approx((4.0, 4.0 - 18.0**0.5, 4.0 + 32.0**0.5))


def test_the_share_above_a_limit_is_the_normal_distributions_on_either_side():
    """Abramowitz and Stegun 1964, table 26.1: P(0) = 0.5, P(1) = 0.8413, P(1.6449) = 0.95."""
    figure = Figure(10.0, 10.0 - 1.6449, 10.0 + 2.0 * 1.6449, "m")
    assert share_above(figure, 10.0) == pytest.approx(0.5)
    assert share_above(figure, 9.0) == pytest.approx(0.8413, abs=1e-4)
    assert share_above(figure, 12.0) == pytest.approx(1.0 - 0.8413, abs=1e-4)
    assert share_above(figure, figure.low) == pytest.approx(0.95, abs=1e-4)
    known = Figure(3.0, 3.0, 3.0, "m")
    assert [share_above(known, limit) for limit in (2.9, 3.0, 3.1)] == [1.0, 1.0, 0.0]
