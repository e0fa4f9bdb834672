"""When the fine search begins and when the searcher settles on the spot that is probed, from speeds and readings.

Three states follow each other: on the way in, bracketing, probing. The pace of bracketing is not known before: it is
one of a few, and the posterior is that over all of them.
"""

import numpy as np

from analyzer.engine.phases.decode import Decoded, decode
from analyzer.model.arrays import FloatArray
from analyzer.model.path import FusedPath

STILL_SPEED_MPS, PACE_SPREAD_MPS = 0.04, 0.06  # of one who stands and sways, one axis, and about a steady pace
ANY_SPEED_MPS, QUICK_PART = 0.5, 0.1  # of a smooth walk of any pace, one axis; the run-in and other haste
PACES_MPS = (0.12, 0.17, 0.23, 0.32, 0.45)  # of bracketing; the one that fits a run best is taken
HABITS = ((0.15, 0.25), (0.4, 0.25), (0.15, 0.5), (0.4, 0.5))
"""Rests of one who brackets, steps of one who probes: shares of the time. Some look at the display at every turn, some
set hole beside hole; neither is known before. Our choice."""
SPEED_TEMPER = 0.6  # speeds a second apart are not independent
TRACK_TEMPER = 0.5  # once more, where no reading helps to know the pace
SHORTEST_S = (1, 2, 2)  # coarse search, fine search, pinpoint
USUALLY_S = (
    (40.0, 0.7),
    (20.0, 0.8),
)  # fine search, pinpoint: median and log-normal spread; common practice, no source


def _outside(fused: FusedPath, metric: FloatArray, grid: FloatArray, radius_m: float) -> FloatArray:
    """Return (T,) the share of draws that are still outside the fine-search radius."""
    return np.interp(grid, fused.time_s, np.mean(metric > radius_m, axis=0))


def _reached(fused: FusedPath, metric: FloatArray, grid: FloatArray, radius_m: float) -> FloatArray:
    """Return (T,) the share of draws that have been inside the fine-search radius since the search began."""
    searched = np.where(fused.time_s < grid[0] - 1.0, np.inf, metric)
    return np.interp(grid, fused.time_s, np.mean(np.minimum.accumulate(searched, axis=1) <= radius_m, axis=0))


def state_likelihoods(
    fused: FusedPath, metric: FloatArray, grid: FloatArray, radius_m: float, readings_say: FloatArray
) -> list[FloatArray]:
    """Return (T, 3) log likelihoods of coarse search, fine search and pinpoint, one array per pace of bracketing.

    `readings_say` (T,): how far the log itself speaks for bracketing.
    """
    speed = _speeds(fused, grid)
    temper = SPEED_TEMPER * (1.0 if fused.readings is not None else TRACK_TEMPER)
    out = _outside(fused, metric, grid, radius_m)
    coarse = np.log(np.maximum(out, 0.5 / len(metric)))
    # A fine search begins inside the circle; one that then ran out of it goes on being one.
    near = np.log(np.maximum(_reached(fused, metric, grid, radius_m), 0.5 / len(metric)))
    rest = np.exp(-0.5 * (speed / STILL_SPEED_MPS) ** 2) / STILL_SPEED_MPS**2
    any_speed = np.exp(-0.5 * (speed / ANY_SPEED_MPS) ** 2) / ANY_SPEED_MPS**2
    quick = QUICK_PART * np.exp(-0.5 * ((np.minimum(speed, 1.0) - 0.5) / 0.3) ** 2) / 0.75
    per_speed = 1.0 / (speed + 0.01)
    brackets, probes = [], []
    for pace in PACES_MPS:
        width = PACE_SPREAD_MPS * max(pace, 0.15) / 0.15
        steady = per_speed * np.exp(-0.5 * ((speed - pace) / width) ** 2) / (2.5 * width)
        for resting, shifting in HABITS:
            moving = ((1.0 - resting) * steady + resting * rest + quick * per_speed) / any_speed
            still = ((1.0 - shifting) * rest + shifting * steady + 0.2 * quick * per_speed) / any_speed
            brackets.append(temper * np.log(moving.mean(axis=0)))
            probes.append(temper * np.log(still.mean(axis=0)))
    way_in = np.mean(brackets, axis=0)  # the pace of the way in says nothing of that of the bracket
    return [
        np.column_stack([coarse + way_in + readings_say, near + moving + readings_say, near + still])
        for moving, still in zip(brackets, probes, strict=True)
    ]


def _speeds(fused: FusedPath, grid: FloatArray) -> FloatArray:
    """Return (S, T) the speed in every draw of the path.

    What a phone cannot see is in the draws: where small steps are lost in the noise, the mean path stands still, and
    the draws do not. A likelihood is the mean over the draws, each weighed by how likely its speed was before (a
    smooth walk of any pace): so where the draws say nothing, it says nothing.
    """
    velocity = fused.draws.velocity_mps
    drawn = velocity[1:] if len(velocity) > 1 else velocity
    return np.array([np.interp(grid, fused.time_s, np.linalg.norm(row, axis=-1)) for row in drawn])


def _lasts(length: int, median_s: float, spread: float) -> FloatArray:
    """Return (length + 1,) the log density of a duration, log-normal, up to a constant."""
    duration = np.maximum(np.arange(length + 1), 0.5)
    return np.asarray(-0.5 * (np.log(duration / median_s) / spread) ** 2 - np.log(duration), np.float64)


def decoded(tables: list[FloatArray], phases: int) -> tuple[Decoded | None, FloatArray]:
    """Return the best decoding over the paces, and the posterior of the last phase's start over all of them."""
    lasts = [None, *(_lasts(len(tables[0]), *usual) for usual in USUALLY_S)]
    found = [d for d in (decode(t[:, :phases], SHORTEST_S[:phases], lasts[:phases]) for t in tables) if d is not None]
    if not found:
        return None, np.zeros(0)
    best = max(found, key=lambda d: d.score)
    posterior = sum(np.exp(d.evidence - best.evidence) * d.posterior[phases - 1] for d in found)
    return best, posterior / np.sum(posterior)
