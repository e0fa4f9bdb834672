"""Figures from draws: coverage, bias, and what is said where nothing can be."""

import numpy as np
import pytest

from analyzer.engine.measures.intervals import figure_of
from analyzer.model.figure import Figure, NotAssessable


def test_the_interval_holds_an_exchangeable_truth_in_nine_of_ten_cases():
    rng = np.random.default_rng(7)
    values = rng.standard_normal((4000, 66))
    held = 0
    for row in values:
        found = figure_of(np.concatenate([[0.0], row[1:65]]), "m")
        held += found.low <= row[65] <= found.high
    assert held / len(values) == pytest.approx(0.90, abs=0.015)


def test_rough_measures_take_the_middle_of_the_samples():
    draws = np.concatenate([[10.0], np.linspace(11.0, 13.0, 41)])
    assert figure_of(draws, "m", rough=True).value == pytest.approx(12.0)
    assert figure_of(draws, "m").value == 10.0


def test_an_exact_world_has_no_width():
    assert figure_of(np.array([3.0]), "s") == Figure(3.0, 3.0, 3.0, "s")


def test_a_known_spread_is_added_in_quadrature():
    found = figure_of(np.array([3.0]), "s", spread=1.0)
    assert (found.low, found.high) == pytest.approx((3.0 - 1.645, 3.0 + 1.645), abs=1e-3)


def test_too_wide_an_interval_says_how_wide():
    found = figure_of(np.concatenate([[5.0], np.linspace(0.0, 12.0, 64)]), "m", widest=2.0)
    assert isinstance(found, NotAssessable)
    assert "between" in found.why
    assert "m" in found.why


def test_a_measure_that_most_draws_lack_is_not_assessable():
    draws = np.full(65, np.nan)
    draws[:20] = 1.0
    assert figure_of(draws, "m", missing="never got there") == NotAssessable("never got there")


def test_bounds_by_definition_are_kept():
    found = figure_of(np.concatenate([[0.1], np.linspace(-1.0, 1.0, 64)]), "m", least=0.0)
    assert found.low == 0.0
