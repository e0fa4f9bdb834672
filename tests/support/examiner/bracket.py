"""The fine search: low, along the entry line, back, and across, as this person does it."""

from __future__ import annotations

import math

import numpy as np

from tests.support.examiner.field import Transmitter, shown_distance
from tests.support.examiner.person import Person
from tests.support.examiner.search import Found, LostError, Point


def fine(p: Person, name: str, fault: str, note: Found) -> None:
    """Bracket from the present place and settle on the spot that will be probed."""
    rng, hb, tx = p.rng, p.habits, p.active[name]
    entry = p.heading
    p.pointing, p.aim_height, p.drop_s = entry, hb.fine_m, rng.uniform(1.5, 4.0)
    note.bracket_s, note.first_line = p.time, entry
    if fault != "late_slow_down" and rng.random() < 0.5:
        p.stand(rng.uniform(0.8, 2.5))
    rise = rng.uniform(0.1, 0.2) if fault == "rushed" else rng.uniform(0.25, 0.6)
    low, high = _valley(p, tx, (p.c, p.u), entry, 0.0, 6.0, rise)
    if fault == "late_slow_down":
        high += rng.uniform(0.8, 2.0)
    start = (p.c, p.u)
    _go(p, note, _along(start, entry, high), "first")
    best = _along(start, entry, low + 0.06 * rng.standard_normal())
    _go(p, note, best, "back")
    lines = 1 if fault != "extra_lines" else int(rng.integers(4, 7))
    if fault in ("none", "oblique") and rng.random() < 0.4:
        lines = 2
    cross = entry + rng.choice([-1, 1]) * _crossing(fault, rng)
    note.crossing_deg = math.degrees(abs(math.asin(math.sin(cross - entry))))
    for i in range(lines):
        way = cross if i % 2 == 0 else entry
        best = _cross(p, tx, note, best, way, fault, extra=i > 0)
    if fault == "off_minimum":
        off, around = rng.uniform(0.5, 0.9), rng.uniform(0, 2 * math.pi)
        best = (best[0] + off * math.cos(around), best[1] + off * math.sin(around))
        note.planted.append(f"settled {off:.2f} m off the lowest reading")
        _go(p, note, best, "away")
    note.settled_s = p.time


def _crossing(fault: str, rng: np.random.Generator) -> float:
    if fault == "oblique":
        return math.radians(rng.uniform(35, 60))
    return math.radians(90 + rng.normal(0, 4))


def _cross(p: Person, tx: Transmitter, note: Found, centre: Point, way: float, fault: str, extra: bool) -> Point:
    """To one side, through to the other, back to the lowest of this line."""
    rng = p.rng
    if fault == "narrow":
        reach = rng.uniform(0.2, 0.4, 2)
    elif fault == "rushed":
        reach = rng.uniform(0.35, 0.7, 2)
    else:
        reach = rng.uniform(0.4, 0.7, 2) if extra else rng.uniform(0.7, 1.3, 2)
    _go(p, note, _along(centre, way, reach[0]), "cross")
    _go(p, note, _along(centre, way, -reach[1]), "cross")
    low, _ = _valley(p, tx, centre, way, -reach[1], reach[0], 99.0)
    best = _along(centre, way, low + 0.05 * rng.standard_normal())
    _go(p, note, best, "settle")
    return best


def _go(p: Person, note: Found, to: Point, what: str) -> None:
    hb, rng = p.habits, p.rng
    began, c0, u0 = p.time, p.c, p.u
    p.leg(to, hb.fine_speed * rng.uniform(0.8, 1.2))
    if math.hypot(p.c - c0, p.u - u0) > 0.05:
        angle = math.atan2(p.u - u0, p.c - c0)
        length = math.hypot(p.c - c0, p.u - u0)
        note.legs.append({"what": what, "from_s": began, "to_s": p.time, "length_m": length, "angle": angle})
    if what in ("first", "cross") or rng.random() < 0.3:
        p.stand(rng.uniform(0.5, 1.5) * hb.pause_s)


def _valley(
    p: Person, tx: Transmitter, base: Point, way: float, start: float, end: float, rise: float
) -> tuple[float, float]:
    """Place of the lowest figure on a line, and where it has risen by ``rise`` (at most 2.5 m on)."""
    hb = p.habits
    grid = np.arange(start, end + 1e-9, 0.05)
    values = []
    for s in grid:
        c, u = _along(base, way, float(s))
        values.append(shown_distance(tx, (c, u, hb.fine_m), hb.antennas, p.points_to(), hb.scale))
    figure = np.array(values)
    low = int(figure.argmin())
    if rise < 90 and low == len(grid) - 1:
        raise LostError("no valley ahead")
    risen = np.flatnonzero((figure > figure[low] + rise) & (grid > grid[low]))
    far = float(grid[risen[0]]) if len(risen) else end
    return float(grid[low]), min(far, float(grid[low]) + 2.5)


def _along(base: Point, way: float, s: float) -> Point:
    return base[0] + s * math.cos(way), base[1] + s * math.sin(way)
