"""TCX activities, read from the safe pass over the XML."""

import datetime as dt

import numpy as np

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty
from analyzer.files.times import parse_utc
from analyzer.files.tracks.fixes import Fixes, decimal_step
from analyzer.files.tracks.gpx import sigma_of
from analyzer.files.tracks.several import in_parts
from analyzer.files.tracks.xml_points import PointText, number_of, scan_points


def parse_tcx(data: bytes, *, name: str = "track.tcx", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a TCX file, of several activities in the order of time.

    Points without position are set aside and counted. `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where the XML is unsafe or broken, there is no activity or several of the same time, or a number or time is bad.
    """
    check_not_empty(data, name=name)
    scan = scan_points(data, name=name, point="Trackpoint", group="Activity")
    if scan.root.rpartition(":")[2] != "TrainingCenterDatabase":
        raise InputError(
            where=name,
            what=f"the XML is <{scan.root}>, not <TrainingCenterDatabase>",
            do="export the track as TCX, or name the file by its format",
        )
    placed = [(i + 1, p) for i, p in enumerate(scan.points) if "LatitudeDegrees" in p.deep]
    if not placed:
        raise InputError(where=name, what="the file holds no track", do="export the recorded track with positions")
    fixes = _fixes(placed, rows=len(scan.points), name=name, zone=zone)
    return in_parts(fixes, np.array([p.group - 1 for _, p in placed]), ())


def _fixes(placed: list[tuple[int, PointText]], *, rows: int, name: str, zone: dt.tzinfo | None) -> Fixes:
    table = [_row(point, number, f"{name}, point {number} (line {point.line})", zone) for number, point in placed]
    time_s, latitudes, longitudes, elevation, sigma, numbers = np.array(table, float).T
    without = rows - len(placed)
    return Fixes(
        name=name,
        unit="point",
        geographic=True,
        time_s=time_s,
        first=latitudes,
        second=longitudes,
        elevation_m=elevation,
        sigma_m=sigma,
        hdop=np.full(len(table), np.nan),
        number=numbers,
        step=decimal_step(latitudes, longitudes),
        rows=rows,
        dropped=(("no position", without),) if without else (),
    )


def _row(point: PointText, number: int, where: str, zone: dt.tzinfo | None) -> tuple[float, ...]:
    """Return time, latitude, longitude, elevation, sigma and number of a point."""
    latitude = number_of(point.deep["LatitudeDegrees"], where=where, what="latitude")
    longitude = number_of(point.deep.get("LongitudeDegrees"), where=where, what="longitude")
    if not np.isfinite(latitude + longitude):
        raise InputError(where=where, what="the position is incomplete", do="mend or remove the point")
    time = point.fields.get("Time", "")
    return (
        parse_utc(time, where=where, zone=zone) if time else np.nan,
        latitude,
        longitude,
        number_of(point.fields.get("AltitudeMeters"), where=where, what="elevation"),
        sigma_of(point, where=where),
        number,
    )
