"""The coarse search: the field line as the receiver shows it, down to the fine-search radius."""

import math

import numpy as np

from analyzer.lab.simulate.faults import FaultPlan, WrongWay
from analyzer.lab.simulate.motion import STEP_S, State, Wish, rotated, stand, step
from analyzer.lab.simulate.person import Person
from analyzer.lab.simulate.world import Receiver, Source, line_direction, reading_at

Deed = tuple[str, float, float, float, str]
"""A fault carried out: name, from, to, amount, unit."""


def coarse_search(
    s: State,
    source: Source,
    receiver: Receiver,
    person: Person,
    plan: FaultPlan,
    reception_m: float,
    rng: np.random.Generator,
) -> tuple[list[State], list[Deed]]:
    """Return the states up to the moment the reading has fallen to the fine-search radius, and the faults done.

    Where the reading cannot fall that far (deep burial), the search ends where it has begun to rise again inside 6 m.
    """
    states: list[State] = []
    deeds: list[Deed] = []
    first = _reading(s, source, receiver)
    stops = [(share * first, seconds) for share, seconds in plan.standing.stops] if plan.standing else []
    short = [r for r in person.short_stops if r < 0.9 * first]
    wrong, detour, lowest = plan.wrong_way, plan.detour, math.inf
    end = s.t + 600.0
    while s.t < end:
        reading = _reading(s, source, receiver)
        lowest = min(lowest, reading)
        if reading <= person.settings.fine_radius_m or (lowest < 6.0 and reading > lowest + 0.3):
            break
        part: list[State] = []
        turns = wrong is not None and reading <= max(wrong.after * first, 8.0)
        if wrong and turns and _can_turn(s, source, wrong.metres, reading, reception_m):
            part = _wrong_way(s, source, receiver, person, wrong)
            out_m = max(_range(q, source) for q in part) - _range(s, source)
            deeds.append(("wrong_way", s.t, part[-1].t, out_m, "m"))
            wrong = None
        elif detour and reading <= max(detour.after * first, 9.0) and _along_range(s, source, person) > 0.8:
            part = _straight(s, source, receiver, person, detour.angle_rad, min(detour.metres, 0.7 * reading))
            deeds.append(("detour", s.t, part[-1].t, min(detour.metres, 0.7 * reading), "m"))
            detour = None
        elif stops and reading <= max(stops[0][0], 5.0):
            part = stand(s, seconds=stops[0][1], height=person.carry_at(s.t))
            deeds.append(("standing", s.t, part[-1].t, stops.pop(0)[1], "s"))
        elif short and reading <= max(short):
            short.remove(max(short))
            part = _falter(s, person, float(rng.uniform(0.2, 0.5)))
        if not part:
            part = [step(s, _wish(s, source, receiver, person, plan))]
        states += part
        s = states[-1]
    return states, deeds


def _reading(s: State, source: Source, receiver: Receiver) -> float:
    return reading_at(source, receiver, s.x, s.y, s.height, (s.hx, s.hy))


def _shown(s: State, source: Source, person: Person) -> tuple[float, float]:
    """Return the direction the searcher walks: the field line as shown, with this person's unsteadiness."""
    facing = (s.vx, s.vy) if s.speed > 0.2 else (s.hx, s.hy)
    ahead = line_direction(source, s.x, s.y, s.height, facing)
    return rotated(ahead, person.steering_rad * person.sway.at("steering", s.t))


def _wish(s: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan) -> Wish:
    reading = _reading(s, source, receiver)
    pace = person.pace_at(reading, s.t)
    if plan.late_slow_down:
        pace = max(pace, plan.late_slow_down.pace_mps)
    dx, dy = _shown(s, source, person)
    return Wish(pace * dx, pace * dy, person.carry_at(s.t))


def _range(s: State, source: Source) -> float:
    return math.hypot(s.x - source.x, s.y - source.y)


def _along_range(s: State, source: Source, person: Person) -> float:
    """Return the cosine between the direction shown and the straight way to the transmitter."""
    dx, dy = _shown(s, source, person)
    return (dx * (source.x - s.x) + dy * (source.y - s.y)) / (_range(s, source) or 1.0)


def _can_turn(s: State, source: Source, metres: float, reading: float, reception_m: float) -> bool:
    """Tell whether going back along the line from here raises the range, and keeps the signal."""
    cx, cy = line_direction(source, s.x, s.y, s.height, (s.hx, s.hy))
    toward = (cx * (source.x - s.x) + cy * (source.y - s.y)) / (_range(s, source) or 1.0)
    return toward > 0.6 and (reading + 1.3 * metres < reception_m or reading < 0.5 * reception_m)


def _wrong_way(s: State, source: Source, receiver: Receiver, person: Person, wrong: WrongWay) -> list[State]:
    """Return the way out along the line until the searcher turns, the stop there included."""
    states: list[State] = []
    aim, end = _range(s, source) + wrong.metres, s.t + wrong.longest_s
    while s.t < end and _range(s, source) < aim:
        cx, cy = _shown(s, source, person)
        pace = person.pace_at(_reading(s, source, receiver), s.t)
        s = step(s, Wish(-pace * cx, -pace * cy, person.carry_at(s.t)))
        states.append(s)
    return states + stand(s, seconds=wrong.notice_s, height=s.height)


def _straight(
    s: State, source: Source, receiver: Receiver, person: Person, angle_rad: float, metres: float
) -> list[State]:
    """Return a straight walk of `metres` that leaves the shown direction by `angle_rad`."""
    states: list[State] = []
    ux, uy = rotated(_shown(s, source, person), angle_rad)
    walked, end = 0.0, s.t + 60.0
    while s.t < end and walked < metres:
        pace = person.pace_at(_reading(s, source, receiver), s.t)
        s = step(s, Wish(pace * ux, pace * uy, person.carry_at(s.t)))
        walked += s.speed * STEP_S
        states.append(s)
    return states


def _falter(s: State, person: Person, seconds: float) -> list[State]:
    """Return a moment of slowing, well under a second of standing: everybody does it."""
    states: list[State] = []
    vx, vy = 0.15 * s.vx, 0.15 * s.vy
    for _ in range(round((0.5 + seconds) / STEP_S)):
        s = step(s, Wish(vx, vy, person.carry_at(s.t)))
        states.append(s)
    return states
