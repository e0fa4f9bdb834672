"""The 90 % interval: one definition in the project, and it holds what it says."""

import re
from pathlib import Path
from statistics import NormalDist
from types import SimpleNamespace

import numpy as np
import pytest

from analyzer.engine.evidence import _sigma_in
from analyzer.model.figure import HALF_90, Figure, bounds, figure_around
from analyzer.model.phases import FINE

ROOT = Path(__file__).resolve().parents[2]


def test_interval_of_64_draws_holds_the_next_one_in_90_percent():
    # One more draw of n + 1 falls between ranks i and j with probability (j - i) / (n + 1), whatever the distribution
    # (order statistics; David and Nagaraja, Order Statistics, from memory). numpy's default holds 87 % here.
    rng = np.random.default_rng(70710)
    draws = rng.normal(size=(40_000, 65))
    held = [low <= truth <= high for truth, (low, high) in zip(draws[:, 0], map(bounds, draws[:, 1:]), strict=True)]
    assert np.mean(held) == pytest.approx(0.9, abs=0.006)


def test_interval_is_defined_once():
    pair = re.compile(r"\b(quantile|percentile)\([^\n]*(?<![\d.])(0\.05|0\.95|5|95)(?![\d.])")
    found = [
        path.name
        for top in ("analyzer", "dashboard")
        for path in (ROOT / top).rglob("*.py")
        if pair.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []
    half = [
        path.name
        for top in ("analyzer", "dashboard")
        for path in (ROOT / top).rglob("*.py")
        if re.search(r"\b1\.64[45]", path.read_text(encoding="utf-8"))
    ]
    assert half == ["figure.py"]
    assert NormalDist().inv_cdf(0.95) == pytest.approx(HALF_90, abs=1e-12)
    assert pair.search("low, high = np.quantile(rest, [0.05, 0.95])")


def test_figure_around_holds_its_value_and_is_exact_without_draws():
    assert figure_around(2.0, np.array([]), "m") == Figure(2.0, 2.0, 2.0, "m")
    outside = figure_around(9.0, np.arange(5.0), "m")
    assert (outside.value, outside.high) == (9.0, 9.0)
    assert outside.low < 1.0


def test_interval_of_a_phases_sigma_is_of_its_rms_and_not_the_spread_over_the_phase():
    """2026-11-26: low and high were the smallest and largest sigma along the phase, which no rms error ever reaches."""
    rng = np.random.default_rng(5)
    sigma = np.linspace(0.1, 2.0, 4000)
    path = np.concatenate([np.zeros((1, 4000, 2)), rng.normal(size=(400, 4000, 2)) * sigma[:, None]])
    fused = SimpleNamespace(time_s=np.arange(4000.0), sigma_m=sigma, draws=SimpleNamespace(path_m=path))
    figure = _sigma_in(fused, [SimpleNamespace(phase=FINE, start_s=0.0, end_s=4000.0)], FINE)
    rms = float(np.sqrt(np.mean(sigma**2)))
    # 8000 independent errors: their rms scatters by little more than one part in a hundred about the sigma's.
    assert figure.value == pytest.approx(rms)
    assert figure.low == pytest.approx(rms, rel=0.05)
    assert figure.high == pytest.approx(rms, rel=0.05)
    assert figure.low < rms < figure.high
