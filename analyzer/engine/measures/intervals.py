"""A figure and its 90 % interval from the values a measure takes in the draws.

Row 0 is the best estimate, rows 1.. are posterior samples. Where the posterior is right, the truth is one more row
like the samples, so the interval of order statistics with probability k / (S + 1) holds it in 90 % of cases. Row 0 is
smoother than the truth: measures that grow with roughness (lengths, extremes) take their value from the middle of
the samples, all others from row 0.
"""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import HALF_90, Figure, Measured, NotAssessable, bounds

ENOUGH_SAMPLES = 8
"""With fewer samples there is no interval: the draws are then an exact world, as in tests and simulations."""
POSTERIOR_DOUBT = 0.7
"""Added where simulated runs with known truth showed 90 % intervals of lengths to hold it in 80 % only."""
ENOUGH_SHARE = 0.8
"""A measure that exists in fewer of the draws is not assessable."""


def figure_of(
    draws: FloatArray,
    unit: str,
    *,
    rough: bool = False,
    missing: str = "the evidence does not show it",
    widest: float = np.inf,
    spread: float = 0.0,
    doubt: float = 0.0,
    least: float = -np.inf,
    most: float = np.inf,
) -> Measured:
    """Return the figure of a measure from its value in each draw.

    Parameters
    ----------
    draws : array, shape (S,)
        NaN where the measure does not exist in a draw.
    unit : str
    rough : bool
        Take the value from the middle of the samples, not from row 0.
    missing : str
        Why it is not assessable where too few draws have it.
    widest : float
        Half-width of the interval beyond which nothing can be said.
    spread : float
        Standard deviation of what the draws do not contain (clock resolution, reading noise), added in quadrature.
    doubt : float
        Further spread in units of the samples' own: the posterior is a Gaussian about its mode with its noise levels
        taken as known, which makes some measures too sure of themselves (see `POSTERIOR_DOUBT`).
    least, most : float
        Bounds by definition (a length is not negative).
    """
    good = np.isfinite(draws)
    samples = draws[1:][good[1:]]
    if len(samples) < ENOUGH_SAMPLES:
        if not good[0]:
            return NotAssessable(missing)
        value = float(draws[0])
        low, high = (value, value) if len(draws) <= ENOUGH_SAMPLES else bounds(draws[good])
    else:
        if len(samples) < ENOUGH_SHARE * (len(draws) - 1):
            return NotAssessable(missing)
        low, high = bounds(samples)
        middle = float(np.median(samples))
        value = middle if rough or not good[0] else float(draws[0])
    if len(samples) >= ENOUGH_SAMPLES:
        spread = float(np.hypot(spread, doubt * np.std(samples)))
    extra = HALF_90 * spread
    low, high = value - np.hypot(value - low, extra), value + np.hypot(high - value, extra)
    low, high = min(low, value), max(high, value)
    if (high - low) / 2.0 > widest:
        return NotAssessable(
            f"known only to lie between {_plain(max(low, least))} and {_plain(min(high, most))} {unit}"
        )
    value = float(np.clip(value, least, most))
    return Figure(value, float(np.clip(low, least, most)), float(np.clip(high, least, most)), unit)


def _plain(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.1f}"
