"""The path from fixes alone against dense solutions and against a library's filter, at irregular steps.

The dense solutions are built from the statement of the model (integrated white acceleration, Matern 3/2 fast error,
first-order Gauss-Markov slow error, white error), not from the engine's matrices.
"""

import builders
import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from scipy.linalg import solve_triangular

from analyzer.engine.fusion.evidence import fixes_evidence
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, P
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import START_PLACE_M, START_SPEED_MPS, border, prior_of
from analyzer.physics.recorder_noise import FixNoise

NOISE = FixNoise(white_m=0.3, fast_m=0.9, fast_s=16.0, slow_m=2.0, slow_s=900.0)
SEES = np.array([1.0, 0.0, 1.0, 0.0, 1.0])
WORLD = DrillParameters(np.zeros((1, 2)), np.array([[1.0, 0.0, 0.0]]))


def model(dt, noise, intensity):
    """Return transitions and noises (n-1, 5, 5) of [place, speed, fast, its rate, slow] and the first covariance."""
    steps, noises = np.zeros((dt.size, 5, 5)), np.zeros((dt.size, 5, 5))
    lam = 1.0 / noise.fast_s
    still = noise.fast_m**2 * np.diag([1.0, lam**2])
    for i, (h, q) in enumerate(zip(dt, intensity, strict=True)):
        steps[i, :2, :2] = [[1.0, h], [0.0, 1.0]]
        noises[i, :2, :2] = q * np.array([[h**3 / 3.0, h**2 / 2.0], [h**2 / 2.0, h]])
        fast = np.exp(-lam * h) * np.array([[1.0 + lam * h, h], [-(lam**2) * h, 1.0 - lam * h]])
        steps[i, 2:4, 2:4], noises[i, 2:4, 2:4] = fast, still - fast @ still @ fast.T
        slow = np.exp(-h / noise.slow_s)
        steps[i, 4, 4], noises[i, 4, 4] = slow, noise.slow_m**2 * (1.0 - slow**2)
    first = np.diag([START_PLACE_M, START_SPEED_MPS, noise.fast_m, noise.fast_m * lam, noise.slow_m]) ** 2
    return steps, noises, first


def drawn(rng, n, noise, *, gap=False):
    """Return an irregular problem whose fixes are drawn from the model itself, and the states (n, 2, 5)."""
    time_s = builders.irregular(rng, n)
    if gap:
        time_s[n // 2 :] += 25.0
    intensity = rng.uniform(0.01, 0.2, n - 1)
    steps, noises, first = model(np.diff(time_s), noise, intensity)
    state = np.empty((n, 5, 2))
    first[0, 0] = 50.0**2
    state[0] = np.sqrt(np.diag(first))[:, None] * rng.standard_normal((5, 2))
    for i in range(n - 1):
        state[i + 1] = steps[i] @ state[i] + np.linalg.cholesky(noises[i]) @ rng.standard_normal((5, 2))
    seen = np.sort(rng.permutation(n)[: int(0.8 * n)])  # nodes without a fix, as in gaps
    fixes = np.einsum("i,nij->nj", SEES, state[seen]) + noise.white_m * rng.standard_normal((seen.size, 2))
    problem = builders.a_problem(time_s, seen, fixes, noise=noise, intensity=intensity)
    return problem, np.swapaxes(state, 1, 2)


def posterior(problem):
    """Return means (n, 2, 5) and the engine's factor, all fixes at full weight."""
    prior = prior_of(problem)
    state = RunState(np.zeros((problem.nodes, NODE_STATES)), 0.0, 0.0)
    solved = border(problem, prior, state, WORLD, np.ones(len(problem.fix_m)), None)
    return solved.nodes_at(np.zeros(solved.vector.size)).reshape(-1, 2, AXIS_STATES), solved.factor


def least_squares(problem, axis):
    """Return the dense maximum a posteriori states (n, 5): all terms whitened and solved at once by QR."""
    n = problem.nodes
    steps, noises, first = model(np.diff(problem.node_s), problem.noise, problem.intensity)
    rows = np.zeros((5 * n + len(problem.fix_m), 5 * n))
    wanted = np.zeros(len(rows))
    rows[:5, :5] = np.diag(1.0 / np.sqrt(np.diag(first)))
    for i in range(n - 1):
        white = solve_triangular(np.linalg.cholesky(noises[i]), np.eye(5), lower=True)
        rows[5 * i + 5 : 5 * i + 10, 5 * i : 5 * i + 5] = -white @ steps[i]
        rows[5 * i + 5 : 5 * i + 10, 5 * i + 5 : 5 * i + 10] = white
    for j, (node, fix) in enumerate(zip(problem.fix_node, problem.fix_m[:, axis], strict=True)):
        rows[5 * n + j, 5 * node : 5 * node + 5] = SEES / problem.noise.white_m
        wanted[5 * n + j] = fix / problem.noise.white_m
    q, r = np.linalg.qr(rows)
    half = solve_triangular(r, np.eye(5 * n))
    return (half @ (q.T @ wanted)).reshape(n, 5), half @ half.T


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_path_from_fixes_is_the_dense_maximum_a_posteriori(seed):
    problem, _ = drawn(np.random.default_rng(seed), 60, NOISE, gap=True)
    mean, factor = posterior(problem)
    own, below = factor.marginals()
    for axis in (0, 1):
        expected, covariance = least_squares(problem, axis)
        # A fix sees place and errors as a sum, so metres are told apart to the digits of the largest, the place.
        metres, rates = np.max(np.abs(expected[:, 0])), np.max(np.abs(expected[:, 1]))
        size = np.array([metres, rates, metres, rates, metres])
        assert np.max(np.abs(mean[:, axis] - expected) / size) < 1e-9
        cut = slice(5 * axis, 5 * axis + 5)
        for i in (0, 1, 29, 30, 59):
            block = covariance[5 * i : 5 * i + 5, 5 * i : 5 * i + 5]
            scale = np.sqrt(np.outer(np.diag(block), np.diag(block)))
            assert np.max(np.abs(own[i, cut, cut] - block) / scale) < 1e-6
        for i in (0, 29, 58):
            block = covariance[5 * i + 5 : 5 * i + 10, 5 * i : 5 * i + 5]
            assert np.max(np.abs(below[i, cut, cut] - block)) < 1e-6 * np.max(np.abs(block))


def test_path_from_fixes_is_that_of_a_library_filter_and_smoother():
    problem, _ = drawn(np.random.default_rng(5), 50, NOISE, gap=True)
    steps, noises, first = model(np.diff(problem.node_s), problem.noise, problem.intensity)
    # The library predicts before every measurement, the first one too: F[k] leads from k-1 to k, F[0] from the start.
    leads, doubts = [np.eye(5), *steps], [np.zeros((5, 5)), *noises]
    mean, factor = posterior(problem)
    own, _ = factor.marginals()
    for axis in (0, 1):
        kalman = KalmanFilter(dim_x=5, dim_z=1)
        kalman.x, kalman.P = np.zeros((5, 1)), first
        kalman.H, kalman.R = SEES[None, :], np.array([[problem.noise.white_m**2]])
        seen = dict(zip(problem.fix_node.tolist(), problem.fix_m[:, axis], strict=True))
        means, covariances, _, _ = kalman.batch_filter([seen.get(i) for i in range(50)], Fs=leads, Qs=doubts)
        x, p, _, _ = kalman.rts_smoother(means, covariances, Fs=leads, Qs=doubts)
        np.testing.assert_allclose(mean[:, axis], x[:, :, 0], rtol=1e-6, atol=1e-6)
        cut = slice(5 * axis, 5 * axis + 5)
        for i in range(50):
            scale = np.sqrt(np.outer(np.diag(p[i]), np.diag(p[i])))
            assert np.max(np.abs(own[i, cut, cut] - p[i]) / scale) < 1e-5


def test_errors_are_of_the_size_that_is_claimed():
    """Squared error over covariance, per degree of freedom, is 1 on data from the model itself."""
    rng = np.random.default_rng(11)
    runs, at = 150, 20
    total, place = 0.0, []
    for _ in range(runs):
        problem, truth = drawn(rng, 40, NOISE)
        mean, factor = posterior(problem)
        own, _ = factor.marginals()
        for axis in (0, 1):
            cut = slice(5 * axis, 5 * axis + 5)
            error = mean[at, axis] - truth[at, axis]
            total += float(error @ np.linalg.solve(own[at, cut, cut], error))
            place.append(error[P] ** 2 / own[at, 5 * axis + P, 5 * axis + P])
    # Chi-square with 10 * runs degrees: the standard deviation of the mean ratio is sqrt(2 / (10 runs)) = 0.037.
    assert total / (10 * runs) == pytest.approx(1.0, abs=0.13)
    assert np.mean(place) == pytest.approx(1.0, abs=4.0 * np.sqrt(2.0 / (2 * runs)))


def test_the_two_axes_do_not_mix():
    problem, _ = drawn(np.random.default_rng(3), 30, NOISE)
    _, factor = posterior(problem)
    own, below = factor.marginals()
    assert np.all(own[:, :5, 5:] == 0.0)
    assert np.all(below[:, :5, 5:] == 0.0)


def dense_log_likelihood(problem):
    """Return the log density of the fixes, from covariance functions written out: no state space at all."""
    t, noise = problem.node_s, problem.noise
    lag = np.abs(t[:, None] - t[None, :])
    shared = np.minimum(t[:, None], t[None, :])
    c = START_PLACE_M**2 + START_SPEED_MPS**2 * t[:, None] * t[None, :]
    for a, b, q in zip(t[:-1], t[1:], problem.intensity, strict=True):
        # Covariance of twice integrated white noise of density q on [a, b): integral of (t - u)+ (t' - u)+ du.
        top = np.clip(shared, a, b) - a
        one, two = t[:, None] - a, t[None, :] - a
        c = c + q * (one * two * top - 0.5 * (one + two) * top**2 + top**3 / 3.0)
    c = c + noise.fast_m**2 * (1.0 + lag / noise.fast_s) * np.exp(-lag / noise.fast_s)
    c = c + noise.slow_m**2 * np.exp(-lag / noise.slow_s)
    c = c[np.ix_(problem.fix_node, problem.fix_node)] + noise.white_m**2 * np.eye(len(problem.fix_m))
    half = np.linalg.solve(np.linalg.cholesky(c), problem.fix_m)
    return float(-0.5 * np.sum(half**2) - np.linalg.slogdet(c)[1])


@pytest.mark.parametrize(
    "other",
    [
        FixNoise(white_m=0.6, fast_m=0.9, fast_s=16.0, slow_m=2.0, slow_s=900.0),
        FixNoise(white_m=0.3, fast_m=1.8, fast_s=16.0, slow_m=2.0, slow_s=900.0),
        FixNoise(white_m=0.3, fast_m=0.9, fast_s=8.0, slow_m=4.0, slow_s=300.0),
    ],
)
def test_evidence_between_noise_models_is_that_of_the_dense_density(other):
    """The engine drops constants, so differences are compared."""
    problem, _ = drawn(np.random.default_rng(7), 45, NOISE)
    rival = builders.a_problem(
        problem.node_s, problem.fix_node, problem.fix_m, noise=other, intensity=problem.intensity
    )
    expected = dense_log_likelihood(problem) - dense_log_likelihood(rival)
    assert abs(expected) > 0.1
    assert fixes_evidence(problem) - fixes_evidence(rival) == pytest.approx(expected, abs=1e-4)


def test_evidence_between_paces_of_change_is_that_of_the_dense_density():
    problem, _ = drawn(np.random.default_rng(8), 45, NOISE)
    rival = builders.a_problem(
        problem.node_s, problem.fix_node, problem.fix_m, noise=NOISE, intensity=3.0 * problem.intensity
    )
    expected = dense_log_likelihood(problem) - dense_log_likelihood(rival)
    assert fixes_evidence(problem) - fixes_evidence(rival) == pytest.approx(expected, abs=1e-4)
