"""Exact decoding of ordered phases: the best change points, and how certain each one is.

Model: K phases follow each other once, in order, each at least `shortest` samples long; samples are independent given
their phase. This is a left-to-right semi-Markov chain. A phase's duration has a prior of its own, or any that respects
the shortest is as likely; running sums then make both the best path (Viterbi) and the posterior (forward-backward)
linear in samples (Yu 2010, Hidden semi-Markov models, doi 10.1016/j.artint.2009.11.011).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from analyzer.model.arrays import FloatArray, IndexArray

FAR_BEHIND = 60.0
"""A start so far behind the best in log likelihood can matter to nobody."""


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """`starts` (K,): first sample of each phase on the best path. `posterior` (K, T+1): row k is the probability that
    phase k starts at each sample (row 0 is certain). `score`: log likelihood of the best path; `evidence`: of all."""

    starts: FloatArray
    posterior: FloatArray
    score: float
    evidence: float


def _shifted(values: FloatArray, by: int) -> FloatArray:
    out = np.full_like(values, -np.inf)
    if by < values.size:
        out[by:] = values[: values.size - by]
    return out


def decode(
    log_likelihood: FloatArray, shortest: tuple[int, ...], lasts: Sequence[FloatArray | None] = ()
) -> Decoded | None:
    """Return the decoding of (T, K) log likelihoods, None where T is shorter than the shortest durations together.

    Boundaries run from 0 to T: phase k covers samples starts[k] .. starts[k+1]-1, the last one ends at T.

    Parameters
    ----------
    log_likelihood : array, shape (T, K)
    shortest : tuple of int
        Least samples of each phase.
    lasts : sequence of array, shape (T + 1,), or None
        Log of the prior of each phase's duration in samples; None, or left out: any is as likely.
    """
    length, count = log_likelihood.shape
    if sum(shortest) > length:
        return None
    sums = np.vstack([np.zeros(count), np.cumsum(log_likelihood, axis=0)])
    priors = [*lasts, *[None] * (count - len(lasts))]
    best, forward = [], []
    back: list[FloatArray] = []
    entry = np.full(length + 1, -np.inf)
    entry[0] = 0.0
    entry_sum = entry.copy()
    for k in range(count):
        best.append(entry)
        forward.append(entry_sum)
        top, where = _best_before(entry - sums[:, k], shortest[k], priors[k])
        back.append(where)
        entry = sums[:, k] + top
        entry_sum = sums[:, k] + _sum_before(entry_sum - sums[:, k], shortest[k], priors[k])
    starts = np.zeros(count)
    end = length
    for k in range(count - 1, -1, -1):
        end = int(back[k][end])
        starts[k] = end
    posterior = _posterior(sums, forward, shortest, priors)
    return Decoded(starts, posterior, float(entry[length]), float(entry_sum[length]))


def _best_before(gain: FloatArray, least: int, lasts: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Return (T+1,) the best gain of all starts at least `least` samples before each sample, and which start it is."""
    if lasts is None:
        top = np.maximum.accumulate(gain)
        where = np.maximum.accumulate(np.where(gain >= top, np.arange(gain.size), 0))
        return _shifted(top, least), _shifted(where.astype(float), least)
    starts, table = _by_duration(gain, least, lasts)
    best = np.argmax(table, axis=1)
    return table[np.arange(gain.size), best], starts[best].astype(float)


def _sum_before(gain: FloatArray, least: int, lasts: FloatArray | None) -> FloatArray:
    """Return (T+1,) the log of the summed gains of all starts at least `least` samples before each sample."""
    if lasts is None:
        return _shifted(np.logaddexp.accumulate(gain), least)
    return np.asarray(logsumexp(_by_duration(gain, least, lasts)[1], axis=1), np.float64)


def _by_duration(gain: FloatArray, least: int, lasts: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Return the starts that matter, and (T+1, starts) their gain with the prior of the duration to each sample."""
    starts = np.flatnonzero(gain >= np.max(gain) - FAR_BEHIND)
    duration = np.arange(gain.size)[:, None] - starts
    kept = np.where(duration >= least, lasts[np.maximum(duration, 0)], -np.inf)
    return starts, gain[starts] + kept


def _posterior(
    sums: FloatArray, forward: list[FloatArray], shortest: tuple[int, ...], priors: Sequence[FloatArray | None]
) -> FloatArray:
    """Return (K, T+1) probabilities of each phase's start."""
    count, length = len(forward), sums.shape[0] - 1
    after = np.full(length + 1, -np.inf)
    after[length] = 0.0
    out = np.zeros((count, length + 1))
    for k in range(count - 1, -1, -1):
        ahead = _sum_before((after + sums[:, k])[::-1], shortest[k], priors[k])[::-1]
        after = ahead - sums[:, k]
        weight = forward[k] + after
        weight = np.exp(weight - np.max(weight))
        out[k] = weight / np.sum(weight)
    return out


def spread_draws(probability: FloatArray, value: FloatArray, count: int, seed: int) -> FloatArray:
    """Return (count,) values drawn from a discrete distribution at stratified quantiles in shuffled order."""
    quantile = (np.arange(count) + 0.5) / count
    picked = value[np.minimum(np.searchsorted(np.cumsum(probability), quantile), value.size - 1)]
    return np.random.default_rng(seed).permutation(picked)
