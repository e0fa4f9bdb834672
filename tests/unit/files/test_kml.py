"""KML and KMZ with times. Structure after OGC 12-007r2 (KML 2.3) and its predecessor's gx extensions."""

import io
import zipfile

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.tracks import packed
from analyzer.files.tracks.kml import parse_kml, parse_kmz
from analyzer.workspace.intake.recognise import recognise

HEAD = '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>'
FOOT = "</Document></kml>"


def stamp(second):
    return f"2026-01-17T09:{30 + second // 60}:{second % 60:02d}Z"


def piece(first, n=12, extra="", prefix="gx:"):
    moments = "".join(f"<when>{stamp(first + i)}</when>" for i in range(n))
    places = "".join(f"<{prefix}coord>7.{i:05d} 46.0 {1000 + i}</{prefix}coord>" for i in range(n))
    return f"<{prefix}Track>{moments}{places}{extra}</{prefix}Track>"


def placemark(inside, name="walk"):
    return f"<Placemark><name>{name}</name>{inside}</Placemark>"


def kml(*placemarks):
    return (HEAD + "".join(placemarks) + FOOT).encode()


def kmz(content, *more, compression=zipfile.ZIP_DEFLATED):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", compression) as archive:
        for name, data in (("doc.kml", content), *more):
            archive.writestr(name, data)
    return buffer.getvalue()


@pytest.mark.parametrize("prefix", ["gx:", ""])
def test_a_track_is_read_with_its_heights(prefix):
    fixes = parse_kml(kml(placemark(piece(0, prefix=prefix))))
    np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
    np.testing.assert_allclose(fixes.second, 7 + np.arange(12) * 1e-5)
    assert (fixes.first[0], fixes.elevation_m[1]) == (46.0, 1001.0)


def test_a_stated_accuracy_is_a_radius_of_68_percent():
    values = "".join(f"<gx:value>{v}</gx:value>" for v in [3.0316] * 12)
    data = f'<gx:SimpleArrayData name="accuracy">{values}</gx:SimpleArrayData>'
    data = f"<ExtendedData><SchemaData>{data}</SchemaData></ExtendedData>"
    # sqrt(-2 ln(1 - 0.683)) = 1.5158 standard deviations of one axis
    np.testing.assert_allclose(parse_kml(kml(placemark(piece(0, extra=data)))).sigma_m, 2.0)
    assert np.all(np.isnan(parse_kml(kml(placemark(piece(0, n=11, extra=data)))).sigma_m))  # of another length


def test_pieces_of_a_multitrack_are_one_track_and_placemarks_are_several():
    pieces = parse_kml(kml(placemark(f"<gx:MultiTrack>{piece(0)}{piece(60)}</gx:MultiTrack>")))
    assert (len(pieces.time_s), pieces.parts) == (24, ())
    two = parse_kml(kml(placemark(piece(60), "Bo"), placemark(piece(0), "Ada")))
    assert [p.title for p in two.parts] == ["Ada", "Bo"]
    with pytest.raises(InputError, match="recorded at the same time"):
        parse_kml(kml(placemark(f"<gx:MultiTrack>{piece(0)}{piece(5)}</gx:MultiTrack>")))


def test_moments_without_a_place_and_markers_are_counted():
    marker = f"<TimeStamp><when>{stamp(0)}</when></TimeStamp><Point><coordinates>7,46,0</coordinates></Point>"
    data = kml(placemark(marker), placemark(piece(0))).replace(
        b"<gx:coord>7.00003 46.0 1003</gx:coord>", b"<gx:coord/>"
    )
    fixes = parse_kml(data)
    assert dict(fixes.dropped) == {"no position": 1, "a marker beside the track": 1}
    assert (fixes.rows, len(fixes.time_s)) == (13, 11)


def test_placemarks_with_time_stamps_make_a_track():
    points = [
        placemark(
            f"<TimeStamp><when>{stamp(i)}</when></TimeStamp><Point><coordinates> 7.{i:05d},46,5 </coordinates></Point>"
        )
        for i in range(12)
    ]
    fixes = parse_kml(kml(*points))
    assert (len(fixes.time_s), fixes.second[2], fixes.elevation_m[0]) == (12, 7.00002, 5.0)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (kml(placemark("<LineString><coordinates>7,46 7.1,46</coordinates></LineString>")), "have no times"),
        (kml(placemark("<Point><coordinates>7,46</coordinates></Point>")), "have no times"),
        (kml(), "holds no track"),
        (kml(placemark(piece(0)))[:-400], "broken or cut off"),
        (kml(placemark(piece(0))).replace(b"46.0", b"north", 1), "point 1: the place '7.00000 north"),
        (kml(placemark(piece(0))).replace(b"<when>2026-01-17T09:30:00Z</when>", b"", 1), "11 times and 12 places"),
        (kml(placemark(piece(0))).replace(b"09:30:03Z", b"09:30:03"), "point 4: the time .* has no offset from UTC"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]>' + kml(placemark(piece(0))), "document type or an entity"),
        (kml(placemark("<x:a/>" + piece(0))), "line 1: the XML is broken"),  # a prefix that nothing declares
        (b"<gpx/>", "not <kml>"),
        (b" ", "empty"),
    ],
)
def test_unusable_files_say_why(data, what):
    with pytest.raises(InputError, match=what):
        parse_kml(data)


def test_a_kmz_is_a_track_and_a_zip_of_a_drill_is_not():
    content = kml(placemark(piece(0)))
    found = recognise(kmz(content, ("files/icon.png", b"x")), name="tour")
    assert (found.kind, found.ending, found.rows) == ("track", ".kmz", 12)
    assert not packed.is_kmz(kmz(content, ("drill.toml", b"[drill]")))
    assert not packed.is_kmz(kmz(content, ("second.kml", b"<kml/>")))


def test_a_kmz_is_unpacked_within_its_bound(monkeypatch):
    data = kmz(kml(placemark(piece(0))))
    assert len(parse_kmz(data).time_s) == 12
    monkeypatch.setattr(packed, "MAX_UNPACKED", 1000)
    with pytest.raises(InputError, match="unpacks to more than"):
        parse_kmz(data)
    monkeypatch.undo()
    for damaged in (data[:-30], data[:40] + b"\x00" * 20 + data[60:], b"PK\x03\x04"):
        with pytest.raises(InputError, match="damaged, cut off or encrypted"):
            parse_kmz(damaged)
    tight = bytearray(kmz(kml(placemark(piece(0))), compression=zipfile.ZIP_LZMA))
    tight[41:49] = b"\xff" * 8
    with pytest.raises(InputError, match="damaged, cut off or encrypted"):
        parse_kmz(bytes(tight))
    with pytest.raises(InputError, match="no KML file"):
        parse_kmz(kmz(b"x").replace(b"doc.kml", b"doc.txt"))
