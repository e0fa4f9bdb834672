"""Decoding of ordered phases against every possible decoding, and against a library's hidden Markov model."""

import itertools

import numpy as np
import pytest
from hmmlearn.hmm import GaussianHMM

from analyzer.engine.phases.decode import decode, spread_draws


def every(likelihood, shortest, lasts=()):
    """Yield (starts, score) of every admissible decoding."""
    length, count = likelihood.shape
    for inner in itertools.combinations_with_replacement(range(length + 1), count - 1):
        bounds = (0, *inner, length)
        if all(b - a >= s for (a, b), s in zip(itertools.pairwise(bounds), shortest, strict=True)):
            score = sum(likelihood[a:b, k].sum() for k, (a, b) in enumerate(itertools.pairwise(bounds)))
            durations = [b - a for a, b in itertools.pairwise(bounds)]
            score += sum(prior[d] for prior, d in zip(lasts, durations, strict=False) if prior is not None)
            yield bounds[:-1], float(score)


CASES = [(8, (1, 1, 1)), (10, (2, 3, 1)), (12, (1, 2, 2, 1)), (6, (2, 2, 2)), (9, (4,)), (7, (0, 1, 0))]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("length", "shortest"), CASES)
def test_best_decoding_is_the_best_of_all(length, shortest, seed):
    likelihood = np.random.default_rng(seed).standard_normal((length, len(shortest)))
    best, score = max(every(likelihood, shortest), key=lambda pair: pair[1])
    found = decode(likelihood, shortest)
    assert found.score == pytest.approx(score, rel=1e-12, abs=1e-12)
    assert tuple(found.starts.astype(int)) == best


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("length", "shortest"), CASES)
def test_posterior_is_the_share_of_all_decodings(length, shortest, seed):
    likelihood = np.random.default_rng(seed + 50).standard_normal((length, len(shortest)))
    expected = np.zeros((len(shortest), length + 1))
    for starts, score in every(likelihood, shortest):
        expected[np.arange(len(shortest)), list(starts)] += np.exp(score)
    expected /= expected.sum(axis=1, keepdims=True)
    np.testing.assert_allclose(decode(likelihood, shortest).posterior, expected, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("length", "shortest"), CASES)
def test_durations_with_a_prior_are_decoded_exactly(length, shortest, seed):
    rng = np.random.default_rng(seed + 90)
    likelihood = rng.standard_normal((length, len(shortest)))
    lasts = [None if k == 0 else rng.standard_normal(length + 1) for k in range(len(shortest))]
    best, score = max(every(likelihood, shortest, lasts), key=lambda pair: pair[1])
    found = decode(likelihood, shortest, lasts)
    assert found.score == pytest.approx(score, rel=1e-12, abs=1e-12)
    assert tuple(found.starts.astype(int)) == best
    expected = np.zeros((len(shortest), length + 1))
    for starts, one in every(likelihood, shortest, lasts):
        expected[np.arange(len(shortest)), list(starts)] += np.exp(one)
    np.testing.assert_allclose(found.posterior, expected / expected.sum(axis=1, keepdims=True), rtol=1e-9, atol=1e-12)
    assert found.evidence == pytest.approx(np.log(expected.sum(axis=1)[0]), rel=1e-9)


@pytest.mark.parametrize("length", [30, 200, 3000])
def test_posterior_of_every_bound_sums_to_one(length):
    likelihood = 5.0 * np.random.default_rng(length).standard_normal((length, 3))
    posterior = decode(likelihood, (1, 2, 2)).posterior
    assert posterior.shape == (3, length + 1)
    assert np.all(posterior >= 0.0)
    np.testing.assert_allclose(posterior.sum(axis=1), 1.0, rtol=1e-12)
    assert posterior[0, 0] == pytest.approx(1.0)


def test_too_short_a_run_is_not_decoded():
    assert decode(np.zeros((4, 3)), (1, 2, 2)) is None
    assert decode(np.zeros((5, 3)), (1, 2, 2)).starts.tolist() == [0.0, 1.0, 3.0]


def test_impossible_samples_are_obeyed():
    """A sample that a phase cannot make keeps the phase away from it."""
    likelihood = np.zeros((10, 2))
    likelihood[6:, 0] = -1e9
    found = decode(likelihood, (1, 1))
    assert 1 <= found.starts[1] <= 6
    np.testing.assert_allclose(found.posterior[1, 7:], 0.0, atol=1e-12)
    np.testing.assert_allclose(found.posterior[1, 1:7], 1.0 / 6.0)


@pytest.mark.parametrize("seed", range(6))
def test_same_path_as_a_left_to_right_hidden_markov_model(seed):
    """Stay and move are equally likely, so paths have one prior; a last sample only an end state makes ends them."""
    rng = np.random.default_rng(seed)
    means = np.array([0.0, 1.5, 0.2, 2.5])
    lengths = rng.integers(3, 40, 4)
    data = np.concatenate([m + rng.standard_normal(n) for m, n in zip(means, lengths, strict=True)])
    count = len(means)
    model = GaussianHMM(count + 1, covariance_type="spherical")
    model.startprob_ = np.eye(count + 1)[0]
    model.transmat_ = 0.5 * np.eye(count + 1) + 0.5 * np.eye(count + 1, k=1)
    model.transmat_[-1, -1] = 1.0
    model.means_ = np.append(means, 1e3)[:, None]
    model.covars_ = np.ones(count + 1)
    _, path = model.decode(np.append(data, 1e3)[:, None])
    likelihood = -0.5 * (data[:, None] - means) ** 2
    ours = np.searchsorted(decode(likelihood, (1,) * count).starts, np.arange(data.size), side="right") - 1
    assert ours.tolist() == path[:-1].tolist()


def test_bounds_are_exact_on_clean_data():
    likelihood = np.zeros((600, 3))
    for k, cut in enumerate((slice(0, 200), slice(200, 450), slice(450, 600))):
        likelihood[cut, k] = 3.0
    assert decode(likelihood, (1, 2, 2)).starts.tolist() == [0.0, 200.0, 450.0]


def test_draws_of_a_bound_follow_its_probabilities():
    probability = np.array([0.1, 0.0, 0.4, 0.5])
    drawn = spread_draws(probability, np.array([5.0, 6.0, 7.0, 8.0]), 1000, seed=1)
    shares = [np.mean(drawn == v) for v in (5.0, 6.0, 7.0, 8.0)]
    np.testing.assert_allclose(shares, probability, atol=2e-3)
    assert not np.all(np.diff(drawn) >= 0.0)  # shuffled, so that they are not tied to other draws
    np.testing.assert_array_equal(drawn, spread_draws(probability, np.array([5.0, 6.0, 7.0, 8.0]), 1000, seed=1))
