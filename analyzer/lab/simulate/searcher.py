"""The searcher: a whole run walked in the slope plane, with the moments that mattered.

Signal search along the strips until a reading is shown, coarse search along the field line as the receiver shows it,
fine search by bracketing, probing, and on to the next transmitter. What goes wrong is said by a `FaultPlan`.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.lab.simulate.bracketing import FineWalk, fine_search
from analyzer.lab.simulate.coarse import coarse_search
from analyzer.lab.simulate.faults import FaultPlan
from analyzer.lab.simulate.motion import State, Wish, drawn_sway, move, stand
from analyzer.lab.simulate.person import Person, drawn_person
from analyzer.lab.simulate.settings import SearcherSettings
from analyzer.lab.simulate.world import Receiver, Source, reading_at


@dataclass(frozen=True, slots=True)
class Done:
    """A fault as it was carried out: between which times, how large, in which unit."""

    name: str
    transmitter: str
    from_s: float
    to_s: float
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The moments of the search for one transmitter. `shown_s`: from when on the receiver shows it.

    `at_once`: it was shown without a signal search. `radius_s`: the reading without noise has fallen to the radius.
    """

    source: Source
    shown_s: float
    at_once: bool
    radius_s: float
    fine: FineWalk


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """A whole run. `states`: one per STEP_S from time 0, the start. `person`: who walked it."""

    states: tuple[State, ...]
    found: tuple[Found, ...]
    faults: tuple[Done, ...]
    person: Person


@dataclass(frozen=True, slots=True)
class StripPlan:
    """Where the signal search goes: corner points in order, slope-plane metres; the first is the start."""

    corners: tuple[tuple[float, float], ...]
    reception_m: float
    missed: bool = False


def walk_run(
    sources: tuple[Source, ...],
    receiver: Receiver,
    strips: StripPlan,
    plans: dict[str, FaultPlan],
    settings: SearcherSettings,
    rng: np.random.Generator,
) -> Walk:
    """Return the run of one searcher through all `sources`, nearest reading first.

    Parameters
    ----------
    plans : dict
        Fault plan per transmitter id; a transmitter without an entry is searched without fault.
    """
    person = drawn_person(settings, drawn_sway(rng), rng)
    (x0, y0), (x1, y1) = strips.corners[:2]
    ahead = math.hypot(x1 - x0, y1 - y0)
    s = State(0.0, x0, y0, height=settings.carry_height_m, hx=(x1 - x0) / ahead, hy=(y1 - y0) / ahead)
    states: list[State] = [s]
    found: list[Found] = []
    faults: list[Done] = []
    corners = list(strips.corners[1:])
    left = list(sources)
    while left:
        part, source, at_once = _until_shown(states[-1], left, receiver, corners, strips, person, first=not found)
        states += part
        shown_s = states[-1].t if part else states[-1].t + person.next_shown_s
        if not found and strips.missed:
            faults.append(Done("missed_strip", source.id, 0.0, shown_s, shown_s, "s"))
        plan = plans.get(source.id, FaultPlan())
        states += [] if at_once else _react(states[-1], corners, person, rng)
        coarse, did = coarse_search(states[-1], source, receiver, person, plan, strips.reception_m, rng)
        states += coarse
        radius_s = states[-1].t
        fine_states, fine = fine_search(states[-1], source, receiver, person, plan, rng)
        states += fine_states
        faults += [Done(n, source.id, a, b, m, u) for n, a, b, m, u in (*did, *fine.faults)]
        found.append(Found(source, shown_s, at_once, radius_s, fine))
        left.remove(source)
        states += stand(
            states[-1],
            seconds=float(rng.uniform(1.0, 3.0)) if left else 2.0 + settings.hold_s,
            height=settings.fine_height_m,
        )
    return Walk(tuple(states), tuple(found), tuple(faults), person)


def _until_shown(
    s: State,
    left: list[Source],
    receiver: Receiver,
    corners: list[tuple[float, float]],
    strips: StripPlan,
    person: Person,
    *,
    first: bool,
) -> tuple[list[State], Source, bool]:
    """Return the signal search up to the first reading in range, whose it is, and whether it was there at once.

    Corners passed are taken off `corners`; when they run out the searcher goes over the area again.
    """

    def nearest(q: State) -> tuple[float, Source]:
        return min(
            ((reading_at(w, receiver, q.x, q.y, q.height, (q.hx, q.hy)), w) for w in left), key=lambda pair: pair[0]
        )

    reading, source = nearest(s)
    if not first and reading <= strips.reception_m:
        return [], source, True
    states: list[State] = []
    while True:
        if not corners:
            corners.extend(strips.corners)
        target = corners[0]

        def enough(q: State, target: tuple[float, float] = target) -> bool:
            return nearest(q)[0] <= strips.reception_m or _near(q, target, 1.5)

        states += move(s, _strip_wish(target, person), until=enough, limit_s=300.0)
        s = states[-1]
        reading, source = nearest(s)
        if reading <= strips.reception_m:
            return states, source, False
        corners.pop(0)


def _react(s: State, corners: list[tuple[float, float]], person: Person, rng: np.random.Generator) -> list[State]:
    """Return the second or two until the first reading is noticed: the searcher walks on."""
    target = corners[0]
    return move(
        s, _strip_wish(target, person), until=lambda q: _near(q, target, 0.5), limit_s=float(rng.uniform(1.0, 2.2))
    )


def _near(q: State, target: tuple[float, float], within_m: float) -> bool:
    return math.hypot(target[0] - q.x, target[1] - q.y) < within_m


def _strip_wish(target: tuple[float, float], person: Person) -> Callable[[State], Wish]:
    """Return the wish to walk to a corner of the strips, swaying."""

    def wish(q: State) -> Wish:
        heading = math.atan2(target[1] - q.y, target[0] - q.x) + 0.08 * person.sway.at("steering", q.t)
        pace = person.signal_pace_mps * (1.0 + 0.06 * person.sway.at("pace", q.t))
        return Wish(pace * math.cos(heading), pace * math.sin(heading), person.carry_at(q.t))

    return wish
