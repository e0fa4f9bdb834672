"""KML tracks with times (`gx:Track`, in KML 2.3 `Track`; placemarks with a time stamp), and KMZ, a zip around KML."""

import datetime as dt
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from analyzer.errors import InputError, quoted
from analyzer.files.source import check_not_empty
from analyzer.files.times import parse_utc
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.gpx import RADIUS_FIELDS
from analyzer.files.tracks.packed import kml_of_kmz
from analyzer.files.tracks.point_rows import (
    NAN,
    NO_POSITION,
    PointRow,
    finite,
    finite_or_nan,
    fixes_of,
    sigma_of_radius,
)
from analyzer.files.tracks.xml_points import MAX_POINTS, scan_points

MARKER = "a marker beside the track"
_RADIUS_ARRAYS = (*RADIUS_FIELDS, "accuracy_horizontal")
_TRACKS, _PLACE, _POINT, _DATA = ("Track", "MultiTrack"), "Placemark", "Point", "SimpleArrayData"


@dataclass(slots=True)
class _Found:
    """What the placemarks hold: rows of tracks with their titles, rows of points with a time stamp, and the counts."""

    name: str
    zone: dt.tzinfo | None
    tracks: list[PointRow] = field(default_factory=list)
    titles: list[str] = field(default_factory=list)
    points: list[PointRow] = field(default_factory=list)
    without: int = 0
    seen: int = 0

    def number(self) -> int:
        """Count one more point of the file."""
        self.seen += 1
        if self.seen > MAX_POINTS:
            raise too_many_points(self.name, MAX_POINTS)
        return self.seen


def parse_kmz(data: bytes, *, name: str = "track.kmz", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of the KML file inside a KMZ; as `parse_kml`, and `InputError` where there is none in it."""
    return parse_kml(kml_of_kmz(data, name=name), name=name, zone=zone)


def parse_kml(data: bytes, *, name: str = "track.kml", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of the tracks of a KML file; without a track, its placemarks with a time stamp make one.

    Each placemark with tracks is one; the tracks of a `MultiTrack` are its pieces. `zone`: of times that bear none.
    Moments without a place, and markers beside a track, are set aside and counted.

    Raises
    ------
    InputError
        Where the XML is unsafe or broken, nothing in it has times, or a number or time is bad; the number of the point
        (from 1) is named.
    """
    check_not_empty(data, name=name)
    # The safe first pass: it refuses what can attack a parser, such as a DOCTYPE, before the second one reads on.
    scan = scan_points(data, name=name, point=_PLACE, group="Folder")
    if scan.root.rpartition(":")[2] != "kml":
        raise InputError(where=name, what=f"the XML is <{scan.root[:40]}>, not <kml>", do="name the file by its format")
    found = _Found(name, zone)
    _take_all(data, found)
    rows = found.tracks or found.points
    if not rows:
        raise _no_times(name, drawn="LineString" in scan.elements or any(_drawn(p.deep, p.fields) for p in scan.points))
    dropped = {NO_POSITION: found.without, MARKER: len(found.points) if found.tracks else 0}
    return fixes_of(rows, name=name, unit="point", dropped=dropped, titles=found.titles)


def _take_all(data: bytes, found: _Found) -> None:
    try:
        for _, element in ET.iterparse(_Bytes(data)):
            if _local(element) == _PLACE:
                _take(element, found)
                element.clear()
    except ET.ParseError as error:  # what the first pass, which knows no namespaces, lets through
        line = f", line {error.position[0]}"
        raise InputError(
            where=f"{found.name}{line}", what="the XML is broken or cut off", do="export the file again"
        ) from None


class _Bytes:
    """What `iterparse` reads from: bytes in pieces, so that it need not keep them twice."""

    def __init__(self, data: bytes) -> None:
        self._data, self._at = data, 0

    def read(self, size: int = -1) -> bytes:
        begin, self._at = self._at, len(self._data) if size < 0 else self._at + size
        return self._data[begin : self._at]


def _drawn(*fields: dict[str, str]) -> bool:
    return any("coordinates" in texts for texts in fields)


def _no_times(name: str, *, drawn: bool) -> InputError:
    what = "the lines and places in it have no times" if drawn else "the file holds no track"
    return InputError(
        where=name,
        what=what,
        do="export the recorded track as KML with times (gx:Track), or as GPX; a drawn line has none",
    )


def _take(placemark: ET.Element, found: _Found) -> None:
    """Put the tracks of a placemark, or its place and time, where they belong."""
    pieces = [element for element in placemark.iter() if _local(element) == _TRACKS[0]]
    if pieces:
        title = next((child.text or "" for child in placemark if _local(child) == "name"), "").strip()
        found.titles.append(title)
        for i, piece in enumerate(pieces):
            rows = list(_of_track(piece, len(found.titles) - 1, found))
            if i and rows and _before(rows, found.tracks):
                # No piece of the one before it, but another recording.
                found.titles.append(title)
                rows = [row._replace(track=len(found.titles) - 1) for row in rows]
            found.tracks += rows
        return
    point = next((child for child in placemark.iter() if _local(child) == _POINT), None)
    when = next((e for child in placemark if _local(child) == "TimeStamp" for e in child if _local(e) == "when"), None)
    if point is None or when is None:
        return
    number = found.number()
    where = f"{found.name}, point {number}"
    place = next((child.text or "" for child in point if _local(child) == "coordinates"), "")
    found.points.append(_row(place.strip().split(","), when.text or "", NAN, number, 0, where, found.zone))


def _before(rows: Sequence[PointRow], earlier: Sequence[PointRow]) -> bool:
    """Return whether a piece begins before the last one of those read so far ended."""
    return bool(earlier) and rows[0].time_s < earlier[-1].time_s


def _of_track(piece: ET.Element, track: int, found: _Found) -> Iterator[PointRow]:
    """Yield the points of one track: its moments and places are lists of one length, in one order."""
    moments = [(e.text or "").strip() for e in piece if _local(e) == "when"]
    places = [(e.text or "").split() for e in piece if _local(e) == "coord"]
    if len(moments) != len(places):
        raise InputError(
            where=f"{found.name}, from point {found.seen + 1} on",
            what=f"a track has {len(moments)} times and {len(places)} places",
            do="export the file again",
        )
    radii = _radii(piece, len(moments))
    for i, (moment, place) in enumerate(zip(moments, places, strict=True)):
        number = found.number()
        if not place:  # KML 2.2: an empty element stands for a missing one
            found.without += 1
            continue
        yield _row(place, moment, radii[i], number, track, f"{found.name}, point {number}", found.zone)


def _radii(piece: ET.Element, n: int) -> Sequence[float]:
    """Return the stated accuracy of each point of a track, NaN where there is no such list of the same length."""
    for element in piece.iter():
        if _local(element) == _DATA and element.get("name", "").lower() in _RADIUS_ARRAYS:
            values = [finite_or_nan((child.text or "").strip()) for child in element if _local(child) == "value"]
            if len(values) == n:
                return values
    return [NAN] * n


def _row(
    place: Sequence[str], moment: str, radius_m: float, number: int, track: int, where: str, zone: dt.tzinfo | None
) -> PointRow:
    try:
        longitude, latitude = finite(place[0]), finite(place[1])
        elevation_m = finite(place[2]) if len(place) > 2 else NAN
    except (ValueError, IndexError):
        raise InputError(
            where=where,
            what=f"the place {quoted(' '.join(place)[:40])} is not longitude, latitude and height",
            do="mend or remove the point",
        ) from None
    time_s = parse_utc(moment, where=where, zone=zone) if moment.strip() else NAN
    return PointRow(time_s, latitude, longitude, elevation_m, sigma_of_radius(radius_m), NAN, number, track)


def _local(element: ET.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
