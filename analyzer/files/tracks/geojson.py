"""GeoJSON (RFC 7946) with times: lines with a list of times among their properties, or points with one each.

GeoJSON itself has no times; read are the properties in which converters and recorders put them.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from analyzer.errors import InputError, quoted
from analyzer.files.json_source import json_values
from analyzer.files.source import check_not_empty
from analyzer.files.times import parse_utc
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.gpx import RADIUS_FIELDS
from analyzer.files.tracks.point_rows import NAN, PointRow, fixes_of, of_calendar, sigma_of_radius
from analyzer.files.tracks.xml_points import MAX_POINTS

LINE_TIMES = ("coordTimes", "times", "timestamps", "time")
"""Properties with one time for each position of a line; also looked for in `coordinateProperties`."""
POINT_TIMES = ("time", "timestamp", "datetime", "when", "date")
NOT_TIMED = "a line or point without times"
KINDS = ("FeatureCollection", "Feature", "LineString", "MultiLineString", "Point")
MILLISECONDS_FROM = 1e11
"""A time as a number is in milliseconds from here on, in seconds below: seconds reach it in the year 5138,
milliseconds had passed it by 1973."""


def is_geojson(head: bytes) -> bool:
    """Return whether a file that begins so is JSON that names a kind of GeoJSON in its first bytes."""
    text = head[:65_536].lstrip(b"\xef\xbb\xbf \t\r\n")
    return text.startswith(b"{") and any(b'"%s"' % kind.encode() in text for kind in KINDS)


def parse_geojson(data: bytes, *, name: str = "track.geojson", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a GeoJSON file: each line with times is a track, all points with a time are one.

    `zone`: of times that bear none. What has no times beside what has is set aside and counted.

    Raises
    ------
    InputError
        Where the JSON is broken, nothing in it has times, or a number or time is bad; the feature and the position
        (from 1) are named.
    """
    check_not_empty(data, name=name)
    rows: list[PointRow] = []
    titles: list[str] = []
    points: list[PointRow] = []
    untimed = 0
    for number, feature in enumerate(
        _features(json_values(data, name=name, do="export the file again"), name), start=1
    ):
        where = f"{name}, feature {number}"
        geometry, properties = _table(feature.get("geometry")), _table(feature.get("properties"))
        before = len(rows) + len(points)
        if geometry.get("type") in ("LineString", "MultiLineString"):
            rows += _line(geometry, properties, len(titles), len(rows), where, zone)
            titles.append(str(properties.get("name") or ""))
        elif geometry.get("type") == "Point":
            points += _point(geometry, properties, len(points), where, zone)
        untimed += len(rows) + len(points) == before
        if len(rows) + len(points) > MAX_POINTS:
            raise too_many_points(name, MAX_POINTS)
    if not rows and not points:
        raise InputError(
            where=name,
            what="no line or point in it has times",
            do="export the recorded track with times (coordTimes), or as GPX; a drawn line has none",
        )
    dropped = {NOT_TIMED: untimed, "a point beside the track": len(points) if rows else 0}
    return fixes_of(rows or points, name=name, unit="position", dropped=dropped, titles=titles if rows else ())


def _features(content: Any, name: str) -> list[Mapping[str, Any]]:
    kind = _table(content).get("type")
    if kind == "FeatureCollection" and isinstance(content.get("features"), list):
        return [_table(item) for item in content["features"]]
    if kind == "Feature":
        return [content]
    if kind in KINDS:
        return [{"geometry": content}]
    raise InputError(where=name, what="the JSON is no GeoJSON", do="export the track as GeoJSON or GPX")


def _table(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, dict) else {}


def _line(
    geometry: Mapping[str, Any],
    properties: Mapping[str, Any],
    track: int,
    seen: int,
    where: str,
    zone: dt.tzinfo | None,
) -> Iterator[PointRow]:
    """Yield the positions of a line that has times; a line of several pieces has a list of lists of both."""
    many = geometry["type"] == "MultiLineString"
    places = _list(geometry.get("coordinates"))
    times = _listed(properties, LINE_TIMES)
    if times is None:
        return
    radii = _listed(properties, RADIUS_FIELDS)
    pieces = [_list(piece) for piece in places] if many else [places]
    nested = many and len(times) == len(pieces) and all(isinstance(part, list) for part in times)
    flat_places = [place for piece in pieces for place in piece]
    flat_times = [moment for part in times for moment in part] if nested else times
    if len(flat_times) != len(flat_places):
        raise InputError(
            where=where,
            what=f"the line has {len(flat_places)} positions and {len(flat_times)} times",
            do="export the file again",
        )
    if len(flat_places) > MAX_POINTS:
        raise too_many_points(where, MAX_POINTS)
    flat_radii = radii if radii is not None and len(radii) == len(flat_places) else [None] * len(flat_places)
    for i, (place, moment) in enumerate(zip(flat_places, flat_times, strict=True)):
        at = f"{where}, position {i + 1}"
        yield _row(place, moment, flat_radii[i], seen + i + 1, track, at, zone)


def _point(
    geometry: Mapping[str, Any], properties: Mapping[str, Any], seen: int, where: str, zone: dt.tzinfo | None
) -> Iterator[PointRow]:
    moment = next((properties[key] for key in POINT_TIMES if properties.get(key) not in (None, "")), None)
    if moment is not None:
        lowered = {key.lower(): value for key, value in properties.items()}
        radius = next((lowered[key] for key in RADIUS_FIELDS if key in lowered), None)
        yield _row(geometry.get("coordinates"), moment, radius, seen + 1, 0, where, zone)


def _listed(properties: Mapping[str, Any], keys: Sequence[str]) -> list[Any] | None:
    """Return the first list among properties and those for each coordinate, None without."""
    for table in (properties, _table(properties.get("coordinateProperties"))):
        for key in keys:
            if isinstance(table.get(key), list):
                return list(table[key])
    return None


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _row(
    place: Any, moment: Any, radius_m: Any, number: int, track: int, where: str, zone: dt.tzinfo | None
) -> PointRow:
    numbers = [_number(value) for value in _list(place)[:3]]
    if len(numbers) < 2 or numbers[0] != numbers[0] or numbers[1] != numbers[1]:
        raise InputError(
            where=where,
            what=f"the position {quoted(str(place)[:40])} is not [longitude, latitude]",
            do="mend or remove it",
        )
    elevation_m = numbers[2] if len(numbers) > 2 else NAN
    sigma_m = sigma_of_radius(_number(radius_m))
    return PointRow(_time_s(moment, where, zone), numbers[1], numbers[0], elevation_m, sigma_m, NAN, number, track)


def _number(value: Any) -> float:
    """Return a number of JSON, NaN for anything else, infinities too."""
    try:
        good = isinstance(value, int | float) and not isinstance(value, bool) and abs(float(value)) < float("inf")
    except OverflowError:
        return NAN
    return float(value) if good else NAN


def _time_s(moment: Any, where: str, zone: dt.tzinfo | None) -> float:
    if moment is None or moment == "":
        return NAN
    if isinstance(moment, str):
        return parse_utc(moment, where=where, zone=zone)
    value = _number(moment)
    try:
        return of_calendar(value / 1000.0 if value >= MILLISECONDS_FROM else value)
    except ValueError:
        raise InputError(
            where=where, what=f"the time {quoted(str(moment)[:40])} is no time", do="mend or remove the position"
        ) from None
