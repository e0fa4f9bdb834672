"""The coarse search: the field line as the receiver shows it, down to the fine-search radius."""

import math

import numpy as np

from analyzer.lab.simulate.faults import FaultPlan, WrongWay
from analyzer.lab.simulate.motion import STANDING_MPS, STEP_S, State, Wish, move, resumed, rotated, stand, step
from analyzer.lab.simulate.person import Person
from analyzer.lab.simulate.world import Receiver, Source, line_direction, reading_at

NO_LOWER_S, ASKANCE_RAD = 6.0, 1.1
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

    Where the reading cannot fall that far (deep burial), the search ends where it has begun to rise again inside 6 m or
    has not fallen there for NO_LOWER_S.
    """
    states: list[State] = []
    deeds: list[Deed] = []
    first = _reading(s, source, receiver)
    stops = [(share * first, seconds) for share, seconds in plan.standing.stops] if plan.standing else []
    short = [r for r in person.short_stops if r < 0.9 * first]
    wrong, detour, lowest, since = plan.wrong_way, plan.detour, math.inf, s.t
    end = s.t + 600.0
    while s.t < end:
        reading = _reading(s, source, receiver)
        if reading < lowest - 0.02:
            lowest, since = reading, s.t
        past = reading > lowest + 0.3 or s.t > since + NO_LOWER_S
        if reading <= person.settings.fine_radius_m or (lowest < 6.0 and past):
            break
        part: list[State] = []
        turns = wrong is not None and reading <= max(wrong.after * first, 8.0)
        if wrong and turns and _can_turn(s, source, wrong.metres, reading, reception_m):
            part = _wrong_way(s, source, receiver, person, wrong)
            out_m = max(_range(q, source) for q in part) - _range(s, source)
            deeds.append(("wrong_way", s.t, part[-1].t, out_m, "m"))
            part = resumed(part + _way_back(part[-1], s, source, receiver, person, plan), s.beat)
            wrong = None
        elif detour and reading <= max(detour.after * first, 9.0) and _along_range(s, source, person) > 0.8:
            part = _straight(s, source, receiver, person, detour.angle_rad, min(detour.metres, 0.7 * reading))
            part = resumed(part, s.beat)
            deeds.append(("detour", s.t, part[-1].t, min(detour.metres, 0.7 * reading), "m"))
            detour = None
        elif stops and reading <= max(stops[0][0], 5.0):
            part = _stop(s, source, receiver, person, plan, stops[0][1])
            still = [q.t for q in part if q.speed < STANDING_MPS]
            deeds.append(("standing", s.t, still[-1], stops.pop(0)[1], "s"))
        elif short and reading <= max(short):
            short.remove(max(short))
            part = _falter(s, person, float(rng.uniform(0.2, 0.5)))
        if not part:
            part = [step(s, _wish(s, source, receiver, person, plan))]
        states += part
        s = states[-1]
        since = s.t if len(part) > 1 else since
    return states, deeds


def _reading(s: State, source: Source, receiver: Receiver) -> float:
    return reading_at(source, receiver, s.x, s.y, s.height, (s.hx, s.hy))


def _shown(s: State, source: Source, person: Person) -> tuple[float, float]:
    """Return the direction the searcher walks: the field line as shown, with this person's unsteadiness."""
    facing = (s.vx, s.vy) if s.speed > 0.2 else (s.hx, s.hy)
    ahead = line_direction(source, s.x, s.y, s.height, facing)
    return rotated(ahead, person.steering_rad * person.sway.at("steering", s.beat))


def _wish(s: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan) -> Wish:
    reading = _reading(s, source, receiver)
    pace = person.pace_at(reading, s.beat)
    if plan.late_slow_down:
        pace = max(pace, plan.late_slow_down.pace_mps)
    dx, dy = _shown(s, source, person)
    return Wish(pace * dx, pace * dy, person.carry_at(s.beat))


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
        pace = person.pace_at(_reading(s, source, receiver), s.beat)
        s = step(s, Wish(-pace * cx, -pace * cy, person.carry_at(s.beat)))
        states.append(s)
    return states + stand(s, seconds=wrong.notice_s, height=s.height)


def _stop(s: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan, seconds: float) -> list[State]:
    """Return a stop and the steps until the pace is taken up again, where this person goes on as without it."""
    states = stand(s, seconds=seconds, height=person.carry_at(s.beat))
    states += move(
        states[-1],
        lambda q: _wish(q, source, receiver, person, plan),
        until=lambda q: q.speed > 0.97 * s.speed,
        limit_s=5.0,
    )
    without_s = math.dist((s.x, s.y), (states[-1].x, states[-1].y)) / max(s.speed, 0.1)
    return resumed(states, s.beat + round(without_s / STEP_S))


def _way_back(
    s: State, turned: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan
) -> list[State]:
    """Return the way back along the line until the range at which the searcher had turned away is regained."""
    return move(
        s,
        lambda q: _wish(q, source, receiver, person, plan),
        until=lambda q: _range(q, source) <= _range(turned, source),
        limit_s=120.0,
    )


def _straight(
    s: State, source: Source, receiver: Receiver, person: Person, angle_rad: float, metres: float
) -> list[State]:
    """Return a straight walk of `metres` that leaves the shown direction by `angle_rad`, away from the transmitter.

    To the other side it would often be the short cut across the bend of the line, and no detour; more than
    ASKANCE_RAD off the way to the transmitter it would be a wrong way.
    """
    states: list[State] = []
    ahead, to = _shown(s, source, person), (source.x - s.x, source.y - s.y)
    off = math.atan2(to[0] * ahead[1] - to[1] * ahead[0], to[0] * ahead[0] + to[1] * ahead[1])
    askance = math.copysign(min(abs(off) + angle_rad, ASKANCE_RAD), off)
    far = math.hypot(*to) or 1.0
    ux, uy = rotated((to[0] / far, to[1] / far), askance)
    walked, end = 0.0, s.t + 60.0
    while s.t < end and walked < metres:
        pace = person.pace_at(_reading(s, source, receiver), s.beat)
        s = step(s, Wish(pace * ux, pace * uy, person.carry_at(s.beat)))
        walked += s.speed * STEP_S
        states.append(s)
    return states


def _falter(s: State, person: Person, seconds: float) -> list[State]:
    """Return a moment of slowing, well under a second of standing: everybody does it."""
    states: list[State] = []
    vx, vy = 0.15 * s.vx, 0.15 * s.vy
    for _ in range(round((0.5 + seconds) / STEP_S)):
        s = step(s, Wish(vx, vy, person.carry_at(s.beat)))
        states.append(s)
    return states
