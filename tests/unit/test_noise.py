"""Error models of recorders: exact discrete steps against the matrix exponential and against covariance functions."""

import numpy as np
import pytest
from scipy.linalg import expm

from analyzer.model.recording import Track
from analyzer.physics.recorder_noise import (
    CONSUMER,
    ROUGH,
    SURVEY_MIXES,
    FixNoise,
    fix_noise,
    gauss_markov_step,
    is_survey,
    matern32_step,
    stated_sigma_m,
    survey_noise,
    walking_step,
)

STEPS_S = np.array([0.05, 0.1, 0.159, 0.161, 0.5, 1.0, 3.7, 16.0, 60.0, 400.0])


def van_loan(drift, diffusion, dt):
    """Return transition and noise of dx = drift x dt + noise of density `diffusion`.

    Van Loan, "Computing integrals involving the matrix exponential", IEEE Trans. Automatic Control 23 (1978) 395.
    """
    n = len(drift)
    big = expm(np.block([[-drift, diffusion], [np.zeros((n, n)), drift.T]]) * dt)
    step = big[n:, n:].T
    return step, step @ big[:n, n:]


@pytest.mark.parametrize(("sigma", "scale"), [(0.9, 16.0), (2.0, 3.0)])
def test_matern_step_is_that_of_its_differential_equation(sigma, scale):
    lam = 1.0 / scale
    drift = np.array([[0.0, 1.0], [-lam * lam, -2.0 * lam]])
    diffusion = np.diag([0.0, 4.0 * lam**3 * sigma**2])
    short = STEPS_S[STEPS_S / scale < 6.0]  # beyond, exp(-drift dt) of Van Loan's own form loses its digits
    steps, noises = matern32_step(short, sigma, scale)
    for dt, step, noise in zip(short, steps, noises, strict=True):
        expected_step, expected_noise = van_loan(drift, diffusion, dt)
        np.testing.assert_allclose(step, expected_step, rtol=1e-10, atol=1e-14)
        np.testing.assert_allclose(noise, expected_noise, rtol=2e-6)


@pytest.mark.parametrize(("sigma", "scale"), [(0.9, 16.0), (2.0, 3.0)])
def test_matern_step_has_the_matern_covariance(sigma, scale):
    # Rasmussen and Williams, Gaussian Processes for Machine Learning, equation 4.17, with b = length scale / sqrt 3.
    steps, noises = matern32_step(STEPS_S, sigma, scale)
    stationary = sigma**2 * np.diag([1.0, 1.0 / scale**2])
    lag = STEPS_S / scale
    np.testing.assert_allclose((steps @ stationary)[:, 0, 0], sigma**2 * (1.0 + lag) * np.exp(-lag), rtol=1e-12)
    for step, noise in zip(steps, noises, strict=True):
        np.testing.assert_allclose(step @ stationary @ step.T + noise, stationary, rtol=1e-12, atol=1e-15)


def test_matern_steps_chain():
    """Two steps are one step of their sum."""
    steps, noises = matern32_step(np.array([0.7, 2.4, 3.1]), 0.9, 16.0)
    np.testing.assert_allclose(steps[1] @ steps[0], steps[2], rtol=1e-13)
    np.testing.assert_allclose(steps[1] @ noises[0] @ steps[1].T + noises[1], noises[2], rtol=1e-9)


def test_matern_noise_of_short_steps_stays_positive_definite():
    _, noises = matern32_step(np.array([1e-3, 1e-2, 0.1]), 0.9, 16.0)
    scale = np.sqrt(np.einsum("nii->ni", noises))
    correlation = noises / scale[:, :, None] / scale[:, None, :]
    # To first order the rate is a random walk and the value its integral: correlation sqrt(3) / 2.
    np.testing.assert_allclose(correlation[:, 0, 1], np.sqrt(3.0) / 2.0, rtol=0.01)


def test_gauss_markov_step():
    steps, noises = gauss_markov_step(STEPS_S, 2.0, 900.0)
    np.testing.assert_allclose(steps, np.exp(-STEPS_S / 900.0), rtol=1e-14)
    for dt, step, noise in zip(STEPS_S, steps, noises, strict=True):
        expected_step, expected_noise = van_loan(np.array([[-1.0 / 900.0]]), np.array([[2.0 * 4.0 / 900.0]]), dt)
        assert step == pytest.approx(expected_step[0, 0], rel=1e-12)
        assert noise == pytest.approx(expected_noise[0, 0], rel=1e-9)


def test_gauss_markov_error_over_a_window():
    # Relative error in units of sigma: sqrt(2 (1 - exp(-dt / tau))); the rows are closed form, tau 300 s and 1100 s.
    for tau, dt, expected in [(300.0, 10.0, 0.256062), (300.0, 120.0, 0.812010), (1100.0, 60.0, 0.325836)]:
        step, _ = gauss_markov_step(np.array([dt]), 1.0, tau)
        assert np.sqrt(2.0 * (1.0 - step[0])) == pytest.approx(expected, abs=1e-6)


def test_walking_step_is_integrated_white_acceleration():
    intensity = np.linspace(0.01, 0.3, STEPS_S.size)
    steps, noises = walking_step(STEPS_S, intensity)
    drift = np.array([[0.0, 1.0], [0.0, 0.0]])
    for dt, q, step, noise in zip(STEPS_S, intensity, steps, noises, strict=True):
        expected_step, expected_noise = van_loan(drift, np.diag([0.0, q]), dt)
        np.testing.assert_allclose(step, expected_step, rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(noise, expected_noise, rtol=1e-9, atol=1e-15)


def plain_track(n=60, **changes) -> Track:
    time_s = np.arange(float(n))
    columns = {name: np.full(n, np.nan) for name in ("elevation_m", "sigma_m", "hdop")} | {
        "east_m": time_s,
        "north_m": time_s,
    }
    return Track(time_s=time_s, **(columns | changes))


def consumer(track):
    return fix_noise(track, survey_grade=False)


def test_a_track_that_states_nothing_gets_the_default():
    assert consumer(plain_track()) == CONSUMER
    assert stated_sigma_m(plain_track()) is None


def test_stated_accuracy_comes_before_dilution_of_precision():
    with_both = plain_track(sigma_m=np.full(60, 4.0), hdop=np.full(60, 1.0))
    with_sigma = plain_track(sigma_m=np.full(60, 4.0))
    assert consumer(with_both) == consumer(with_sigma)
    assert stated_sigma_m(with_both) == 4.0


def test_a_worse_stated_accuracy_is_believed():
    good, bad = (consumer(plain_track(sigma_m=np.full(60, s))) for s in (1.5, 6.0))
    assert good.fast_m < bad.fast_m
    assert good.slow_m < bad.slow_m
    total = float(np.hypot(bad.fast_m, bad.slow_m))
    assert total == pytest.approx(6.0, rel=1e-9)  # of the smooth parts together: what the recorder states


def test_a_few_stated_accuracies_do_not_speak_for_the_track():
    sigma = np.full(60, np.nan)
    sigma[:10] = 6.0
    assert stated_sigma_m(plain_track(sigma_m=sigma)) is None
    assert consumer(plain_track(sigma_m=sigma)) == CONSUMER


def test_dilution_of_precision_scales_the_default():
    noise = consumer(plain_track(hdop=np.full(60, 2.0)))
    assert noise.fast_m == pytest.approx(2.0 * CONSUMER.fast_m)
    assert noise.slow_m == pytest.approx(2.0 * CONSUMER.slow_m)


@pytest.mark.parametrize("mix", SURVEY_MIXES)
def test_survey_grade_error_is_of_the_stated_size(mix):
    """A stated standard deviation is about that of all parts together, whichever part is the larger."""
    noise = survey_noise(0.02, mix)
    assert 0.015 < np.sqrt(noise.white_m**2 + noise.fast_m**2 + noise.slow_m**2) < 0.03


def test_survey_grade_is_what_the_track_states_else_what_the_recorder_is_called():
    fine, bare = plain_track(sigma_m=np.full(60, 0.02), survey_grade=True), plain_track()
    coarse = plain_track(sigma_m=np.full(60, 4.0))
    assert is_survey(fine, "")
    assert is_survey(bare, "RTK rover")
    assert not is_survey(bare, "phone")
    assert not is_survey(coarse, "RTK rover")  # what it states says otherwise
    assert fix_noise(fine, survey_grade=True).slow_m < 0.03
    assert fix_noise(bare, survey_grade=True).slow_m < 0.1


def test_rounding_of_the_file_adds_a_uniform_error():
    # The variance of a uniform distribution of width w is w^2 / 12.
    fine, coarse = (consumer(plain_track(resolution_m=r)).white_m for r in (0.0, 1.0))
    assert coarse**2 - fine**2 == pytest.approx(1.0 / 12.0, rel=1e-9)


def test_scaling_and_quickening_leave_the_rest_alone():
    base = FixNoise(white_m=0.1, fast_m=1.0, fast_s=10.0, slow_m=3.0, slow_s=500.0)
    assert base.scaled(2.0) == FixNoise(0.1, 2.0, 10.0, 6.0, 500.0)
    assert base.with_moving_error(0.5) == FixNoise(0.1, 0.5, 10.0, 3.0, 500.0)
    assert base.with_moving_error(2.0) == FixNoise(0.1, 2.0, 10.0, 6.0, 500.0)  # worse sky is worse for both parts


def test_a_rough_error_is_as_large_but_wanders_at_once():
    """Against the variogram of a Gauss-Markov process, 2 s^2 (1 - exp(-t / T)): beyond the smooth parts in a second."""
    rough = CONSUMER.scaled(2.0).rough()
    assert np.hypot(rough.fast_m, rough.slow_m) == pytest.approx(2.0 * np.hypot(ROUGH.fast_m, ROUGH.slow_m))
    within = 2.0 * rough.slow_m**2 * (1.0 - np.exp(-1.0 / rough.slow_s))
    assert gauss_markov_step(np.array([1.0]), rough.slow_m, rough.slow_s)[1][0] == pytest.approx(
        within * (1.0 + np.exp(-1.0 / rough.slow_s)) / 2.0
    )
    u = 1.0 / CONSUMER.fast_s
    smooth = 2.0 * (2.0 * CONSUMER.fast_m) ** 2 * (1.0 - (1.0 + u) * np.exp(-u))
    assert within > 4.0 * smooth
    assert rough.with_moving_error(0.5).slow_m == pytest.approx(0.5 * rough.slow_m)
