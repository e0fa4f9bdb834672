"""What the person does: search strips, follow the field, bracket, probe; and the planned faults."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from tests.support.examiner.field import Transmitter, shown_distance
from tests.support.examiner.person import DT, Person, Shown

Point = tuple[float, float]


class LostError(Exception):
    """The draw led nowhere (nothing found, too long): the caller draws again."""


@dataclass
class Found:
    """Truth noted while one transmitter was searched."""

    name: str
    bracket_s: float = 0.0  # began to move along the bracket lines
    settled_s: float = 0.0
    strike_s: float = 0.0
    crossing_deg: float = 0.0
    first_line: float = 0.0
    legs: list[dict[str, float]] = field(default_factory=list)
    settled: Point = (0.0, 0.0)
    probe: Point = (0.0, 0.0)
    planted: list[str] = field(default_factory=list)


def strips(p: Person, route: list[Point], at: int) -> int:
    """Walk the route from corner ``at`` until something is shown twice and noticed; next corner."""
    hb, rng = p.habits, p.rng
    notice = None
    pace = 1.0
    while at < len(route):
        to = route[at]
        if math.hypot(to[0] - p.c, to[1] - p.u) < 1.5:
            at += 1
            continue
        pace += (1.0 - pace) * DT / 8.0 + 0.08 * math.sqrt(DT) * rng.standard_normal() / 2
        p.step(math.atan2(to[1] - p.u, to[0] - p.c), hb.signal_speed * pace)
        recent = [s for s in p.shown if s.name == p.pick and s.time > p.time - 5.0]
        if notice is None and len(recent) >= 2:
            notice = p.time + rng.uniform(0.3, 1.0) * hb.reaction_s
        if notice is not None and p.time >= notice:
            if rng.random() < 0.6:
                p.stand(rng.uniform(0.6, 2.5))
            return at
    raise LostError("end of the route")


def coarse_speed(p: Person, metres: float) -> float:
    """Pace wanted at this reading: full far out, ``speed_at_3`` at 3 m."""
    hb = p.habits
    share = min(max((metres - 3.0) / (hb.slow_from - 3.0), 0.0), 1.0)
    if hb.pace == "steps":
        share = 1.0 if metres > hb.slow_from else 0.45 if metres > 5.5 else 0.0
    elif hb.pace == "root":
        share = math.sqrt(share)
    return hb.speed_at_3 + (hb.coarse_speed - hb.speed_at_3) * share


@dataclass
class Plan:
    """Faults of one coarse search, each at the moment its reading is reached."""

    wrong_from: float | None = None  # reading at which the person turns the wrong way
    wrong_for: float = 0.0
    detour_from: float | None = None
    detour_for: float = 0.0
    detour_angle: float = 0.0
    stops: list[tuple[float, float]] = field(default_factory=list)  # reading, seconds


def plan_coarse(fault: str, first: float, rng: np.random.Generator) -> Plan:
    """Draw when and how much; ``first`` is the first reading."""
    plan = Plan()
    if fault == "wrong_way":
        early = rng.random() < 0.5
        plan.wrong_from = 1e9 if early else max(rng.uniform(0.4, 0.7) * first, 9.0)
        plan.wrong_for = rng.uniform(6, 16)
    if fault == "detour":
        plan.detour_from = max(rng.uniform(0.55, 0.85) * first, 11.0)
        plan.detour_for = rng.uniform(8, 14)
        plan.detour_angle = rng.choice([-1, 1]) * math.radians(rng.uniform(50, 72))
    if fault == "standing":
        count = int(rng.integers(2, 5))
        plan.stops = [(rng.uniform(4.5, 0.9 * first), rng.uniform(3, 10)) for _ in range(count)]
        plan.stops.sort(reverse=True)
    elif rng.random() < 0.4:
        plan.stops = [(rng.uniform(4.5, 0.9 * first), rng.uniform(1.2, 2.5))]
    return plan


def follow(p: Person, name: str, fault: str, note: Found) -> None:
    """Follow the arrow until the fine radius is shown.

    The sense of the arrow is told by the readings: at first by looking (the person knows it, unless
    the fault says otherwise), later by continuity, and when the figure rises twice the person turns.
    """
    hb, rng = p.habits, p.rng
    tx = p.active[name]
    row = p.last(name)
    if row is None:
        raise LostError("nothing shown")
    plan, done = plan_coarse(fault, row.metres, rng), Progress()
    want = _towards(p, tx, row)
    if plan.wrong_from is not None and plan.wrong_from > 1e8:
        want, done.out_until = want + math.pi, done.walked + plan.wrong_for
        plan.wrong_from = None
        note.planted.append("wrong_way at acquisition")
    lowest, rises, used, aimed_at, began = row.metres, 0, row.time, -99.0, p.time
    while True:
        if p.time - began > 240.0:
            raise LostError("coarse search too long")
        new = p.last(name)
        if new is not None and new.time > used:
            row, used = new, new.time
            if row.metres <= hb.fine_radius and done.free:
                return
            if done.walked - aimed_at >= hb.leg_m:
                aimed_at = done.walked
                flip = math.cos(row.arrow - want) < 0
                want = row.arrow + (math.pi if flip else 0.0)
            lowest = min(lowest, row.metres)
            rises = rises + 1 if done.free and row.metres > lowest + max(1.0, 0.08 * lowest) else 0
            if rises >= 2:
                for _ in range(int(0.4 * hb.reaction_s / DT)):
                    p.step(want, 0.6 * hb.coarse_speed)
                want, lowest, rises = want + math.pi, row.metres, 0
            want = _faults(p, plan, done, row.metres, want, note)
            if done.turned:
                done.turned, lowest = False, row.metres
        if done.out_until is not None and done.walked >= done.out_until:
            p.stand(rng.uniform(0.3, 3.0))
            want, done.out_until, lowest, rises = want + math.pi, None, row.metres, 0
        bias = plan.detour_angle if done.detour_until is not None else 0.0
        if done.detour_until is not None and done.walked >= done.detour_until:
            done.detour_until = None
        before = (p.c, p.u)
        p.step(want + bias, coarse_speed(p, row.metres))
        done.walked += math.hypot(p.c - before[0], p.u - before[1])


@dataclass
class Progress:
    """Where the coarse search stands."""

    walked: float = 0.0
    out_until: float | None = None
    detour_until: float | None = None
    turned: bool = False

    @property
    def free(self) -> bool:
        """No planted way off is running."""
        return self.out_until is None and self.detour_until is None


def _faults(p: Person, plan: Plan, done: Progress, metres: float, want: float, note: Found) -> float:
    if plan.wrong_from is not None and metres < plan.wrong_from:
        plan.wrong_from, done.out_until = None, done.walked + plan.wrong_for
        note.planted.append("wrong_way on the way")
        return want + math.pi
    if plan.detour_from is not None and metres < plan.detour_from:
        plan.detour_from, done.detour_until = None, done.walked + plan.detour_for
        note.planted.append("detour")
    if plan.stops and metres < plan.stops[0][0]:
        seconds = plan.stops.pop(0)[1]
        p.stand(seconds)
        note.planted.append(f"stop {seconds:.1f} s")
    return want


def _towards(p: Person, tx: Transmitter, row: Shown) -> float:
    """The arrow, in the sense in which the field grows."""

    def at(angle: float) -> float:
        c, u = p.c + math.cos(angle), p.u + math.sin(angle)
        return shown_distance(tx, (c, u, p.height), max(p.habits.antennas, 2), angle, 1.0)

    return row.arrow if at(row.arrow) < at(row.arrow + math.pi) else row.arrow + math.pi


def probe(p: Person, name: str, note: Found) -> None:
    """Lay the receiver down or put it away, then probe outwards in 0.25 m steps to the strike."""
    rng, tx = p.rng, p.active[name]
    put_away = rng.random() < 0.6
    spot = (p.c, p.u)
    note.settled = spot
    if not put_away:
        p.lying = spot
    for k in range(int(rng.uniform(3, 10) / DT)):
        p.speed = 0.0
        p.mute = put_away and (p.mute or k * DT > 1.5)
        p.advance()
    grid = [(0.25 * i, 0.25 * j) for i in range(-8, 9) for j in range(-8, 9)]
    turn = rng.uniform(0, 2 * math.pi)
    grid.sort(key=lambda g: (round(math.hypot(*g), 3), math.atan2(g[1], g[0])))
    reach = rng.uniform(0.15, 0.28)
    stance = (rng.uniform(0.0, 0.35), rng.uniform(0, 2 * math.pi))
    follows = rng.uniform(0.7, 1.0)
    away = (stance[0] * math.cos(stance[1]), stance[0] * math.sin(stance[1]))
    for g in grid:
        dc = g[0] * math.cos(turn) - g[1] * math.sin(turn)
        du = g[0] * math.sin(turn) + g[1] * math.cos(turn)
        _shuffle(p, (spot[0] + follows * dc + away[0], spot[1] + follows * du + away[1]), rng.uniform(1.8, 4.0))
        note.probe = (spot[0] + dc, spot[1] + du)
        if math.hypot(note.probe[0] - tx.c, note.probe[1] - tx.u) <= reach:
            note.strike_s = p.time
            p.lying, p.mute = None, False
            del p.active[name]
            p.pick = None
            return
    raise LostError("no strike")


def _shuffle(p: Person, to: Point, seconds: float) -> None:
    """Knees and boots: reach ``to`` smoothly within about half of the time."""
    for _ in range(int(seconds / DT)):
        dc, du = (to[0] - p.c) * DT / 0.6, (to[1] - p.u) * DT / 0.6
        p.c, p.u, p.speed = p.c + dc, p.u + du, math.hypot(dc, du) / DT
        p.advance()
