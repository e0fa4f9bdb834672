"""GPX 1.0 and 1.1 tracks and waypoints, read with gpxpy behind a safe first pass.

gpxpy turns a time that does not parse into None, leaves times without zone naive, takes any latitude, and finds no
track in a file with prefixed namespaces; each of these is caught here.
"""

import datetime as dt
import html
import math
import re
import xml.etree.ElementTree as ET
from functools import lru_cache
from typing import Any

import gpxpy
import gpxpy.gpx
import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.source import check_not_empty
from analyzer.files.times import parse_utc, posix_of
from analyzer.files.tracks.fixes import R68_PER_SIGMA, Fixes, decimal_step
from analyzer.files.tracks.several import in_parts
from analyzer.files.tracks.xml_points import PointText, Scan, number_of, scan_points

RADIUS_FIELDS = ("hacc", "accuracy", "horizontalaccuracy", "horizontal_accuracy", "gpsaccuracy", "gps_accuracy")
"""Extension fields taken as a radius in metres, by lower-case local name. That the radius holds 68 % of the error is
an assumption: it is what phone platforms document, and watches leave it open."""
TRACK_NAME = re.compile(r"<(?:\w+:)?trk>\s*<(?:\w+:)?name>([^<]{1,80})</")
SIGMA_FIELDS = ("sigma_m",)
"""Extension fields that hold a one-axis standard deviation, as our own writer puts them."""


def track_title(data: bytes) -> str:
    """Return the name of the first track in a GPX file as written there, "" where it has none."""
    found = TRACK_NAME.search(data.decode("utf-8", "replace"))
    return html.unescape(found.group(1)).strip() if found else ""


def parse_gpx(data: bytes, *, name: str = "track.gpx", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a GPX file in the order of the file, of several tracks in that of time; `zone`: of times
    that bear none.

    Raises
    ------
    InputError
        Where the XML is unsafe or broken, there is no track or several of the same time, or a point's number or time
        is bad; the point's number (from 1) and line are named.
    """
    check_not_empty(data, name=name)
    scan = scan_points(data, name=name, point="trkpt", group="trk")
    _check_root(scan, name)
    if not scan.points:
        kind = "a route, which is a plan and not a record" if "rtept" in scan.elements else "no track"
        raise InputError(where=name, what=f"the file holds {kind}", do="export the recorded track as GPX")
    wheres = [f"{name}, point {i + 1} (line {p.line})" for i, p in enumerate(scan.points)]
    _check_texts(scan.points, wheres)
    tracks = _gpxpy(data, scan, name).tracks
    points = [p for track in tracks for segment in track.segments for p in segment.points]
    if len(points) != len(scan.points):
        raise InputError(where=name, what="some points lie outside a track segment", do="export the file again")
    fixes = _fixes(points, scan.points, wheres, name, zone)
    return in_parts(fixes, np.array([p.group - 1 for p in scan.points]), [track.name or "" for track in tracks])


def parse_waypoints(data: bytes, *, name: str = "waypoints.gpx") -> dict[str, tuple[float, float]]:
    """Return name -> (latitude, longitude) of the waypoints of a GPX file.

    Raises
    ------
    InputError
        Where the XML is unsafe or broken, a waypoint lies nowhere on Earth, or two have one name.
    """
    check_not_empty(data, name=name)
    scan = scan_points(data, name=name, point="wpt", group="gpx")
    _check_root(scan, name)
    found: dict[str, tuple[float, float]] = {}
    for point in scan.points:
        where = f"{name}, line {point.line}"
        latitude, longitude = _degrees(point, where)
        if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
            raise InputError(
                where=where,
                what=f"latitude {latitude:g}, longitude {longitude:g} is not on Earth",
                do="mend the waypoint",
            )
        label = point.fields.get("name", "")
        if label and label in found:
            raise InputError(
                where=where, what=f"a second waypoint is named {quoted(label)}", do="give each its own name"
            )
        found[label] = (latitude, longitude)
    return found


def _check_root(scan: Scan, name: str) -> None:
    if scan.root.rpartition(":")[2] != "gpx":
        raise InputError(
            where=name,
            what=f"the XML is <{scan.root}>, not <gpx>",
            do="export the track as GPX, or name the file by its format",
        )


def _degrees(point: PointText, where: str) -> tuple[float, float]:
    numbers = []
    for key, word in (("lat", "latitude"), ("lon", "longitude")):
        if key not in point.attributes:
            raise InputError(where=where, what=f"the point has no {word}", do="mend or remove the point")
        numbers.append(number_of(point.attributes[key].strip(), where=where, what=word))
    if not (math.isfinite(numbers[0]) and math.isfinite(numbers[1])):
        raise InputError(
            where=where,
            what=f"the position {quoted(point.attributes['lat'])}, {quoted(point.attributes['lon'])} is not finite",
            do="mend or remove the point",
        )
    return numbers[0], numbers[1]


def _check_texts(points: list[PointText], wheres: list[str]) -> None:
    for point, where in zip(points, wheres, strict=True):
        _degrees(point, where)
        number_of(point.fields.get("ele"), where=where, what="elevation")
        number_of(point.fields.get("hdop"), where=where, what="hdop")


def _gpxpy(data: bytes, scan: Scan, name: str) -> gpxpy.gpx.GPX:
    try:
        return gpxpy.parse(_plain_text(data, scan))
    except MemoryError:
        raise
    except Exception as error:  # of others' libraries: what they may raise is not listed
        raise InputError(
            where=name, what=f"the GPX is not valid ({str(error)[:80]})", do="export the file again"
        ) from None


def _plain_text(data: bytes, scan: Scan) -> str:
    """Return the XML as gpxpy wants it: UTF-8 text with unprefixed GPX elements."""
    if ":" not in scan.root:
        try:
            text = data.decode("utf-8-sig")
            head = text[:200].lower()
            if "encoding=" not in head or "utf-8" in head:
                return text
        except UnicodeDecodeError:
            pass
    root = ET.fromstring(data)  # safe: the first pass refused every DOCTYPE
    for element in root.iter():
        if isinstance(element.tag, str) and element.tag.startswith("{http://www.topografix.com/GPX/1/"):
            element.tag = element.tag.partition("}")[2]
    return ET.tostring(root, encoding="unicode")


def _fixes(points: list[Any], texts: list[PointText], wheres: list[str], name: str, zone: dt.tzinfo | None) -> Fixes:
    latitude = np.array([p.latitude for p in points], float)
    longitude = np.array([p.longitude for p in points], float)
    return Fixes(
        name=name,
        unit="point",
        geographic=True,
        time_s=np.array([_time(p, t, w, zone) for p, t, w in zip(points, texts, wheres, strict=True)]),
        first=latitude,
        second=longitude,
        elevation_m=_or_nan([p.elevation for p in points]),
        sigma_m=np.array([sigma_of(t, where=w) for t, w in zip(texts, wheres, strict=True)]),
        hdop=_or_nan([p.horizontal_dilution for p in points]),
        number=np.arange(1.0, len(points) + 1.0),
        step=decimal_step(latitude, longitude),
        rows=len(points),
    )


def _or_nan(values: list[float | None]) -> Any:
    return np.array([np.nan if v is None else v for v in values], float)


def _time(point: Any, text: PointText, where: str, zone: dt.tzinfo | None) -> float:
    written = text.fields.get("time", "")
    if point.time is None or point.time.tzinfo is None:
        # Absent is a matter of the whole track; present and not read, or without zone, is this point's fault.
        return parse_utc(written, where=where, zone=zone) if written else float("nan")
    return posix_of(point.time, where=where)


def sigma_of(point: PointText, *, where: str) -> float:
    """Return the one-axis standard deviation in metres that a point's extensions state, NaN where none does."""
    for fields in (point.deep, point.fields):
        for key, text in fields.items():
            divisor = _sigma_divisor(key)
            if divisor is not None:
                return _positive(number_of(text, where=where, what=key)) / divisor
    return float("nan")


@lru_cache(maxsize=256)
def _sigma_divisor(key: str) -> float | None:
    """Return what turns a field into a one-axis standard deviation by division, None for other fields."""
    lowered = key.lower()
    if lowered in SIGMA_FIELDS:
        return 1.0
    return R68_PER_SIGMA if lowered in RADIUS_FIELDS else None


def _positive(value: float) -> float:
    """Return `value`, NaN where it is not positive: recorders write 0 or -1 for unknown."""
    return value if 0.0 < value < float("inf") else float("nan")
