"""track.csv, readings.csv and marks.csv."""

import math

import numpy as np
import pytest

from analyzer.errors import FileError, InputError
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.tracks.track_csv import parse_track_csv

T = "2026-01-17T09:30:0"


def table(*lines: str) -> bytes:
    return "\n".join(lines).encode()


def test_track_in_degrees():
    fixes = parse_track_csv(table("time,latitude,longitude,hdop", f"{T}0Z,46.00001,7.5,0.8", f"{T}1Z,46.00002,7.5,"))
    assert fixes.geographic
    np.testing.assert_array_equal(fixes.first, [46.00001, 46.00002])
    np.testing.assert_array_equal(fixes.hdop, [0.8, np.nan])
    assert fixes.step == pytest.approx(1e-5)


def test_track_in_metres_with_sigma_comments_and_columns_that_are_not_read():
    fixes = parse_track_csv(
        table("# surveyed by hand", "Time, East_m ,north_m,sigma_m,quality", "", f"{T}0Z,1.25,-3,0.02,fixed")
    )
    assert not fixes.geographic
    assert (fixes.first[0], fixes.second[0], fixes.sigma_m[0]) == (1.25, -3.0, 0.02)
    assert fixes.number[0] == 4  # the line in the file, comments and blank lines counted


@pytest.mark.parametrize("separator", [";", "\t"])
def test_other_separators(separator):
    rows = [f"time{separator}east_m{separator}north_m", f"{T}0Z{separator}1.5{separator}2.5"]
    assert parse_track_csv(table(*rows)).second[0] == 2.5


@pytest.mark.parametrize(
    ("lines", "pieces"),
    [
        (["time,latitude", f"{T}0Z,46"], ["line 1", "'longitude' is missing", "time, latitude"]),
        (["latitude,longitude", "46,7"], ["'time' is missing"]),
        (["time,x,y", f"{T}0Z,1,2"], ["no position columns", "east_m and north_m"]),
        (["time,latitude,longitude,east_m", f"{T}0Z,1,2,3"], ["degrees and metres"]),
        (["time;east_m;north_m", f"{T}0Z;1,5,2;2"], ["line 2", "'1,5,2' is not a number"]),
        (["time;east_m;north_m", f"{T}0Z;1,234;2", f"{T}1Z;1.5;2"], ["line 2", "'1,234' may be thousands"]),
        (["time,east_m,north_m", f"{T}0Z,1,5,2,5"], ["line 2", "5 cells, the header 3", "point, not a comma"]),
        (["time,east_m,north_m", f"{T}0Z,1"], ["2 cells, the header 3"]),
        (["time,east_m,north_m", f"{T}0Z,,2"], ["east_m is empty"]),
        (["time,east_m,north_m", f"{T}0Z,inf,2"], ["not a finite number"]),
        (["time,east_m,north_m", f"{T}0Z,1_5,2"], ["'1_5' is not a number"]),
        (["time,east_m,north_m,sigma_m", f"{T}0Z,1,2,0"], ["sigma_m 0 is not above 0"]),
        (["time,east_m,north_m"], ["header and no rows"]),
        (["time,east_m,east_m", f"{T}0Z,1,2"], ["'east_m' appears twice"]),
        (["time,east_m,north_m", f'{T}0Z,"1,2'], ["cannot be split"]),
    ],
)
def test_bad_track_tables_say_where_and_what(lines, pieces):
    with pytest.raises(InputError) as caught:
        parse_track_csv(table(*lines))
    for piece in pieces:
        assert piece in str(caught.value)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"time,east_m,north_m\n" + f"{T}0Z,1,2\n".encode() * 2 + b"\x81,1,2\n", "line 4: the byte 0x81 is not UTF-8"),
        ("time,east_m,north_m\n".encode("utf-16"), "header and no rows"),
        ("time,east_m,north_m\n1,2,3\n".encode("utf-16")[:-1], "UTF-16"),
        (b"PK\x03\x04\x00\x00\x00", "binary data"),
        (b"\n\n", "empty"),
    ],
)
def test_what_is_no_text_is_told(data, what):
    with pytest.raises(InputError, match=what):
        parse_track_csv(data)


def test_readings_with_all_columns():
    log = parse_readings_csv(
        table("time,reading_m,transmitter,steer_deg,heading_deg", f"{T}0Z,12.5,A,-30,270", f"{T}0Z,31,,,", f"{T}1Z,,,,")
    )
    assert not log.elapsed
    first, second = log.readings
    assert (first.reading_m, first.transmitter, first.steer_deg, first.heading_deg) == (12.5, "A", -30.0, 270.0)
    assert second.transmitter is None
    assert math.isnan(second.steer_deg)
    assert (log.rows, dict(log.dropped)) == (3, {"no reading in the row": 1})


def test_elapsed_readings():
    log = parse_readings_csv(table("elapsed,reading_m", "12,40", "1:05.5,20"))
    assert log.elapsed
    assert [r.time_s for r in log.readings] == [12.0, 65.5]


@pytest.mark.parametrize(
    ("lines", "pieces"),
    [
        (["elapsed,reading_m", "1,30", "2,-3"], ["line 3", "-3 m is not between 0 and 150 m"]),
        (["elapsed,reading_m", "1,151"], ["line 2", "151 m"]),
        (["elapsed,reading_m", "1,0"], ["0 m is not between", "leave the cell empty"]),
        (["elapsed,reading_m", "9,30", "2,30"], ["line 3", "runs back by 7 s"]),
        (["elapsed,readng", "9,30"], ["'readng' is not known", "reading_m"]),
        (["elapsed,transmitter", "9,A"], ["'reading_m' is missing"]),
        (["reading_m", "9"], ["'time' or 'elapsed' is missing"]),
        (["time,elapsed,reading_m", f"{T}0Z,1,9"], ["both 'time' and 'elapsed'"]),
        (["elapsed,reading_m", "9,", "10,"], ["no row has a reading"]),
        (["elapsed,reading_m,steer_deg", "9,3,190"], ["steer_deg 190"]),
        (["elapsed,reading_m,heading_deg", "9,3,-5"], ["heading_deg -5"]),
        (["elapsed,reading_m", "9,far"], ["'far' is not a number"]),
        (["time,reading_m", "noon,12"], ["line 2", "'noon' is not a time of day"]),
    ],
)
def test_bad_readings_say_where_and_what(lines, pieces):
    with pytest.raises(InputError) as caught:
        parse_readings_csv(table(*lines))
    for piece in pieces:
        assert piece in str(caught.value)


def test_marks_in_time_and_elapsed():
    marks = parse_marks_csv(
        table("time,elapsed,mark,transmitter,note", f"{T}0Z,,start,,", ",0:45,probe_hit,A,second strike")
    )
    assert [(m.mark, m.elapsed) for m in marks] == [("start", False), ("probe_hit", True)]
    assert (marks[1].time_s, marks[1].transmitter, marks[1].note) == (45.0, "A", "second strike")


@pytest.mark.parametrize(
    ("lines", "pieces"),
    [
        (["elapsed,mark", "1,probe_hitt"], ["line 2", "'probe_hitt' is not known", "did you mean 'probe_hit'"]),
        (["elapsed,mark", "1,lunch"], ["'lunch' is not known", "use one of start, first_reading"]),
        (["mark", "start"], ["line 1", "'time' or 'elapsed' is missing"]),
        (["time,elapsed,mark", f"{T}0Z,1,start"], ["both a time and an elapsed"]),
        (["time,mark", f"{T}0Z,start", f"{T}5Z,start"], ["line 3", "a second 'start' mark"]),
        (["elapsed,mark", "5,start"], ["cannot be later than 0"]),
        (["elapsed,mark,transmiter", "5,finish,A"], ["'transmiter' is not known"]),
    ],
)
def test_bad_marks_say_where_and_what(lines, pieces):
    with pytest.raises(InputError) as caught:
        parse_marks_csv(table(*lines))
    for piece in pieces:
        assert piece in str(caught.value)


def told(parse, *lines):
    """Return line -> what is wrong there."""
    with pytest.raises(FileError) as caught:
        parse(table(*lines))
    return {p.where.rpartition("line ")[2]: p.what for p in caught.value.problems}


def test_every_wrong_row_of_a_table_is_told_at_once():
    assert told(parse_readings_csv, "elapsed,reading_m", "1,40", "soon,30", "3", "4,-1", "5,20", "6,x") == {
        "3": "the elapsed time 'soon' is neither seconds nor mm:ss.s",
        "4": "the row has 1 cells, the header 2",
        "5": "the reading -1 m is not between 0 and 150 m",
        "7": "reading_m 'x' is not a number",
    }
    assert told(parse_readings_csv, "elapsed,reading_m", "5,40", "4,30", "6,20", "1,10") == {
        "3": "the time runs back by 1 s", "5": "the time runs back by 5 s",
    }  # fmt: skip
    assert told(parse_marks_csv, "elapsed,mark", "0,start", "1,begin", ",finish") == {
        "3": "the mark 'begin' is not known", "4": "the row has no time",
    }  # fmt: skip
    assert told(
        parse_track_csv,
        "time,east_m,north_m,sigma_m",
        f"{T}0Z,1,2,0",
        f"{T}1Z,x,2,",
        f"{T}2,1,2,",
        f"{T}3Z,1,2",
        f"{T}4Z,1,2,",
    ) == {
        "2": "sigma_m 0 is not above 0",
        "3": "east_m 'x' is not a number",
        "4": f"the time '{T}2' has no offset from UTC",
        "5": "the row has 3 cells, the header 4",
    }


def test_every_slip_of_a_heading_is_told_at_once():
    with pytest.raises(FileError) as caught:
        parse_readings_csv(table("elapsed,reading_m,transmiter,heading_dg", "1,2,3,4"))
    assert [(p.what, p.do) for p in caught.value.problems] == [
        ("the column 'transmiter' is not known", "did you mean 'transmitter'? Else give it another name"),
        ("the column 'heading_dg' is not known", "did you mean 'heading_deg'? Else give it another name"),
    ]


def test_of_very_many_wrong_rows_the_first_are_told_and_the_rest_counted():
    found = told(parse_readings_csv, "elapsed,reading_m", *["soon,30"] * 90, "1,30")
    assert len(found) == 51
    assert "40 more lines are wrong" in found.values()


def test_where_no_line_can_be_used_the_first_stands_for_all():
    with pytest.raises(InputError) as caught:
        parse_readings_csv(table("elapsed,reading_m", *["soon,30"] * 9))
    assert str(caught.value).startswith("readings.csv, line 2: the elapsed time 'soon'")
    assert "no other line can be used" in str(caught.value)
    assert "\n" not in str(caught.value)
