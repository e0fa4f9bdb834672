"""Where the simulated signal search goes: strips up and down the area, beginning out of reach of every transmitter."""

import itertools
import math
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.faults import FaultPlan
from analyzer.lab.simulate.searcher import StripPlan
from analyzer.lab.simulate.settings import SearcherSettings
from analyzer.lab.simulate.world import Receiver, Source, reading_at
from analyzer.model.drill import Drill

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ground:
    """Which ways lie over the ground: the walk that is taught, and the one that leaves the best strip for the end."""

    taught: tuple[Point, ...]
    missing: tuple[Point, ...] | None
    reception_m: float

    def walked(self, plans: Iterable[FaultPlan]) -> StripPlan:
        """Return the strips as a searcher with these plans walks them."""
        missed = any(p.missed_strip for p in plans)
        again = next((p.covered_twice.share for p in plans if p.covered_twice), None)
        route = self.missing if missed and self.missing else self.taught
        return StripPlan(route, self.reception_m, missed, again)


def laid_ground(
    drill: Drill,
    sources: tuple[Source, ...],
    receiver: Receiver,
    settings: SearcherSettings,
    rng: np.random.Generator,
    *,
    plans: Collection[FaultPlan],
) -> Ground:
    """Return the ground of one run: the area's box in the slope plane, strips along its upslope side.

    The start is drawn among the corners out of reception; where there is none the reception is less good. What a fault
    of the signal search needs of the ground (a strip that no other one stands in for, a first strip that hears nothing)
    is laid here, so that it holds for the walk with the fault and for the one without.
    """
    reception = float(rng.uniform(*settings.reception_m))
    low, high = _box(drill, sources)
    count = max(1, round((high[0] - low[0]) / drill.strip_width_m))
    across = [low[0] + (i + 0.5) * (high[0] - low[0]) / count for i in range(count)]

    def lowest(points: tuple[Point, ...]) -> float:
        return min(
            reading_at(w, receiver, x, y, settings.carry_height_m, (0.0, 1.0)) for x, y in points for w in sources
        )

    routes = [
        _route(order, ends) for order in (across, across[::-1]) for ends in ((low[1], high[1]), (high[1], low[1]))
    ]
    missing = None
    if any(p.missed_strip for p in plans):
        missing, reception = missing_route(across, (low[1], high[1]), reception, lowest)
        nearest = min(math.dist(r[0], missing[0]) for r in routes)
        routes = [r for r in routes if math.dist(r[0], missing[0]) <= nearest + 1e-6]
        reception = min(reception, lowest(missing[:1]) - 3.0)
    elif any(p.covered_twice for p in plans):
        routes, reception = silent_start(routes, reception, lowest)
    fits = [r for r in routes if lowest(r[:1]) > reception + 3.0]
    route = fits[int(rng.integers(len(fits)))] if fits else max(routes, key=lambda r: lowest(r[:1]))
    reception = min(reception, lowest(route[:1]) - 3.0)
    if reception < 10.0:
        raise InputError(
            where="drill", what="every corner of the area is next to a transmitter", do="make the area larger"
        )
    return Ground(route, missing, reception)


def _box(drill: Drill, sources: tuple[Source, ...]) -> tuple[Point, Point]:
    """Return the lower and upper corner of the area in the slope plane; without an area, 50 m about the sources."""
    if drill.corners_m is not None:
        points = SlopePlane(drill.slope).to_plane(drill.corners_m)
    else:
        spots = np.array([(w.x, w.y) for w in sources])
        points = np.vstack([spots - 50.0, spots + 50.0])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return (float(x0), float(y0)), (float(x1), float(y1))


def _route(across: list[float], ends: tuple[float, float]) -> tuple[Point, ...]:
    """Return the corner points of strips walked to and fro in the order given."""
    points: list[Point] = []
    for i, x in enumerate(across):
        near, far = ends if i % 2 == 0 else ends[::-1]
        points += [(x, near), (x, far)]
    return tuple(points)


def missing_route(
    across: list[float], ends: tuple[float, float], reception: float, lowest: Callable[[tuple[Point, ...]], float]
) -> tuple[tuple[Point, ...], float]:
    """Return a route that takes the strip nearest to a transmitter last, and a reception too short for the others."""
    best = min(across, key=lambda x: lowest(_fine(((x, ends[0]), (x, ends[1])))))
    others = [x for x in across if x != best]
    if len(others) < 2:
        raise InputError(
            where="fault missed_strip",
            what="the area is one or two strips wide",
            do="use an area of three strips or more",
        )
    # Strips taken side by side from one edge to the other miss none: that walk is the very one that is taught.
    side_by_side = (across, across[::-1])
    orders = [order for order in ([*others, best], [*others[::-1], best]) if order not in side_by_side]
    routes = [_route(order, way) for order in orders for way in (ends, ends[::-1])]
    reach = [0.95 * lowest(_fine(r[:-2])) for r in routes]
    route, short = max(zip(routes, reach, strict=True), key=lambda pair: pair[1])
    reception = min(reception, short)
    if lowest(_fine(route[-2:])) > 0.95 * reception:
        raise InputError(
            where="fault missed_strip",
            what="the neighbouring strips see the transmitter too",
            do="use a wider area or another seed",
        )
    return route, reception


def silent_start(
    routes: list[tuple[Point, ...]], reception: float, lowest: Callable[[tuple[Point, ...]], float]
) -> tuple[list[tuple[Point, ...]], float]:
    """Return the routes whose first strip is furthest from every transmitter, and a reception that it stays out of."""
    if len(routes[0]) < 4:
        raise InputError(
            where="fault covered_twice", what="the area is one strip wide", do="use an area of two strips or more"
        )
    reach = [0.95 * lowest(_fine(r[:2])) for r in routes]
    return [r for r, far in zip(routes, reach, strict=True) if far >= max(reach) - 1e-6], min(reception, max(reach))


def _fine(corners: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return points every metre or so along a line through the corners."""
    points: list[Point] = []
    for (x0, y0), (x1, y1) in itertools.pairwise(corners):
        n = max(2, int(math.dist((x0, y0), (x1, y1))))
        points += [(x0 + (x1 - x0) * i / n, y0 + (y1 - y0) * i / n) for i in range(n + 1)]
    return tuple(points)
