"""What the writers write reads back, and GPX follows its schema."""

import dataclasses
import datetime as dt
import re
import tomllib
import xml.etree.ElementTree as ET

import gpxpy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.writers import (
    write_drill_toml,
    write_gpx,
    write_marks_csv,
    write_readings_csv,
    write_run_toml,
    write_track_csv,
)
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.recording import Mark, Readings, RunInfo, Track

ZERO = dt.datetime(2026, 1, 17, 9, 30, 0, 250_000, tzinfo=dt.UTC)
NS = "{http://www.topografix.com/GPX/1/1}"
# Sequences of GPX 1.1 (topografix.com/GPX/1/1/gpx.xsd, from memory): metadataType and wptType.
METADATA_ORDER = ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"]
POINT_ORDER = [
    "ele",
    "time",
    "magvar",
    "geoidheight",
    "name",
    "cmt",
    "desc",
    "src",
    "link",
    "sym",
    "type",
    "fix",
    "sat",
    "hdop",
    "vdop",
    "pdop",
    "ageofdgpsdata",
    "dgpsid",
    "extensions",
]


def make_track(seed: int, n: int = 25, *, stated: bool = True) -> Track:
    rng = np.random.default_rng(seed)
    none = np.full(n, np.nan)
    return Track(
        time_s=np.cumsum(rng.uniform(0.2, 3.0, n)).round(3) - 0.2,
        east_m=rng.normal(0, 80, n),
        north_m=rng.normal(0, 80, n),
        elevation_m=rng.normal(2000, 5, n) if stated else none,
        sigma_m=rng.uniform(0.01, 4, n) if stated else none,
        hdop=rng.uniform(0.6, 3, n) if stated else none,
    )


def from_first_fix(track: Track) -> np.ndarray:
    return track.time_s - track.time_s[0]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(-60, 60), st.booleans())
def test_gpx_reads_back(seed, latitude, stated):
    drill = Drill("d", None, Origin(latitude, 8.0, 1500.0), Slope(), (Transmitter("A", 0, 0, 1),))
    track = make_track(seed, stated=stated)
    data = write_gpx(track, LocalFrame(drill.origin), time_zero=ZERO, name='Run <1> & "more"')
    back = parse_run("r", {"track.gpx": data}, drill).track
    # 1e-8 degree is 1.1 mm, half of it rounds off.
    np.testing.assert_allclose(back.east_m, track.east_m, rtol=0, atol=7e-4)
    np.testing.assert_allclose(back.north_m, track.north_m, rtol=0, atol=7e-4)
    np.testing.assert_allclose(back.time_s, from_first_fix(track), rtol=0, atol=1.1e-3)
    np.testing.assert_allclose(back.sigma_m, track.sigma_m, rtol=0, atol=6e-5)
    np.testing.assert_allclose(back.hdop, track.hdop, rtol=0, atol=6e-3)
    np.testing.assert_allclose(back.elevation_m, track.elevation_m, rtol=0, atol=6e-4)


@pytest.mark.parametrize("stated", [True, False])
def test_gpx_follows_its_schema(stated):
    data = write_gpx(make_track(3, stated=stated), LocalFrame(Origin(46.0, 7.0, 0.0)), time_zero=ZERO)
    root = ET.fromstring(data)
    assert root.tag == NS + "gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator")
    assert [child.tag for child in root] == [NS + "metadata", NS + "trk"]
    metadata = [child.tag.removeprefix(NS) for child in root[0]]
    assert metadata == sorted(metadata, key=METADATA_ORDER.index)
    segment = root[1].find(NS + "trkseg")
    assert len(segment) == 25
    for point in segment:
        assert point.tag == NS + "trkpt"
        assert set(point.attrib) == {"lat", "lon"}
        assert all(re.fullmatch(r"-?\d+(\.\d+)?", text) for text in point.attrib.values())  # xsd:decimal
        names = [child.tag.removeprefix(NS) for child in point]
        assert names == sorted(names, key=POINT_ORDER.index)
        assert "time" in names
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", point.findtext(NS + "time"))
        for extension in point.iterfind(f"{NS}extensions/*"):
            assert not extension.tag.startswith(NS)  # the schema allows other namespaces only


def test_gpx_is_read_by_gpxpy():
    track = make_track(4)
    gpx = gpxpy.parse(write_gpx(track, LocalFrame(Origin(46.0, 7.0, 0.0)), time_zero=ZERO).decode())
    (points,) = [s.points for t in gpx.tracks for s in t.segments]
    assert len(points) == len(track.time_s)
    assert points[0].time.timestamp() == pytest.approx(ZERO.timestamp() + track.time_s[0], abs=1e-3)
    assert gpx.version == "1.1"


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_track_csv_reads_back(seed, stated):
    drill = Drill("d", None, Origin(46.0, 7.0), Slope(), (Transmitter("A", 0, 0, 1),))
    track = make_track(seed, stated=stated)
    back = parse_run("r", {"track.csv": write_track_csv(track, time_zero=ZERO)}, drill).track
    np.testing.assert_allclose(back.east_m, track.east_m, rtol=0, atol=6e-5)
    np.testing.assert_allclose(back.time_s, from_first_fix(track), rtol=0, atol=1.1e-3)
    np.testing.assert_allclose(back.sigma_m, track.sigma_m, rtol=0, atol=6e-5)


@pytest.mark.parametrize("by_hand", [True, False])
def test_readings_and_marks_read_back(drill, by_hand):
    track = dataclasses.replace(make_track(1), time_s=np.arange(25.0))
    readings = Readings(
        time_s=[1.5, 2.25], reading_m=[30.0, 29.5], transmitter=("A", None), steer_deg=[-10.0, np.nan],
        heading_deg=[np.nan, np.nan], by_hand=by_hand)  # fmt: skip
    marks = (Mark(0.0, "start"), Mark(12.5, "probe_hit", "A", 'a note, "quoted"'))
    run = parse_run(
        "r",
        {
            "track.csv": write_track_csv(track, time_zero=ZERO),
            "readings.csv": write_readings_csv(readings, time_zero=ZERO),
            "marks.csv": write_marks_csv(marks, time_zero=ZERO),
        },
        drill,
    )
    np.testing.assert_allclose(run.readings.time_s, readings.time_s, atol=1e-6)
    np.testing.assert_array_equal(run.readings.reading_m, readings.reading_m)
    np.testing.assert_array_equal(run.readings.steer_deg, readings.steer_deg)
    assert run.readings.transmitter == readings.transmitter
    assert run.readings.by_hand is by_hand
    assert run.marks == marks
    assert run.time_zero == ZERO


TEXT = st.text(st.characters(codec="utf-8"), min_size=1, max_size=20)


@given(TEXT, TEXT.filter(str.strip), st.floats(-60, 60), st.floats(0, 60), st.floats(-500, 500))
def test_drill_toml_reads_back(name, label, latitude, angle, east):
    drill = Drill(
        name, dt.date(2026, 1, 17), Origin(latitude, 7.0, 10.0), Slope(angle, 90.0),
        (Transmitter(label, east, -1.0, 0.9, 45.0, -10.0, 0.3), Transmitter(label + "2", 0, 0, 1.0)),
        corners_m=[[0, 0], [1, 0], [1, 1]], start=ZERO, time_limit_s=300.0, strip_width_m=35.0)  # fmt: skip
    data = write_drill_toml(drill)
    back = parse_drill_toml(data)
    assert back.transmitters == drill.transmitters
    assert (back.name, back.origin, back.slope, back.date) == (drill.name, drill.origin, drill.slope, drill.date)
    assert (back.start, back.time_limit_s, back.strip_width_m) == (drill.start, 300.0, 35.0)
    np.testing.assert_array_equal(back.corners_m, drill.corners_m)


@given(TEXT, TEXT)
def test_run_toml_reads_back(searcher, recorder):
    info = RunInfo(searcher=searcher, bib="7", antennas=2, carry_height_m=1.1, fine_height_m=0.2, recorder=recorder)
    assert parse_run_toml(write_run_toml(info)) == info
    assert tomllib.loads(write_run_toml(info).decode())["antennas"] == 2
