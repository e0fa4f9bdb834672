"""The fine search, low over the snow: along the entry line past the lowest reading, back, across, and the probing."""

import math
from dataclasses import dataclass

import numpy as np

from analyzer.lab.simulate.faults import FaultPlan, LongProbing
from analyzer.lab.simulate.motion import STANDING_MPS, State, Wish, move, rotated, stand, step, walk_to
from analyzer.lab.simulate.person import Person
from analyzer.lab.simulate.streams import SearchStreams
from analyzer.lab.simulate.world import Receiver, Source, reading_at

DISPLAY_STEP_M, LOWERED_M = 0.1, 0.2
Point = tuple[float, float]
Low = tuple[float, float, float]
"""A lowest reading and where it was shown."""


@dataclass(frozen=True, slots=True)
class TrueLeg:
    """One straight leg of the bracketing, `line` 0 the entry line, 1 the crossing line, 2.. further lines.

    From and to: slope-plane metres and seconds. `past_m`: how far beyond the lowest reading of its line it went.
    """

    line: int
    from_s: float
    to_s: float
    from_m: Point
    to_m: Point
    past_m: float


@dataclass(frozen=True, slots=True)
class FineWalk:
    """The moments of a fine search and its probing. `settled_m`: where the fine search ended (slope plane)."""

    legs: tuple[TrueLeg, ...]
    settled_s: float
    settled_m: Point
    hit_s: float
    faults: tuple[tuple[str, float, float, float, str], ...]


@dataclass(frozen=True, slots=True)
class Style:
    """How this person brackets: pace, pauses, how far past the lowest reading (rise of reading, distance at most)."""

    pace_mps: float
    pause_s: tuple[float, float]
    rise_m: float
    arm_m: float
    crossing_rad: float
    lines: int


def _style(person: Person, plan: FaultPlan, rng: np.random.Generator) -> Style:
    pace, pause = person.bracket_pace_mps, person.settings.turn_pause_s
    if plan.rushed_bracketing:
        pace, pause = plan.rushed_bracketing.pace_mps, (0.0, 0.2)
    rise, arm = person.rise_m, 2.2
    if plan.narrow_bracketing:
        rise, arm = math.inf, plan.narrow_bracketing.arm_m
    crossing = math.pi / 2 + float(np.clip(rng.normal(0.0, 0.07), -0.17, 0.17))
    if plan.oblique_bracketing:
        crossing = plan.oblique_bracketing.angle_rad
    lines = 2 + (plan.extra_lines.lines if plan.extra_lines else 0)
    return Style(pace, pause, rise, arm, crossing * float(rng.choice([-1.0, 1.0])), lines)


def fine_search(
    s: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan, streams: SearchStreams
) -> tuple[list[State], FineWalk]:
    """Return the states from the fine-search radius to the probe hit, and the moments in between."""
    rng, aside, began = streams.bracket, streams.aside, s.t
    style = _style(person, plan, rng)
    ahead, height = (s.hx, s.hy), person.settings.fine_height_m
    states, legs, low = _entry(s, source, receiver, person, plan, style, ahead)
    line, lines = 0, style.lines
    while line + 1 < lines:
        line += 1
        turn = style.crossing_rad if line == 1 else style.crossing_rad + float(aside.uniform(0.6, 2.4))
        way, own = rotated(ahead, turn), rng if line == 1 else aside
        part, walked, found = _line(states[-1], source, receiver, person, style, way, line, low, own)
        states += part
        legs += walked
        # With one or two antennas a line can end in a false lowest reading: who finds a lower one goes on.
        if receiver.antennas < 3 and found[0] < low[0] - 0.25 and line + 1 == lines and lines < style.lines + 2:
            lines += 1
        # A further line tells something only where the display shows it.
        low = found if line == 1 or found[0] < low[0] - DISPLAY_STEP_M else low
    ended = states[-1].t
    target = _about(low[1:], rng, 0.06)
    if plan.off_lowest:
        away = rotated((plan.off_lowest.metres, 0.0), float(aside.uniform(0.0, 2.0 * math.pi)))
        target = (low[1] + away[0], low[2] + away[1])
    states += walk_to(states[-1], target, pace=min(style.pace_mps, 0.5), height=height, hold=True)
    states += move(
        states[-1], lambda _: Wish(0.0, 0.0, height, True), until=lambda q: q.speed < STANDING_MPS, limit_s=5.0
    )
    settled = states[-1]
    states += _probing(settled, source, person, plan, streams.probing)
    faults = _deeds(plan, legs, began, ended, settled.t, states[-1].t)
    return states, FineWalk(tuple(legs), settled.t, (settled.x, settled.y), states[-1].t, faults)


def _line(
    s: State,
    source: Source,
    receiver: Receiver,
    person: Person,
    style: Style,
    across: Point,
    line: int,
    low: Low,
    rng: np.random.Generator,
) -> tuple[list[State], list[TrueLeg], Low]:
    """Return a line over the lowest reading so far, both ways: back to it, one side, through to the other side."""
    height = person.settings.fine_height_m
    states = stand(s, seconds=_pause(style, rng), height=height)
    states += walk_to(states[-1], _about(low[1:], rng, 0.08), pace=style.pace_mps, height=height, hold=True)
    pause_s = _pause(style, rng)
    if style.pause_s[1] > 0.3:
        states += stand(states[-1], seconds=pause_s, height=height)
    legs, lows = [], [_lowness(states[-1], source, receiver, height)]
    for way in (1.0, -1.0):
        part, leg, found = _leg(
            states[-1], source, receiver, person, style, (way * across[0], way * across[1]), line, start_low=min(lows)
        )
        states += part
        states += stand(states[-1], seconds=_pause(style, rng), height=height)
        legs.append(leg)
        lows.append(found)
    return states, legs, min(lows)


def _pause(style: Style, rng: np.random.Generator) -> float:
    return float(rng.uniform(*style.pause_s))


def _about(point: Point, rng: np.random.Generator, sigma_m: float) -> Point:
    """Return the point as a person finds it again: the display is coarse and a second old."""
    return point[0] + float(rng.normal(0.0, sigma_m)), point[1] + float(rng.normal(0.0, sigma_m))


def _lowness(s: State, source: Source, receiver: Receiver, low_m: float) -> Low:
    """Return the reading as the person takes it, held low: what the hand's wobble does to it is not followed."""
    height = low_m if s.height < low_m + LOWERED_M else s.height
    return reading_at(source, receiver, s.x, s.y, height, (s.hx, s.hy)), s.x, s.y


def _entry(
    s: State, source: Source, receiver: Receiver, person: Person, plan: FaultPlan, style: Style, ahead: Point
) -> tuple[list[State], list[TrueLeg], Low]:
    """Return the first line: on past the lowest reading; a late slow-down runs through first."""
    late = plan.late_slow_down
    if late:
        fast = Style(late.pace_mps, style.pause_s, late.rise_m, 4.5, style.crossing_rad, style.lines)
        states, leg, low = _leg(s, source, receiver, person, fast, ahead, 0)
    else:
        states, leg, low = _leg(s, source, receiver, person, style, ahead, 0)
    return states, [leg], low


def _leg(
    s: State,
    source: Source,
    receiver: Receiver,
    person: Person,
    style: Style,
    ahead: Point,
    line: int,
    start_low: Low | None = None,
) -> tuple[list[State], TrueLeg, Low]:
    """Return a straight leg until the reading has risen or the arm is long enough, its record and its lowest."""
    begin, states, height = s, [], person.settings.fine_height_m
    low = start_low or _lowness(s, source, receiver, height)
    pace = style.pace_mps
    if style.pace_mps < person.near_pace_mps and line == 0:
        # The entry line is begun at the coarse search's last pace and slowed over a metre or so.
        pace = 0.5 * (style.pace_mps + person.near_pace_mps)
    end = s.t + 90.0
    while s.t < end:
        side = (s.y - begin.y) * ahead[0] - (s.x - begin.x) * ahead[1]
        aside = -0.8 * (side - 0.03 * person.sway.at("leg", s.beat))
        if s.t - begin.t > 2.0:
            pace = style.pace_mps
        s = step(
            s,
            Wish(pace * ahead[0] - aside * ahead[1], pace * ahead[1] + aside * ahead[0], person.fine_at(s.beat), True),
        )
        states.append(s)
        here = _lowness(s, source, receiver, height)
        low = min(low, here)
        past = (s.x - low[1]) * ahead[0] + (s.y - low[2]) * ahead[1]
        down = s.height < height + LOWERED_M
        if down and (here[0] > low[0] + style.rise_m or past > style.arm_m) and past > 0.1:
            break
    states += move(
        s, lambda q: Wish(0.0, 0.0, person.fine_at(q.beat), True), until=lambda q: q.speed < 0.05, limit_s=5.0
    )
    s = states[-1]
    past = (s.x - low[1]) * ahead[0] + (s.y - low[2]) * ahead[1]
    return states, TrueLeg(line, begin.t, s.t, (begin.x, begin.y), (s.x, s.y), past), low


def _probing(s: State, source: Source, person: Person, plan: FaultPlan, rng: np.random.Generator) -> list[State]:
    """Return the probing: standing, with shifts of a step at most, up to the hit over the transmitter."""
    off = plan.off_lowest
    states = stand(s, seconds=off.seconds if off else 0.4 * person.probing_s, height=person.settings.fine_height_m)
    if plan.long_probing:
        states += _dwelling(states[-1], person, plan.long_probing)
    hit = _about((source.x, source.y), rng, 0.12)
    far = math.hypot(hit[0] - s.x, hit[1] - s.y)
    shifts = max(1, math.ceil(far / 0.35))
    # Longer the further off, without a jump where one more shift is needed.
    end = states[-1].t + max(0.6 * person.probing_s + 1.5, 14.0 * far)
    for i in range(1, shifts + 1):
        share = i / shifts
        spot = (s.x + share * (hit[0] - s.x), s.y + share * (hit[1] - s.y))
        states += walk_to(states[-1], spot, pace=0.3, height=person.settings.fine_height_m, hold=True)
        states += stand(
            states[-1], seconds=(end - states[-1].t) / (shifts + 1 - i), height=person.settings.fine_height_m
        )
    return states


def _dwelling(s: State, person: Person, long: LongProbing) -> list[State]:
    """Return probing that goes on where it began: on one place, or a step to each side in turn and back."""
    height, states, end = person.settings.fine_height_m, [s], s.t + long.seconds
    turn = 0
    while long.wide and end - states[-1].t > 12.0:
        aside = rotated((0.3, 0.0), 0.5 * math.pi * turn)
        for spot in ((s.x + aside[0], s.y + aside[1]), (s.x, s.y)):
            states += walk_to(states[-1], spot, pace=0.3, height=height, hold=True)
            states += stand(states[-1], seconds=2.0, height=height)
        turn += 1
    states += stand(states[-1], seconds=end - states[-1].t, height=height)
    return states[1:]


def _deeds(
    plan: FaultPlan, legs: list[TrueLeg], began: float, ended: float, settled: float, hit: float
) -> tuple[tuple[str, float, float, float, str], ...]:
    """Return the fine-search faults of the plan as carried out."""
    deeds: list[tuple[str, float, float, float, str]] = []
    if plan.late_slow_down:
        deeds.append(("late_slow_down", began, legs[0].to_s, plan.late_slow_down.pace_mps, "m/s"))
    if plan.rushed_bracketing:
        deeds.append(("rushed_bracketing", began, ended, plan.rushed_bracketing.pace_mps, "m/s"))
    if plan.narrow_bracketing:
        deeds.append(("narrow_bracketing", began, ended, plan.narrow_bracketing.arm_m, "m"))
    if plan.oblique_bracketing:
        crossing = [leg for leg in legs if leg.line == 1]
        deeds.append(
            (
                "oblique_bracketing",
                crossing[0].from_s,
                crossing[-1].to_s,
                math.degrees(plan.oblique_bracketing.angle_rad),
                "deg",
            )
        )
    if plan.extra_lines:
        more = [leg for leg in legs if leg.line > 1]
        deeds.append(("extra_lines", more[0].from_s, more[-1].to_s, float(plan.extra_lines.lines), "lines"))
    if plan.off_lowest:
        deeds.append(("off_lowest", settled, hit, plan.off_lowest.metres, "m"))
    if plan.long_probing:
        deeds.append(("long_probing", settled, hit, plan.long_probing.seconds, "s"))
    return tuple(deeds)
