"""drill.toml, run.toml and rule sheets."""

import datetime as dt
import hashlib
import math
import pickle

import numpy as np
import pytest

from analyzer.errors import FileError, InputError
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.renew_rules import renew_rules, renewed_rules
from analyzer.files.rules_toml import default_rules, parse_rules_toml
from analyzer.files.run_toml import parse_run_toml
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
    assert (rules.marking_s, rules.missed_s) == (30.0, 300.0)
    ranges = [knot.range_m for knot in rules.pace]
    paces = [knot.pace_mps for knot in rules.pace]
    assert ranges == sorted(ranges)
    assert paces == sorted(paces)  # nobody is asked to walk faster as the range closes
    assert len(rules.sha256) == 64


@pytest.mark.parametrize(
    ("change", "pieces"),
    [
        (lambda s: s.replace("missed_s", "#", 1), ["[reference]", "missed_s is missing"]),
        (lambda s: s.replace("marking_s = ", "marking_s = -", 1), ["marking_s", "out of range"]),
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


def problems(parse, text) -> dict[str, str]:
    """Return what a reader says is wrong, by place."""
    with pytest.raises(FileError) as caught:
        parse(text if isinstance(text, bytes) else text.encode())
    return {p.place: p.what for p in caught.value.problems}


def test_all_that_is_wrong_with_a_drill_is_told_at_once():
    second = '[[transmitter]]\nid = "A"\nlatitude = 46\nlongitude = 700\ncolour = 1\naxis_tilt_deg = 5\n'
    text = (
        DRILL.replace("2026-01-17\n", '"yesterday"\n', 1)
        .replace("46.0", '"46"')
        .replace("depth_m = 1.2", "depth_m = 12")
    )
    assert problems(parse_drill_toml, text.replace(", aspect_deg = 90", "").replace("420", "0") + second) == {
        "drill.origin.latitude": "'46' is not a number",
        "drill.date": "'yesterday' is not a date",
        "drill.slope.aspect_deg": "aspect_deg is missing",
        "drill.time_limit_s": "0 is out of range",
        "transmitter[1].depth_m": "12 is out of range",
        "transmitter[2].id": "two transmitters have the id 'A'",
        "transmitter[2].longitude": "700 is out of range",
        "transmitter[2].colour": "the key 'colour' is not known",
        "transmitter[2].depth_m": "depth_m is missing",
        "transmitter[2].axis_bearing_deg": "axis_bearing_deg is missing",
    }


def test_what_follows_from_another_problem_is_not_told():
    """A place is not measured from an origin that is wrong, and a missing table does not miss each of its keys."""
    degrees = DRILL.replace("east_m = 12.0\nnorth_m = -3.5", "latitude = 7\nlongitude = 46")
    assert set(problems(parse_drill_toml, degrees.replace("latitude = 46.0", "latitude = 146.0"))) == {
        "drill.origin.latitude"
    }
    assert set(problems(parse_drill_toml, DRILL[DRILL.index("[area]") :])) == {"drill"}
    bare = 'waypoints = "site.gpx"\n' + DRILL.replace("east_m = 12.0\nnorth_m = -3.5\n", "")

    def torn(name):
        raise InputError(where=name, what="the file is empty", do="export it again")

    assert problems(lambda data: parse_drill_toml(data, waypoints_of=torn), bare) == {"waypoints": "the file is empty"}
    assert set(problems(parse_drill_toml, bare.replace("site.gpx", "../site.gpx"))) == {"waypoints"}
    assert problems(parse_drill_toml, bare) == {"transmitter[1]": "the transmitter has no position"}


def test_many_problems_are_one_error_that_lists_them():
    text = DRILL.replace("depth_m = 1.2", "depth_m = 12").replace("420", '"long"').replace('id = "A"', "id = 1")
    with pytest.raises(InputError) as caught:
        parse_drill_toml(text.encode())
    assert str(caught.value).splitlines() == [
        "drill.toml: 3 things are wrong; mend each of them:",
        "  [drill], time_limit_s: 'long' is not a number; write a number without quotation marks",
        "  [[transmitter]] 1, id: 1 is not a text; write it in quotation marks",
        "  [[transmitter]] 1, depth_m: 12 is out of range; write a number at least 0 and at most 10",
    ]
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.problems) == (str(caught.value), caught.value.problems)


def test_one_problem_reads_as_any_other_error():
    with pytest.raises(FileError) as caught:
        parse_drill_toml(drill_with("depth_m = 1.2", "depth_m = 12"))
    place = "drill.toml, [[transmitter]] 1 'A', depth_m"
    assert str(caught.value) == f"{place}: 12 is out of range; write a number at least 0 and at most 10"
    assert caught.value.where == place


def test_all_that_is_wrong_with_run_settings_is_told_at_once():
    text = '[run]\nantennas = "two"\ncarry_height_m = 9\nsearcher = 5\nbip = 1\nbib = true\n'
    assert problems(parse_run_toml, text) == {
        "run.bip": "the key 'bip' is not known",
        "run.searcher": "5 is not a text",
        "run.bib": "True is not a text",
        "run.antennas": "'two' is not a number",
        "run.carry_height_m": "9 is out of range",
    }


def test_all_that_is_wrong_with_a_rule_sheet_is_told_at_once():
    sheet = (
        default_sheet().replace("bracket_arm_m = ", "bracket_arm_m = -", 1).replace("missed_s = ", "missed_s = -", 1)
    )
    sheet += '[[deduction]]\nphase = "coarse"\nmeasure = "coarse.standing"\npoints_per_unit = 0\n'
    number = default_sheet().count("[[deduction]]") + 1
    told = problems(parse_rules_toml, sheet)
    assert told.pop("reference.bracket_arm_m").endswith("is out of range")
    assert told == {
        "reference.missed_s": "-300 is out of range",
        f"deduction[{number}].points_per_unit": "0 points take nothing off",
        f"deduction[{number}].phase": "the phase 'coarse' is not known",
        f"deduction[{number}].measure": "the measure 'coarse.standing' is not known",
    }


def test_a_misspelt_key_is_not_told_as_missing_too():
    assert problems(parse_drill_toml, drill_with("depth_m", "depht_m")) == {
        "transmitter[1].depht_m": "the key 'depht_m' is not known"
    }
    two = DRILL + '[[transmitter]]\nid = "B"\neast_m = 1\nnorth_m = 1\n'
    assert set(problems(parse_drill_toml, two.replace("depth_m", "depht_m", 1))) == {
        "transmitter[1].depht_m",
        "transmitter[2].depth_m",
    }


def test_of_a_missing_table_no_key_is_told():
    assert problems(parse_rules_toml, default_sheet().replace("[rules]", "[head]", 1)) == {
        "head": "the key 'head' is not known",
        "rules": "rules is missing",
    }


FORMER = """# A club's sheet of the form before.
[rules]
name = "Club cup"
version = "3"

[reference]
fine_radius_m = 4.0
signal_pace_mps = 1.1
pinpoint_reference_s = 25.0
bracket_arm_m = 1.0
bracket_pace_mps = 0.25
pace = [{ range_m = 3.0, pace_mps = 0.4 }, { range_m = 12.0, pace_mps = 1.2 }]

[weights]
coarse_search = 0.5
fine_search = 0.5

[seconds_points]
coarse_search = 0.7

[[deduction]]
phase = "fine_search"
measure = "fine.crossing_angle_deg"
free = 60.0
points_per_unit = -0.25
at_most = 12.0
"""


def test_a_sheet_of_the_form_before_is_one_error_with_its_line_and_what_to_write():
    with pytest.raises(InputError) as caught:
        parse_rules_toml(FORMER.encode(), name="cup.toml")
    words = str(caught.value)
    assert words.startswith("cup.toml, line 14, weights: ")
    assert "\n" not in words
    for piece in ("missed_s = 300", "marking_s = 30", "[reference]", "searchwake rules --renew cup.toml"):
        assert piece in words
    # A name or a comment that holds the word is none.
    parse_rules_toml(b"# weights = 1\n" + default_sheet().replace("Searchwake default", "weights", 1).encode())


def test_a_renewed_sheet_has_the_paces_lengths_and_deductions_of_the_old_one():
    rules = parse_rules_toml(renewed_rules(FORMER.encode(), name="cup.toml"))
    assert (rules.name, rules.version) == ("Club cup", "3, renewed")
    assert (rules.fine_radius_m, rules.signal_pace_mps, rules.pinpoint_reference_s) == (4.0, 1.1, 25.0)
    assert [(knot.range_m, knot.pace_mps) for knot in rules.pace] == [(3.0, 0.4), (12.0, 1.2)]
    assert (rules.marking_s, rules.missed_s) == (default_rules().marking_s, default_rules().missed_s)
    (item,) = rules.deductions
    assert (item.phase, item.measure, item.free) == ("fine_search", "fine.crossing_angle_deg", 60.0)
    assert (item.points_per_unit, item.at_most) == (-0.25, 12.0)


def test_renewing_keeps_the_old_sheet_beside_and_does_it_once(tmp_path, capsys):
    from analyzer.cli import main

    sheet = tmp_path / "cup.toml"
    sheet.write_text(FORMER)
    assert main(["rules", str(sheet)]) == 1
    assert "line 14" in capsys.readouterr().err
    assert sheet.read_text() == FORMER
    assert main(["rules", "--renew", str(sheet)]) == 0
    assert "the old sheet is cup.toml.old" in capsys.readouterr().out
    assert (tmp_path / "cup.toml.old").read_text() == FORMER
    new = sheet.read_bytes()
    assert main(["rules", "--renew", str(sheet)]) == 1
    assert "is of the present form" in capsys.readouterr().err
    assert (sheet.read_bytes(), main(["rules", str(sheet)])) == (new, 0)


def test_renewing_writes_over_no_old_sheet(tmp_path):
    sheet = tmp_path / "cup.toml"
    sheet.write_text(FORMER)
    (tmp_path / "cup.toml.old").write_text("another")
    with pytest.raises(InputError, match=r"cup\.toml\.old: there is already such a file"):
        renew_rules(sheet)
    assert (sheet.read_text(), (tmp_path / "cup.toml.old").read_text()) == (FORMER, "another")


def test_other_mistakes_of_an_old_sheet_are_told_when_it_is_renewed():
    broken = FORMER.replace("fine_radius_m = 4.0", "fine_radius_m = -4.0").replace("crossing_angle_deg", "crossing")
    assert set(problems(renewed_rules, broken)) == {"reference.fine_radius_m", "deduction[1].measure"}
