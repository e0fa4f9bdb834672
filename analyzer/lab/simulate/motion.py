"""How a person moves: the state of a walker, one step of it, and the simplest manoeuvres.

A manoeuvre takes the last state and returns the states that follow, one per STEP_S. Speed follows what is wanted with
a lag and a bounded acceleration, so speeds, turns and stops are smooth.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.signal import lfilter

from analyzer.model.arrays import FloatArray

STEP_S = 0.05
SPEED_LAG_S = 0.5
PUSH_LAG_S = 0.15
PUSH_AT_MOST_MPS2 = 1.0
LOWERING_MPS = 1.0
STANDING_MPS = 0.1


class State(NamedTuple):
    """A walker at one moment: slope-plane metres, the receiver's height over the surface, the way it points.

    `beat`: where in the series of `Sway` this person is, in steps. It stands still over a fault: afterwards the person
    goes on as without it.
    """

    t: float
    x: float
    y: float
    vx: float = 0.0
    vy: float = 0.0
    ax: float = 0.0
    ay: float = 0.0
    height: float = 1.0
    hx: float = 0.0
    hy: float = 1.0
    beat: int = 0

    @property
    def speed(self) -> float:
        """Return the speed in m/s."""
        return math.hypot(self.vx, self.vy)


class Wish(NamedTuple):
    """What a walker wants now: velocity, receiver height, whether the receiver keeps pointing as it does."""

    vx: float
    vy: float
    height: float
    hold: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Sway:
    """A person's unsteadiness over time, one row per STEP_S: unit-variance series, scaled where they are used."""

    steering: FloatArray
    pace: FloatArray
    height: FloatArray
    leg: FloatArray

    def at(self, name: str, beat: int) -> float:
        """Return the value of one series at a beat."""
        series: FloatArray = getattr(self, name)
        return float(series[beat % len(series)])


def drawn_sway(rng: np.random.Generator, *, seconds: float = 1800.0) -> Sway:
    """Return unit-variance Gauss-Markov series: steering 2.5 s, pace 8 s, height 4 s, legs 1.5 s."""
    n = int(seconds / STEP_S)

    def series(scale_s: float) -> FloatArray:
        keep = math.exp(-STEP_S / scale_s)
        pushes = rng.standard_normal(n) * math.sqrt(1.0 - keep * keep)
        pushes[0] = rng.standard_normal()
        return np.asarray(lfilter([1.0], [1.0, -keep], pushes), float)

    return Sway(steering=series(2.5), pace=series(8.0), height=series(4.0), leg=series(1.5))


def step(s: State, wish: Wish) -> State:
    """Return the state STEP_S later."""
    px, py = (wish.vx - s.vx) / SPEED_LAG_S, (wish.vy - s.vy) / SPEED_LAG_S
    push = math.hypot(px, py)
    if push > PUSH_AT_MOST_MPS2:
        px, py = px * PUSH_AT_MOST_MPS2 / push, py * PUSH_AT_MOST_MPS2 / push
    ax = s.ax + (px - s.ax) * STEP_S / PUSH_LAG_S
    ay = s.ay + (py - s.ay) * STEP_S / PUSH_LAG_S
    vx, vy = s.vx + ax * STEP_S, s.vy + ay * STEP_S
    most = LOWERING_MPS * STEP_S
    height = s.height + min(max(wish.height - s.height, -most), most)
    speed = math.hypot(vx, vy)
    hx, hy = (vx / speed, vy / speed) if speed > 0.3 and not wish.hold else (s.hx, s.hy)
    x, y = s.x + vx * STEP_S, s.y + vy * STEP_S
    return State(s.t + STEP_S, x, y, vx, vy, ax, ay, height, hx, hy, s.beat + 1)


def move(s: State, wish: Callable[[State], Wish], *, until: Callable[[State], bool], limit_s: float) -> list[State]:
    """Return the states while following `wish`, up to the one where `until` holds or `limit_s` is over."""
    states, end = [], s.t + limit_s
    while s.t < end:
        s = step(s, wish(s))
        states.append(s)
        if until(s):
            break
    return states


def stand(s: State, *, seconds: float, height: float, hold: bool = True) -> list[State]:
    """Return the states of a stop: brake, then stand for `seconds` after the speed is under STANDING_MPS."""
    wish = Wish(0.0, 0.0, height, hold)
    braking = move(s, lambda _: wish, until=lambda q: q.speed < STANDING_MPS, limit_s=10.0)
    return braking + move(braking[-1], lambda _: wish, until=lambda _: False, limit_s=seconds)


def walk_to(
    s: State, target: tuple[float, float], *, pace: float, height: float, hold: bool = False, stop: bool = True
) -> list[State]:
    """Return the states of a walk straight to `target`, braking before it where `stop`."""

    def wish(q: State) -> Wish:
        dx, dy = target[0] - q.x, target[1] - q.y
        far = math.hypot(dx, dy) or 1e-9
        speed = min(pace, 1.5 * far, math.sqrt(0.8 * far)) if stop else pace
        return Wish(speed * dx / far, speed * dy / far, height, hold)

    def there(q: State) -> bool:
        far = math.hypot(target[0] - q.x, target[1] - q.y)
        return far < 0.04 and q.speed < STANDING_MPS if stop else far < 0.5

    limit = 20.0 + 3.0 * math.hypot(target[0] - s.x, target[1] - s.y) / pace
    return move(s, wish, until=there, limit_s=limit)


def resumed(states: list[State], beat: int) -> list[State]:
    """Return the states with the last one at a beat: how a fault ends, and how a phase begins."""
    return [*states[:-1], states[-1]._replace(beat=beat)]


def rotated(direction: tuple[float, float], angle_rad: float) -> tuple[float, float]:
    """Return a plane vector turned by an angle, contour towards upslope positive."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return c * direction[0] - s * direction[1], s * direction[0] + c * direction[1]
