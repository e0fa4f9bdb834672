"""The ways to all that a drill lays, over the slope and level: what the laying plan shows. Reads one drill.toml."""

import math

from analyzer.geometry.slope_plane import LocalFrame, SlopePlane
from analyzer.model.drill import Drill, Transmitter
from dashboard.view_models.laying_plan import LayingPlan, Spot, Way

ORIGIN, START = "origin", "start"
NO_WAY_M = 0.01
"""Nearer than this two places are one, and there is no bearing between them."""

Place = tuple[float, float]


def laying_plan(key: str, drill: Drill) -> LayingPlan:
    """Return the laying plan of a drill; `key`: the name of its folder."""
    from_all = {ORIGIN: (0.0, 0.0)} | ({START: drill.start_m} if drill.start_m else {})
    first = dict(reversed(from_all.items()))

    def spot(name: str, place: Place, begins: dict[str, Place], item: Transmitter | None = None) -> Spot:
        latitude, longitude = LocalFrame(drill.origin).to_degrees(*place)[0]
        ways = tuple((f"from the {whence}", way(drill, begin, place)) for whence, begin in begins.items())
        return Spot(name, ways, float(latitude), float(longitude), item)

    corners = [] if drill.corners_m is None else drill.corners_m.tolist()
    return LayingPlan(
        key=key,
        drill=drill,
        start=spot("Start", drill.start_m, {ORIGIN: (0.0, 0.0)}) if drill.start_m else None,
        transmitters=tuple(spot(t.id, (t.east_m, t.north_m), first, t) for t in drill.transmitters),
        corners=tuple(spot(f"Corner {i}", (e, n), first) for i, (e, n) in enumerate(corners, start=1)),
    )


def way(drill: Drill, begin: Place, end: Place) -> Way:
    """Return the way between two places on the slope, given as horizontal east and north in metres."""
    east, north = end[0] - begin[0], end[1] - begin[1]
    level = math.hypot(east, north)
    contour, upslope = SlopePlane(drill.slope).to_plane((east, north)).tolist()
    bearing = math.degrees(math.atan2(east, north)) % 360.0 % 360.0 if level >= NO_WAY_M else None
    rise = upslope * math.sin(math.radians(drill.slope.angle_deg))
    return Way(math.hypot(contour, upslope), level, bearing, rise)
