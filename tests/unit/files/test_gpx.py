"""GPX tracks and waypoints."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.tracks import xml_points
from analyzer.files.tracks.gpx import parse_gpx, parse_waypoints

BOMB = (
    '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + i)} "{("&" + chr(97 + i) + ";") * 10}">' for i in range(9))
    + ']><gpx version="1.1" creator="t"><trk><name>&j;</name></trk></gpx>'
).encode()
EXTERNAL = b"""<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>
<gpx version="1.1" creator="t"><trk><name>&x;</name><trkseg/></trk></gpx>"""
EXTERNAL_DTD = b"""<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "http://localhost/gpx.dtd"><gpx version="1.1"/>"""


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_values_of_a_plain_file(gpx, walk, version):
    fixes = parse_gpx(gpx(walk(30, "<ele>1234.5</ele><hdop>0.9</hdop>"), version=version))
    assert len(fixes.time_s) == 30 == fixes.rows
    np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
    np.testing.assert_array_equal(fixes.first, 46.0)
    np.testing.assert_allclose(fixes.second, 7.0 + 1e-5 * np.arange(30), rtol=0, atol=1e-12)
    np.testing.assert_array_equal(fixes.hdop, 0.9)
    assert fixes.step == pytest.approx(1e-5)


@pytest.mark.parametrize("prefix", ["ns2", "gpx"])
def test_prefixed_namespace_reads_like_a_plain_one(gpx, walk, prefix):
    """gpxpy itself finds no track in `<ns2:gpx>`, without an error."""
    plain, prefixed = parse_gpx(gpx(walk())), parse_gpx(gpx(walk(), prefix=prefix))
    np.testing.assert_array_equal(prefixed.time_s, plain.time_s)
    np.testing.assert_array_equal(prefixed.second, plain.second)


def test_declared_latin_1_is_decoded(gpx, walk):
    data = (
        gpx(walk()).replace(b"UTF-8", b"ISO-8859-1").replace(b"<trkseg>", "<name>Tête</name><trkseg>".encode("latin-1"))
    )
    assert len(parse_gpx(data).time_s) == 30


def test_byte_order_mark_is_taken_off(gpx, walk):
    assert len(parse_gpx(b"\xef\xbb\xbf" + gpx(walk())).time_s) == 30


@pytest.mark.parametrize("data", [BOMB, EXTERNAL, EXTERNAL_DTD], ids=["bomb", "external entity", "external dtd"])
@pytest.mark.parametrize("parse", [parse_gpx, parse_waypoints])
def test_document_types_and_entities_are_refused(data, parse):
    with pytest.raises(InputError, match="document type or an entity"):
        parse(data)


def test_deep_nesting_is_refused():
    with pytest.raises(InputError, match="more than 64 elements nested"):
        parse_gpx(b"<gpx>" + b"<a>" * 100 + b"</a>" * 100 + b"</gpx>")


def test_too_many_points_are_refused(gpx, walk, monkeypatch):
    monkeypatch.setattr(xml_points, "MAX_POINTS", 20)
    with pytest.raises(InputError, match="more than 20 points"):
        parse_gpx(gpx(walk(30)))


@pytest.mark.parametrize(
    ("point", "what"),
    [
        ((46.0, 7.0, "2026-01-17T09:30:99Z", ""), "'2026-01-17T09:30:99Z' is not an ISO 8601 time"),
        ((46.0, 7.0, "2026-01-17T09:30:05", ""), "no offset from UTC"),
        (("x", 7.0, "2026-01-17T09:30:05Z", ""), "latitude 'x' is not a number"),
        (("nan", 7.0, "2026-01-17T09:30:05Z", ""), "is not finite"),
        ((46.0, 7.0, "2026-01-17T09:30:05Z", "<ele>high</ele>"), "elevation 'high' is not a number"),
        ((46.0, 7.0, "2026-01-17T09:30:05Z", "<hdop>good</hdop>"), "hdop 'good' is not a number"),
    ],
)
def test_bad_point_is_named_by_number_and_line(gpx, walk, point, what):
    points = walk()
    points[5] = point
    with pytest.raises(InputError) as caught:
        parse_gpx(gpx(points), name="track.gpx")
    # Point 6 stands on line 9 of the file: three lines come before the first point.
    assert caught.value.where == "track.gpx, point 6 (line 9)"
    assert what in caught.value.what


def test_missing_longitude_is_named(gpx, walk):
    data = gpx(walk()).replace(b' lon="7.00002"', b"")
    with pytest.raises(InputError, match=r"point 3 .*has no longitude"):
        parse_gpx(data)


def test_point_without_time_stays_without(gpx, walk):
    points = walk()
    points[4] = (46.0, 7.0, None, "")
    fixes = parse_gpx(gpx(points))
    assert list(np.flatnonzero(np.isnan(fixes.time_s))) == [4]


def test_two_tracks_are_refused_and_empty_ones_are_not_counted(gpx, walk):
    one = gpx(walk()).decode()
    track = one[one.index("<trk>") : one.index("</trk>") + 6]
    with pytest.raises(InputError, match="holds 2 tracks, of which some were recorded at the same time"):
        parse_gpx(one.replace("</gpx>", track + "</gpx>").encode())
    assert len(parse_gpx(one.replace("</gpx>", "<trk><trkseg/></trk></gpx>").encode()).time_s) == 30


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (b"<gpx version='1.1'/>", "the file holds no track"),
        (b"<gpx version='1.1'><rte><rtept lat='46' lon='7'/></rte></gpx>", "a route, which is a plan"),
        (b"<kml/>", "the XML is <kml>, not <gpx>"),
        (b"<gpx version='1.1'><trk><trkseg>", "broken or cut off"),
        (b"   \n", "the file is empty"),
        (b"time,latitude\n", "broken or cut off"),
        (b'<?xml version="1.0" encoding="martian"?><gpx/>', "encoding"),
        (b"\x00\x01\x02\x03", "broken or cut off"),
    ],
)
def test_unusable_files_say_why(body, what):
    with pytest.raises(InputError) as caught:
        parse_gpx(body)
    assert what in str(caught.value)


@pytest.mark.parametrize("field", ["hAcc", "x:accuracy", "horizontalAccuracy"])
def test_accuracy_radius_becomes_one_axis_sigma(gpx, walk, field):
    """68.3 % of a circular Gaussian lie within 1.5158 one-axis standard deviations: sqrt(-2 ln(1 - 0.683))."""
    inner = f'<extensions><a xmlns:x="urn:x"><{field}>3.0</{field}></a></extensions>'
    fixes = parse_gpx(gpx(walk(30, inner)))
    np.testing.assert_allclose(fixes.sigma_m, 3.0 / np.sqrt(-2.0 * np.log(1.0 - 0.683)), rtol=1e-4)


@pytest.mark.parametrize("text", ["0", "-1", ""])
def test_accuracy_that_means_unknown_is_not_stated(gpx, walk, text):
    fixes = parse_gpx(gpx(walk(30, f"<extensions><hAcc>{text}</hAcc></extensions>")))
    assert np.all(np.isnan(fixes.sigma_m))


def test_a_time_inside_an_extension_is_not_the_points_time(gpx, walk):
    points = [
        (lat, lon, None, "<extensions><time>2026-01-17T09:30:00Z</time></extensions>") for lat, lon, _, _ in walk()
    ]
    assert np.all(np.isnan(parse_gpx(gpx(points)).time_s))


def test_waypoints_by_name():
    data = b"""<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
    <wpt lat="46.0001" lon="7.0002"><ele>5</ele><name>A</name></wpt><wpt lat="46" lon="7"><name>B</name></wpt></gpx>"""
    assert parse_waypoints(data) == {"A": (46.0001, 7.0002), "B": (46.0, 7.0)}


def test_two_waypoints_of_one_name_and_waypoints_off_earth_are_errors():
    with pytest.raises(InputError, match="second waypoint is named 'A'"):
        parse_waypoints(
            b'<gpx><wpt lat="46" lon="7"><name>A</name></wpt><wpt lat="46" lon="7"><name>A</name></wpt></gpx>'
        )
    with pytest.raises(InputError, match="not on Earth"):
        parse_waypoints(b'<gpx><wpt lat="96" lon="7"><name>A</name></wpt></gpx>')


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_damaged_files_give_fixes_or_an_input_error(gpx, walk, data):
    """Whatever happens to a byte or two, nothing but the project's own error comes out."""
    content = bytearray(gpx(walk(3, "<ele>1</ele><extensions><hAcc>2</hAcc></extensions>")))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(content) - 1))
        content[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    try:
        fixes = parse_gpx(bytes(content))
    except InputError:
        return
    assert len(fixes.time_s) == len(fixes.first) >= 1


def test_a_prefix_that_nothing_declares_is_told(gpx, walk):
    broken = gpx(walk(), prefix="p").replace(b"<p:trkpt", b"<q:a/><p:trkpt", 1)
    with pytest.raises(InputError, match="the GPX is not valid"):
        parse_gpx(broken)
