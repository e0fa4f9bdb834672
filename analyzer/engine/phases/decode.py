"""Exact decoding of ordered phases: the best change points, and how certain each one is.

Model: K phases follow each other once, in order, each at least `shortest` samples long; samples are independent given
their phase. This is a left-to-right semi-Markov chain with a uniform prior over change points that respect the shortest
durations; running sums make both the best path (Viterbi) and the posterior (forward-backward) linear in samples.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """`starts` (K,): first sample of each phase on the best path. `posterior` (K, T+1): row k is the probability that
    phase k starts at each sample (row 0 is certain)."""

    starts: FloatArray
    posterior: FloatArray
    score: float


def _shifted(values: FloatArray, by: int) -> FloatArray:
    out = np.full_like(values, -np.inf)
    if by < values.size:
        out[by:] = values[: values.size - by]
    return out


def decode(log_likelihood: FloatArray, shortest: tuple[int, ...]) -> Decoded | None:
    """Return the decoding of (T, K) log likelihoods, None where T is shorter than the shortest durations together.

    Boundaries run from 0 to T: phase k covers samples starts[k] .. starts[k+1]-1, the last one ends at T.
    """
    length, count = log_likelihood.shape
    if sum(shortest) > length:
        return None
    sums = np.vstack([np.zeros(count), np.cumsum(log_likelihood, axis=0)])
    best, forward = [], []
    back: list[FloatArray] = []
    entry = np.full(length + 1, -np.inf)
    entry[0] = 0.0
    entry_sum = entry.copy()
    for k in range(count):
        best.append(entry)
        forward.append(entry_sum)
        gain, gain_sum = entry - sums[:, k], entry_sum - sums[:, k]
        top = np.maximum.accumulate(gain)
        where = np.where(gain >= top, np.arange(length + 1), 0)
        where = np.maximum.accumulate(where)
        back.append(_shifted(where.astype(float), shortest[k]))
        entry = sums[:, k] + _shifted(top, shortest[k])
        entry_sum = sums[:, k] + _shifted(np.logaddexp.accumulate(gain_sum), shortest[k])
    starts = np.zeros(count)
    end = length
    for k in range(count - 1, -1, -1):
        end = int(back[k][end])
        starts[k] = end
    return Decoded(starts=starts, posterior=_posterior(sums, forward, shortest), score=float(entry[length]))


def _posterior(sums: FloatArray, forward: list[FloatArray], shortest: tuple[int, ...]) -> FloatArray:
    """Return (K, T+1) probabilities of each phase's start."""
    count, length = len(forward), sums.shape[0] - 1
    after = np.full(length + 1, -np.inf)
    after[length] = 0.0
    out = np.zeros((count, length + 1))
    for k in range(count - 1, -1, -1):
        ahead = np.logaddexp.accumulate((after + sums[:, k])[::-1])[::-1]
        after = _shifted(ahead[::-1], shortest[k])[::-1] - sums[:, k]
        weight = forward[k] + after
        weight = np.exp(weight - np.max(weight))
        out[k] = weight / np.sum(weight)
    return out


def spread_draws(probability: FloatArray, value: FloatArray, count: int, seed: int) -> FloatArray:
    """Return (count,) values drawn from a discrete distribution at stratified quantiles in shuffled order."""
    quantile = (np.arange(count) + 0.5) / count
    picked = value[np.minimum(np.searchsorted(np.cumsum(probability), quantile), value.size - 1)]
    return np.random.default_rng(seed).permutation(picked)
