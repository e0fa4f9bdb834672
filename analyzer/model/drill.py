"""A drill as laid out: where, how steep, what is buried where."""

import datetime as dt
from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields

MAX_DISTANCE_M = 2000.0
"""So far from the origin transmitters, corners and surveyed points may lie; our own choice: wider than any drill."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Origin of the drill's horizontal metres: WGS 84 degrees, height in metres."""

    latitude: float
    longitude: float
    elevation_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Slope:
    """The surface: `angle_deg` from level, `aspect_deg` the true bearing of the downhill direction."""

    angle_deg: float = 0.0
    aspect_deg: float = 180.0


@dataclass(frozen=True, slots=True)
class Transmitter:
    """A buried transmitter.

    `east_m`, `north_m`: horizontal metres from the origin of the surface point over it. `depth_m`: below the
    surface along the surface normal. Axis: true bearing and angle above the horizontal, None where not given.
    `position_sigma_m`: standard deviation of the position along one axis.
    """

    id: str
    east_m: float
    north_m: float
    depth_m: float
    axis_bearing_deg: float | None = None
    axis_tilt_deg: float | None = None
    position_sigma_m: float = 0.2


@dataclass(frozen=True, slots=True)
class Receiver:
    """A receiver that runs may name, after a range check; None where that did not tell.

    `scale`: reading shown over the true distance, square to the axis of the antenna that sends (along it a reading is
    1.26 times that); `scale_sigma`: standard deviation of that figure. `strip_width_m`: of its signal search.
    """

    name: str
    scale: float | None = None
    scale_sigma: float | None = None
    strip_width_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Drill:
    """Everything known of a drill before the first searcher starts. `corners_m`: (n, 2) east, north or None.

    `team`: several searchers look for one burial at once. `start_m`: east, north of where the search begins, as it
    was planned; nothing is measured from it.
    """

    name: str
    date: dt.date | None
    origin: Origin
    slope: Slope
    transmitters: tuple[Transmitter, ...]
    corners_m: FloatArray | None = None
    start: dt.datetime | None = None
    time_limit_s: float | None = None
    strip_width_m: float = 40.0
    team: bool = False
    receivers: tuple[Receiver, ...] = ()
    start_m: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        """Check and freeze the corners."""
        freeze_fields(self, corners_m=(None, 2))

    def receiver(self, name: str) -> Receiver | None:
        """Return the receiver of a name, None where there is none of it."""
        return next((item for item in self.receivers if item.name == name), None)
