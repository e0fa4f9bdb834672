"""Noise against closed forms: correlations from theory, length bias from the Rice mean."""

import math

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.lab.simulate.noise_models import (
    MarkovNoise,
    SeriesNoise,
    TwoPartNoise,
    WhiteNoise,
    errors_at,
    markov_series,
    matern_series,
)
from analyzer.lab.simulate.series import phone_series, series_from_csv


def many(draw, count, seed):
    """Return (count, n) values of independent series."""
    rng = np.random.default_rng(seed)
    return np.concatenate([draw(rng).T for _ in range(count // 2)])


@pytest.mark.parametrize("lag", [0.5, 4.0, 16.0, 40.0])
def test_matern_correlation_is_the_closed_form_at_irregular_times(lag):
    # (1 + t/b) exp(-t/b): Rasmussen and Williams, equation 4.17 with nu = 3/2.
    t = np.array([0.0, 0.3 * lag, lag])
    x = many(lambda rng: matern_series(t, sigma_m=0.9, scale_s=16.0, rng=rng), 20_000, 1)
    want = (1.0 + lag / 16.0) * math.exp(-lag / 16.0)
    got = np.mean(x[:, 0] * x[:, 2]) / 0.81
    assert got == pytest.approx(want, abs=4.5 * math.sqrt((1.0 + want**2) / 20_000))


def test_matern_semivariogram_is_smooth_at_the_origin():
    # gamma(h) = sigma^2 (1 - rho(h)) ~ sigma^2 h^2 / (2 b^2): quadratic, so halving h quarters it.
    t = np.array([0.0, 1.0, 2.0])
    x = many(lambda rng: matern_series(t, sigma_m=1.0, scale_s=16.0, rng=rng), 10_000, 2)
    one = 0.5 * np.mean((x[:, 1] - x[:, 0]) ** 2)
    two = 0.5 * np.mean((x[:, 2] - x[:, 0]) ** 2)

    def want(h):
        return 1.0 - (1.0 + h / 16.0) * math.exp(-h / 16.0)

    assert one == pytest.approx(want(1.0), rel=0.06)
    assert two == pytest.approx(want(2.0), rel=0.06)
    assert two / one == pytest.approx(4.0, rel=0.1)


def test_markov_correlation_falls_exponentially():
    t = np.array([0.0, 100.0, 900.0])
    x = many(lambda rng: markov_series(t, sigma_m=2.0, scale_s=900.0, rng=rng), 20_000, 3)
    assert np.var(x) == pytest.approx(4.0, rel=0.03)
    assert np.mean(x[:, 0] * x[:, 1]) / 4.0 == pytest.approx(math.exp(-100.0 / 900.0), abs=0.03)
    assert np.mean(x[:, 0] * x[:, 2]) / 4.0 == pytest.approx(math.exp(-1.0), abs=0.03)


def test_two_part_variance_is_the_sum_of_its_parts():
    model = TwoPartNoise(fast_sigma_m=0.9, slow_sigma_m=2.0, white_m=0.5)
    x = many(lambda rng: errors_at(model, np.array([0.0, 1e5]), rng), 10_000, 4)
    assert np.var(x) == pytest.approx(0.81 + 4.0 + 0.25, rel=0.04)


@pytest.mark.parametrize(
    ("step_m", "sigma_m", "rho", "mean_m"),
    [
        (1.0, 1.0, 0.0, 1.987364533),
        (1.0, 1.0, 0.9, 1.107213270),
        (1.0, 1.0, 0.99, 1.010051604),
        (1.5, 3.0, 0.99, 1.561410044),
        (5.0, 1.0, 0.9, 5.020040492),
        (0.5, 3.0, 0.999, 0.518372697),
    ],
)
def test_noisy_steps_come_out_long_by_the_rice_mean(step_m, sigma_m, rho, mean_m):
    # Mean of |d + e| with e two-dimensional Gaussian, variance 2 s^2 (1 - rho) per axis: the mean of a Rice
    # distribution; the values are that closed form in double precision.
    rng = np.random.default_rng(5)
    scale = -1.0 / math.log(rho) if rho > 0.0 else 1e-3
    error = markov_series(np.arange(60_000.0), sigma_m=sigma_m, scale_s=scale, rng=rng)
    steps = np.diff(error, axis=0) + np.array([step_m, 0.0])
    spread = sigma_m * math.sqrt(2.0 * (1.0 - rho))
    assert np.mean(np.hypot(*steps.T)) == pytest.approx(mean_m, abs=6.0 * spread / math.sqrt(60_000))


def test_white_noise_has_no_memory():
    x = errors_at(WhiteNoise(0.02), np.arange(20_000.0) * 0.1, np.random.default_rng(6))[:, 0]
    assert np.std(x) == pytest.approx(0.02, rel=0.03)
    assert abs(np.mean(x[1:] * x[:-1])) / np.var(x) < 0.03


def test_markov_model_adds_its_white_part():
    x = errors_at(MarkovNoise(sigma_m=1.0, time_s=1e6, white_m=0.5), np.arange(5000.0), np.random.default_rng(7))
    assert np.std(np.diff(x, axis=0)) == pytest.approx(0.5 * math.sqrt(2.0), rel=0.05)


def test_a_series_is_cut_and_run_to_and_fro():
    series = SeriesNoise(np.arange(11.0), np.column_stack([np.arange(11.0), -np.arange(11.0)]))
    inside = errors_at(series, np.arange(0.0, 5.0), np.random.default_rng(8))
    assert np.diff(inside[:, 0]) == pytest.approx(1.0)
    longer = errors_at(series, np.arange(0.0, 100.0, 0.5), np.random.default_rng(9))[:, 0]
    assert longer.min() >= 0.0
    assert longer.max() <= 10.0
    assert np.max(np.abs(np.diff(longer))) == pytest.approx(0.5)


def test_series_table_is_read():
    series = series_from_csv("time_s,east_m,north_m\n0,0.1,0.2\n1,0.3,0.4\n")
    assert series.error_m.tolist() == [[0.1, 0.2], [0.3, 0.4]]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("time_s,east_m\n0,1\n", "line 1"),
        ("time_s,east_m,north_m\n0,1,1\n0,1,1\n", "line 3"),
        ("time_s,east_m,north_m\n0,1,x\n", "line 2"),
        ("time_s,east_m,north_m\n0,1\n", "line 2"),
        ("time_s,east_m,north_m\n0,1,1\n", "noise.csv"),
    ],
)
def test_a_bad_series_table_is_refused_with_its_line(text, where):
    with pytest.raises(InputError) as refused:
        series_from_csv(text)
    assert where in refused.value.where


@pytest.mark.parametrize("text", ["time_s,east_m,north_m\r\n1\r2", "time_s,east_m,north_m\n0,1e308,0\n1,0,0\n", ""])
def test_a_series_with_broken_lines_or_numbers_that_overflow_is_refused(text):
    with pytest.raises(InputError):
        series_from_csv(text)


@pytest.mark.parametrize("text", ["a,b\n1,2\n", "test_run\n1\n", "timestamp,test_run\n1.2.3\r4,5\n"])
def test_another_table_than_that_of_phones_is_refused(text):
    with pytest.raises(InputError, match="not as it was published"):
        phone_series(text)
