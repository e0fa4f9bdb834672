"""Small drills and track files, written here by hand and not by the project's own writers."""

import datetime as dt

import pytest

from analyzer.model.drill import Drill, Origin, Slope, Transmitter


@pytest.fixture
def drill() -> Drill:
    """Return a level drill at 46 N, 7 E with one transmitter 20 m east of the origin."""
    return Drill(
        name="Lower bowl",
        date=dt.date(2026, 1, 17),
        origin=Origin(latitude=46.0, longitude=7.0, elevation_m=0.0),
        slope=Slope(),
        transmitters=(Transmitter(id="A", east_m=20.0, north_m=0.0, depth_m=1.0),),
    )


@pytest.fixture
def gpx():
    """Return a function that makes a GPX file of points (lat, lon, time text, inner XML)."""

    def make(points, *, version: str = "1.1", prefix: str = "", root_attributes: str = "") -> bytes:
        p = f"{prefix}:" if prefix else ""
        namespace = f'xmlns{":" + prefix if prefix else ""}="http://www.topografix.com/GPX/{version.replace(".", "/")}"'
        body = "\n".join(
            f'<{p}trkpt lat="{lat}" lon="{lon}">'
            f"{f'<{p}time>{time}</{p}time>' if time is not None else ''}{inner}</{p}trkpt>"
            for lat, lon, time, inner in points
        )
        return (
            f'<?xml version="1.0" encoding="UTF-8"?>\n<{p}gpx version="{version}" creator="test" {namespace} '
            f"{root_attributes}>\n<{p}trk><{p}trkseg>\n{body}\n</{p}trkseg></{p}trk></{p}gpx>\n"
        ).encode()

    return make


@pytest.fixture
def walk():
    """Return a function that gives n points at 1 Hz, walking east from the drill's origin."""

    def make(n: int = 30, inner: str = ""):
        return [(46.0, round(7.0 + i * 1e-5, 7), f"2026-01-17T09:30:{i:02d}Z", inner) for i in range(n)]

    return make
