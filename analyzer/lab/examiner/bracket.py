"""The fine search: low, along the entry line, back, and across, as this person does it."""

from __future__ import annotations

import math

import numpy as np

from analyzer.lab.examiner.field import Transmitter, shown_distance
from analyzer.lab.examiner.person import Person
from analyzer.lab.examiner.search import Found, LostError, Point

IN_BRACKET = (
    "late_slow_down",
    "rushed_bracketing",
    "narrow_bracketing",
    "oblique_bracketing",
    "extra_lines",
    "off_lowest",
)


def fine(p: Person, name: str, fault: str, note: Found) -> None:
    """Bracket from the present place and settle on the spot that will be probed."""
    rng, mistake, hb, tx = p.lots("bracket", p.phase), p.lots("mistake", p.phase), p.habits, p.active[name]
    entry = p.heading
    p.pointing, p.aim_height, p.drop_s = entry, hb.fine_m, rng.uniform(1.5, 4.0)
    note.bracket_s, note.first_line = p.time, entry
    waits, moment = rng.random() < 0.5, rng.uniform(0.8, 2.5)
    if waits and fault != "late_slow_down":
        p.stand(moment)
    rise = rng.uniform(0.25, 0.6)
    low, high = _valley(p, tx, (p.c, p.u), entry, 0.0, 6.0, rise)
    if fault == "late_slow_down":
        high += mistake.uniform(0.8, 2.0)
    start = (p.c, p.u)
    _go(p, note, _along(start, entry, high), "first", rng)
    best = _along(start, entry, low + 0.06 * rng.standard_normal())
    _go(p, note, best, "back", rng)
    side, square, lines = rng.choice([-1, 1]), 90 + rng.normal(0, 4), 2 if rng.random() < 0.4 else 1
    cross = entry + side * math.radians(mistake.uniform(35, 60) if fault == "oblique_bracketing" else square)
    note.crossing_deg = math.degrees(abs(math.asin(math.sin(cross - entry))))
    for i in range(lines):
        best = _cross(p, tx, note, best, cross if i % 2 == 0 else entry, fault, i > 0, rng)
    if fault == "extra_lines":
        _further(p, tx, note, best, (entry, cross) if lines == 1 else (cross, entry))
    if fault == "off_lowest":
        off, around = mistake.uniform(0.5, 0.9), mistake.uniform(0, 2 * math.pi)
        _go(p, note, (best[0] + off * math.cos(around), best[1] + off * math.sin(around)), "away", mistake)
    if fault in IN_BRACKET:
        note.planted.append(fault)
    note.settled_s = p.time


def _further(p: Person, tx: Transmitter, note: Found, best: Point, ways: tuple[float, float]) -> None:
    """Three to five lines that tell nothing new, and back to what was found before them."""
    rng, at = p.lots("mistake", p.phase), best
    p.stray()
    for i in range(int(rng.integers(3, 6))):
        at = _cross(p, tx, note, at, ways[i % 2], "extra_lines", True, rng)
    _go(p, note, best, "settle", rng)
    p.resume()


def _cross(
    p: Person,
    tx: Transmitter,
    note: Found,
    centre: Point,
    way: float,
    fault: str,
    extra: bool,
    rng: np.random.Generator,
) -> Point:
    """To one side, through to the other, back to the lowest of this line."""
    reach = rng.uniform(0.4, 0.7, 2) if extra else rng.uniform(0.7, 1.3, 2)
    if fault == "narrow_bracketing":
        reach = p.lots("mistake", p.phase).uniform(0.2, 0.4, 2)
    _go(p, note, _along(centre, way, reach[0]), "cross", rng)
    _go(p, note, _along(centre, way, -reach[1]), "cross", rng)
    low, _ = _valley(p, tx, centre, way, -reach[1], reach[0], 99.0)
    best = _along(centre, way, low + 0.05 * rng.standard_normal())
    _go(p, note, best, "settle", rng)
    return best


def _go(p: Person, note: Found, to: Point, what: str, rng: np.random.Generator) -> None:
    hb, began, c0, u0 = p.habits, p.time, p.c, p.u
    p.leg(to, hb.fine_speed * rng.uniform(0.8, 1.2), 0.03 * rng.standard_normal())
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
