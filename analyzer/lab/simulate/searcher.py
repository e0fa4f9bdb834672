"""The searcher: a whole run walked in the slope plane, with the moments that mattered.

Signal search along the strips until a reading is shown, coarse search along the field line as the receiver shows it,
fine search by bracketing, probing, and on to the next transmitter. What goes wrong is said by a `FaultPlan`.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from analyzer.lab.simulate.bracketing import FineWalk, fine_search
from analyzer.lab.simulate.coarse import coarse_search
from analyzer.lab.simulate.faults import FaultPlan
from analyzer.lab.simulate.motion import State, Wish, drawn_sway, move, resumed, stand
from analyzer.lab.simulate.person import Person, drawn_person
from analyzer.lab.simulate.settings import SearcherSettings
from analyzer.lab.simulate.streams import SearchStreams, search_streams, stream
from analyzer.lab.simulate.world import Receiver, Source, reading_at

CORNER_M = 1.5


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
    again: float | None = None
    """Share of the first strip that is walked over once more."""


def walk_run(
    sources: tuple[Source, ...],
    receiver: Receiver,
    strips: StripPlan,
    plans: Mapping[str, FaultPlan],
    settings: SearcherSettings,
    *,
    seed: int,
) -> Walk:
    """Return the run of one searcher through all `sources`, nearest reading first.

    Parameters
    ----------
    plans : mapping
        Fault plan per transmitter id; a transmitter without an entry is searched without fault.
    seed : int
        Of the streams of the run.
    """
    person = drawn_person(settings, drawn_sway(stream(seed, "sway")), stream(seed, "person"))
    streams = search_streams(seed, 0)
    states = [_start(strips, settings)]
    _begin(states, streams)
    found: list[Found] = []
    corners, left = list(strips.corners[1:]), list(sources)
    again = _first_strip_again(states[-1], corners, strips, person)
    states += again
    faults: list[Done] = []
    while left:
        part, source, at_once = _until_shown(states[-1], left, receiver, corners, strips, person, first=not found)
        states += part
        shown_s = states[-1].t if part else states[-1].t + person.next_shown_s
        faults = faults if found else _of_strips(source, shown_s, strips, again)
        states += [] if at_once else _react(states[-1], corners, person, streams.coarse)
        plan = plans.get(source.id, FaultPlan())
        _begin(states, streams)
        part, did = coarse_search(states[-1], source, receiver, person, plan, strips.reception_m, streams.coarse)
        states += part
        radius_s = states[-1].t
        _begin(states, streams)
        part, fine = fine_search(states[-1], source, receiver, person, plan, streams)
        states += part
        faults += [Done(n, source.id, a, b, m, u) for n, a, b, m, u in (*did, *fine.faults)]
        found.append(Found(source, shown_s, at_once, radius_s, fine))
        left.remove(source)
        seconds = float(streams.probing.uniform(1.0, 3.0)) if left else 2.0 + settings.hold_s
        states += stand(states[-1], seconds=seconds, height=settings.fine_height_m)
        streams = search_streams(seed, len(found))
        _begin(states, streams)
    return Walk(tuple(states), tuple(found), tuple(faults), person)


def _begin(states: list[State], streams: SearchStreams) -> None:
    """Let a phase begin at a beat of its own, however long the one before it was."""
    states[-1] = states[-1]._replace(beat=int(streams.sway.integers(1 << 20)))


def _start(strips: StripPlan, settings: SearcherSettings) -> State:
    (x0, y0), (x1, y1) = strips.corners[:2]
    ahead = math.hypot(x1 - x0, y1 - y0)
    return State(0.0, x0, y0, height=settings.carry_height_m, hx=(x1 - x0) / ahead, hy=(y1 - y0) / ahead)


def _first_strip_again(s: State, corners: list[tuple[float, float]], strips: StripPlan, person: Person) -> list[State]:
    """Return the first strip, which meets nothing, and a share of it to and fro once more; nothing where not planned.

    The corner reached is taken off `corners`.
    """
    if strips.again is None:
        return []
    (x0, y0), end = strips.corners[:2]
    turn = (end[0] + strips.again * (x0 - end[0]), end[1] + strips.again * (y0 - end[1]))
    states, beat = [s], 0
    for target in (end, turn, end):
        there = partial(_near, target=target, within_m=CORNER_M)
        states += move(states[-1], _strip_wish(target, person), until=there, limit_s=300.0)
        beat = beat or states[-1].beat
    corners.pop(0)
    return resumed(states, beat)[1:]


def _of_strips(source: Source, shown_s: float, strips: StripPlan, again: list[State]) -> list[Done]:
    """Return the faults of the signal search as carried out."""
    if strips.missed:
        return [Done("missed_strip", source.id, 0.0, shown_s, shown_s, "s")]
    if not again:
        return []
    metres = 2.0 * (strips.again or 0.0) * math.dist(*strips.corners[:2])
    there = next(q.t for q in again if _near(q, strips.corners[1], CORNER_M))
    return [Done("covered_twice", source.id, there, again[-1].t, metres, "m")]


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
            return nearest(q)[0] <= strips.reception_m or _near(q, target, CORNER_M)

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
        heading = math.atan2(target[1] - q.y, target[0] - q.x) + 0.08 * person.sway.at("steering", q.beat)
        pace = person.signal_pace_mps * (1.0 + 0.06 * person.sway.at("pace", q.beat))
        return Wish(pace * math.cos(heading), pace * math.sin(heading), person.carry_at(q.beat))

    return wish
