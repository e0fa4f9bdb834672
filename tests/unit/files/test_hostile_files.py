"""Files that somebody damaged, or made to hurt: each is refused with one clear error, before it costs anything."""

import itertools
import json
import struct

import numpy as np
import pytest

from analyzer.errors import FileError, InputError
from analyzer.files.cells import MAX_COLUMNS, MAX_LINE, MOST_FAULTS
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.json_source import MAX_PARTS, json_values
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.results.run_line_json import from_json
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.table import parse_table
from analyzer.files.times import parse_elapsed, parse_utc
from analyzer.files.toml_source import MAX_KEY_PARTS, MAX_NESTING, MAX_TOML_CHARS, toml_values
from analyzer.files.toml_table import MOST_TOLD
from analyzer.files.tracks.fit import MAX_FRAMES, parse_fit
from analyzer.files.tracks.gpx import parse_gpx
from analyzer.files.tracks.nmea import parse_nmea
from analyzer.files.tracks.tcx import parse_tcx
from analyzer.files.tracks.track_csv import parse_track_csv
from analyzer.files.tracks.xml_points import MAX_FIELDS, MAX_NAMES, MAX_PART_BYTES

HUGE = "9" * 400
DIGITS = "9" * 5000
DRILL = """[drill]
name = "Lower bowl"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
east_m = 20.0
north_m = 0.0
depth_m = 1.0
"""


def refused(read, data, *words):
    """Read data; return the one error, which holds the words."""
    with pytest.raises(InputError) as caught:
        read(data if isinstance(data, bytes) else data.encode())
    for word in words:
        assert word in str(caught.value)
    return caught.value


@pytest.mark.parametrize("text", [",,,\n;;\n\n", " , ,\n", "\t\t\n,\n", "# a comment\n,,,"])
@pytest.mark.parametrize("read", [parse_track_csv, parse_readings_csv, parse_marks_csv])
def test_a_table_of_commas_and_blank_rows(read, text):
    refused(read, text, "no line of the table has a cell")


def test_a_table_of_very_many_columns():
    refused(lambda d: parse_table(d, name="t.csv"), ",".join(f"c{i}" for i in range(MAX_COLUMNS + 1)), "columns")


def test_a_line_longer_than_any_table_has():
    refused(lambda d: parse_table(d, name="t.csv").read(len), f"a,b\n1,{'x' * MAX_LINE}\n", "characters")


def test_after_very_many_wrong_lines_no_more_are_looked_for():
    table = "time,east_m,north_m\n2026-01-17T09:30:00Z,1,2\n" + "1,2\n" * (2 * MOST_FAULTS)
    error = refused(parse_track_csv, table)
    assert isinstance(error, FileError)
    assert "at least 950 more lines are wrong" in error.problems[-1].what


@pytest.mark.parametrize(
    ("key", "number"),
    [
        *itertools.product(("depth_m", "east_m"), (HUGE, DIGITS, f"-{HUGE}", "0x" + "f" * 5000, "1e308")),
        ("position_sigma_m", "1e-320"),
    ],
)
def test_numbers_that_no_drill_means(key, number):
    lines = [line for line in DRILL.splitlines() if not line.startswith(f"{key} ")]
    refused(parse_drill_toml, "\n".join([*lines, f"{key} = {number}"]))


@pytest.mark.parametrize("number", [HUGE, "0x" + "f" * 5000])
def test_huge_corners_and_bibs(number):
    refused(parse_drill_toml, f"{DRILL}[area]\ncorners_m = [[0, 0], [1, 0], [1, {number}]]", "corners")
    refused(parse_run_toml, f"bib = {number}", "bib")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 5000 + "]" * 5000, "too much in one another"),
        ("a = " + "{a = " * 5000 + "1" + "}" * 5000, "too much in one another"),
        ("a = " + "[" * (MAX_NESTING + 1) + "]" * (MAX_NESTING + 1), "too much in one another"),
        (".".join("a" * 200) + " = 1", "a key of more than"),
        ("[" + ".".join("a" * 200) + "]", "a key of more than"),
        ("a = {" + " . ".join(['"a"', "'b'"] * 10) + " = 1}", "a key of more than"),
        ("a = '''''x'''\n" + ".".join("a" * 20) + " = 1", "a key of more than"),
        ("a = 1\n" * (MAX_TOML_CHARS // 6 + 1), "characters"),
        (f"a = {DIGITS}", "not TOML"),
    ],
)
def test_toml_that_would_cost_much(text, words):
    refused(parse_run_toml, text, words)


@pytest.mark.parametrize(
    "text",
    [
        "a = '" + "." * 100 + "'",
        'a = "' + "." * 100 + '"',
        "a = '''\n" + "." * 100 + "'" + "." * 100 + "'''",
        'a = """\n' + "." * 100 + '\\"""' + "[" * 100 + '"""',
        "a = 1 # " + "." * 100 + "[" * 100,
        "a = [" + ", ".join(["[0.5, 1.5]"] * 100) + "]",
        ".".join("a" * MAX_KEY_PARTS) + " = 1",
        "a = " + "[" * MAX_NESTING + "]" * MAX_NESTING,
    ],
)
def test_dots_and_brackets_that_are_no_keys_are_read(text):
    assert set(toml_values(text, name="a.toml")) == {"a"}


def test_of_very_many_wrong_keys_some_are_told():
    error = refused(parse_run_toml, "".join(f"k{i} = 1\n" for i in range(5000)))
    assert len(error.problems) == MOST_TOLD + 1
    assert "more than" in error.problems[-1].what


@pytest.mark.parametrize(
    "text",
    [
        "2026-01-17T09:30:00+99:00",
        "2026-01-17T09:30:00-23:59",
        "9999-12-31T23:59:59-14:00",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59Z",
        "1969-12-31T23:59:59Z",
    ],
)
def test_times_that_no_recorder_writes(text, gpx, walk):
    refused(lambda d: parse_utc(d.decode(), where="x"), text)
    refused(parse_gpx, gpx([*walk(), (46.0, 7.1, text, "")]), "point 31")
    for key, file in (("start", DRILL.replace("\nname", f"\nstart = '{text}'\nname")), ("window", "")):
        data = file or f"window = ['{text}', '{text}']"
        refused(parse_drill_toml if key == "start" else parse_run_toml, data, key)


@pytest.mark.parametrize("text", ["1e308", f"{DIGITS}:00:00", "9999:00:00", "1_000", HUGE])
def test_elapsed_times_that_no_run_takes(text):
    refused(lambda d: parse_elapsed(d.decode(), where="x"), text, "elapsed time")


@pytest.mark.parametrize("text", [f'{{"a": {DIGITS}}}', "[" * 100_000, '{"a":' * 100_000, "{}" + " []" * MAX_PARTS])
def test_json_that_would_cost_much(text):
    refused(lambda d: json_values(d, name="r.json", do="mend it"), text, "JSON")


def test_half_a_character_in_json():
    refused(lambda d: json_values(d, name="r.json", do="mend it"), '["\\ud800"]', "half of a sign")
    assert json_values(b'["\\ud83c\\udfd4"]', name="r.json", do="mend it") == ["\U0001f3d4"]


@pytest.mark.parametrize("value", [int(HUGE), -(2**60)])
def test_whole_numbers_in_json_that_no_float_holds(value):
    with pytest.raises(InputError):
        from_json(json.loads(json.dumps({"score": value, "run": value})))


@pytest.mark.parametrize(("part", "length"), [("a", 1), ("name", 3), ("time", 200)])
def test_xml_with_a_bomb_of_attributes(part, length):
    many = " ".join(f'{part}{i:0{length}d}=""' for i in range(2 * MAX_PART_BYTES // (len(part) + length)))
    refused(parse_gpx, f'<gpx><trk><trkseg><trkpt lat="1" lon="2" {many}/></trkseg></trk></gpx>', "longer than")


def test_xml_with_very_many_names():
    many = "".join(f"<a{i}/>" for i in range(MAX_NAMES))
    refused(parse_gpx, f"<gpx>{many}</gpx>", "different names")
    few = "".join(f'<a b{i}="">' + "</a>" for i in range(MAX_NAMES))
    refused(parse_tcx, f"<TrainingCenterDatabase>{few}</TrainingCenterDatabase>", "different names")


def test_xml_with_a_point_of_very_many_elements():
    many = "".join(f"<a{i}/>" for i in range(MAX_FIELDS + 1))
    refused(parse_gpx, f'<gpx><trk><trkseg><trkpt lat="1" lon="2">{many}</trkpt></trkseg></trk></gpx>', "elements")


def test_xml_with_a_huge_name_or_text():
    refused(parse_gpx, f"<{'g' * 2 * MAX_PART_BYTES}/>", "longer than")
    refused(parse_gpx, f"<gpx>{'g' * 2 * MAX_PART_BYTES}</gpx>", "longer than")


@pytest.mark.parametrize("accuracy", ["1e-320", "1e300", "1e-5"])
def test_an_accuracy_that_nobody_states(accuracy, gpx, walk):
    point = "point 3 (line 5)"
    points = walk()
    points[2] = (*points[2][:3], f"<extensions><accuracy>{accuracy}</accuracy></extensions>")
    assert point.startswith(refused(parse_gpx, gpx(points), "the accuracy").where.partition(", ")[2])
    refused(parse_track_csv, f"time,east_m,north_m,sigma_m\n2026-01-17T09:30:00Z,1,2,{accuracy}", "line 2", "accuracy")


@pytest.mark.parametrize("column", ["east_m", "north_m", "elevation_m", "hdop"])
def test_numbers_of_a_track_that_overflow(column):
    cells = {"time": "2026-01-17T09:30:00Z", "east_m": "1", "north_m": "2", column: "1e308"}
    refused(parse_track_csv, f"{','.join(cells)}\n{','.join(cells.values())}", "line 2", "out of range")


@pytest.mark.parametrize("note", ["nan nan", "1e308 1e308", "inf,0", "5000 0"])
@pytest.mark.parametrize("mark", ["hold_begin", "hold_end"])
def test_a_hold_at_no_place(note, mark):
    refused(parse_marks_csv, f'elapsed,mark,note\n5,{mark},"{note}"', "line 2", note)


@pytest.mark.parametrize("note", ["12.5 3", "12.5, -3", "by the tree", "1 2 3", ""])
def test_a_hold_with_a_place_or_words(note):
    assert parse_marks_csv(f'elapsed,mark,note\n5,hold_begin,"{note}"'.encode())[0].note == note


def test_a_sentence_that_never_ends_is_none():
    body = b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,," + b"0" * 300
    total = np.bitwise_xor.reduce(np.frombuffer(body, np.uint8))
    refused(parse_nmea, b"$" + body + b"*%02X" % total, "no GGA")
    refused(parse_nmea, b"$GPGGA," * 20_000, "no sentence has a fix")


@pytest.mark.parametrize("field", ["996099", "240000", "126000", "123561", "nan000"])
def test_a_sentence_with_an_hour_that_no_clock_shows_is_set_aside(field):
    def sentence(body):
        return f"${body}*{np.bitwise_xor.reduce(np.frombuffer(body.encode(), np.uint8)):02X}\r\n"

    good = sentence("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W")
    wrong = sentence(f"GPRMC,{field},A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W")
    assert dict(parse_nmea((good + wrong).encode()).dropped) == {"cut off or damaged": 1}


def fit_crc(data):
    """Return the checksum of FIT, after the table in its published specification."""
    table = (0x0, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401)
    table += (0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400)
    crc = 0
    for byte in data:
        for half in (byte & 15, byte >> 4):
            crc = ((crc >> 4) & 0xFFF) ^ table[crc & 15] ^ table[half]
    return crc


def fit_of(records):
    """Return a FIT file of records, with its header and its checksum."""
    head = struct.pack("<BBHI4s", 12, 0x10, 2132, len(records), b".FIT")
    return head + records + struct.pack("<H", fit_crc(head + records))


def test_a_fit_file_whose_library_raises_what_it_does_not_say(monkeypatch):
    import fitdecode

    def fails(*_, **__):
        raise AssertionError

    monkeypatch.setattr(fitdecode, "FitReader", fails)
    refused(parse_fit, fit_of(b""), "damaged or cut off before its first position")


def test_a_fit_file_of_very_many_messages_of_nothing():
    empty = struct.pack("<BBBHB", 0x40, 0, 0, 20, 0)  # defines messages without fields
    refused(parse_fit, fit_of(empty + b"\x00" * (MAX_FRAMES + 1)), "more than")
