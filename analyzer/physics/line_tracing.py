"""The walk along field lines: all rows at once, on complex numbers (see `line_kernel`).

What is followed and why is written in `field_line`, which is the door to this module.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyzer.model.arrays import FloatArray
from analyzer.physics.line_kernel import (
    ComplexArray,
    Sources,
    along,
    field_times_r5,
    log_flat_power,
    log_power,
    rise,
    terms,
)
from analyzer.physics.lowest_reading import lowest_power

# Share of the distance per step: 1e-4 m on a 50 m line, see tests/laws/test_field_line.py.
STEP_SHARE = 0.06
NEAR_LOWEST = 0.03  # of the reading: from here to the lowest one, readings no longer lead
VANISHING = 0.02  # share of the whole field under which the in-plane direction counts as lost
FINEST_SHRINK = 0.05  # a step cut to this share that does not lower the reading: the lowest has been found
LONGEST = 3.0  # of the start distance: a line longer than this is given up and flagged
MOST_STEPS = 600
DRAWN_STEP_M = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """Where the line ends, as squares of the field in logarithms, (S,).

    `wanted`: ln |B seen|^2 at the wanted reading; `near_lowest`: ln |B|^2 close to the lowest reading;
    `ground_m`: the wanted distance over the surface. What is not used is infinite or 0 and never met.
    """

    wanted: FloatArray
    near_lowest: FloatArray
    ground_m: FloatArray
    antennas: int

    def take(self, rows: NDArray[np.intp]) -> "Stop":
        return Stop(self.wanted[rows], self.near_lowest[rows], self.ground_m[rows], self.antennas)

    def reached(self, p: ComplexArray, s: Sources, power: FloatArray) -> NDArray[np.bool_]:
        """Return whether the wanted reading or distance has been reached; `power` is ln |B|^2 at the
        points.
        """
        seen = power if self.antennas == 3 else log_flat_power(p, s)
        return (seen >= self.wanted) | (np.abs(p) <= self.ground_m)

    def ended(self, p: ComplexArray, s: Sources, power: FloatArray) -> NDArray[np.bool_]:
        """Return whether the line ends here."""
        return self.reached(p, s, power) | (power >= self.near_lowest)


def stop_for(s: Sources, stop_m: float, scale: ArrayLike, antennas: int, stop_on: str) -> Stop:
    never, rows = np.full(s.flat.shape, np.inf), s.flat.shape
    if stop_on == "ground":
        return Stop(never, never, np.full(rows, float(stop_m)), 3)
    # D = scale * |B|^(-1/3), so that ln |B|^2 = 6 ln(scale / D).
    wanted = np.broadcast_to(6.0 * np.log(np.asarray(scale, float) / stop_m), rows)
    return Stop(wanted, lowest_power(s) - 6.0 * math.log1p(NEAR_LOWEST), np.zeros(rows), antennas)


def heading_at(p: ComplexArray, s: Sources, before: ComplexArray) -> ComplexArray:
    """Return the unit heading of the ideal searcher who came along `before` (0: just started)."""
    b, up = field_times_r5(p, s), rise(p, s)
    a, r2 = terms(p, s)
    size = np.abs(b)
    sense = np.where(along(b, up) < 0.0, -1.0, 1.0)
    lost = size < VANISHING * np.sqrt(r2 * (3.0 * a * a + r2))
    lost |= sense * along(b, before) < -0.5 * size
    if lost.any():
        b, size, sense = np.where(lost, up, b), np.where(lost, np.abs(up), size), np.where(lost, 1.0, sense)
    return sense * b / np.maximum(size, 1e-300)


def _line_step(p: ComplexArray, s: Sources, first: ComplexArray, step: FloatArray) -> ComplexArray:
    """Return the point one Runge-Kutta step on; the later stages take the sense of the first."""

    def stage(q: ComplexArray) -> ComplexArray:
        b = field_times_r5(q, s)
        size = np.maximum(np.abs(b), 1e-300)
        return b * (np.where(along(b, first) < 0.0, -1.0, 1.0) / size)

    k2 = stage(p + 0.5 * step * first)
    k3 = stage(p + 0.5 * step * k2)
    k4 = stage(p + step * k3)
    return p + step / 6.0 * (first + 2.0 * (k2 + k3) + k4)


def _straight_step(p: ComplexArray, heading: ComplexArray, step: FloatArray) -> ComplexArray:
    return p + step * heading


class _Drawing:
    """Collects the knots of row 0: point, heading left along, length of the step, whether it was straight."""

    def __init__(self) -> None:
        self.knots: list[tuple[complex, complex, float, bool]] = []

    def points(self, end: complex, last_step: float) -> ComplexArray:
        """Return the line as points at most `DRAWN_STEP_M` apart (cubic between knots, which keeps it
        tangent).
        """
        if not self.knots:
            return np.array([end])
        pieces = []
        for i, (p, heading, step, straight) in enumerate(self.knots):
            last = i + 1 == len(self.knots)
            q = end if last else self.knots[i + 1][0]
            step = last_step if last else step
            parts = max(1, math.ceil(step / DRAWN_STEP_M))
            share = np.arange(parts) / parts
            if straight or last:
                pieces.append(p + share * (q - p))
                continue
            bend, next_heading = share * (1.0 - share), self.knots[i + 1][1]
            pieces.append(
                p
                + share * (q - p)
                + bend * ((1.0 - share) * (step * heading - (q - p)) - share * (step * next_heading - (q - p)))
            )
        return np.concatenate([*pieces, [end]])


def follow(
    start: ComplexArray, s_all: Sources, stop_all: Stop
) -> tuple[ComplexArray, FloatArray, NDArray[np.bool_], ComplexArray]:
    """Walk all rows at once; rows that are done leave the batch. Longer than most: one loop, nothing to
    share.
    """
    end, length = start.copy(), np.where(np.isfinite(start), 0.0, np.nan)
    ended = stop_all.ended(start, s_all, log_power(start, s_all))
    rows = np.flatnonzero(np.isfinite(start) & np.isfinite(s_all.normal) & ~ended)
    p, s, stop = start[rows], s_all.take(rows), stop_all.take(rows)
    before, shrink, most = np.zeros_like(p), np.ones(len(p)), LONGEST * np.abs(p) + 10.0
    power = log_power(p, s)
    last_heading, last_step = np.zeros_like(start), np.zeros(len(start))
    last_straight = np.zeros(len(start), bool)
    drawing = _Drawing()
    for _ in range(MOST_STEPS):
        if not len(rows):
            break
        step = shrink * STEP_SHARE * np.sqrt(terms(p, s)[1])
        heading = heading_at(p, s, before)
        new = _line_step(p, s, heading, step)
        new_power = log_power(new, s)
        straight = new_power <= power
        stuck = straight
        if straight.any():
            up = rise(p, s)
            heading = np.where(straight, up / np.maximum(np.abs(up), 1e-300), heading)
            new = np.where(straight, _straight_step(p, heading, step), new)
            new_power = log_power(new, s)
            stuck = new_power <= power
        shrink = np.where(stuck, 0.5 * shrink, np.minimum(1.0, 2.0 * shrink))
        if rows[0] == 0 and not stuck[0]:
            drawing.knots.append((p[0], heading[0], step[0], bool(straight[0])))
        inside = ~stuck & stop.ended(new, s, new_power)
        length[rows] += np.where(stuck | inside, 0.0, step)
        p_before, p, power = p, np.where(stuck, p, new), np.where(stuck, power, new_power)
        before = np.where(stuck, before, heading)
        done = inside | (shrink < FINEST_SHRINK) | (length[rows] > most)
        if done.any():
            gone = rows[done]
            end[gone], ended[gone] = np.where(inside, p_before, p)[done], inside[done]
            last_heading[gone], last_step[gone] = heading[done], np.where(inside, step, 0.0)[done]
            last_straight[gone] = straight[done]
            keep = np.flatnonzero(~done)
            rows, p, s, stop = rows[keep], p[keep], s.take(keep), stop.take(keep)
            before, shrink, most, power = before[keep], shrink[keep], most[keep], power[keep]
    end[rows] = p
    cut = np.flatnonzero(last_step > 0.0)
    if len(cut):
        end[cut], part = _cut(
            end[cut], s_all.take(cut), stop_all.take(cut), last_heading[cut], last_step[cut], last_straight[cut]
        )
        length[cut] += part
        last_step[cut] = part
    final = last_step[0] if last_step[0] > 0.0 else (drawing.knots[-1][2] if drawing.knots else 0.0)
    return end, length, ended, drawing.points(end[0], final)


def _cut(
    p: ComplexArray, s: Sources, stop: Stop, heading: ComplexArray, step: FloatArray, straight: NDArray[np.bool_]
) -> tuple[ComplexArray, FloatArray]:
    """Return the points where the last steps cross the stop, and how long the cut steps are (bisection, to
    1e-7 of a step).
    """
    low, high = np.zeros_like(step), step.copy()
    for _ in range(24):
        middle = 0.5 * (low + high)
        q = np.where(straight, _straight_step(p, heading, middle), _line_step(p, s, heading, middle))
        inside = stop.ended(q, s, log_power(q, s))
        low, high = np.where(inside, low, middle), np.where(inside, middle, high)
    return np.where(straight, _straight_step(p, heading, high), _line_step(p, s, heading, high)), high
