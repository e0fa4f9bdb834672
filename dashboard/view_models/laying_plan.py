"""What somebody who buries transmitters needs to know: ways over the snow from the start and the origin. No Dash."""

from dataclasses import dataclass

from analyzer.model.drill import Drill, Transmitter

ONLY = "For the instructor only. The group and the searchers must not see this before the search."
HOW = (
    "Taped: with the tape on the slope. Level: as a map and a phone measure. Bearings are from true north: set the "
    "compass to the local declination. Two tapes, from start and origin, find a spot without a compass. Depth: square "
    "to the surface, as a probe goes in."
)
NO_START = (
    "The file of this drill does not say where the search begins: all ways are from the origin. Put in a start on the "
    "page Lay out a drill, and save it."
)
HEADS = ("taped, m", "level, m", "bearing", "height, m")


@dataclass(frozen=True, slots=True)
class Way:
    """The straight way from one place on the surface to another.

    `taped_m`: along the surface; `level_m`: horizontal; `bearing_deg`: true bearing 0..360, None where there is no way
    to go; `rise_m`: how much higher the second place lies.
    """

    taped_m: float
    level_m: float
    bearing_deg: float | None
    rise_m: float

    def cells(self) -> tuple[str, str, str, str]:
        """Return the four figures as text, in the order of `HEADS`."""
        rise = f"{round(self.rise_m, 1) + 0.0:+.1f}" if abs(self.rise_m) >= 0.05 else "same"
        bearing = "-" if self.bearing_deg is None else f"{round(self.bearing_deg, 1) % 360.0:.1f}°"
        return f"{self.taped_m:.1f}", f"{self.level_m:.1f}", bearing, rise


@dataclass(frozen=True, slots=True)
class Spot:
    """A place to go to. `ways`: from where, in words, and the way; `latitude`, `longitude`: WGS 84 degrees."""

    name: str
    ways: tuple[tuple[str, Way], ...]
    latitude: float
    longitude: float
    transmitter: Transmitter | None = None

    @property
    def place(self) -> str:
        """Return latitude and longitude to about a tenth of a metre."""
        return f"{self.latitude:.6f}, {self.longitude:.6f}"


@dataclass(frozen=True, slots=True, eq=False)
class LayingPlan:
    """A drill with the ways to all that is laid. `key`: its folder; `start`: None where the file does not hold one."""

    key: str
    drill: Drill
    start: Spot | None
    transmitters: tuple[Spot, ...]
    corners: tuple[Spot, ...]

    @property
    def about(self) -> tuple[str, ...]:
        """Return the lines that say where the drill is."""
        drill, origin = self.drill, self.drill.origin
        slope = f"slope {drill.slope.angle_deg:g}°, downhill to {drill.slope.aspect_deg:g}°"
        slope = "level ground" if drill.slope.angle_deg == 0.0 else slope
        day = [drill.date.isoformat()] if drill.date else []
        begins = [f"start time {drill.start.isoformat()}"] if drill.start else []
        limit = [f"time limit {drill.time_limit_s:g} s"] if drill.time_limit_s else []
        strips = [f"strips {drill.strip_width_m:g} m wide"] if drill.corners_m is not None else []
        first = ", ".join([*day, slope, *strips, *begins, *limit])
        where = f"Origin (0, 0): {origin.latitude:.6f}, {origin.longitude:.6f}, {origin.elevation_m:g} m high"
        return f"{first[0].upper()}{first[1:]}.", f"{where}."


def axis_words(item: Transmitter) -> str:
    """Return how the antenna lies, in words."""
    if item.axis_bearing_deg is None or item.axis_tilt_deg is None:
        return "antenna axis not given: write down how it lies"
    tilt = item.axis_tilt_deg
    if abs(tilt) == 90.0:
        return "antenna axis upright"
    lies = "level" if tilt == 0.0 else f"{abs(tilt):g}° {'up' if tilt > 0.0 else 'down'} at that end"
    return f"antenna axis to {item.axis_bearing_deg % 360.0:g}°, {lies}"
