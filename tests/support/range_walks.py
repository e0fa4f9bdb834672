"""Taped walks with known truth, and how often the intervals of a range check hold it.

The field is the closed form of Jackson, section 9.3, at 457 kHz, not that of the program; errors are of other kinds
than the program assumes: heavy tails, a logistic edge of the range, a bad tape, a transmitter laid askew.

    python -m tests.support.range_walks 200
"""

import math
import sys

import numpy as np

from analyzer.engine.range_check import check_range
from analyzer.model.figure import Figure
from analyzer.model.range_check import Look, RangeSetup

AXES = {"coaxial": (1.0, 0.0, 0.0), "broadside": (0.0, 1.0, 0.0)}


def closed_form(distance_m, axis, up_m=0.0):
    """Return the same with the terms of a field that changes in time, at 457 kHz: Jackson, section 9.3."""
    offset = np.array([distance_m, 0.0, up_m])
    r = float(np.linalg.norm(offset))
    c2, x2 = (float(offset @ np.asarray(axis)) / r) ** 2, (r / 104.405802) ** 2
    return r / (4.0 * c2 * (1.0 + x2) + (1.0 - c2) * (1.0 - x2 + x2 * x2)) ** (1.0 / 6.0)


def walked(rng, orientations, *, scale, range_m, edge, look, own, turn_deg, heights):
    """Return looks of a person with errors of other kinds than assumed: heavy tails, a logistic edge, a bad tape."""
    looks = []
    for walk, orientation in enumerate(orientations):
        axis = np.asarray(AXES.get(orientation, rng.standard_normal(3)), float)
        if orientation in AXES:
            axis = axis + math.radians(turn_deg) * rng.standard_normal(3)
        axis = axis / np.linalg.norm(axis)
        off, reach = own * rng.standard_t(6), math.log(range_m) + own * rng.standard_t(6)
        for d in (*range(4, 20, 4), *range(20, 72, 4)):
            q = closed_form(max(d + rng.normal(0.0, 0.15), 0.5), axis, heights[1] - heights[0])
            if rng.random() > 1.0 / (1.0 + math.exp(-1.7 * (reach - math.log(q)) / edge)):
                looks.append(Look(float(d), None, orientation, str(walk)))
                continue
            value = scale * q * math.exp(off + look * rng.standard_t(4) / math.sqrt(2.0))
            looks.append(Look(float(d), round(value, 1) if value < 10.0 else round(value), orientation, str(walk)))
    return looks


def true_range(range_m, edge, own):
    """Return where nine looks in ten show a reading, over many walks."""
    own_ln = own * np.random.default_rng(5).standard_t(6, 4000)
    distance = np.geomspace(3.0, 120.0, 400)
    shown = np.array([closed_form(d, (0.0, 1.0, 0.0)) for d in distance])
    share = 1.0 / (1.0 + np.exp(-1.7 * (math.log(range_m) + own_ln[:, None] - np.log(shown)) / edge))
    return float(np.interp(-0.9, -share.mean(axis=0), distance))


def held(orientations, seeds):
    """Return for each seed whether scale and usable range lie in their intervals, of those that are assessable."""
    scales, ranges = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        truth = {"scale": rng.uniform(0.9, 1.3), "range_m": rng.uniform(20, 45), "edge": rng.uniform(0.04, 0.15)}
        truth |= {"look": rng.uniform(0.015, 0.06), "own": rng.uniform(0.0, 0.06), "turn_deg": rng.uniform(0, 12)}
        heights = (rng.uniform(0.0, 1.0), 1.0)
        found = check_range(walked(rng, orientations, **truth, heights=heights), RangeSetup(*heights))
        if isinstance(found.scale, Figure):
            scales.append(found.scale.low <= truth["scale"] <= found.scale.high)
        if isinstance(found.usable_m, Figure):
            reach = true_range(truth["range_m"], truth["edge"], truth["own"])
            ranges.append(found.usable_m.low <= reach <= found.usable_m.high)
    return scales, ranges


if __name__ == "__main__":
    count = int(sys.argv[1])
    ways = {
        "four walks, coaxial and broadside": ("coaxial", "broadside") * 2,
        "three, unknown": ("unknown",) * 3,
        "one, broadside": ("broadside",),
    }
    for name, orientations in ways.items():
        scales, ranges = held(orientations, range(640_000, 640_000 + count))
        sys.stdout.write(f"{name}: scale {sum(scales)} of {len(scales)}, usable range {sum(ranges)} of {len(ranges)}\n")
