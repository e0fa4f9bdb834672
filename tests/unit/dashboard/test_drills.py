"""Laying out a drill: the form, what is wrong with it, the words, the plan, and saving."""

import errno
import json
import sys

import numpy as np
import plotly.graph_objects as go
import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import parse_drill_toml, read_drill_toml
from analyzer.files.source import sha256_hex
from analyzer.lab.simulate import DrillSettings, simulate_drill
from analyzer.lab.simulate.write import write_drill
from dashboard.figures.layout_plan import layout_figure
from dashboard.services.drill_form import checked, file_of, outlook_of, with_waypoints
from dashboard.services.drills import SAVING, Drills, Opened, folder_name
from dashboard.view_models.difficulty_words import around_line, difficulty, headline, search_line, time_line, warnings
from dashboard.view_models.drill_form import (
    MOST_TRANSMITTERS,
    NUMBERS,
    TRANSMITTER,
    added,
    example,
    form_of,
    picked,
    rows,
    started,
    without,
)

FORM = example("2026-02-14")
GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'
POINT = '<wpt lat="{}" lon="{}"><name>{}</name></wpt>'


def gpx(*points):
    return GPX.format("".join(POINT.format(*point) for point in points)).encode()


@pytest.fixture
def workspace(tmp_path):
    """Return a workspace with a simulated drill."""
    write_drill(tmp_path / "drills" / "bowl", simulate_drill(DrillSettings(transmitters=2), seed=4))
    return tmp_path


def test_the_example_can_be_used_as_it_is():
    made = checked(FORM)
    assert made.errors == {}
    assert parse_drill_toml(file_of(made.drill)).name == "New drill"
    assert made.start_m == (30.0, 0.0)
    assert made.reach_m is None


@pytest.mark.parametrize("settings", [{"transmitters": 2}, {"axis_given": False}, {"position_sigma_m": 2.5}])
def test_a_drill_survives_the_form(settings):
    drill = simulate_drill(DrillSettings(**settings), seed=7).drill
    again = checked(form_of(drill)).drill
    assert again.transmitters == drill.transmitters
    assert (again.origin, again.slope, again.name, again.start) == (drill.origin, drill.slope, drill.name, drill.start)
    np.testing.assert_array_equal(again.corners_m, drill.corners_m)


WRONG = [
    ({"latitude": "146"}, "latitude", "146 is out of range; write a number at least -90 and at most 90"),
    ({"longitude": ""}, "longitude", "longitude is missing"),
    ({"angle_deg": "4°"}, "angle_deg", "'4°' is not a number; write it like 12.5 or 12,5"),
    ({"angle_deg": "95"}, "angle_deg", "out of range"),
    ({"aspect_deg": ""}, "aspect_deg", "aspect: bearing downhill is missing"),
    ({"date": "yesterday"}, "date", "is not a date; write it like 2026-01-17"),
    ({"start": "09:30"}, "start", "is not a time with an offset"),
    ({"strip_width_m": "0"}, "strip_width_m", "out of range"),
    ({"time_limit_s": "-1"}, "time_limit_s", "above 0"),
    ({"time_limit_s": "1e5"}, "time_limit_s", "is not a number"),
    ({"corners": "0, 0\n9"}, "corners", "corner 2, '9', is not two numbers"),
    ({"corners": "0, 0\n9, 9"}, "corners", "not three or more corners"),
    ({"corners": "0, 0\n9, 9\n9, 0\n0, 9"}, "corners", "crosses or touches itself: corner 1 to 2 and corner 3 to 4"),
    (
        {"corners": "-2000, -2000\n2000, -2000\n2000, 2000\n-2000, 2000", "strip_width_m": "1"},
        "strip_width_m",
        "16000 km long",
    ),
    ({"start_east": ""}, "start_east", "the start is missing"),
    ({"start_north": "9999"}, "start_north", "out of range"),
    ({"reach_m": "0"}, "reach_m", "above 0"),
    ({"t0.id": " "}, "t0.id", "the id is empty"),
    ({"t0.depth_m": ""}, "t0.depth_m", "depth is missing; add the burial depth"),
    ({"t0.depth_m": "99"}, "t0.depth_m", "at most 10"),
    ({"t0.axis_tilt_deg": ""}, "t0.axis_tilt_deg", "antenna tilt is missing"),
    ({"t0.axis_tilt_deg": "91"}, "t0.axis_tilt_deg", "out of range"),
    ({"t0.east_m": "", "t0.north_m": ""}, "t0.east_m", "no position"),
    ({"t0.north_m": ""}, "t0.north_m", "north is missing"),
    ({"t0.north_m": "12 m"}, "t0.north_m", "'12 m' is not a number"),
    ({"t0.position_sigma_m": "0"}, "t0.position_sigma_m", "above 0"),
]


@pytest.mark.parametrize(("changes", "key", "words"), WRONG)
def test_what_is_wrong_is_said_beside_its_field(changes, key, words):
    made = checked(FORM | changes)
    assert made.drill is None
    assert list(made.errors) == [key]
    assert words in made.errors[key]
    assert "\n" not in made.errors[key]


def test_every_wrong_field_is_told_at_once():
    form = added(FORM | {"latitude": "146", "date": "x"}, id="T1", east_m="1", north_m="2")
    assert set(checked(form).errors) == {"latitude", "date", "t1.id", "t1.depth_m"}
    assert "two transmitters have the id 'T1'" in checked(form).errors["t1.id"]


def test_three_mistyped_fields_of_one_transmitter_have_three_lines():
    form = FORM | {"t0.east_m": "38 m", "t0.north_m": "4600", "t0.depth_m": "12"}
    errors = checked(form).errors
    assert set(errors) == {"t0.east_m", "t0.north_m", "t0.depth_m"}
    assert "'38 m' is not a number" in errors["t0.east_m"]
    assert "4600 is out of range" in errors["t0.north_m"]
    assert "12 is out of range" in errors["t0.depth_m"]


def test_fields_of_a_later_transmitter_are_named_by_its_own_number():
    """The first of two was taken out, so that the second one stands first in the file."""
    form = without(added(FORM, id="T2", east_m="1", north_m="2", depth_m="99"), 0)
    assert set(checked(form).errors) == {"t1.depth_m"}


def test_an_origin_left_empty_is_told_in_its_own_fields_alone():
    degrees = FORM | {"t0.east_m": "", "t0.north_m": "", "t0.latitude": "46", "t0.longitude": "9"}
    empty = {"latitude": "", "longitude": "x", "elevation_m": ""}
    assert set(checked(degrees | empty).errors) == {"latitude", "longitude"}


def test_every_field_that_the_reader_can_find_fault_with_has_a_line_of_its_own():
    """Nothing the form writes is reported of the drill as a whole: each of its number fields answers for itself."""
    own = [f"t0.{key}" for key in TRANSMITTER if key not in ("id", "latitude", "longitude")]
    keys = [*NUMBERS, *own]
    assert set(checked(FORM | dict.fromkeys(keys, "-99999")).errors) == set(keys)


def test_metres_and_degrees_at_once_are_refused_and_a_far_place_names_the_origin():
    both = checked(FORM | {"t0.latitude": "46", "t0.longitude": "9"}).errors
    assert "in metres and in degrees; keep one" in next(iter(both.values()))
    far = checked(FORM | {"t0.east_m": "", "t0.north_m": "", "t0.latitude": "47", "t0.longitude": "9"}).errors
    assert "m from the origin" in next(iter(far.values()))


def test_a_form_without_transmitters_is_told():
    assert "there is no transmitter" in checked(without(FORM, 0)).errors["transmitters"]


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", 'say "hi" \\ there', "\u0001\u007f", "Łódź ❄", "\ud800"])
def test_any_name_is_text(name):
    made = checked(FORM | {"name": name, "t0.id": name})
    assert made.errors == {}
    if name != "\ud800":  # half a character, which no file can hold
        assert (made.drill.name, made.drill.transmitters[0].id) == (name, name)


def test_a_click_on_the_plan_sets_what_was_chosen():
    assert picked(FORM, "start", 12.34, -0.02)[0]["start_east"] == "12.3"
    assert picked(FORM, "start", 12.34, -0.02)[0]["start_north"] == "0"
    moved, target = picked(FORM | {"t0.latitude": "46"}, "t0", 5.0, 6.0)
    assert (moved["t0.east_m"], moved["t0.north_m"], moved["t0.latitude"], target) == ("5", "6", "", "t0")
    more, target = picked(FORM, "new", 7.0, 8.0)
    assert (rows(more), more["t1.id"], more["t1.east_m"], more["t1.depth_m"], target) == ((0, 1), "T2", "7", "", "t1")
    assert picked(FORM, "corner", -5.0, 40.0)[0]["corners"].endswith("0, 80\n-5, 40")
    assert picked(FORM, "t9", 1.0, 2.0)[0]["start_east"] == "1"


@pytest.mark.parametrize(
    ("asked", "start"),
    [
        ("12.5,-3", ("12.5", "-3")),
        ("", ("30", "0")),
        ("a,b", ("30", "0")),
        ("1,2,3", ("30", "0")),
        ("nan,1", ("30", "0")),
    ],
)
def test_the_start_comes_from_the_address(asked, start):
    form = started(FORM, asked)
    assert (form["start_east"], form["start_north"]) == start


def test_waypoints_move_and_add_transmitters():
    form, said = with_waypoints(FORM, gpx((46.7, 9.8, "T1"), (46.7002, 9.8003, "rock")), "site.gpx")
    assert (form["latitude"], form["longitude"]) == ("46.7", "9.8")
    assert "The origin was still the example's: it is 'T1' now" in said
    assert (form["t0.east_m"], form["t0.latitude"], form["t1.id"]) == ("", "46.7", "rock")
    assert set(checked(form).errors) == {"t1.depth_m"}
    drill = checked(form | {"t1.depth_m": "1"}).drill
    assert drill.transmitters[0].position_sigma_m == 2.5
    # 0.0002 deg of latitude at 46.7: 22.2 m (a degree is 111.2 km there, WGS 84)
    assert drill.transmitters[1].north_m == pytest.approx(22.2, abs=0.1)
    kept, _ = with_waypoints(FORM | {"latitude": "46.7001"}, gpx((46.7, 9.8, "T1")), "site.gpx")
    assert kept["latitude"] == "46.7001"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"<gpx", "site.gpx"),
        (gpx(), "holds no waypoint"),
        (gpx((146, 9, "A")), "not on Earth"),
        (gpx((46, 9, "A"), (46, 9, "A")), "a second waypoint is named 'A'"),
        (gpx(*[(46, 9, f"w{i}") for i in range(MOST_TRANSMITTERS)]), "nothing was taken"),
        (b"x" * 5_000_001, "at most 5 MB"),
    ],
)
def test_a_bad_waypoint_file_changes_nothing(data, words):
    with pytest.raises(InputError, match=words):
        with_waypoints(FORM, data, "site.gpx")


def seen(**changes):
    made = checked(FORM | changes)
    return made.drill, outlook_of(made)


def test_the_answer_in_words():
    drill, drill_difficulty = seen(
        **{
            "start_east": "38",
            "start_north": "26",
            "t0.axis_bearing_deg": "90",
            "t0.axis_tilt_deg": "0",
            "angle_deg": "0",
        }
    )
    # A start on the equator at 20 m: 1.445 to a distance of 3 m (Chapman and Sugiura 1956); here to a reading of 3 m
    # of a receiver 1 m up, which ends farther out.
    (search,) = drill_difficulty.searches
    assert 1.38 < search.ratio.value < 1.48
    times = f"{search.ratio.value:.2f} times the straight line"
    assert headline(drill_difficulty) == f"The field line from the start is {times}: hard."
    assert time_line(drill_difficulty).startswith("The reference searcher needs 1:")
    assert "along the field line where straight would be" in search_line(search, drill_difficulty.reach_m)
    assert "(easy to hard)" in around_line(drill_difficulty.around[0], drill_difficulty.reach_m)
    assert [w.split(":")[0] for w in warnings(drill, drill_difficulty)] == ["The origin is still that of the example"]


def test_the_answer_where_the_axis_is_unknown_or_the_signal_is_far():
    _, drill_difficulty = seen(**{"t0.axis_bearing_deg": "", "t0.axis_tilt_deg": ""})
    assert "for its antenna axis is not given: easy to hard" in headline(drill_difficulty)
    assert headline(drill_difficulty).startswith("From where T1 is first heard")
    assert "without its antenna axis" in around_line(drill_difficulty.around[0], 20.0)
    drill, outside = seen(**{"t0.east_m": "130"})
    assert "still it is not heard within 20 m" in search_line(outside.searches[0], 20.0)
    assert "T1 lies outside the area, 70.0 m from its edge." in warnings(drill, outside)
    drill, bare = seen(corners="")
    assert any(line.startswith("Without an area") for line in warnings(drill, bare))


def test_words_of_difficulty():
    assert [difficulty(r) for r in (1.0, 1.09, 1.1, 1.24, 1.25, 1.45)] == [
        "easy",
        "easy",
        "medium",
        "medium",
        "hard",
        "hard",
    ]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"corners": ""},
        {"t0.axis_bearing_deg": "", "t0.axis_tilt_deg": ""},
        {"start_east": "38", "start_north": "46"},
        {"angle_deg": "0", "aspect_deg": ""},
    ],
)
def test_the_plan_is_one_the_chart_library_accepts(changes):
    figure = layout_figure(*seen(**changes))
    assert len(go.Figure(figure).data) == len(figure["data"])
    assert [figure["layout"][a]["title"]["text"] for a in ("xaxis", "yaxis")] == ["east, m", "north, m"]
    assert figure["layout"]["yaxis"]["scaleanchor"] == "x"


def test_the_plan_shows_every_part_where_it_is():
    drill, drill_difficulty = seen(**{"t0.id": "<b>x</b>"})
    traces = {t["name"]: t for t in layout_figure(drill, drill_difficulty)["data"]}
    assert (traces["start"]["x"][0], traces["start"]["y"][0]) == (30.0, 0.0)
    assert traces["transmitter"]["text"] == ["<b>&lt;b&gt;x&lt;/b&gt;</b>"]
    path = np.column_stack([traces["ideal path"]["x"], traces["ideal path"]["y"]])
    np.testing.assert_allclose(path[:-1], drill_difficulty.searches[0].field_line_m)
    axis = traces["antenna axis"]
    assert np.degrees(np.arctan2(axis["x"][1] - axis["x"][0], axis["y"][1] - axis["y"][0])) == pytest.approx(60.0)
    assert np.nanmin(traces["readings, every 5 m"]["z"]) < 3.0
    for name in ("area", "strips", "field lines", "search until heard", "straight line", "ideal bracket"):
        assert np.isfinite(traces[name]["x"]).any(), name


def test_a_new_drill_gets_a_folder_of_its_name_and_is_opened_again(workspace):
    drills, made = Drills(workspace=workspace), checked(FORM | {"name": "Dawn ../<b>field"})
    saved = drills.save(made.drill, Opened("", ""))
    assert saved.key == "dawn_b_field"
    entry, form = drills.opened(saved.key)
    assert (entry.sha256, entry.runs, form["name"]) == (saved.sha256, 0, "Dawn ../<b>field")
    assert [e.key for e in drills.entries()] == ["bowl", "dawn_b_field"]
    assert sorted(p.name for p in (workspace / "drills").glob("[!.]*")) == ["bowl", "dawn_b_field"]


@pytest.mark.parametrize("name", ["../../etc", "..", "", "Łódź", "a/b\\c", "con\x00"])
def test_a_folder_name_never_leaves_its_place(name):
    assert folder_name(name).replace("_", "").isalnum()


def test_a_name_in_use_is_refused_and_the_other_drill_stays(workspace):
    before = (workspace / "drills" / "bowl" / "drill.toml").read_bytes()
    with pytest.raises(InputError, match="a drill in the folder 'bowl' already"):
        Drills(workspace=workspace).save(checked(FORM | {"name": "Bowl"}).drill, Opened("", ""))
    assert (workspace / "drills" / "bowl" / "drill.toml").read_bytes() == before


def test_a_drill_with_runs_is_changed_only_when_sure_and_what_was_is_kept(workspace):
    file = workspace / "drills" / "bowl" / "drill.toml"
    (file.parent / "runs" / "a").mkdir()
    before = file.read_bytes()
    drills = Drills(workspace=workspace)
    opened, form = drills.opened("bowl")
    changed = checked(form | {"t0.depth_m": "1.75"}).drill
    asked = drills.save(changed, opened)
    assert "has a run already" in asked.question
    assert file.read_bytes() == before
    saved = drills.save(changed, opened, sure=True)
    assert saved.question == ""
    assert read_drill_toml(file).transmitters[0].depth_m == 1.75
    assert (workspace / "originals" / sha256_hex(before)).read_bytes() == before


def test_a_drill_changed_by_another_is_not_overwritten(workspace):
    file = workspace / "drills" / "bowl" / "drill.toml"
    drills = Drills(workspace=workspace)
    opened, form = drills.opened("bowl")
    file.write_bytes(file.read_bytes() + b"# by hand\n")
    with pytest.raises(InputError, match="changed by someone else"):
        drills.save(checked(form | {"t0.depth_m": "1.75"}).drill, opened, sure=True)
    assert file.read_bytes().endswith(b"# by hand\n")


def test_without_a_workspace_nothing_is_saved(workspace):
    drills = Drills((workspace / "drills" / "bowl",))
    opened, form = drills.opened("bowl")
    with pytest.raises(InputError, match="no workspace is open to save in; download the file"):
        drills.save(checked(form).drill, opened)
    elsewhere = Drills((workspace / "drills" / "bowl",), workspace / "other")
    with pytest.raises(InputError, match="not in the workspace"):
        elsewhere.save(checked(form).drill, opened)


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES])
@pytest.mark.parametrize("key", ["", "bowl"])
def test_a_full_or_read_only_workspace_is_said_and_nothing_is_left(workspace, monkeypatch, code, key):
    def refuses(*_, **__):
        raise OSError(code, "refused by the disk")

    drills = Drills(workspace=workspace)
    opened, form = drills.opened("bowl") if key else drills.new()
    (workspace / SAVING).touch()  # empty, and stays: whoever saves holds it
    before = {p: p.read_bytes() for p in workspace.rglob("*") if p.is_file()}
    monkeypatch.setattr("tempfile.mkstemp", refuses)
    monkeypatch.setattr("tempfile.mkdtemp", refuses)
    with pytest.raises(InputError) as caught:
        drills.save(checked(form | {"name": "Fresh", "t0.depth_m": "1.75"}).drill, opened)
    assert "\n" not in str(caught.value)
    assert {p: p.read_bytes() for p in workspace.rglob("*") if p.is_file()} == before


def test_a_damaged_drill_says_why_and_the_others_are_listed(workspace):
    (workspace / "drills" / "torn").mkdir()
    (workspace / "drills" / "torn" / "drill.toml").write_text("[drill")
    drills = Drills(workspace=workspace)
    assert "this is not TOML" in next(e for e in drills.entries() if e.key == "torn").problem
    with pytest.raises(InputError, match="this is not TOML"):
        drills.opened("torn")
    assert drills.opened("nowhere") is drills.opened("../bowl") is None


def test_the_page_of_a_new_an_opened_and_a_missing_drill(workspace):
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(workspace / "results", workspace=workspace))
    page = sys.modules["dashboard.pages.lay_out"]
    with app.server.test_request_context("/"):
        new, own = str(page.layout()), str(page.layout("bowl", start="1.5,2"))
        gone = str(page.layout("nowhere"))
    _pages.PAGE_REGISTRY.clear()
    assert "Change the example below into your drill" in new
    assert "in the folder bowl" in own
    assert "value='1.5'" in own
    assert "This drill is not here" in gone


def test_without_a_workspace_the_page_plans_and_downloads(ask):
    status, text = ask("/lay-out")
    assert status == 200
    plain = json.dumps(json.loads(text))
    assert "No workspace is open" in plain
    assert "data:application/toml" in plain


def test_what_no_field_asks_for_survives_saving(workspace):
    path = workspace / "drills" / "bowl" / "drill.toml"
    receiver = '[[receiver]]\nname = "club 3"\nscale = 1.1\nscale_sigma = 0.03\nstrip_width_m = 32.0\n'
    path.write_text(path.read_text().replace("[drill]\n", "[drill]\nteam = true\n") + receiver)
    before = read_drill_toml(path)
    service = Drills(workspace=workspace)
    opened, form = service.opened("bowl")
    service.save(checked(form | {"name": "Upper bowl"}).drill, opened, sure=True)
    after = read_drill_toml(path)
    assert after.name == "Upper bowl"
    assert (after.team, after.receivers) == (True, before.receivers)
    assert after.transmitters == before.transmitters
