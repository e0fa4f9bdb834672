"""Invented drills: hillside, area, buried transmitters, and the route of the first search."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from analyzer.lab.examiner.field import Slope, Transmitter

FAULTS = (
    "none",
    "wrong_way",
    "detour",
    "standing",
    "late_slow_down",
    "rushed_bracketing",
    "narrow_bracketing",
    "oblique_bracketing",
    "extra_lines",
    "off_lowest",
    "missed_strip",
    "covered_twice",
    "long_probing",
)
OF_STRIPS = ("missed_strip", "covered_twice")
Point = tuple[float, float]
PLACES = ("Hollow Comb", "Nine Larches", "Pewter Bowl", "Old Sledge Gully", "Quarry Back", "Thorn Apron")


@dataclass(frozen=True)
class Choices:
    """What the caller asked for; None means "draw it"."""

    readings: bool = True
    axis_given: bool = True
    position_off_m: float = 0.0
    survey: bool = False
    transmitters: int = 1
    slope_deg: float | None = None
    antennas: int = 3
    clock_max_s: float = 30.0
    fault: str = "none"
    noise: str = "smooth"
    noise_file: str | None = None
    series: str = "psr"
    quantum_deg: float = 1e-7
    spikes: bool = False
    gaps: bool = False
    cadence: str = "mixed"
    tick_s: float | None = None  # of times written down from a film; drawn if not given
    marks: str = "mixed"
    lever_m: float = 0.0


@dataclass(frozen=True)
class Scene:
    """One drill. Everything in slope coordinates unless said."""

    place: str
    slope: Slope
    latitude: float
    longitude: float
    elevation_m: float
    strip_width_m: float
    area: list[Point]
    route: list[Point]
    transmitters: list[Transmitter]
    stated: list[Point] = field(default_factory=list)  # horizontal east, north
    range_m: float = 40.0
    thorough: list[Point] = field(default_factory=list)  # route of those who miss no strip


def make_scene(ask: Choices, rng: np.random.Generator) -> Scene:
    """Draw a drill that allows the wanted fault."""
    angle = float(rng.uniform(0, 35)) if ask.slope_deg is None else ask.slope_deg
    slope = Slope(round(angle, 1), float(rng.integers(0, 360)))
    zigzag = rng.random() < 0.3 or ask.fault in OF_STRIPS
    if zigzag:
        area, route, spot, width, thorough = _zigzag(ask.fault, rng)
    else:
        area, route, spot, width = _corridor(rng)
        thorough = route
    buried = [_bury("1", spot, slope, ask.antennas, rng)]
    while len(buried) < ask.transmitters:
        away, around = rng.uniform(7.0, 22.0), rng.uniform(0, 2 * math.pi)
        other = (spot[0] + away * math.cos(around), spot[1] + away * math.sin(around))
        if min(math.hypot(other[0] - b.c, other[1] - b.u) for b in buried) >= 6.0:
            buried.append(_bury(str(len(buried) + 1), other, slope, ask.antennas, rng))
    stated = []
    for b in buried:
        e, n, _ = slope.surface_enu(np.array([b.c]), np.array([b.u]))[0]
        if ask.position_off_m > 0:
            around = rng.uniform(0, 2 * math.pi)
            e, n = e + ask.position_off_m * math.cos(around), n + ask.position_off_m * math.sin(around)
        elif not ask.survey:
            e, n = e + rng.normal(0, 0.08), n + rng.normal(0, 0.08)  # a tape
        stated.append((float(e), float(n)))
    south = rng.random() < 0.2
    return Scene(
        place=str(rng.choice(PLACES)),
        slope=slope,
        latitude=round(float(rng.uniform(-45, -35) if south else rng.uniform(35, 68)), 6),
        longitude=round(float(rng.uniform(-150, 170)), 6),
        elevation_m=round(float(rng.uniform(300, 2900)), 1),
        strip_width_m=width,
        area=area,
        route=route,
        thorough=thorough,
        transmitters=buried,
        stated=stated,
        range_m=float(rng.uniform(24, 27) if ask.fault in OF_STRIPS else rng.uniform(28, 50)),
    )


def _bury(name: str, spot: Point, slope: Slope, antennas: int, rng: np.random.Generator) -> Transmitter:
    """Depth 0.4 to 1.5 m. Antennas lie mostly near the horizontal, now and then on end."""
    bearing = float(round(rng.uniform(0, 360)))
    steep = rng.random() < 0.15 and antennas == 3
    tilt = float(round(rng.uniform(50, 85) if steep else rng.normal(0, 15)))
    depth = round(float(rng.uniform(0.4, 1.5 if antennas == 3 else 1.1)), 2)
    return Transmitter(name, *spot, depth, slope.axis_vector(bearing, tilt), bearing, tilt)


def _corridor(rng: np.random.Generator) -> tuple[list[Point], list[Point], Point, float]:
    """One strip: straight up, down or across the middle, transmitter to one side."""
    width = float(rng.choice([30.0, 40.0, 50.0]))
    length = float(rng.uniform(75, 130))
    spot_along = float(rng.uniform(0.5, 0.85) * length)
    spot_side = float(rng.uniform(-0.45, 0.45) * width)
    turn = float(rng.choice([0.0, 0.5, 1.0, 1.5])) * math.pi
    shift = rng.uniform(-20, 20, 2)

    def place(side: float, along: float) -> Point:
        c = side * math.cos(turn) - along * math.sin(turn) + shift[0]
        u = side * math.sin(turn) + along * math.cos(turn) + shift[1]
        return float(c), float(u)

    half = width / 2
    area = [place(-half, 0), place(half, 0), place(half, length), place(-half, length)]
    start = rng.uniform(-3, 3)
    route = [place(start, 0.0), place(0.0, 0.3 * length), place(rng.uniform(-2, 2), 1.1 * length)]
    return area, route, place(spot_side, spot_along), width


def _zigzag(fault: str, rng: np.random.Generator) -> tuple[list[Point], list[Point], Point, float, list[Point]]:
    """Three strips along the contour, from the bottom or the top; a missed one is the middle one, left
    for the end, with the transmitter near its centre line. Last comes the route strip by strip."""
    missed = fault == "missed_strip"
    width = 40.0 if fault in OF_STRIPS else float(rng.choice([30.0, 40.0]))
    length = float(rng.uniform(85, 105) if missed else rng.uniform(40, 65))
    down = rng.random() < 0.5
    order = [0, 2, 1] if missed else [0, 1, 2]
    row = 1 if missed or (rng.random() < 0.6 and fault != "covered_twice") else 2  # the first hears nothing
    spot_u = (row + 0.5) * width + (rng.uniform(-1.5, 1.5) if missed else rng.uniform(-0.35, 0.45) * width)
    # A missed one lies towards the near end: the way to the far strip must not come within range.
    spot = (float(rng.uniform(0.15, 0.35 if missed else 0.8) * length), float(spot_u))
    inset = float(rng.uniform(2, 6))

    def walk(strips: list[int]) -> list[Point]:
        out: list[Point] = []
        for i, strip in enumerate(strips):
            ends = [(inset, (strip + 0.5) * width), (length - inset, (strip + 0.5) * width)]
            out += ends if i % 2 == 0 else ends[::-1]
        return out

    area = [(0.0, 0.0), (length, 0.0), (length, 3 * width), (0.0, 3 * width)]
    shift = rng.uniform(-20, 20, 2)

    def place(p: Point) -> Point:
        return float(p[0] + shift[0]), float((3 * width - p[1] if down else p[1]) + shift[1])

    routes = [[place(p) for p in walk(o)] for o in (order, [0, 1, 2])]
    return [place(p) for p in area], routes[0], place(spot), width, routes[1]
