"""A person with a receiver: how this one walks, and the body that carries it out.

The path is made in time steps of 0.05 s: a wanted direction and a wanted speed go in, turning rate,
reluctance to run round a bend and a time constant of the pace do the rest, and a sideways sway of
the gait and a bob of the hand are laid over it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.lab.examiner.field import Transmitter, arrow, shown_distance
from analyzer.lab.examiner.streams import Lots

DT = 0.05
STILL = 0.15  # m/s: slower is standing


@dataclass(frozen=True)
class Habits:
    """What differs between people and between receivers."""

    antennas: int
    scale: float
    range_m: float
    pulse_s: float
    reading_noise: float
    noise_memory: float
    arrow_noise: float
    carry_m: float
    fine_m: float
    signal_speed: float
    coarse_speed: float
    speed_at_3: float
    slow_from: float
    pace: str
    fine_speed: float
    fine_radius: float
    turn_rate: float
    pace_s: float
    reaction_s: float
    leg_m: float
    weave: float
    sway_m: float
    pause_s: float


def draw_habits(antennas: int, range_m: float, rushed: bool, late: bool, rng: np.random.Generator) -> Habits:
    """Draw a person. Speeds are assumptions: no published figure per phase is known."""
    u = rng.uniform
    fast = u(1.5, 2.6)
    coarse = min(fast, u(1.0, 2.0)) * (1.25 if late else 1.0)
    return Habits(
        antennas=antennas,
        scale=float(np.clip(math.exp(rng.normal(0, 0.07)), 0.86, 1.15)),
        range_m=range_m,
        pulse_s=float(u(0.75, 1.25)),
        reading_noise=float(u(0.015, 0.04)),
        noise_memory=float(u(0.0, 0.6)),
        arrow_noise=math.radians(u(3, 8)),
        carry_m=float(u(0.85, 1.15)),
        fine_m=float(u(0.06, 0.16)),
        signal_speed=float(fast),
        coarse_speed=float(coarse),
        speed_at_3=float(coarse * u(0.85, 1.0) if late else u(0.35, 0.8)),
        slow_from=float(u(8, 18)),
        pace=str(rng.choice(["linear", "steps", "root"])),
        fine_speed=float(u(0.5, 0.8) if rushed else u(0.15, 0.4)),
        fine_radius=float(u(1.3, 1.8) if late else u(2.7, 3.2)),
        turn_rate=math.radians(u(50, 120)),
        pace_s=float(u(0.3, 0.9)),
        reaction_s=float(u(0.8, 3.0)),
        leg_m=float(rng.choice([0.0, 0.0, u(2.0, 5.0)])),
        weave=math.radians(u(2, 8)),
        sway_m=float(u(0.005, 0.03)),
        pause_s=float(u(0.3, 2.0) * (0.3 if rushed else 1.0)),
    )


@dataclass
class Shown:
    """One row of the display, before rounding. Times are true seconds."""

    time: float
    name: str
    metres: float
    arrow: float  # radians, in the slope plane
    heading: float


class Person:
    """Walks, carries the receiver, remembers what it showed."""

    def __init__(self, habits: Habits, buried: list[Transmitter], start: tuple[float, float], lots: Lots) -> None:
        self.habits, self.lots = habits, lots
        self.phase, self.due = 0, 0.0
        self.gait_lot, self.hand_lot, self.display_lot = lots("gait"), lots("hand"), lots("display")
        rng = lots("habits", 1)
        self.active = {t.name: t for t in buried}
        self.listing = rng.random() < 0.4
        self.pick: str | None = None
        self.c, self.u = start
        self.time, self.speed, self.heading = 0.0, 0.0, 0.0
        self.pointing: float | None = None  # receiver direction when it is not that of the walk
        self.height, self.aim_height, self.drop_s = habits.carry_m, habits.carry_m, 2.5
        self.gait, self.bob, self.wander = rng.uniform(0, 6.28), 0.0, 0.0
        self.lying: tuple[float, float] | None = None  # receiver laid on the snow there
        self.mute = False
        self.trace: list[tuple[float, ...]] = []  # time, c, u, height, pointing, speed
        self.shown: list[Shown] = []
        self.next_pulse = rng.uniform(0, habits.pulse_s)
        self.error: dict[str, float] = dict.fromkeys(self.active, 0.0)
        self.note()

    def truth(self) -> tuple[float, float]:
        """Place of the receiver: the body plus the sway of its gait."""
        side = self.habits.sway_m * min(self.speed, 1.0) * math.sin(self.gait)
        return self.c - side * math.sin(self.heading), self.u + side * math.cos(self.heading)

    def away(self, name: str) -> float:
        """Range over ground to a transmitter."""
        return math.hypot(self.c - self.active[name].c, self.u - self.active[name].u)

    def points_to(self) -> float:
        return self.heading if self.pointing is None else self.pointing

    def note(self) -> None:
        """Store the present instant, and show a row when a pulse arrives."""
        c, u = self.truth()
        self.trace.append((self.time, c, u, self.height + self.bob, self.points_to(), self.speed))
        if self.time >= self.next_pulse:
            self.next_pulse += self.habits.pulse_s * self.display_lot.uniform(0.97, 1.03)
            if not self.mute:
                self.pulse(c, u)

    def pulse(self, c: float, u: float) -> None:
        """Readings of what is in range; the chosen one alone unless the receiver lists all."""
        hb, rng = self.habits, self.display_lot
        if self.lying is not None:
            c, u = self.lying
        seen: list[Shown] = []
        for name, tx in self.active.items():
            at = (c, u, self.height + self.bob if self.lying is None else 0.03)
            clean = shown_distance(tx, at, hb.antennas, self.points_to(), hb.scale)
            fade = 1 / (1 + math.exp(min((clean - hb.range_m) / (0.03 * hb.range_m), 50.0)))
            memory = hb.noise_memory
            self.error[name] = memory * self.error[name] + math.sqrt(1 - memory**2) * rng.standard_normal()
            if rng.random() > 0.985 * fade:
                continue
            metres = clean * (1 + hb.reading_noise * self.error[name]) + 0.02 * rng.standard_normal()
            angle = arrow(tx, c, u, self.height) + hb.arrow_noise * rng.standard_normal()
            seen.append(Shown(self.time, name, max(metres, 0.1), angle, self.points_to()))
        if not seen:
            return
        if self.pick not in self.active:
            self.pick = min(seen, key=lambda s: s.metres).name
        self.shown += [s for s in seen if self.listing or s.name == self.pick]

    def last(self, name: str | None) -> Shown | None:
        """Latest row of this transmitter, unless it is older than four seconds."""
        for row in reversed(self.shown):
            if row.time < self.time - 4.0:
                return None
            if row.name == name:
                return row
        return None

    def step(self, direction: float, speed: float, steer: bool = True) -> None:
        """One time step towards ``direction``; without ``steer`` the body goes there at once."""
        hb = self.habits
        off = math.remainder(direction - self.heading, 2 * math.pi)
        if steer:
            self.wander += (
                -self.wander * DT / 3.0 + hb.weave * math.sqrt(2 * DT / 3.0) * self.gait_lot.standard_normal()
            )
            limit = hb.turn_rate * DT
            self.heading += max(-limit, min(limit, off))
            speed *= max(0.1, math.cos(off)) if abs(off) > 0.7 else 1.0
        else:
            self.heading = direction
        self.speed += (speed - self.speed) * min(DT / hb.pace_s, 1.0)
        way = self.heading + (self.wander if steer else 0.0)
        self.c += self.speed * DT * math.cos(way)
        self.u += self.speed * DT * math.sin(way)
        self.advance()

    def advance(self) -> None:
        self.time += DT
        self.gait += 2 * math.pi * 0.9 * DT * min(1.0, self.speed)
        gap = self.aim_height - self.height
        self.height += gap * min(1.0, DT / (self.drop_s / 3))
        spread = 0.04 if self.aim_height > 0.5 else 0.015
        self.bob += -self.bob * DT / 2.0 + spread * math.sqrt(DT) * self.hand_lot.standard_normal()
        self.bob = max(self.bob, 0.02 - self.height)
        self.note()

    def stand(self, seconds: float) -> None:
        """Stop within a moment, then stand; the time counts from the order to stop."""
        until = self.time + seconds
        while self.time < until:
            self.speed *= 1 - min(DT / 0.25, 1.0)
            if self.speed < 0.02:
                self.speed = 0.0
            self.c += self.speed * DT * math.cos(self.heading)
            self.u += self.speed * DT * math.sin(self.heading)
            self.advance()

    def begin(self) -> None:
        """A new phase: its lots are its own, however long the one before it took."""
        self.phase += 1
        self.gait_lot, self.hand_lot, self.display_lot = (
            self.lots(name, self.phase) for name in ("gait", "hand", "display")
        )
        self.next_pulse = self.time + self.display_lot.uniform(0, self.habits.pulse_s)

    def stray(self) -> None:
        """A mistake begins: what it draws and how long it lasts is kept from the rest of the run."""
        self.due = self.next_pulse - self.time
        self.gait_lot = self.hand_lot = self.display_lot = self.lots("mistake", self.phase)

    def resume(self) -> None:
        """The mistake is over: gait, hand and display go on where they were."""
        self.gait_lot, self.hand_lot, self.display_lot = (
            self.lots(name, self.phase) for name in ("gait", "hand", "display")
        )
        self.next_pulse = self.time + self.due

    def leg(self, to: tuple[float, float], speed: float, bow: float) -> None:
        """Line to ``to``, straight but for a slight ``bow`` (m), receiver not turned, ending in a stop."""
        began, c0, u0 = self.time, self.c, self.u
        aim = math.atan2(to[1] - u0, to[0] - c0)
        length = math.hypot(to[0] - c0, to[1] - u0)
        while self.time - began < 60.0:
            gone = (self.c - c0) * math.cos(aim) + (self.u - u0) * math.sin(aim)
            if length - gone < 0.02:
                break
            share = min(max(gone / max(length, 0.01), 0.0), 1.0)
            skew = bow * math.pi / max(length, 0.3) * math.cos(math.pi * share)
            self.step(aim + math.atan(skew), max(0.06, min(speed, 1.2 * (length - gone))), steer=False)
        self.speed = 0.0
