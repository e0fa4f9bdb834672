"""Tables of positions as phones, loggers and web pages export them.

Check values: 1 000 000 000 s after 1970 is 2001-09-09T01:46:40Z, and 1 700 000 000 s is 2023-11-14T22:13:20Z, as
handbooks of POSIX time print them; the rest is counted from there by hand.
"""

import math

import pytest

from analyzer.errors import InputError
from analyzer.files.times import zone_of
from analyzer.files.tracks.fixes import R68_PER_SIGMA
from analyzer.files.tracks.track_csv import parse_track_csv
from analyzer.workspace.intake.model import TRACK
from analyzer.workspace.intake.recognise import recognise

AT = 1_700_000_000.0  # 2023-11-14T22:13:20Z
GOOD = "2023-11-14T22:13:20Z"


def read(*lines, zone=None, encoding="utf-8"):
    return parse_track_csv("\n".join(lines).encode(encoding), name="t.csv", zone=zone_of(zone) if zone else None)


def refused(*lines, zone=None):
    with pytest.raises(InputError) as caught:
        read(*lines, zone=zone)
    return str(caught.value)


@pytest.mark.parametrize(
    "header",
    [
        "time,latitude,longitude",
        "Timestamp,Lat,Lon",
        "UTC,LatitudeDegrees,LongitudeDegrees",
        "DateTime,lat,lng",
        "Zeit,Breite,Länge",
        "Zeitstempel,Breitengrad,Längengrad",
        "ora,latitudine,longitudine",
        "horodatage,Latitude (°),Longitude (°)",
        "fecha hora,latitud,longitud",
        "%time,field.latitude,field.longitude",
        "location.time,location.lat,location.long",
        "# time,latitude,longitude",
    ],
)
def test_columns_of_several_exports(header):
    fixes = read(header, f"{GOOD},46.5,7.25")
    assert (fixes.time_s[0], fixes.first[0], fixes.second[0]) == (AT, 46.5, 7.25)
    found = recognise(f"{header}\n{GOOD},46.5,7.25\n".encode(), name="export.csv")
    assert (found.kind, found.begin_s, found.problem) == (TRACK, AT, "")


@pytest.mark.parametrize(
    ("cell", "zone"),
    [
        ("1700000000", None),
        ("1700000000000", None),
        ("1700000000000000", None),
        ("1700000000000000000", None),
        ("1.7e9", None),
        ("2023-11-14 22:13:20 UTC", None),
        ("2023-11-14 23:13:20 +01:00", None),
        ("2023/11/14 22:13:20", "Z"),
        ("20231114221320", "Z"),
        ("20231114 221320", "Z"),
        ("14.11.2023 22:13:20", "Z"),
        ("14/11/2023 10:13:20 PM", "Z"),
        ("11/14/2023 10:13:20 pm", "Z"),
        ("14.11.2023, 23:13:20", "Europe/Vienna"),
    ],
)
def test_times_of_every_writing(cell, zone):
    separator = ";" if "," in cell else ","
    lines = [line.replace(",", separator) for line in ("time,lat,lon", "@,46.5,7.25")]
    assert read(lines[0], lines[1].replace("@", cell), zone=zone).time_s[0] == AT


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("date,time", "2023-11-14,22:13:20"),
        ("Datum,Uhrzeit", "14.11.2023,22:13:20"),
        ("DATE,TIME", "20231114,221320"),
        ("date,time", "14/11/2023,10:13:20 PM"),
        ("date,timestamp", "14/11/2023,1700000000"),
        ("date,time", f"{GOOD},00:12:07"),
    ],
)
def test_a_date_and_a_time_of_day_in_two_columns(header, cells):
    assert read(f"{header},lat,lon", f"{cells},46.5,7.25", zone="Z").time_s[0] == AT


def test_a_column_called_utc_needs_no_zone():
    assert read("time (UTC),lat,lon", "2023-11-14 22:13:20,46.5,7.25").time_s[0] == AT
    assert "has no offset from UTC" in refused("time,lat,lon", "2023-11-14 22:13:20,46.5,7.25")


def test_a_date_that_may_begin_with_day_or_month_is_asked():
    line = refused("time,lat,lon", "03/04/2026 10:00:00,46.5,7.25", "03/04/2026 10:00:01,46.5,7.25", zone="Z")
    assert line.startswith("t.csv, line 2: the dates of 'time', such as '03/04/2026', may begin with the day or with")
    assert "2026-01-17" in line


def test_one_date_proves_it_for_the_file():
    rows = ["12.04.2026 23:59:59,46.5,7.25", "13.04.2026 00:00:00,46.5,7.25"]
    fixes = read("time,lat,lon", *rows, zone="Z")
    assert fixes.time_s[1] - fixes.time_s[0] == 1.0
    both = [*rows, "04.13.2026 00:00:01,46.5,7.25"]
    assert "begin with the day and some with the month" in refused("time,lat,lon", *both, zone="Z")
    assert read("time,lat,lon", "04/04/2026 10:00:00,46.5,7.25", zone="Z").time_s[0] == 1_775_296_800.0


@pytest.mark.parametrize(
    ("cell", "pieces"),
    [
        ("45678.25", ["are no times since 1970", "spreadsheet"]),
        ("0", ["are no times since 1970", "elapsed"]),
        ("12", ["call the column elapsed"]),
        ("99999999999", ["are no times since 1970"]),
        ("22:13:20", ["'22:13:20' is not an ISO 8601 time"]),
        ("14.11.23 22:13:20", ["is not an ISO 8601 time"]),
        ("14 Nov 2023 22:13:20", ["is not an ISO 8601 time"]),
        ("1901-12-13T20:45:52Z", ["the year 1901", "may not have been set"]),
        ("2023-13-14T22:13:20Z", ["is not an ISO 8601 time"]),
    ],
)
def test_times_that_say_no_moment(cell, pieces):
    line = refused("time,lat,lon", f"{cell},46.5,7.25", zone="Z")
    for piece in pieces:
        assert piece in line


def test_a_number_in_another_unit_than_the_others_is_told():
    rows = ["1700000000,46.5,7.25", "1700000001,46.5,7.25", "1700000002000,46.5,7.25"]
    assert "line 4: the time '1700000002000' does not count as the other lines do" in refused("time,lat,lon", *rows)


@pytest.mark.parametrize(
    ("latitude", "longitude", "place"),
    [
        ("46.5N", "7.25E", (46.5, 7.25)),
        ("N46.5", "W 7.25", (46.5, -7.25)),
        ("46.5° S", "7.25° W", (-46.5, -7.25)),
        ("46°30'00\"N", "7°15′0″ W", (46.5, -7.25)),
        ("46° 30.0' N", "7° 15' E", (46.5, 7.25)),
        ("46,5", "7,25", (46.5, 7.25)),
    ],
)
def test_places_of_every_writing(latitude, longitude, place):
    fixes = read("time;lat;lon", f"{GOOD};{latitude};{longitude}")
    assert (fixes.first[0], fixes.second[0]) == pytest.approx(place, abs=1e-12)


def test_letters_in_columns_of_their_own_and_minutes_where_they_are_certain():
    head = "time,latitude,n/s,longitude,e/w"
    fixes = read(head, f"{GOOD},46.5,S,7.25,W")
    assert (fixes.first[0], fixes.second[0]) == (-46.5, -7.25)
    fixes = read(head, f"{GOOD},4630.000,N,00715.000,W")
    assert (fixes.first[0], fixes.second[0]) == pytest.approx((46.5, -7.25))
    assert "degrees and minutes" in fixes.told[0]
    without = read("time,latitude,longitude", f"{GOOD},4630.000,00715.000")
    assert without.first[0] == 4630.0  # nothing says so; placing it in a drill refuses it
    uncertain = read(head, f"{GOOD},4630.000,N,00050.000,E")
    assert uncertain.first[0] == 4630.0


@pytest.mark.parametrize("cell", ["46.5E", "-46.5N", "north", "46°61'0\"N", "N46.5N", "1_0"])
def test_places_that_are_none(cell):
    assert "is not a number of degrees" in refused("time;lat;lon", f"{GOOD};{cell};7.25")


def test_rows_without_a_place_are_set_aside_and_counted():
    fixes = read(
        "#time,type,latitude,longitude,power",
        f'"{GOOD}","START",,,',
        f'"{GOOD}","POINT",46.5,7.25,',
        f'"{GOOD}","POINT",,,50',
        f'"{GOOD}","POINT",46.6,,',
    )
    assert (len(fixes.time_s), fixes.rows, fixes.dropped) == (1, 4, (("no position", 3),))
    assert fixes.number[0] == 3
    assert fixes.told == ("columns not used: type, power",)
    assert "no row has a position" in refused("time,lat,lon", f"{GOOD},,")


@pytest.mark.parametrize(
    ("column", "cell", "sigma"),
    [
        ("accuracy", "3.0", 3.0 / R68_PER_SIGMA),
        ("hAcc", "3.0", 3.0 / R68_PER_SIGMA),
        ("accuracy_horizontal", "3.0", 3.0 / R68_PER_SIGMA),
        ("AccuracyMeters", "3.0", 3.0 / R68_PER_SIGMA),
        ("Genauigkeit (m)", "3.0", 3.0 / R68_PER_SIGMA),
        ("accuracy (ft)", "10", 3.048 / R68_PER_SIGMA),
        ("accuracy", "-1", math.nan),
        ("accuracy (%)", "3.0", math.nan),
        ("sigma_m", "3.0", 3.0),
        ("sdn,sde", "3.0,4.0", math.sqrt(12.5)),
        ("field.position_covariance0,field.position_covariance4", "9.0,16.0", math.sqrt(12.5)),
    ],
)
def test_the_stated_accuracy_is_used(column, cell, sigma):
    fixes = read(f"time,lat,lon,{column}", f"{GOOD},46.5,7.25,{cell}")
    assert fixes.sigma_m[0] == pytest.approx(sigma, nan_ok=True)
    assert ("columns not used: accuracy (%)" in fixes.told) == ("%" in column)


def test_two_columns_of_one_meaning_are_told_or_refused():
    fixes = read("timestamp,time,lat,lon", f"{GOOD},09:00,46.5,7.25")
    assert fixes.told == ("time is taken from 'timestamp', not from 'time'",)
    assert fixes.time_s[0] == AT
    line = refused("time,lat,latitude,lon", f"{GOOD},46.5,46.6,7.25")
    assert "line 1: the columns 'latitude' and 'lat' both hold the latitude; keep the one that counts" in line


def test_lines_above_the_names_and_a_commented_line_of_names():
    fixes = read("Track of the morning", "Points: 1", "time;lat;lon", f"{GOOD};46,5;7,25")
    assert (fixes.first[0], fixes.number[0]) == (46.5, 4)
    assert fixes.dropped == (("above the names of the columns", 2),)
    fixes = read("# recorded outside", "# time,lat,lon", "# units: s, degrees", f"{GOOD},46.5,7.25")
    assert fixes.number[0] == 4


def test_a_table_without_names_is_refused_with_what_to_do():
    found = recognise(b"0,2230,550509,103.6801367,1.34187317,64.1\n" * 3, name="roof.csv")
    assert found.problem.startswith("roof.csv, line 1: the table has no line that names its columns; write one above")
    assert "no line that names its columns" in refused("1,2,3", "4,5,6")


def test_several_pairs_of_coordinates_are_not_guessed():
    head = "time,rtk_lat_deg,rtk_lon_deg,raw_lat_deg,raw_lon_deg"
    found = recognise(f"{head}\n{GOOD},46.5,7.25,46.5,7.25\n".encode(), name="two.csv")
    assert "no column is certain to hold the latitude, and these may: rtk_lat_deg, raw_lat_deg" in found.problem


def test_of_many_columns_some_are_named():
    names = [f"extra{i}" for i in range(20)]
    fixes = read("time,lat,lon," + ",".join(names), f"{GOOD},46.5,7.25" + "," * 20)
    assert fixes.told == (f"columns not used: {', '.join(names[:12])} and 8 more",)


def test_of_several_providers_the_receiver_is_used():
    rows = [f"{1_700_000_000 + i},46.5,7.25,{'gps' if i % 2 else 'network'}" for i in range(24)]
    fixes = read("timestamp,lat,lon,provider", *rows)
    assert (len(fixes.time_s), fixes.dropped) == (12, (("of another provider", 12),))
    assert fixes.number[0] == 3


def test_a_last_line_that_was_cut_off_is_counted_and_others_are_told():
    whole = [f"{1_700_000_000 + i},46.5,7.25,3" for i in range(3)]
    fixes = read("time,lat,lon,accuracy", *whole, "1700000003,46.5,7.")
    assert (len(fixes.time_s), fixes.dropped) == (3, (("cut off, the last line", 1),))
    assert "line 3: the row has 3 cells" in refused("time,lat,lon,accuracy", whole[0], "1700000001,46.5,7.", whole[2])
    trailing = read("time,lat,lon,accuracy,", "1700000000,46.5,7.25,3,,,")
    assert trailing.sigma_m[0] > 0.0


def test_text_of_a_spreadsheet():
    lines = ["sep=;", "time;lat;lon", f"{GOOD};46,5;7,25"]
    assert read(*lines).first[0] == 46.5
    assert read(*lines, encoding="utf-16").second[0] == 7.25


def test_radians_are_no_degrees():
    assert "is certain to hold the latitude" in refused("time,latitude [rad],longitude [rad]", f"{GOOD},0.8,0.1")


def test_a_walked_distance_beside_positions_is_no_reading_log():
    head = "time,lat,lon,distance"
    assert recognise(f"{head}\n{GOOD},46.5,7.25,12\n".encode(), name="walk.csv").problem == ""
    both = recognise(f"{head.replace('distance', 'reading_m')}\n{GOOD},46.5,7.25,12\n".encode(), name="both.csv")
    assert "one table holds positions and a log" in both.problem


def test_thousands_or_decimals_are_asked():
    rows = [f"{GOOD};46,5;7,25;1,234", f"{GOOD};46,5;7,25;1.5"]
    assert "line 2: ele '1,234' may be thousands" in refused("time;lat;lon;ele", *rows)
    assert read("time;lat;lon;ele", rows[0]).elevation_m[0] == 1.234
    line = refused("time;lat;lon;Höhe", f"{GOOD};46,5;7,25;1.012")
    assert "line 2: Höhe '1.012' may be thousands or decimals: the degrees have a comma" in line


@pytest.mark.parametrize("sign", ["[", "(", " ", "T", "°", "N"])
def test_very_long_cells_are_looked_at_once(sign):
    """2026-11-27: names of thousands of brackets took seconds, because each was the beginning of a unit."""
    long = sign * 60_000
    assert "'time' is missing" in refused(f"lat,lon,x{long}", "46.5,7.25,")
    assert "is not an ISO 8601 time" in refused("time,lat,lon", f"2026-01-17{long}1,46.5,7.25")
    assert "is not a number of degrees" in refused("time,lat,lon", f"{GOOD},46{long}x,7.25")
    found = recognise(f"time,mar{long}\n1,2\n".encode(), name="x.csv")
    assert "names no columns that are read" in found.problem


@pytest.mark.parametrize(
    ("heading", "offset_h"),
    [("time (UTC+1)", 1), ("time (GMT-7)", -7), ("time (+05:30)", 5.5), ("time (Z)", 0), ("UTC time", 0),
     ("Time (Europe/Vienna)", 1), ("local time", 3)],
)  # fmt: skip
def test_the_zone_that_a_heading_says_goes_before_that_of_the_run(heading, offset_h):
    fixes = read(f"{heading},latitude,longitude", "2023-11-14T22:13:20,46.5,7.25", zone="+03:00")
    assert fixes.time_s[0] == AT - 3600.0 * offset_h


@pytest.mark.parametrize("unit", ["min", "ms", "h", "minutes"])
def test_elapsed_times_in_another_unit_are_not_taken_for_seconds(unit):
    told = refused(f"elapsed ({unit}),latitude,longitude", "1,46.5,7.25", "2,46.5,7.25")
    assert f"line 1: the column 'elapsed ({unit})' is not in seconds" in told


def test_elapsed_times_with_colons_are_read_as_such_alone():
    fixes = read("elapsed (mm:ss),latitude,longitude", "0:58,46.5,7.25", "6:04,46.5,7.25")
    assert fixes.time_s.tolist() == [58.0, 364.0]
    assert "line 3: '6.04' is no time in minutes and seconds" in refused(
        "elapsed (mm:ss),latitude,longitude", "0:58,46.5,7.25", "6.04,46.5,7.25"
    )


@pytest.mark.parametrize(
    ("lines", "piece"),
    [
        (("time;east_m;north_m", f"{GOOD};1.234;2,5"), "east_m '1.234' may be thousands or decimals: the other coord"),
        (("time;east_m;north_m", f"{GOOD};2.5;1,234"), "north_m '1,234' may be thousands or decimals: the other coord"),
        (("time;lat;lon;ele", f"{GOOD};46.5;7.25;1,234"), "ele '1,234' may be thousands or decimals: the degrees have"),
        (("time;lat;lon;ele", f"{GOOD};46,5;7,25;1.234"), "ele '1.234' may be thousands or decimals: the degrees have"),
    ],
)
def test_what_may_be_thousands_is_asked_where_columns_beside_it_have_the_other_mark(lines, piece):
    assert piece in refused(*lines)


def test_three_decimals_with_one_mark_throughout_are_decimals():
    fixes = read("time;east_m;north_m", f"{GOOD};1,234;2,500", f"{GOOD};1,235;2,501")
    assert fixes.first.tolist() == [1.234, 1.235]
    assert read("time;lat;lon;ele", f"{GOOD};46.5;7.25;999,5", f"{GOOD};46.5;7.25;1,234").elevation_m.tolist() == [
        999.5,
        1.234,
    ]
