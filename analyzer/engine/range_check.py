"""Reading scale and usable range of a receiver from taped walks: two posteriors, each summed over a grid.

Scale: ln D = ln s - ln|B|/3 + a + e, with B of a unit dipole at the taped place, a one error per walk (receiver,
transmitter, how both are held) and e one per look, their sizes unknown. Range: a look shows a reading with probability
Phi((ln R + b - ln q) / w), q = |B|^(-1/3), b one error per walk. The axis of each walk is drawn: about the stated one,
or even on the sphere where nobody knows it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from scipy.special import log_ndtr, logsumexp

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import HIGH, LOW, Figure, Measured, NotAssessable
from analyzer.model.range_check import BROADSIDE, COAXIAL, UNKNOWN, Look, RangeCheck, RangeSetup
from analyzer.physics.receiver import seen_amplitude

LEAST_READINGS, LEAST_NOTHING = 4, 2
"""Our own choice: fewer tell nothing of their own scatter, or of where the signal is lost."""
RELIABLE = 0.9
"""Our own choice: a range is usable where nine looks in ten show a reading."""
AXES, FEW_AXES = 64, 16
"""Drawn per walk for the scale, and for the range, which is told less sharply."""
TURN_RAD = math.radians(8.0)
"""How far off its stated orientation an antenna in its case is laid, one direction; our own choice."""
TAPE_M = 0.1
"""Standard deviation of a taped distance; our own choice: tape, and where the hands are above it."""
SCALE_LN = np.linspace(math.log(0.5), math.log(2.0), 201)
"""Between the limits of drill.toml."""
LOOK_LN = np.geomspace(0.01, 0.3, 10)
WALK_LN = np.linspace(0.0, 0.14, 6)
WALK_HALF_LN = 0.04
"""Size of a walk's own error, half normal: our own choice, about what an arm's length and a turned wrist make of it;
the walks themselves change it where there are several."""
RANGE_LN = np.linspace(math.log(3.0), math.log(120.0), 150)
EDGE_LN = np.geomspace(0.02, 0.4, 8)
"""Width of the belt in which a signal comes and goes."""
NODES = 5
NEAREST_M = 1.0
FURTHEST_M = 150.0


@dataclass(frozen=True, slots=True, eq=False)
class _Walk:
    """Looks of one walk. `seen`: ln q (K, n) by axis; `reading`: ln D (n,), NaN for nothing shown; `size`: known part
    of the standard deviation of ln D (n,)."""

    seen: FloatArray
    reading: FloatArray
    size: FloatArray


def check_range(looks: Sequence[Look], setup: RangeSetup, *, seed: int = 1) -> RangeCheck:
    """Return what taped walks tell of a receiver.

    Parameters
    ----------
    looks : sequence of Look
        With distances and readings above 0.
    setup : RangeSetup
    seed : int
        Of the axes drawn; the same seed gives the same answer.
    """
    rng = np.random.default_rng(seed)
    names = list(dict.fromkeys((look.walk, look.orientation) for look in looks))
    walks = [
        _walk([look for look in looks if (look.walk, look.orientation) == name], name[1], setup, rng) for name in names
    ]
    shown = sum(look.reading_m is not None for look in looks)
    scale, sigma = _scale(walks, shown)
    usable = _usable(walks, looks, setup)
    width = math.floor(2.0 * usable.low) if isinstance(usable, Figure) and usable.low >= 1.0 else None
    return RangeCheck(scale, sigma, usable, width, shown, len(looks) - shown, _remarks(looks, setup, len(names)))


def _walk(looks: list[Look], orientation: str, setup: RangeSetup, rng: np.random.Generator) -> _Walk:
    axes = _axes(orientation, rng)
    distance = np.array([look.distance_m for look in looks])
    up = setup.receiver_height_m - setup.transmitter_height_m
    offset = np.stack([distance, np.zeros_like(distance), np.full_like(distance, up)], axis=-1)
    reading = np.array([math.nan if look.reading_m is None else look.reading_m for look in looks])
    step = np.where(reading < 10.0, 0.1, 1.0)  # shown in tenths below ten metres, in metres above it: common practice
    size = np.hypot(step / math.sqrt(12.0) / reading, TAPE_M / distance)
    return _Walk(_ln_q(offset, axes, setup.antennas), np.log(reading), size)


def _axes(orientation: str, rng: np.random.Generator) -> FloatArray:
    """Return unit vectors (K, 3) of the antenna: the tape runs along the first axis, the third one is up."""
    loose = rng.standard_normal((AXES, 3))
    if orientation != UNKNOWN:
        along = {COAXIAL: (1.0, 0.0, 0.0), BROADSIDE: (0.0, 1.0, 0.0)}[orientation]
        loose = np.asarray(along) + TURN_RAD * loose
    return np.asarray(loose / np.linalg.norm(loose, axis=-1, keepdims=True), np.float64)


def _ln_q(offset: FloatArray, axes: FloatArray, antennas: int) -> FloatArray:
    """Return ln |B|^(-1/3) (K, n). With one antenna the receiver is turned to where it shows least, as with two."""
    seen = seen_amplitude(offset[None], axes[:, None, :], antennas=3 if antennas == 3 else 2)
    return np.asarray(-np.log(np.maximum(seen, 1e-30)) / 3.0, np.float64)


def _scale(walks: list[_Walk], shown: int) -> tuple[Measured, float | None]:
    if shown < LEAST_READINGS:
        return NotAssessable(f"a scale needs {LEAST_READINGS} readings; there are {shown}"), None
    weight = np.zeros((len(LOOK_LN), len(WALK_LN), len(SCALE_LN)))
    weight -= 0.5 * (WALK_LN[:, None] / WALK_HALF_LN) ** 2
    for walk in walks:
        weight += _scale_of_walk(walk)
    low, middle, high, mean, sigma = _summary(weight, SCALE_LN)
    return Figure(math.exp(middle), math.exp(low), math.exp(high), "1"), math.exp(mean) * sigma


def _scale_of_walk(walk: _Walk) -> FloatArray:
    """Return the log likelihood (sigma, tau, ln s) of one walk, its own error and its axis summed over."""
    has = np.isfinite(walk.reading)
    if not has.any():
        return np.zeros((len(LOOK_LN), len(WALK_LN), len(SCALE_LN)))
    rest = walk.reading[has] - walk.seen[:, has]
    total = np.zeros((len(LOOK_LN), len(WALK_LN), len(SCALE_LN)))
    for i, sigma in enumerate(LOOK_LN):
        variance = sigma**2 + walk.size[has] ** 2
        s0 = float(np.sum(1.0 / variance))
        s1, s2 = np.sum(rest / variance, axis=-1)[:, None], np.sum(rest**2 / variance, axis=-1)[:, None]
        q1, q2 = s1 - SCALE_LN * s0, s2 - 2.0 * SCALE_LN * s1 + SCALE_LN**2 * s0
        for j, tau in enumerate(WALK_LN):
            grown = 1.0 + tau**2 * s0
            fit = -0.5 * (np.sum(np.log(variance)) + math.log(grown) + q2 - tau**2 * q1**2 / grown)
            total[i, j] = logsumexp(fit, axis=0) - math.log(AXES)
    return total


def _usable(walks: list[_Walk], looks: Sequence[Look], setup: RangeSetup) -> Measured:
    lost = [look for look in looks if look.reading_m is None]
    if not lost:
        return NotAssessable("the walk never lost the signal: walk on until nothing is shown, and note those looks too")
    if len(lost) == len(looks):
        return NotAssessable("no look showed a reading")
    if len(lost) < LEAST_NOTHING:
        return NotAssessable(f"a usable range needs {LEAST_NOTHING} looks with nothing shown; there is {len(lost)}")
    weight = np.zeros((len(EDGE_LN), len(WALK_LN), len(RANGE_LN)))
    weight -= 0.5 * (WALK_LN[:, None] / WALK_HALF_LN) ** 2
    for walk in walks:
        weight += _range_of_walk(walk)
    return _reliable(weight, setup)


def _range_of_walk(walk: _Walk) -> FloatArray:
    """Return the log likelihood (w, tau, ln R) of which looks of one walk showed a reading."""
    side = np.where(np.isfinite(walk.reading), 1.0, -1.0)
    nodes, shares = np.polynomial.hermite_e.hermegauss(NODES)
    shares = shares / shares.sum()
    total = np.empty((len(EDGE_LN), len(WALK_LN), len(RANGE_LN)))
    some = walk.seen[:FEW_AXES]
    for i, edge in enumerate(EDGE_LN):
        fine = np.linspace(RANGE_LN[0] - 1.0, RANGE_LN[-1] + 1.0, 240)
        fit = np.stack([log_ndtr(side * (fine[:, None] - q) / edge).sum(axis=-1) for q in some])
        for j, tau in enumerate(WALK_LN):
            moved = np.stack(
                [[np.interp(RANGE_LN + tau * z, fine, one) for z in nodes] for one in fit]
            ) + np.log(shares)[:, None]  # fmt: skip
            total[i, j] = logsumexp(moved, axis=(0, 1)) - math.log(len(some))
    return total


def _reliable(weight: FloatArray, setup: RangeSetup) -> Measured:
    """Return the distance within which RELIABLE of all looks show a reading, broadside, over walks to come."""
    spread = np.hypot(EDGE_LN[:, None], WALK_LN)
    reach = RANGE_LN - NormalDist().inv_cdf(RELIABLE) * spread[..., None]
    order = np.argsort(reach, axis=None)
    share = np.exp(weight - logsumexp(weight)).ravel()[order]
    low, middle, high = np.interp((LOW, 0.5, HIGH), np.cumsum(share), reach.ravel()[order])
    distance = np.geomspace(NEAREST_M, FURTHEST_M, 400)
    offset = np.stack([distance, np.zeros_like(distance), np.zeros_like(distance)], axis=-1)
    shown = _ln_q(offset, np.array([[0.0, 1.0, 0.0]]), setup.antennas)[0]
    found = np.interp((middle, low, high), shown, distance)
    return Figure(float(found[0]), float(found[1]), float(found[2]), "m")


def _summary(weight: FloatArray, grid: FloatArray) -> tuple[float, float, float, float, float]:
    """Return low, middle and high of the 90 % interval, mean and standard deviation of what stands on the grid."""
    share = np.exp(logsumexp(weight, axis=(0, 1)) - logsumexp(weight))
    # the sum up to the middle of each cell, so that a quantile lies between grid points, not half a step beside them
    low, middle, high = np.interp((LOW, 0.5, HIGH), np.cumsum(share) - 0.5 * share, grid)
    mean = float(np.sum(share * grid))
    return float(low), float(middle), float(high), mean, float(np.sqrt(np.sum(share * (grid - mean) ** 2)))


def _remarks(looks: Sequence[Look], setup: RangeSetup, walks: int) -> tuple[str, ...]:
    found = []
    if walks == 1:
        found.append(
            "One walk alone does not tell how far walks differ: walk it twice more, turned round, to be surer."
        )
    if any(look.orientation == UNKNOWN for look in looks):
        found.append("Where nobody knows how the transmitter lies, a reading may be up to 1.26 times another's.")
    if setup.antennas < 3:
        found.append("With fewer than three antennas this holds for a receiver turned to where it shows least.")
    return tuple(found)
