"""drill.toml: where the drill is, how steep, and what is buried where."""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from analyzer.errors import InputError
from analyzer.files.source import read_bytes
from analyzer.files.toml_table import TomlTable, nearest, parse_toml
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.geometry.polyline import first_crossing
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill, Origin, Slope, Transmitter

DRILL_KEYS = ("name", "date", "origin", "slope", "start", "time_limit_s", "strip_width_m", "waypoints")
TRANSMITTER_KEYS = (
    "id",
    "east_m",
    "north_m",
    "latitude",
    "longitude",
    "depth_m",
    "axis_bearing_deg",
    "axis_tilt_deg",
    "position_sigma_m",
)
TAPED_SIGMA_M = 0.2
PHONE_SIGMA_M = 2.5
MAX_DEPTH_M = 10.0
MAX_DISTANCE_M = 2000.0

Waypoints = dict[str, tuple[float, float]]


def read_drill_toml(path: Path) -> Drill:
    """Return the drill of a drill.toml; waypoint files are read from its folder."""
    return parse_drill_toml(
        read_bytes(path),
        name=path.name,
        waypoints_of=lambda file: parse_waypoints(read_bytes(path.parent / file), name=file),
    )


def waypoint_file(data: bytes, *, name: str = "drill.toml") -> str | None:
    """Return the name of the waypoint file that a drill.toml refers to, None where there is none.

    Raises
    ------
    InputError
        Where the name leads out of the drill's folder.
    """
    outer = parse_toml(data, name=name)
    table = outer if outer.has("waypoints") else outer.table("drill")
    if not table.has("waypoints"):
        return None
    file = table.text("waypoints")
    if not file or Path(file).name != file or file.startswith("."):
        raise table.fault(
            "waypoints",
            f"{file!r} is not the name of a file beside drill.toml",
            "copy the file into the drill's folder and write its name alone",
        )
    return file


def parse_drill_toml(
    data: bytes, *, name: str = "drill.toml", waypoints_of: Callable[[str], Waypoints] | None = None
) -> Drill:
    """Return the checked drill.

    Parameters
    ----------
    data : bytes
    name : str
        For error texts.
    waypoints_of : callable, optional
        Returns the waypoints of a named file beside drill.toml.

    Raises
    ------
    InputError
        Where a key is unknown or missing, a value out of range, or a transmitter has no position or depth.
    """
    outer = parse_toml(data, name=name)
    outer.allow("drill", "area", "transmitter", "waypoints")
    table = outer.table("drill", needed=True)
    table.allow(*DRILL_KEYS)
    file = waypoint_file(data, name=name)
    waypoints = waypoints_of(file) if file is not None and waypoints_of is not None else {}
    origin = _origin(table.table("origin", needed=True))
    return Drill(
        name=table.text("name"),
        date=table.day("date"),
        origin=origin,
        slope=_slope(table.table("slope")),
        transmitters=_transmitters(outer, LocalFrame(origin), waypoints),
        corners_m=_corners(outer.table("area")),
        start=table.moment("start"),
        time_limit_s=table.optional_number("time_limit_s", above=0.0),
        strip_width_m=table.number("strip_width_m", 40.0, low=1.0, high=200.0),
    )


def _origin(table: TomlTable) -> Origin:
    table.allow("latitude", "longitude", "elevation_m")
    return Origin(
        latitude=table.number("latitude", low=-90.0, high=90.0),
        longitude=table.number("longitude", low=-180.0, high=180.0),
        elevation_m=table.number("elevation_m", 0.0, low=-500.0, high=9000.0),
    )


def _slope(table: TomlTable) -> Slope:
    table.allow("angle_deg", "aspect_deg")
    angle = table.number("angle_deg", 0.0, low=0.0, high=60.0)
    if angle > 0.0 and not table.has("aspect_deg"):
        raise InputError(
            where=table.where, what="aspect_deg is missing", do="add the true bearing of the downhill direction"
        )
    return Slope(angle_deg=angle, aspect_deg=table.number("aspect_deg", 180.0, low=0.0, high=360.0))


def _corners(table: TomlTable) -> np.ndarray | None:
    table.allow("corners_m")
    if not table.has("corners_m"):
        return None
    try:
        corners = np.array(table.values["corners_m"], dtype=float)
    except (TypeError, ValueError):
        corners = np.empty(0)
    if corners.ndim != 2 or corners.shape[1] != 2 or len(corners) < 3 or not np.all(np.isfinite(corners)):
        raise table.fault("corners_m", "these are not three or more corners", "write [[east, north], ...] in metres")
    if np.max(np.abs(corners)) > MAX_DISTANCE_M:
        raise table.fault(
            "corners_m",
            f"a corner is over {MAX_DISTANCE_M:g} m from the origin",
            "write horizontal metres from the origin, east first",
        )
    crossing = first_crossing(corners)
    if crossing is not None:
        first, second = (f"{i + 1} to {(i + 1) % len(corners) + 1}" for i in crossing)
        raise table.fault(
            "corners_m",
            f"the outline crosses or touches itself: corner {first} and corner {second}",
            "list the corners in order around the area, each once",
        )
    return corners


def _transmitters(outer: TomlTable, frame: LocalFrame, waypoints: Waypoints) -> tuple[Transmitter, ...]:
    found = tuple(_transmitter(table, frame, waypoints) for table in outer.tables("transmitter"))
    if not found:
        raise InputError(where=outer.where, what="there is no transmitter", do="add one as [[transmitter]]")
    ids = [t.id for t in found]
    repeated = next((i for i in ids if ids.count(i) > 1), None)
    if repeated is not None:
        raise InputError(where=outer.where, what=f"two transmitters have the id {repeated!r}", do="give each its own")
    return found


def _transmitter(table: TomlTable, frame: LocalFrame, waypoints: Waypoints) -> Transmitter:
    table.allow(*TRANSMITTER_KEYS)
    label = table.text("id")
    if not label.strip():
        raise table.fault("id", "the id is empty", "give the transmitter a name")
    named = TomlTable(f"{table.where} {label!r}", table.values)
    east, north, sigma = _position(named, label, frame, waypoints)
    bearing = named.optional_number("axis_bearing_deg", low=-360.0, high=360.0)
    tilt = named.optional_number("axis_tilt_deg", low=-90.0, high=90.0)
    if (bearing is None) != (tilt is None):
        missing = "axis_bearing_deg" if bearing is None else "axis_tilt_deg"
        raise InputError(
            where=named.where,
            what=f"{missing} is missing",
            do="an axis needs its bearing and its tilt; 0 is level; leave both out where it is unknown",
        )
    if not named.has("depth_m"):
        raise InputError(
            where=named.where,
            what="depth_m is missing",
            do="add the burial depth in metres below the surface, as a probe measures it",
        )
    return Transmitter(
        id=label,
        east_m=east,
        north_m=north,
        depth_m=named.number("depth_m", low=0.0, high=MAX_DEPTH_M),
        axis_bearing_deg=bearing,
        axis_tilt_deg=tilt,
        position_sigma_m=named.number("position_sigma_m", sigma, above=0.0, high=50.0),
    )


def _position(table: TomlTable, label: str, frame: LocalFrame, waypoints: Waypoints) -> tuple[float, float, float]:
    metres = table.has("east_m") or table.has("north_m")
    degrees = table.has("latitude") or table.has("longitude")
    if metres and degrees:
        raise InputError(where=table.where, what="the position is given in metres and in degrees", do="keep one")
    if metres:
        return (
            table.number("east_m", low=-MAX_DISTANCE_M, high=MAX_DISTANCE_M),
            table.number("north_m", low=-MAX_DISTANCE_M, high=MAX_DISTANCE_M),
            TAPED_SIGMA_M,
        )
    if degrees:
        latitude = table.number("latitude", low=-90.0, high=90.0)
        longitude = table.number("longitude", low=-180.0, high=180.0)
    elif label in waypoints:
        latitude, longitude = waypoints[label]
    else:
        do = "add east_m and north_m, or latitude and longitude"
        raise InputError(
            where=table.where,
            what="the transmitter has no position",
            do=f"{do}; of the waypoints, {nearest(label, waypoints)}" if waypoints else do,
        )
    east, north = frame.to_metres(latitude, longitude)[0]
    if not np.hypot(east, north) <= MAX_DISTANCE_M:
        raise InputError(
            where=table.where,
            what=f"the transmitter is {np.hypot(east, north):.0f} m from the origin",
            do="check latitude and longitude of the transmitter and of the origin",
        )
    return float(east), float(north), PHONE_SIGMA_M
