"""drill.toml: where the drill is, how steep, and what is buried where."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.drill_area import corners_of, start_of
from analyzer.files.names import DRILL_FILE
from analyzer.files.source import read_bytes
from analyzer.files.toml_table import TomlTable, nearest, parse_toml, read_toml
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import MAX_DISTANCE_M, Drill, Origin, Receiver, Slope, Transmitter

DRILL_KEYS = ("name", "date", "origin", "slope", "start", "time_limit_s", "strip_width_m", "waypoints", "team")
RECEIVER_KEYS = ("name", "scale", "scale_sigma", "strip_width_m")
SCALE_LOW, SCALE_HIGH = 0.5, 2.0
"""Our own limits: a receiver that shows half or twice the distance is not to be searched with."""
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
MAX_TIME_LIMIT_S = 86_400.0
"""A day, as in rule sheets of events."""

Waypoints = dict[str, tuple[float, float]]


def read_drill_toml(path: Path) -> Drill:
    """Return the drill of a drill.toml; waypoint files are read from its folder."""
    return parse_drill_toml(
        read_bytes(path),
        name=path.name,
        waypoints_of=lambda file: parse_waypoints(read_bytes(path.parent / file), name=file),
    )


def waypoint_file(data: bytes, *, name: str = DRILL_FILE) -> str | None:
    """Return the name of the waypoint file that a drill.toml refers to, None where there is none.

    Raises
    ------
    InputError
        Where the name leads out of the drill's folder.
    """
    outer = parse_toml(data, name=name)
    table = outer if outer.has("waypoints") else outer.table("drill")
    return _waypoint_name(table) if table.has("waypoints") else None


def _waypoint_name(table: TomlTable) -> str | None:
    """Return the name of the waypoint file that a table holds, None where it is reported."""
    file = table.text("waypoints")
    if table.wrong("waypoints"):
        return None
    if not file or Path(file).name != file or file.startswith("."):
        table.report(
            "waypoints",
            f"{quoted(file)} is not the name of a file beside drill.toml",
            "copy the file into the drill's folder and write its name alone",
        )
        return None
    return file


def parse_drill_toml(
    data: bytes, *, name: str = DRILL_FILE, waypoints_of: Callable[[str], Waypoints] | None = None
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
    FileError
        With every key that is unknown or missing, every value out of range, every transmitter without position or
        depth: all at once.
    InputError
        Where the file is no TOML.
    """
    return read_toml(lambda outer: _drill(outer, waypoints_of), data, name=name)


def _drill(outer: TomlTable, waypoints_of: Callable[[str], Waypoints] | None) -> Drill:
    outer.allow("drill", "area", "transmitter", "waypoints", "receiver")
    table = outer.table("drill", needed=True)
    table.allow(*DRILL_KEYS)
    origin, known = _origin(table.table("origin", needed=True))
    area = outer.table("area")
    area.allow("corners_m", "start_m")
    waypoints = _waypoints(outer if outer.has("waypoints") else table, waypoints_of)
    return Drill(
        name=table.text("name"),
        date=table.day("date"),
        origin=origin,
        slope=_slope(table.table("slope")),
        start=table.moment("start", in_utc=False),
        time_limit_s=table.optional_number("time_limit_s", above=0.0, high=MAX_TIME_LIMIT_S),
        strip_width_m=table.number("strip_width_m", 40.0, low=1.0, high=200.0),
        corners_m=corners_of(area),
        start_m=start_of(area),
        transmitters=_transmitters(outer, LocalFrame(origin) if known else None, waypoints),
        team=_team(table),
        receivers=_receivers(outer),
    )


def _team(table: TomlTable) -> bool:
    value = table.values.get("team", False)
    if not isinstance(value, bool):
        table.report("team", f"{quoted(value)} is neither true nor false", "write team = true without quotation marks")
        return False
    return value


def _receivers(outer: TomlTable) -> tuple[Receiver, ...]:
    found: list[Receiver] = []
    for table in outer.tables("receiver"):
        table.allow(*RECEIVER_KEYS)
        name = table.text("name")
        if not name.strip() and not table.wrong("name"):
            table.report("name", "the name is empty", "give the receiver a name, as runs write it")
        if name.strip() and name in {item.name for item in found}:
            table.report("name", f"two receivers have the name {quoted(name)}", "give each its own")
        if table.has("scale") != table.has("scale_sigma"):
            key = "scale_sigma" if table.has("scale") else "scale"
            table.missing(key, "a scale needs how sure it is: add scale and scale_sigma, or leave both out")
        if not table.has("scale") and not table.has("scale_sigma") and not table.has("strip_width_m"):
            table.report("", "nothing is said of the receiver", "add scale with scale_sigma, or strip_width_m")
        scale = table.optional_number("scale", low=SCALE_LOW, high=SCALE_HIGH)
        sigma = table.optional_number("scale_sigma", above=0.0, high=0.5)
        found.append(Receiver(name, scale, sigma, table.optional_number("strip_width_m", low=1.0, high=200.0)))
    return tuple(found)


def _waypoints(table: TomlTable, waypoints_of: Callable[[str], Waypoints] | None) -> Waypoints | None:
    """Return the waypoints of the file that a table names; None where they cannot be had, which is reported."""
    if not table.has("waypoints"):
        return {}
    file = _waypoint_name(table)
    if file is None:
        return None
    try:
        return {} if waypoints_of is None else waypoints_of(file)
    except InputError as error:
        table.report("waypoints", error.what, error.do, where=error.where)
        return None


def _origin(table: TomlTable) -> tuple[Origin, bool]:
    """Return the origin, and whether it is known."""
    table.allow("latitude", "longitude", "elevation_m")
    origin = Origin(
        latitude=table.number("latitude", low=-90.0, high=90.0),
        longitude=table.number("longitude", low=-180.0, high=180.0),
        elevation_m=table.number("elevation_m", 0.0, low=-500.0, high=9000.0),
    )
    return origin, not np.isnan([origin.latitude, origin.longitude, origin.elevation_m]).any()


def _slope(table: TomlTable) -> Slope:
    table.allow("angle_deg", "aspect_deg")
    angle = table.number("angle_deg", 0.0, low=0.0, high=60.0)
    if angle > 0.0 and not table.has("aspect_deg"):
        table.missing("aspect_deg", "add the true bearing of the downhill direction")
    return Slope(angle_deg=angle, aspect_deg=table.number("aspect_deg", 180.0, low=0.0, high=360.0))


def _transmitters(outer: TomlTable, frame: LocalFrame | None, waypoints: Waypoints | None) -> tuple[Transmitter, ...]:
    tables = outer.tables("transmitter")
    found: list[Transmitter] = []
    for table in tables:
        made = _transmitter(table, frame, waypoints)
        if made.id and made.id in {t.id for t in found}:
            what = f"two transmitters have the id {quoted(made.id)}"
            table.report("id", what, "give each its own", where=outer.where)
        found.append(made)
    if not tables and not outer.wrong("transmitter"):
        outer.report("transmitter", "there is no transmitter", "add one as [[transmitter]]", where=outer.where)
    return tuple(found)


def _transmitter(table: TomlTable, frame: LocalFrame | None, waypoints: Waypoints | None) -> Transmitter:
    table.allow(*TRANSMITTER_KEYS)
    label = table.text("id")
    if not label.strip() and not table.wrong("id"):
        table.report("id", "the id is empty", "give the transmitter a name")
    named = replace(table, where=f"{table.where} {quoted(label)}" if label.strip() else table.where)
    east, north, sigma = _position(named, label, frame, waypoints)
    bearing = named.optional_number("axis_bearing_deg", low=-360.0, high=360.0)
    tilt = named.optional_number("axis_tilt_deg", low=-90.0, high=90.0)
    if (bearing is None) != (tilt is None):
        named.missing(
            "axis_bearing_deg" if bearing is None else "axis_tilt_deg",
            "an axis needs its bearing and its tilt; 0 is level; leave both out where it is unknown",
        )
    if not named.has("depth_m"):
        named.missing("depth_m", "add the burial depth in metres below the surface, as a probe measures it")
    return Transmitter(
        id=label,
        east_m=east,
        north_m=north,
        depth_m=named.number("depth_m", math.nan, low=0.0, high=MAX_DEPTH_M),
        axis_bearing_deg=bearing,
        axis_tilt_deg=tilt,
        position_sigma_m=named.number("position_sigma_m", sigma, above=0.0, high=50.0),
    )


def _position(
    table: TomlTable, label: str, frame: LocalFrame | None, waypoints: Waypoints | None
) -> tuple[float, float, float]:
    """Return east, north and their standard deviation; NaN where a problem is noted."""
    metres = table.has("east_m") or table.has("north_m")
    degrees = table.has("latitude") or table.has("longitude")
    if metres and degrees:
        what = "the position is given in metres and in degrees"
        table.report("", what, "keep one")
    if metres:
        return (
            table.number("east_m", low=-MAX_DISTANCE_M, high=MAX_DISTANCE_M),
            table.number("north_m", low=-MAX_DISTANCE_M, high=MAX_DISTANCE_M),
            TAPED_SIGMA_M,
        )
    if degrees:
        latitude = table.number("latitude", low=-90.0, high=90.0)
        longitude = table.number("longitude", low=-180.0, high=180.0)
    else:
        latitude, longitude = _waypoint(table, label, waypoints)
    if frame is None or math.isnan(latitude + longitude):
        return math.nan, math.nan, PHONE_SIGMA_M
    east, north = frame.to_metres(latitude, longitude)[0]
    if not np.hypot(east, north) <= MAX_DISTANCE_M:
        table.report(
            "",
            f"the transmitter is {np.hypot(east, north):.0f} m from the origin",
            "check latitude and longitude of the transmitter and of the origin",
        )
    return float(east), float(north), PHONE_SIGMA_M


def _waypoint(table: TomlTable, label: str, waypoints: Waypoints | None) -> tuple[float, float]:
    """Return latitude and longitude of the waypoint with a transmitter's name; NaN where it is not known."""
    if waypoints is None or table.wrong("id"):  # what is wrong there has to be mended first
        return math.nan, math.nan
    if label not in waypoints:
        do = "add east_m and north_m, or latitude and longitude"
        do = f"{do}; of the waypoints, {nearest(label, waypoints)}" if waypoints else do
        table.report("", "the transmitter has no position", do)
        return math.nan, math.nan
    return waypoints[label]
