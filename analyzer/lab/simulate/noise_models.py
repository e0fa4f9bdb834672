"""Position errors of satellite recorders, made to be known: the error of a fix east and north against time.

The default has two parts, as recordings of receivers at rest and on foot show: a fast part that is smooth (Matern 3/2,
correlation (1 + t/b) exp(-t/b) [1]) and a slow part (first-order Gauss-Markov, correlation exp(-t/T) [2]), with next to
no white noise. The other models exist to be wrong on purpose: the estimator is tried on noise it does not assume.

References
----------
[1] Rasmussen and Williams, Gaussian Processes for Machine Learning, equation 4.17 (b = length scale / sqrt 3).
[2] Gelb (ed.), Applied Optimal Estimation, section 3.8.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray, freeze_fields


@dataclass(frozen=True, slots=True)
class TwoPartNoise:
    """Smooth fast part, first-order slow part, white rest; standard deviations per axis in metres, times in seconds."""

    fast_sigma_m: float = 0.9
    fast_s: float = 16.0
    slow_sigma_m: float = 2.0
    slow_s: float = 900.0
    white_m: float = 0.02


@dataclass(frozen=True, slots=True)
class MarkovNoise:
    """One first-order Gauss-Markov process, and white noise (0 for none)."""

    sigma_m: float = 2.5
    time_s: float = 120.0
    white_m: float = 0.0


@dataclass(frozen=True, slots=True)
class WhiteNoise:
    """White noise alone: survey-grade positions."""

    sigma_m: float = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class SeriesNoise:
    """Errors that a real recorder made: `time_s` (n,) rising, `error_m` (n, 2) east, north.

    A piece is cut at a random place and sense of time; where the run is longer than the series, the series is run
    through to and fro, which leaves no jump.
    """

    time_s: FloatArray
    error_m: FloatArray
    name: str = "series"

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), error_m=(n, 2))


NoiseModel = TwoPartNoise | MarkovNoise | WhiteNoise | SeriesNoise


def matern_series(time_s: FloatArray, *, sigma_m: float, scale_s: float, rng: np.random.Generator) -> FloatArray:
    """Return (n, 2) independent Matern 3/2 series at rising times (n,), exact at any spacing.

    State (x, dx/dt) with F = exp(-dt/b) [[1 + dt/b, dt], [-dt/b^2, 1 - dt/b]], stationary covariance
    sigma^2 diag(1, 1/b^2).
    """
    rate = 1.0 / scale_s
    stationary = sigma_m**2 * np.diag([1.0, rate**2])
    state = np.sqrt(np.diag(stationary))[:, None] * rng.standard_normal((2, 2))
    series = np.empty((len(time_s), 2))
    series[0] = state[0]
    draws = rng.standard_normal((len(time_s), 2, 2))
    for i, dt in enumerate(np.diff(time_s), start=1):
        u = rate * dt
        step = np.exp(-u) * np.array([[1.0 + u, dt], [-rate * u, 1.0 - u]])
        rest = stationary - step @ stationary @ step.T
        # Cholesky by hand: at short steps the 2 x 2 rest is singular to rounding, which numpy refuses.
        a = np.sqrt(max(rest[0, 0], 0.0))
        b = rest[0, 1] / a if a > 0.0 else 0.0
        c = np.sqrt(max(rest[1, 1] - b * b, 0.0))
        state = step @ state + np.array([[a, 0.0], [b, c]]) @ draws[i]
        series[i] = state[0]
    return series


def markov_series(time_s: FloatArray, *, sigma_m: float, scale_s: float, rng: np.random.Generator) -> FloatArray:
    """Return (n, 2) independent first-order Gauss-Markov series at rising times (n,), exact at any spacing."""
    draws = sigma_m * rng.standard_normal((len(time_s), 2))
    series = np.empty_like(draws)
    series[0] = draws[0]
    for i, dt in enumerate(np.diff(time_s), start=1):
        keep = np.exp(-dt / scale_s)
        series[i] = keep * series[i - 1] + np.sqrt(1.0 - keep**2) * draws[i]
    return series


def errors_at(model: NoiseModel, time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return (n, 2) position errors east, north in metres at rising times (n,) in seconds."""
    t = np.asarray(time_s, float)
    # A stream for each part: a longer run begins with the errors of a shorter one.
    fast, slow, white = rng.spawn(3)
    if isinstance(model, TwoPartNoise):
        return (
            matern_series(t, sigma_m=model.fast_sigma_m, scale_s=model.fast_s, rng=fast)
            + markov_series(t, sigma_m=model.slow_sigma_m, scale_s=model.slow_s, rng=slow)
            + model.white_m * white.standard_normal((len(t), 2))
        )
    if isinstance(model, MarkovNoise):
        markov = markov_series(t, sigma_m=model.sigma_m, scale_s=model.time_s, rng=slow)
        return markov + model.white_m * white.standard_normal((len(t), 2))
    if isinstance(model, WhiteNoise):
        return model.sigma_m * rng.standard_normal((len(t), 2))
    return _cut(model, t, rng)


def _cut(model: SeriesNoise, time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return the errors of a piece of the series, beginning at a random place of it."""
    need, have = time_s[-1] - time_s[0], model.time_s[-1] - model.time_s[0]
    since = rng.uniform(0.0, have - need) if need < have else rng.uniform(0.0, 2.0 * have)
    at = (since + time_s - time_s[0]) % (2.0 * have)
    at = model.time_s[0] + np.minimum(at, 2.0 * have - at)
    return place_at(model.time_s, model.error_m, at)


def drawn_two_part(rng: np.random.Generator) -> TwoPartNoise:
    """Return the default model with its slow part drawn: 1 to 3 m over 600 to 1200 s, white 0.01 to 0.05 m."""
    return TwoPartNoise(
        slow_sigma_m=float(rng.uniform(1.0, 3.0)),
        slow_s=float(rng.uniform(600.0, 1200.0)),
        white_m=float(rng.uniform(0.01, 0.05)),
    )
