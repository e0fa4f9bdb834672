"""Error models of recorders: what a fix is wrong by, and how that error moves.

The error of consumer positioning over a run is smooth, not white. Fitted to semivariograms of real recordings, two
parts describe it: a fast part with Matern 3/2 correlation (1 + t/b) exp(-t/b), b about 16 s, and a slow first-order
Gauss-Markov part over ten minutes and more; white noise is almost absent. Both parts are exactly Markov.
Position of the searcher: integrated white acceleration.
"""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.recording import Track


@dataclass(frozen=True, slots=True)
class FixNoise:
    """Error of a fix along one axis: standard deviations in metres, time constants in seconds."""

    white_m: float
    fast_m: float
    fast_s: float
    slow_m: float
    slow_s: float

    @property
    def total_m(self) -> float:
        """Return the standard deviation of all parts together."""
        return float(np.sqrt(self.white_m**2 + self.fast_m**2 + self.slow_m**2))

    def scaled(self, factor: float) -> "FixNoise":
        """Return the model with its smooth parts times `factor`."""
        return replace(self, fast_m=self.fast_m * factor, slow_m=self.slow_m * factor)

    def with_moving_error(self, factor: float) -> "FixNoise":
        """Return the model with the fast part times `factor`, and what goes with it.

        A run of minutes sees one value of a slow part, which tells little of its level; of the fast it sees many. A
        rough part moves within a search as the fast does. Worse sky makes both parts larger; better sky than assumed
        leaves the slow part as wide as it is.
        """
        slow = factor if self.slow_s <= ROUGH_WITHIN_S else max(factor, 1.0)
        return replace(self, fast_m=self.fast_m * factor, slow_m=self.slow_m * slow)

    def rough(self) -> "FixNoise":
        """Return a model as large whose error is one first-order Gauss-Markov part: it moves unsmoothly."""
        level = self.fast_m / CONSUMER.fast_m
        return replace(self, fast_m=ROUGH.fast_m * level, slow_m=ROUGH.slow_m * level, slow_s=ROUGH.slow_s)


WORST_LEVEL = 4.0
"""No consumer recorder is taken to be worse than the usual one by more than this factor."""
ROUGH_WITHIN_S = 200.0
"""A first-order part with a shorter time constant than this moves within a search."""


# Two static receivers under good sky, 171 min: fast 0.90 m / 16 s, slow 0.7-1.5 m / 785-1293 s, white 0; under worse
# sky slow 3.2-4.4 m. The slow part is wide on purpose: a run sees one value of it, and readings or a hit tell it.
CONSUMER = FixNoise(white_m=0.04, fast_m=1.0, fast_s=16.0, slow_m=2.4, slow_s=900.0)
# What a recorder that filters little may leave: one first-order Markov part over minutes (our choice of size and time).
# 2.5 m over 120 s wanders 0.3 m in a second, several times as far as the smooth parts do.
ROUGH = FixNoise(white_m=0.04, fast_m=0.05, fast_s=16.0, slow_m=2.5, slow_s=120.0)


SURVEY_DEFAULT_SIGMA_M = 0.03
"""Of a survey-grade recorder that states none; RTK about 1 cm + 1 ppm and the antenna's sway."""
SURVEY_MIXES = ((0.95, 0.22), (0.4, 0.65))
"""White and smooth part (fast and slow each) of a survey-grade sigma: the data choose between them."""
SURVEY_WORDS = ("survey", "rtk", "total station", "uwb", "ultra-wideband")


def survey_noise(sigma_m: float, mix: tuple[float, float] = SURVEY_MIXES[1]) -> FixNoise:
    """Return the error model of survey-grade fixes of one-axis standard deviation `sigma_m`."""
    white, smooth = mix
    return FixNoise(
        white_m=white * sigma_m, fast_m=smooth * sigma_m, fast_s=16.0, slow_m=smooth * sigma_m, slow_s=300.0
    )


def stated_sigma_m(track: Track) -> float | None:
    """Return the median standard deviation that a recorder states, None where it states none."""
    stated = track.sigma_m[np.isfinite(track.sigma_m) & (track.sigma_m > 0)]
    return float(np.median(stated)) if stated.size >= max(5, 0.5 * track.time_s.size) else None


def is_survey(track: Track, recorder: str) -> bool:
    """Return whether fixes are survey-grade: by the accuracy they state, else by the recorder's name in `run.toml`."""
    named = any(word in recorder.lower() for word in SURVEY_WORDS)
    return track.survey_grade or (named and stated_sigma_m(track) is None)


def fix_noise(track: Track, *, survey_grade: bool) -> FixNoise:
    """Return the error model of a track.

    From, in this order: stated standard deviations, stated dilution of precision, defaults.
    """
    rounding = track.resolution_m / np.sqrt(12.0)
    sigma = stated_sigma_m(track)
    if survey_grade:
        model = survey_noise(sigma or SURVEY_DEFAULT_SIGMA_M)
    elif sigma is not None:
        total = float(np.hypot(CONSUMER.fast_m, CONSUMER.slow_m))
        model = CONSUMER.scaled(float(np.clip(sigma / total, 0.4, WORST_LEVEL)))
    else:
        hdop = track.hdop[np.isfinite(track.hdop) & (track.hdop > 0)]
        stated = hdop.size >= max(5, 0.5 * track.time_s.size)
        model = CONSUMER.scaled(float(np.clip(np.median(hdop), 0.8, 3.0)) if stated else 1.0)
    return replace(model, white_m=float(np.hypot(model.white_m, rounding)))


def matern32_step(dt_s: FloatArray, sigma_m: float, scale_s: float) -> tuple[FloatArray, FloatArray]:
    """Return transition (n, 2, 2) and noise (n, 2, 2) of value and rate of a Matern 3/2 process.

    Stationary covariance diag(sigma^2, sigma^2 / b^2). Source: Hartikainen and Sarkka, "Kalman filtering and smoothing
    solutions to temporal Gaussian process regression models", MLSP 2010.
    """
    lam = 1.0 / scale_s
    e = np.exp(-lam * dt_s)
    step = np.empty((dt_s.size, 2, 2))
    step[:, 0, 0], step[:, 0, 1] = e * (1.0 + lam * dt_s), e * dt_s
    step[:, 1, 0], step[:, 1, 1] = -e * lam * lam * dt_s, e * (1.0 - lam * dt_s)
    x = lam * dt_s
    # Closed form of P - F P F^T, written with expm1 or as a series where short steps would lose their digits.
    e2 = np.exp(-2.0 * x)
    small = x < 1e-2
    q00 = np.where(small, 4.0 / 3.0 * x**3 * (1.0 - 1.5 * x + 1.2 * x * x), 1.0 - e2 * (1.0 + 2.0 * x + 2.0 * x * x))
    q01 = 2.0 * x * x * e2 * lam
    q11 = (-np.expm1(-2.0 * x) + 2.0 * x * e2 * (1.0 - x)) * lam * lam
    noise = sigma_m**2 * np.stack([np.stack([q00, q01], -1), np.stack([q01, q11], -1)], -2)
    return step, noise


def gauss_markov_step(dt_s: FloatArray, sigma_m: float, scale_s: float) -> tuple[FloatArray, FloatArray]:
    """Return transition (n,) and noise variance (n,) of a first-order Gauss-Markov process."""
    x = dt_s / scale_s
    return np.exp(-x), sigma_m**2 * -np.expm1(-2.0 * x)


def walking_step(
    dt_s: FloatArray, intensity: FloatArray, damping: FloatArray | float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Return transition and noise (n, 2, 2) of position and velocity under white acceleration of `intensity` m^2/s^3.

    `damping` in 1/s makes the velocity forget itself (an integrated Ornstein-Uhlenbeck process): what a gap without
    fixes needs, where a velocity carried on for minutes would invent a long way round.
    """
    damped = np.broadcast_to(np.asarray(damping, float), dt_s.shape)
    lam, x = np.maximum(damped, 1e-9), damped * dt_s
    e, e2, small = -np.expm1(-x), -np.expm1(-2.0 * x), x < 1e-3
    step = np.zeros((dt_s.size, 2, 2))
    step[:, 0, 0], step[:, 0, 1], step[:, 1, 1] = 1.0, np.where(small, dt_s * (1.0 - x / 2.0), e / lam), 1.0 - e
    q00 = np.where(small, dt_s**3 / 3.0 * (1.0 - 0.75 * x), (dt_s - 2.0 * e / lam + e2 / (2.0 * lam)) / lam**2)
    q01 = np.where(small, dt_s**2 / 2.0 * (1.0 - x), e**2 / (2.0 * lam**2))
    q11 = np.where(small, dt_s * (1.0 - x), e2 / (2.0 * lam))
    noise = intensity[:, None, None] * np.stack([np.stack([q00, q01], -1), np.stack([q01, q11], -1)], -2)
    return step, noise
