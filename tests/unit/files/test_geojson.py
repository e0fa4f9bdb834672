"""GeoJSON (RFC 7946) with the properties in which converters and recorders put times."""

import json

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.tracks.geojson import parse_geojson
from analyzer.workspace.intake.recognise import recognise

ZERO_S = 1768642200  # 2026-01-17T09:30:00Z
PLACES = [[7.0 + i * 1e-5, 46.0, 1000.0 + i] for i in range(12)]
TEXTS = [f"2026-01-17T09:30:{i:02d}Z" for i in range(12)]


def feature(kind, coordinates, **properties):
    return {"type": "Feature", "geometry": {"type": kind, "coordinates": coordinates}, "properties": properties}


def file_of(*features):
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


@pytest.mark.parametrize(
    "properties",
    [
        {"coordTimes": TEXTS},
        {"times": [ZERO_S + i for i in range(12)]},
        {"time": [(ZERO_S + i) * 1000 for i in range(12)]},
        {"coordinateProperties": {"times": TEXTS}},
    ],
)
def test_times_of_a_line_in_their_usual_places(properties):
    fixes = parse_geojson(file_of(feature("LineString", PLACES, **properties)))
    np.testing.assert_array_equal(fixes.time_s, ZERO_S + np.arange(12.0))
    assert (fixes.first[3], fixes.second[3], fixes.elevation_m[3]) == (46.0, 7.00003, 1003.0)


def test_pieces_of_a_line_have_lists_of_times_or_one_list():
    pieces = [PLACES[:5], PLACES[5:]]
    for times in ([TEXTS[:5], TEXTS[5:]], TEXTS):
        fixes = parse_geojson(file_of(feature("MultiLineString", pieces, coordTimes=times)))
        np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
        assert fixes.parts == ()


def test_points_with_times_are_a_track_and_state_their_accuracy():
    points = [feature("Point", PLACES[i], time=TEXTS[i], accuracy=3.0316) for i in range(12)]
    fixes = parse_geojson(file_of(*points))
    np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
    np.testing.assert_allclose(fixes.sigma_m, 2.0)  # sqrt(-2 ln(1 - 0.683)) = 1.5158


def test_lines_are_tracks_and_what_has_no_times_is_counted():
    later = [t.replace("09:30", "09:40") for t in TEXTS]
    fixes = parse_geojson(
        file_of(
            feature("LineString", PLACES, name="Bo", coordTimes=later),
            feature("LineString", PLACES),
            feature("LineString", PLACES, name="Ada", coordTimes=TEXTS),
        )
    )
    assert [p.title for p in fixes.parts] == ["Ada", "Bo"]
    assert dict(fixes.dropped) == {"a line or point without times": 1}


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (file_of(feature("LineString", PLACES)), "no line or point in it has times"),
        (file_of(), "no line or point in it has times"),
        (file_of(feature("LineString", PLACES, coordTimes=TEXTS[1:])), "feature 1: .*12 positions and 11 times"),
        (file_of(feature("LineString", [[7.0], *PLACES[1:]], coordTimes=TEXTS)), "position 1: .* is not"),
        (file_of(feature("LineString", [[7.0, None], *PLACES[1:]], coordTimes=TEXTS)), "position 1: .* is not"),
        (file_of(feature("LineString", PLACES, coordTimes=["noon", *TEXTS[1:]])), "position 1: .*ISO 8601"),
        (file_of(feature("LineString", PLACES, coordTimes=[1e300, *TEXTS[1:]])), "position 1: .*no time"),
        (file_of(feature("LineString", PLACES, coordTimes=TEXTS))[:-99], "line 1: this is not JSON"),
        (b'{"type": "Feature", "geometry": ' + b"[" * 200_000, "a nesting that is not read"),
        (b'{"type": 3}', "no GeoJSON"),
        (b'{"a": 1' + b"0" * 5000 + b"}", "this is not JSON"),
        (b"[]", "no GeoJSON"),
        (b'{"type": "FeatureCollection", "features": [' + b"{}," * 1_000_000 + b"{}]}", "more than 1000000 lists"),
        (b"\xff{}", "not UTF-8"),
        (b"", "empty"),
    ],
)
def test_unusable_files_say_why(data, what):
    with pytest.raises(InputError, match=what):
        parse_geojson(data)


@pytest.mark.parametrize(
    "odd",
    [
        {"type": "FeatureCollection", "features": [None, 3, [], {}, {"geometry": 4, "properties": 5}]},
        {"type": "Feature", "geometry": {"type": "LineString", "coordinates": 7}, "properties": {"times": []}},
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": {}}, "properties": {"time": {}}},
        {"type": "MultiLineString", "coordinates": [1, 2]},
    ],
)
def test_odd_shapes_are_refused_in_one_line(odd):
    with pytest.raises(InputError) as caught:
        parse_geojson(json.dumps(odd).encode())
    assert "\n" not in str(caught.value)


def test_it_is_recognised_by_its_content():
    found = recognise(b"\xef\xbb\xbf" + file_of(feature("LineString", PLACES, coordTimes=TEXTS)), name="x.txt")
    assert (found.ending, found.rows, found.begin_s) == (".geojson", 12, ZERO_S)
