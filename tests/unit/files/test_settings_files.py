"""drill.toml, run.toml and rule sheets."""

import datetime as dt
import hashlib
import math

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.rules_toml import default_rules, parse_rules_toml
from analyzer.files.run_toml import parse_run_toml
from analyzer.model.phases import PHASES
from analyzer.model.recording import RunInfo

DRILL = """
[drill]
name = "Lower bowl"
date = 2026-01-17
origin = { latitude = 46.0, longitude = 7.0, elevation_m = 0 }
slope = { angle_deg = 25, aspect_deg = 90 }
start = 2026-01-17T10:30:00+01:00
time_limit_s = 420
[area]
corners_m = [[0, 0], [40, 0], [40, 40]]
[[transmitter]]
id = "A"
east_m = 12.0
north_m = -3.5
depth_m = 1.2
axis_bearing_deg = 45
axis_tilt_deg = 10
"""


def drill_with(old: str, new: str) -> bytes:
    assert old in DRILL
    return DRILL.replace(old, new, 1).encode()


def test_drill_values():
    drill = parse_drill_toml(DRILL.encode())
    assert (drill.name, drill.date) == ("Lower bowl", dt.date(2026, 1, 17))
    assert (drill.slope.angle_deg, drill.slope.aspect_deg, drill.strip_width_m) == (25.0, 90.0, 40.0)
    assert drill.start == dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)
    np.testing.assert_array_equal(drill.corners_m, [[0, 0], [40, 0], [40, 40]])
    (transmitter,) = drill.transmitters
    assert (transmitter.east_m, transmitter.north_m, transmitter.depth_m) == (12.0, -3.5, 1.2)
    assert transmitter.position_sigma_m == 0.2


def test_transmitter_in_degrees():
    """(46, 7) to (46.001, 7.001) is 135.480893 m on WGS 84, by Karney's geodesic library and by Vincenty's method."""
    drill = parse_drill_toml(drill_with("east_m = 12.0\nnorth_m = -3.5", "latitude = 46.001\nlongitude = 7.001"))
    (transmitter,) = drill.transmitters
    assert math.hypot(transmitter.east_m, transmitter.north_m) == pytest.approx(135.480893, abs=1e-4)
    assert transmitter.position_sigma_m == 2.5


@pytest.mark.parametrize("place", ["top", "drill"])
def test_transmitter_from_waypoints(place):
    line = 'waypoints = "site.gpx"\n'
    text = DRILL.replace("east_m = 12.0\nnorth_m = -3.5\n", "")
    text = line + text if place == "top" else text.replace("[drill]\n", "[drill]\n" + line)
    drill = parse_drill_toml(
        text.encode(), waypoints_of=lambda name: {"A": (46.001, 7.001)} if name == "site.gpx" else {}
    )
    (transmitter,) = drill.transmitters
    assert math.hypot(transmitter.east_m, transmitter.north_m) == pytest.approx(135.480893, abs=1e-4)
    assert transmitter.position_sigma_m == 2.5


@pytest.mark.parametrize("name", ["../secret.gpx", "/etc/hosts", "a/b.gpx", "", ".hidden"])
def test_waypoint_file_stays_in_the_folder(name):
    with pytest.raises(InputError, match="not the name of a file beside"):
        waypoint_file(f'waypoints = "{name}"'.encode())


@pytest.mark.parametrize(
    ("old", "new", "pieces"),
    [
        ("depth_m = 1.2\n", "", ["[[transmitter]] 1 'A'", "depth_m is missing"]),
        ("depth_m = 1.2", "depht_m = 1.2", ["'depht_m' is not known", "did you mean 'depth_m'"]),
        ("depth_m = 1.2", "depth_m = -1", ["depth_m", "-1 is out of range", "at least 0"]),
        ("depth_m = 1.2", 'depth_m = "1.2"', ["'1.2' is not a number"]),
        ("depth_m = 1.2", "depth_m = nan", ["nan is not a number"]),
        ("time_limit_s", "time_limit", ["[drill]", "'time_limit' is not known", "time_limit_s"]),
        ("[area]", "[aera]", ["'aera' is not known", "did you mean 'area'"]),
        ("latitude = 46.0", "latitude = 146.0", ["[origin], latitude", "146 is out of range"]),
        ("latitude = 46.0, ", "", ["latitude is missing"]),
        ("angle_deg = 25", "angle_deg = 95", ["95 is out of range"]),
        (", aspect_deg = 90", "", ["aspect_deg is missing"]),
        ("axis_tilt_deg = 10", "", ["axis_tilt_deg is missing"]),
        ("east_m = 12.0\n", "", ["east_m is missing"]),
        ("east_m = 12.0\nnorth_m = -3.5\n", "", ["no position"]),
        ("depth_m = 1.2", "depth_m = 1.2\nlatitude = 46", ["in metres and in degrees"]),
        ("east_m = 12.0\nnorth_m = -3.5", "latitude = 7\nlongitude = 46", ["m from the origin"]),
        ("[[0, 0], [40, 0], [40, 40]]", "[[0, 0], [40, 0]]", ["not three or more corners"]),
        ("[[0, 0], [40, 0], [40, 40]]", '"all"', ["not three or more corners"]),
        ("[[0, 0], [40, 0], [40, 40]]", "[[0, 0], [40, 40], [40, 0], [0, 40]]", ["corner 1 to 2 and corner 3 to 4"]),
        ("+01:00", "", ["is not a time with an offset"]),
        ("2026-01-17\n", '"yesterday"\n', ["'yesterday' is not a date"]),
        ('"Lower bowl"', "7", ["7 is not a text"]),
        ("[[transmitter]]", "[transmitter]", ["not a list of tables"]),
        ('id = "A"', 'id = " "', ["the id is empty"]),
        ("[drill]", "[drill", ["this is not TOML"]),
    ],
)
def test_bad_drills_name_the_key(old, new, pieces):
    with pytest.raises(InputError) as caught:
        parse_drill_toml(drill_with(old, new))
    for piece in pieces:
        assert piece in str(caught.value)


def test_repeated_id_and_no_transmitter():
    second = DRILL + '[[transmitter]]\nid = "A"\neast_m = 1\nnorth_m = 1\ndepth_m = 1\n'
    with pytest.raises(InputError, match="two transmitters have the id 'A'"):
        parse_drill_toml(second.encode())
    with pytest.raises(InputError, match="there is no transmitter"):
        parse_drill_toml(DRILL[: DRILL.index("[[transmitter]]")].encode())


def test_run_settings():
    assert parse_run_toml(b"# nothing said\n") == RunInfo()
    info = parse_run_toml(b'[run]\nsearcher = "Mara"\nbib = 12\nantennas = 2\ncarry_height_m = 1.2\n')
    assert (info.searcher, info.bib, info.antennas, info.carry_height_m) == ("Mara", "12", 2, 1.2)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("antennas = 4", "4 antennas"),
        ("antennas = 2.5", "2.5 antennas"),
        ("antenas = 3", "did you mean 'antennas'"),
        ("carry_height_m = 9", "out of range"),
        ("searcher = 5", "5 is not a text"),
        ("run = 5", "not a table"),
    ],
)
def test_bad_run_settings_name_the_key(text, what):
    with pytest.raises(InputError, match=what):
        parse_run_toml(text.encode())


def default_sheet() -> str:
    from importlib import resources

    return resources.files("analyzer.files").joinpath("default_rules.toml").read_text("utf-8")


def test_default_rules_are_complete():
    rules = default_rules()
    assert [phase for phase, _ in rules.weights] == list(PHASES)
    assert sum(weight for _, weight in rules.weights) == pytest.approx(1.0, abs=1e-9)
    ranges = [knot.range_m for knot in rules.pace]
    paces = [knot.pace_mps for knot in rules.pace]
    assert ranges == sorted(ranges)
    assert paces == sorted(paces)  # nobody is asked to walk faster as the range closes
    assert len(rules.sha256) == 64


@pytest.mark.parametrize(
    ("change", "pieces"),
    [
        (lambda s: s.replace("[weights]\n", "[weights]\n#", 1), ["[weights]", "the weights add up to 0.85, not 1"]),
        (lambda s: s.replace("[weights]\n", "[weights]\nsingal_search = 1\n", 1), ["'singal_search' is not known"]),
        (lambda s: s.replace("fine_radius_m", "fine_radius", 1), ["'fine_radius' is not known", "fine_radius_m"]),
        (lambda s: s.replace("bracket_arm_m = ", "bracket_arm_m = -", 1), ["bracket_arm_m", "out of range", "above 0"]),
        (lambda s: s + '[[deduction]]\nphase = "coarse_search"\nmeasure = "coarse.standing"\n',
         ["'coarse.standing' is not known", "did you mean 'coarse.standing_s'"]),
        (lambda s: s + '[[deduction]]\nphase = "coarse"\nmeasure = "coarse.wrong_way_m"\n', ["'coarse' is not known"]),
        (lambda s: s.replace("[rules]\n", "[rules]\ncolour = 1\n", 1), ["'colour' is not known"]),
        (lambda s: s.replace("[rules]", "[head]", 1), ["'head' is not known"]),
    ],
)  # fmt: skip
def test_bad_rule_sheets_name_the_key(change, pieces):
    with pytest.raises(InputError) as caught:
        parse_rules_toml(change(default_sheet()).encode())
    for piece in pieces:
        assert piece in str(caught.value)


def test_a_written_rule_sheet_reads_back():
    import dataclasses

    from analyzer.files.writers import write_rules_toml

    rules = dataclasses.replace(default_rules(), name='Club "cup"\\\n\x7f', version="2 é")
    written = write_rules_toml(rules)
    back = parse_rules_toml(written)
    assert dataclasses.replace(back, sha256="") == dataclasses.replace(rules, sha256="")
    assert back.sha256 == hashlib.sha256(written).hexdigest()
    assert back.sha256 != rules.sha256
