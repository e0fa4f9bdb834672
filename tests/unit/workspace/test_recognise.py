"""Files are what their content says, whatever they are called."""

import struct
from pathlib import Path

import pytest

from analyzer.workspace.intake.model import DRILL, MARKS, OTHER, READINGS, RULES, RUN, TRACK, WAYPOINTS
from analyzer.workspace.intake.recognise import recognise

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
WPT = b'<gpx xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="46" lon="7"><name>A</name></wpt></gpx>'
TCX = (
    b'<?xml version="1.0"?><TrainingCenterDatabase xmlns="urn:tcx"><Activities><Activity><Lap><Track>'
    + b"".join(
        b"<Trackpoint><Time>2026-01-17T09:30:%02dZ</Time><Position><LatitudeDegrees>46.0</LatitudeDegrees>"
        b"<LongitudeDegrees>7.%d</LongitudeDegrees></Position></Trackpoint>" % (i, i)
        for i in range(3)
    )
    + b"</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
)
# Sentences with the checksums that a receiver writes: exclusive or of the bytes between $ and *.
RMC = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
GGA = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
DRILL_TOML = b"""[drill]
name = "Bowl"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
depth_m = 1.0
"""


def sample(*parts):
    return SAMPLES.joinpath(*parts).read_bytes()


@pytest.mark.parametrize(
    ("data", "kind", "ending", "rows"),
    [
        (sample("runs/mara-1/track.gpx"), TRACK, ".gpx", 140),
        (sample("runs/teodor-1/track.csv"), TRACK, ".csv", None),
        (RMC + GGA, TRACK, ".nmea", 1),
        (b"\xb5b\x01\x07\x00" + RMC + GGA, TRACK, ".nmea", None),
        (TCX, TRACK, ".tcx", 3),
        (sample("runs/mara-1/readings.csv"), READINGS, "", 102),
        (b"\xef\xbb\xbf# by hand\nElapsed;Reading_m\n1:23;12.5\n", READINGS, "", 1),
        (sample("runs/mara-1/marks.csv"), MARKS, "", 3),
        (sample("runs/mara-1/run.toml"), RUN, "", 1),
        (b"[run]\nsearcher = 'x'\n", RUN, "", 1),
        (sample("drill.toml"), DRILL, "", 1),
        ((Path(__file__).resolve().parents[3] / "analyzer/files/default_rules.toml").read_bytes(), RULES, "", 1),
        (WPT, WAYPOINTS, "", 1),
    ],
)
def test_kinds(data, kind, ending, rows):
    found = recognise(data, name="holiday picture.jpg")
    assert (found.kind, found.ending, found.problem) == (kind, ending, "")
    assert rows is None or found.rows == rows


def test_what_is_known_of_a_track():
    found = recognise(sample("runs/mara-1/track.gpx"), name="x")
    assert found.title == "mara-1"
    assert found.end_s - found.begin_s == 139.0  # 140 fixes, one a second
    # 2026-02-14T08:59:54Z: 20498 days after 1970-01-01, and 32394 s into the day.
    assert found.begin_s == 20498 * 86400 + 32394


def test_logs_tell_whether_they_have_a_time_of_day():
    by_hand = recognise(sample("runs/bera-1/readings.csv"), name="x")
    assert (by_hand.elapsed, by_hand.begin_s) == (True, None)
    timed = recognise(sample("runs/mara-1/readings.csv"), name="x")
    assert not timed.elapsed
    assert timed.end_s > timed.begin_s
    mixed = recognise(b"time,elapsed,mark\n2026-01-17T09:30:00Z,,start\n,60,finish\n", name="x")
    assert (mixed.elapsed, mixed.begin_s, mixed.end_s) == (False, 1768642200.0, 1768642200.0)


def test_a_drill_that_takes_positions_from_a_file_says_which():
    found = recognise(DRILL_TOML.replace(b"origin", b'waypoints = "site.gpx"\norigin', 1), name="drill.toml")
    assert (found.kind, found.needs, found.problem) == (DRILL, "site.gpx", "")
    assert "the transmitter has no position" in recognise(DRILL_TOML, name="drill.toml").problem


@pytest.mark.parametrize(
    ("data", "name", "kind", "line"),
    [
        (b"", "a.gpx", OTHER, "a.gpx: the file is empty; export it again, or remove it"),
        (b"\x00\x01\x02\x03", "p.bin", OTHER, "p.bin: this is binary data of a kind that is not read"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "p.png", OTHER, "p.png: this is a picture; it is kept"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "p.jpg", OTHER, "p.jpg: this is a picture; it is kept"),
        (b"\x00\x00\x00\x18ftypheic", "p.heic", OTHER, "p.heic: this is a picture; it is kept"),
        (b"\x00\x00\x00\x18ftypmp42", "f.mp4", OTHER, "f.mp4: this is a film; it is kept"),
        (b"%PDF-1.4\n%\xe2\xe3\n", "plan.pdf", OTHER, "plan.pdf: this is a PDF document; it is kept"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00", "t.xls", OTHER, "t.xls: this is a document of an older office"),
        (b"<svg><g/></svg>", "k.kml", OTHER, "k.kml: the XML is <svg>, neither GPX, TCX nor KML"),
        (b"<gpx><trk>", "cut.gpx", OTHER, "cut.gpx, line 1: the XML is broken or cut off"),
        (b'<!DOCTYPE g [<!ENTITY a "b">]><gpx/>', "e.gpx", OTHER, "e.gpx: the XML declares a document type"),
        (b"<gpx/>", "plan.gpx", TRACK, "plan.gpx: the file holds no track"),
        (b"Dear Mara,\nwell done\n", "letter.txt", OTHER, "letter.txt: the text, which begins with 'Dear Mara,'"),
        (b'{"format": 1}', "truth.json", OTHER, "truth.json: the text, which begins with"),
        (b"time,readng\n1,2\n", "x/Readings.csv", READINGS, "x/Readings.csv, line 1: the column 'readng' is not known"),
        (b"time,value\n1,2\n", "other.csv", OTHER, "other.csv: the first line, 'time,value', names no columns"),
        (
            b"time,reading_m\n2026-01-17T09:30:00Z,x\n",
            "r.csv",
            READINGS,
            "r.csv, line 2: reading_m 'x' is not a number",
        ),
        (b"[drill\nname = 1", "d.toml", OTHER, "d.toml: the text, which begins with '[drill'"),
        (b"[drill]\nname = \n", "d.toml", DRILL, "d.toml: this is not TOML"),
        (b"colour = 'red'\n", "c.toml", OTHER, "c.toml: the text, which begins with"),
        (b"a\xff\xfe\xfa", "l.csv", OTHER, "l.csv, line 1: the byte 0xff is not UTF-8 text"),
        (struct.pack("<BBHI4s", 14, 16, 100, 500, b".FIT") + b"\x00" * 9, "cut.fit", TRACK, "cut.fit"),
        (b"\xff\xfe" + "time,reading_m".encode("utf-16-le"), "u.csv", READINGS, "u.csv: the table has a header"),
    ],
)
def test_what_cannot_be_used_has_one_clear_line(data, name, kind, line):
    found = recognise(data, name=name)
    assert found.problem.startswith(line)
    assert found.kind == kind
    assert "; " in found.problem
    assert "\n" not in found.problem


def test_a_file_above_what_is_read_is_refused_unread():
    assert "60 MB; at most 50 MB" in recognise(b"x" * 60_000_000, name="big.gpx").problem
