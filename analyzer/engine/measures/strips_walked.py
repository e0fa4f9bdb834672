"""The strips of a signal search as they were walked, and whether one was left out.

A pass is a stretch along the main direction of the walk. A strip was left out where two passes that follow each other
lie more than one and a half strip widths apart and the first signal came later, between them; or where the last pass
had to jump back over ground already searched.
"""

import itertools
from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import runs
from analyzer.geometry.polyline import segment_lengths
from analyzer.model.arrays import FloatArray

ALONG = np.cos(np.radians(40.0))
LEAST_PASS_WIDTHS = 0.5
JUMP_WIDTHS = 1.5
BETWEEN_WIDTHS = 0.4
BACK_WIDTHS = 0.2  # so far from a pass the searcher has left it for the ground between; our choice
TURN_S = 2.0  # a pass that ended longer ago than this was walked before the signal came; our choice


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass: when, and how far aside in metres."""

    from_s: float
    to_s: float
    aside_m: float


def left_out(window: Window, strip_width_m: float) -> tuple[float, float] | None:
    """Return from when to when a signal search was off the strip that was due, None where no strip was left out."""
    inside = window.best
    t, path = window.time_s[inside], window.path_m[0, inside]
    if len(t) < 5:
        return None
    axis = main_direction(path)
    aside = path @ np.array([-axis[1], axis[0]])
    passes = passes_of(t, path, axis, least_m=LEAST_PASS_WIDTHS * strip_width_m)
    if len(passes) < 2:
        return None
    here, jump = float(aside[-1]), JUMP_WIDTHS * strip_width_m
    # The pass on which the signal came is not one that was walked before it.
    on_it = abs(passes[-1].aside_m - here) < BETWEEN_WIDTHS * strip_width_m and passes[-1].to_s > t[-1] - TURN_S
    done = passes[:-1] if on_it else passes
    for one, two in itertools.pairwise(done):
        low, high = sorted((one.aside_m, two.aside_m))
        margin = BACK_WIDTHS * strip_width_m
        if high - low > jump and low + margin < here < high - margin:
            return one.to_s, done[-1].to_s
    last = done[-1]
    between = [p for p in done[:-1] if min(last.aside_m, here) < p.aside_m < max(last.aside_m, here)]
    if abs(here - last.aside_m) > jump and between:
        return done[0].from_s, last.to_s
    return None


def passes_of(time_s: FloatArray, path_m: FloatArray, axis: FloatArray, *, least_m: float) -> tuple[Pass, ...]:
    """Return the passes along `axis` (2,) of a path (n, 2) that are at least `least_m` long, in order."""
    step = np.diff(path_m, axis=0)
    length = np.maximum(segment_lengths(path_m), 1e-9)
    way = step @ axis / length
    aside = path_m @ np.array([-axis[1], axis[0]])
    found = []
    for sign in (1.0, -1.0):
        for lo, hi in runs(sign * way > ALONG):
            if float(np.abs((path_m[hi] - path_m[lo]) @ axis)) >= least_m:
                found.append(Pass(float(time_s[lo]), float(time_s[hi]), float(np.mean(aside[lo : hi + 1]))))
    return tuple(sorted(found, key=lambda p: p.from_s))


def main_direction(path_m: FloatArray) -> FloatArray:
    """Return the unit vector (2,) along which most metres were walked, to and fro alike."""
    step = np.diff(path_m, axis=0)
    angle = np.arctan2(step[:, 1], step[:, 0])
    weight = segment_lengths(path_m)
    main = 0.5 * np.arctan2(float(weight @ np.sin(2.0 * angle)), float(weight @ np.cos(2.0 * angle)))
    return np.array([np.cos(main), np.sin(main)])
