"""What the person does: search strips, follow the field, bracket, probe; and the planned faults."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analyzer.lab.examiner.field import Transmitter, shown_distance
from analyzer.lab.examiner.person import DT, Person, Shown

Point = tuple[float, float]


PAUSE_FROM_M = 4.5
"""The least reading at which everybody's pause of a moment lies."""


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
    legs: list[dict[str, Any]] = field(default_factory=list)
    settled: Point = (0.0, 0.0)
    probe: Point = (0.0, 0.0)
    planted: list[str] = field(default_factory=list)
    planted_s: float = 0.0  # of stops and dwelling


def strips(p: Person, route: list[Point], at: int, again: float = 0.0) -> int:
    """Walk the route from corner ``at`` until something is shown twice and noticed; next corner.

    ``again``: share of the first strip that is walked back and once more.
    """
    hb, rng = p.habits, p.lots("coarse", p.phase)
    notice = None
    pace = 1.0
    while at < len(route):
        to = route[at]
        if math.hypot(to[0] - p.c, to[1] - p.u) < 1.5:
            if again and at == 1:
                _once_more(
                    p, (p.c, p.u), (to[0] + again * (route[0][0] - to[0]), to[1] + again * (route[0][1] - to[1]))
                )
            at += 1
            continue
        pace += (1.0 - pace) * DT / 8.0 + 0.08 * math.sqrt(DT) * p.gait_lot.standard_normal() / 2
        p.step(math.atan2(to[1] - p.u, to[0] - p.c), hb.signal_speed * pace)
        recent = [s for s in p.shown if s.name == p.pick and s.time > p.time - 5.0]
        if notice is None and len(recent) >= 2:
            notice = p.time + rng.uniform(0.3, 1.0) * hb.reaction_s
        if notice is not None and p.time >= notice:
            if rng.random() < 0.6:
                p.stand(rng.uniform(0.6, 2.5))
            return at
    raise LostError("end of the route")


def _once_more(p: Person, end: Point, turn: Point) -> None:
    """Back along a strip that is done, and over it again."""
    p.stray()
    for to in (turn, end):
        while math.hypot(to[0] - p.c, to[1] - p.u) > 1.5:
            p.step(math.atan2(to[1] - p.u, to[0] - p.c), p.habits.signal_speed)
    p.resume()


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
    pauses: list[tuple[float, float]] = field(default_factory=list)  # the same, no fault: everybody's moment


def plan_coarse(fault: str, first: float, own: np.random.Generator, rng: np.random.Generator) -> Plan:
    """Draw when and how much; ``first`` is the first reading, ``own`` the lot of what everybody does."""
    plan = Plan()
    if own.random() < 0.4:
        if 0.9 * first < PAUSE_FROM_M:
            raise LostError("the first reading is too near for a pause on the way")
        plan.pauses = [(own.uniform(PAUSE_FROM_M, 0.9 * first), own.uniform(1.2, 2.5))]
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
    return plan


def follow(p: Person, name: str, fault: str, note: Found) -> None:
    """Follow the arrow until the fine radius is shown.

    The sense of the arrow is told by the readings: at first by looking (the person knows it, unless
    the fault says otherwise), later by continuity, and when the figure rises twice the person turns.
    """
    hb, tx = p.habits, p.active[name]
    row = p.last(name)
    if row is None:
        raise LostError("nothing shown")
    rng = p.lots("mistake", p.phase)
    plan, done = plan_coarse(fault, row.metres, p.lots("coarse", p.phase), rng), Progress()
    want = _towards(p, tx, row)
    if plan.wrong_from is not None and plan.wrong_from > 1e8:
        want = _faults(p, plan, done, row.metres, want, note)
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
        if done.out_until is not None and done.walked >= done.out_until:
            p.stand(rng.uniform(0.3, 3.0))
            want, done.out_until, lowest, rises = want + math.pi, None, row.metres, 0
        bias = plan.detour_angle if done.detour_until is not None else 0.0
        _over(p, done, name)
        before = (p.c, p.u)
        p.step(want + bias, coarse_speed(p, row.metres))
        done.walked += math.hypot(p.c - before[0], p.u - before[1])


@dataclass
class Progress:
    """Where the coarse search stands."""

    walked: float = 0.0
    out_until: float | None = None
    detour_until: float | None = None
    away_from: float | None = None  # range over ground that a wrong way has to regain

    @property
    def free(self) -> bool:
        """No planted way off is running."""
        return self.out_until is None and self.detour_until is None and self.away_from is None


def _over(p: Person, done: Progress, name: str) -> None:
    """End a mistake: a wrong way where the lost range is regained, a detour after its metres."""
    if done.out_until is None and done.away_from is not None and p.away(name) <= done.away_from:
        done.away_from = None
        p.resume()
    if done.detour_until is not None and done.walked >= done.detour_until:
        done.detour_until = None
        p.resume()


def _faults(p: Person, plan: Plan, done: Progress, metres: float, want: float, note: Found) -> float:
    if plan.wrong_from is not None and metres < plan.wrong_from:
        p.stray()
        plan.wrong_from, done.out_until, done.away_from = None, done.walked + plan.wrong_for, p.away(note.name)
        note.planted.append("wrong_way")
        return want + math.pi
    if plan.detour_from is not None and metres < plan.detour_from:
        p.stray()
        plan.detour_from, done.detour_until = None, done.walked + plan.detour_for
        note.planted.append("detour")
    if plan.pauses and metres < plan.pauses[0][0] and done.free:
        p.stand(plan.pauses.pop(0)[1])
    if plan.stops and metres < plan.stops[0][0] and done.free:
        seconds = plan.stops.pop(0)[1]
        p.stray()
        p.stand(seconds)
        p.resume()
        note.planted.append("standing")
        note.planted_s += seconds
    return want


def _towards(p: Person, tx: Transmitter, row: Shown) -> float:
    """The arrow, in the sense in which the field grows."""

    def at(angle: float) -> float:
        c, u = p.c + math.cos(angle), p.u + math.sin(angle)
        return shown_distance(tx, (c, u, p.height), max(p.habits.antennas, 2), angle, 1.0)

    return row.arrow if at(row.arrow) < at(row.arrow + math.pi) else row.arrow + math.pi


def probe(p: Person, name: str, fault: str, note: Found) -> None:
    """Lay the receiver down or put it away, then probe outwards in 0.25 m steps to the strike."""
    rng, tx = p.lots("probing", p.phase), p.active[name]
    put_away = rng.random() < 0.6
    spot = (p.c, p.u)
    note.settled = spot
    if not put_away:
        p.lying = spot
    for k in range(int(rng.uniform(3, 10) / DT)):
        p.speed = 0.0
        p.mute = put_away and (p.mute or k * DT > 1.5)
        p.advance()
    if fault == "long_probing":
        _dwell(p, spot, note)
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


def _dwell(p: Person, spot: Point, note: Found) -> None:
    """A probe that is stuck, or hole beside hole far beyond what is needed, in no order."""
    rng = p.lots("mistake", p.phase)
    seconds, stuck = rng.uniform(40, 90), rng.random() < 0.5
    end = p.time + seconds
    p.stray()
    while p.time < end:
        far, around = 0.0 if stuck else rng.uniform(0.1, 0.6), rng.uniform(0, 2 * math.pi)
        _shuffle(p, (spot[0] + far * math.cos(around), spot[1] + far * math.sin(around)), min(3.0, end - p.time + DT))
    p.resume()
    note.planted.append("long_probing")
    note.planted_s += seconds


def _shuffle(p: Person, to: Point, seconds: float) -> None:
    """Knees and boots: reach ``to`` smoothly within about half of the time."""
    for _ in range(int(seconds / DT)):
        dc, du = (to[0] - p.c) * DT / 0.6, (to[1] - p.u) * DT / 0.6
        p.c, p.u, p.speed = p.c + dc, p.u + du, math.hypot(dc, du) / DT
        p.advance()
