"""Laying a drill: numbers as people type them, the start that is kept, and the plan that is taken onto the snow."""

import math
import sys

import matplotlib as mpl
import numpy as np
import plotly.graph_objects as go
import pytest
from geographiclib.geodesic import Geodesic

from analyzer.errors import FileError
from analyzer.files.drill_toml import parse_drill_toml, read_drill_toml
from dashboard.components.laying_plan import laying_page
from dashboard.export.laying_sheet import laying_papers, laying_pdf
from dashboard.figures.laying_plan import laying_figure
from dashboard.services.drill_form import checked, file_of
from dashboard.services.drills import Drills, Opened
from dashboard.services.laying_plan import laying_plan, way
from dashboard.view_models.drill_form import NEGATIVE, added, example, form_of
from dashboard.view_models.laying_plan import HOW, ONLY, axis_words
from dashboard.view_models.typed_numbers import FieldError, corners, number
from dashboard.wording import SAFETY
from tests.support.tidy import assert_tidy

FORM = example("2026-02-14")


def laid(**changes):
    return checked(FORM | changes).drill


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("47,1234", 47.1234),
        ("47.1234", 47.1234),
        (" 12 ", 12.0),
        ("-3,5", -3.5),
        ("\N{MINUS SIGN}3.5", -3.5),
        (",5", 0.5),
        ("5,", 5.0),
        ("+0,25", 0.25),
    ],
)
def test_a_decimal_comma_is_a_decimal_point(typed, value):
    assert number(typed) == value


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("47,1234, 11,5", "is more than one number"),
        ("47.1234,11.5", "is more than one number"),
        ("47,1234,11,5", "is more than one number"),
        ("47.1; 11.5", "is more than one number"),
        ("2 000", "without a blank in it"),
        ("1.234,5", "is not a number"),
        ("1,234.5", "is not a number"),
        ("12 m", "is not a number"),
        ("1e3", "is not a number"),
        ("nan", "is not a number"),
        (",", "is not a number"),
        ("", "is not a number"),
    ],
)
def test_what_is_not_one_plain_number_is_told(typed, words):
    with pytest.raises(FieldError, match=words):
        number(typed)


def test_a_comma_that_may_group_thousands_is_asked_about_where_thousands_fit():
    with pytest.raises(FieldError, match=r"'2,000' may mean 2 or 2000; write 2 or 2000"):
        number("2,000", most=9000.0)
    with pytest.raises(FieldError, match=r"may mean -1\.25 or -1250"):
        number("-1,250", most=2000.0)
    assert number("2,000") == 2.0
    assert number("38,125", most=2000.0) == 38.125  # 38125 would be out of range
    assert number("0,125", most=2000.0) == 0.125
    assert number("2,00", most=9000.0) == 2.0
    assert "may mean 2 or 2000" in checked(FORM | {"elevation_m": "2,000"}).errors["elevation_m"]
    assert "may mean 1.5 or 1500" in checked(FORM | {"start_north": "1,500"}).errors["start_north"]


@pytest.mark.parametrize(
    ("line", "corner"),
    [
        ("60, 80", [60.0, 80.0]),
        ("60,80", [60.0, 80.0]),
        ("60 80", [60.0, 80.0]),
        ("60,5; 80,25", [60.5, 80.25]),
        ("60,5 80,25", [60.5, 80.25]),
        ("60,5, 80,25", [60.5, 80.25]),
        ("60.5,-80.25", [60.5, -80.25]),
        ("60 , 80", [60.0, 80.0]),
        ("60;80", [60.0, 80.0]),
    ],
)
def test_a_corner_may_have_decimal_commas(line, corner):
    assert corners(line) == [corner]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("60,5,80", "commas that may mean two things; write it like 60,5; 80,25"),
        ("60,5,80,25", "commas that may mean two things"),
        ("60", "is not two numbers"),
        ("1; 2; 3", "is not two numbers"),
        ("a, b", "is not two numbers"),
    ],
)
def test_a_corner_that_may_be_meant_in_two_ways_is_told_with_its_number(line, words):
    with pytest.raises(FieldError, match=f"corner 2, '{line}', .*{words}"):
        corners(f"0, 0\n{line}")


def test_every_number_field_takes_a_comma():
    typed = {
        "latitude": "46,5",
        "longitude": "9,25",
        "elevation_m": "2000,5",
        "angle_deg": "25,5",
        "aspect_deg": "180,5",
        "strip_width_m": "40,5",
        "time_limit_s": "600,5",
        "start_east": "30,5",
        "start_north": "0,5",
        "reach_m": "20,5",
        "corners": "0,5; 0,5\n60,5; 0\n60; 80,5",
        "t0.east_m": "38,5",
        "t0.north_m": "46,5",
        "t0.depth_m": "1,25",
        "t0.axis_bearing_deg": "60,5",
        "t0.axis_tilt_deg": "10,5",
        "t0.position_sigma_m": "0,25",
    }
    made, with_points = checked(FORM | typed), checked(FORM | {k: v.replace(",", ".") for k, v in typed.items()})
    assert made.errors == with_points.errors == {}
    assert file_of(made.drill) == file_of(with_points.drill)
    assert (made.start_m, made.reach_m) == ((30.5, 0.5), 20.5)


def test_the_start_is_kept_in_the_file_of_the_drill(tmp_path):
    drills = Drills(workspace=tmp_path)
    made = checked(FORM | {"start_east": "12,5", "start_north": "-3", "start": "2026-02-14T09:30:00+01:00"})
    key = drills.save(made.drill, Opened("", "")).key
    file = tmp_path / "drills" / key / "drill.toml"
    assert "start_m = [12.5, -3.0]" in file.read_text()
    _, form = drills.opened(key)
    assert (form["start_east"], form["start_north"], form["start"]) == ("12.5", "-3", "2026-02-14T09:30:00+01:00")
    assert read_drill_toml(file).start_m == (12.5, -3.0)
    alone = checked(form | {"corners": ""}).drill
    assert parse_drill_toml(file_of(alone)).start_m == (12.5, -3.0)


@pytest.mark.parametrize("value", ["[1]", "[1, 2, 3]", '["1", "2"]', "3", "[true, 1]", "[2001, 0]", "[nan, 0]"])
def test_a_start_that_is_no_place_is_refused_by_its_key(value):
    text = file_of(laid()).decode().replace("start_m = [30.0, 0.0]", f"start_m = {value}")
    with pytest.raises(FileError) as caught:
        parse_drill_toml(text.encode())
    assert "[area], start_m: this is not a place; write [east, north]" in str(caught.value)


# A slope whose tangent is 3/4: 8 m across the map up the fall line are 10 m of tape and 6 m of height (3, 4, 5).
STEEP = str(math.degrees(math.atan2(3.0, 4.0)))


@pytest.mark.parametrize(
    ("aspect", "end", "taped_m", "bearing_deg", "rise_m"),
    [
        ("180", (0.0, 8.0), 10.0, 0.0, 6.0),
        ("180", (0.0, -8.0), 10.0, 180.0, -6.0),
        ("180", (8.0, 0.0), 8.0, 90.0, 0.0),
        ("180", (-7.5, 8.0), 12.5, 316.8476, 6.0),  # 7.5 level and 10 up the slope: 7.5, 10, 12.5
        ("90", (-8.0, 0.0), 10.0, 270.0, 6.0),
        ("0", (0.0, -4.0), 5.0, 180.0, 3.0),
    ],
)
def test_a_tape_on_the_slope_is_as_long_as_by_hand(aspect, end, taped_m, bearing_deg, rise_m):
    found = way(laid(angle_deg=STEEP, aspect_deg=aspect), (100.0, -40.0), (100.0 + end[0], -40.0 + end[1]))
    assert found.taped_m == pytest.approx(taped_m, abs=1e-9)
    assert found.level_m == pytest.approx(math.hypot(*end))
    assert found.bearing_deg == pytest.approx(bearing_deg, abs=1e-4)
    assert found.rise_m == pytest.approx(rise_m, abs=1e-9)


def test_on_level_ground_the_tape_is_level_and_no_way_has_no_bearing():
    found = way(laid(angle_deg="0"), (1.0, 1.0), (4.0, 5.0))
    assert (found.taped_m, found.level_m, found.rise_m) == pytest.approx((5.0, 5.0, 0.0))
    assert way(laid(), (1.0, 1.0), (1.0, 1.0)).cells() == ("0.0", "0.0", "-", "same")
    assert way(laid(angle_deg="0"), (0.0, 0.0), (-0.001, 50.0)).cells()[2] == "0.0°"  # not 360.0


@pytest.mark.parametrize(("latitude", "longitude"), [(46.7, 9.8), (-43.5, 171.9), (68.2, -149.0)])
def test_bearings_and_lengths_are_those_of_a_geodesic_library(latitude, longitude):
    """Karney's GeographicLib on the ellipsoid; at the height h of the drill a way is longer by h / R."""
    place = latitude + 0.0007, longitude - 0.0009
    changes = {
        "latitude": repr(latitude),
        "longitude": repr(longitude),
        "t0.east_m": "",
        "t0.north_m": "",
        "t0.latitude": repr(place[0]),
        "t0.longitude": repr(place[1]),
    }
    plan = laying_plan("x", laid(**changes))
    (spot,) = plan.transmitters
    geodesic = Geodesic.WGS84.Inverse(latitude, longitude, *place)
    found = dict(spot.ways)["from the origin"]
    assert found.bearing_deg == pytest.approx(geodesic["azi1"] % 360.0, abs=0.002)
    assert found.level_m == pytest.approx(geodesic["s12"] * (1.0 + 2000.0 / 6_371_000.0), abs=0.003)
    assert (spot.latitude, spot.longitude) == pytest.approx(place, abs=1e-8)
    begin = plan.start
    back = Geodesic.WGS84.Inverse(begin.latitude, begin.longitude, *place)
    assert dict(spot.ways)["from the start"].bearing_deg == pytest.approx(back["azi1"] % 360.0, abs=0.005)


@pytest.fixture
def as_on_paper():
    """Give letters the width that they have on paper, not that of the pixels of a screen."""
    with mpl.rc_context({"text.hinting": "none"}):
        yield


def many(count):
    form = FORM
    for number_ in range(count - 1):
        form = added(form, east_m=str(5 + 2 * number_), north_m="50", depth_m="0.8", id=f"T{number_} {'x' * 60}")
    return form


@pytest.mark.usefixtures("as_on_paper")
@pytest.mark.parametrize(
    "form",
    [FORM, many(12), FORM | {"corners": ""}, FORM | {"name": "w" * 110}, FORM | {"angle_deg": "0", "aspect_deg": ""}],
    ids=["example", "twelve", "no area", "long name", "level"],
)
def test_the_sheet_says_all_and_nothing_lies_over_anything_else(form):
    plan = laying_plan("bowl", checked(form).drill)
    papers = laying_papers(plan)
    assert_tidy(papers)
    for paper in papers:
        words = " ".join(t.get_text() for t in paper.figure.texts)
        assert ONLY in words
        assert all(sentence in words for sentence in SAFETY)
    words = " ".join(t.get_text() for paper in papers for t in paper.figure.texts)
    assert HOW in words
    assert words.count("Really laid:") == len(plan.transmitters)
    for spot in plan.transmitters:
        assert axis_words(spot.transmitter) in words
        for _, found in spot.ways:
            assert all(cell in words for cell in found.cells())
    boxes = [p for paper in papers for p in paper.figure.artists if p.get_facecolor()[3] == 0.0]
    assert len(boxes) == len(plan.transmitters) + 1 + len(plan.corners)
    drawn = " ".join(t.get_text() for t in papers[0].figure.axes[0].texts)
    assert "start" in drawn
    assert "origin" in drawn
    assert " m" in drawn
    assert "N" in drawn
    assert ("uphill" in drawn) == (plan.drill.slope.angle_deg > 0.0)


def test_a_start_that_the_file_does_not_hold_is_called_a_proposal(tmp_path):
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    drills = Drills(workspace=tmp_path)
    key = drills.save(laid(), Opened("", "")).key
    file = tmp_path / "drills" / key / "drill.toml"
    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(tmp_path / "results", workspace=tmp_path))
    page = sys.modules["dashboard.pages.lay_out"]
    with app.server.test_request_context("/"):
        assert "a start is proposed below" not in str(page.layout(key))
        assert "a start is proposed below" not in str(page.layout())
        file.write_text(file.read_text().replace("start_m = [30.0, 0.0]\n", ""))
        assert "a start is proposed below" in str(page.layout(key))
    _pages.PAGE_REGISTRY.clear()
    assert not drills.opened(key)[0].start_known


def test_without_a_start_all_ways_are_from_the_origin_and_the_sheet_says_so():
    text = file_of(laid()).decode().replace("start_m = [30.0, 0.0]\n", "")
    plan = laying_plan("bowl", parse_drill_toml(text.encode()))
    assert plan.start is None
    assert [whence for whence, _ in plan.transmitters[0].ways] == ["from the origin"]
    words = " ".join(t.get_text() for paper in laying_papers(plan) for t in paper.figure.texts)
    assert "does not say where the search begins" in words
    assert "does not say where the search begins" in str(laying_page(plan))


def test_an_antenna_in_words():
    def words(bearing, tilt):
        return axis_words(laid(**{"t0.axis_bearing_deg": bearing, "t0.axis_tilt_deg": tilt}).transmitters[0])

    assert words("-10", "20") == "antenna axis to 350°, 20° up at that end"
    assert words("60", "-20.5") == "antenna axis to 60°, 20.5° down at that end"
    assert words("60", "0") == "antenna axis to 60°, level"
    assert words("60", "-90") == "antenna axis upright"
    assert "not given" in words("", "")


def test_the_plan_on_the_page_is_where_things_are():
    plan = laying_plan("bowl", laid())
    figure = laying_figure(plan)
    assert len(go.Figure(figure).data) == len(figure["data"])
    traces = {trace["name"]: trace for trace in figure["data"]}
    np.testing.assert_allclose(
        np.column_stack([traces["to tape"]["x"], traces["to tape"]["y"]])[:2], [[30, 0], [38, 46]]
    )
    assert traces["corners"]["text"] == ["1", "2", "3", "4"]
    page = str(laying_page(plan))
    assert "/take-drill/bowl/laying-plan.pdf" in page
    assert ONLY in page


def test_the_sheet_is_fetched_and_a_drill_that_is_not_there_is_told(tmp_path):
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    key = Drills(workspace=tmp_path).save(laid(), Opened("", "")).key
    (tmp_path / "drills" / "torn").mkdir()
    (tmp_path / "drills" / "torn" / "drill.toml").write_text("[drill")
    _pages.PAGE_REGISTRY.clear()
    client = create_app(Config(tmp_path / "results", workspace=tmp_path)).server.test_client()
    answer = client.get(f"/take-drill/{key}/laying-plan.pdf")
    _pages.PAGE_REGISTRY.clear()
    assert (answer.status_code, answer.mimetype, answer.data[:5]) == (200, "application/pdf", b"%PDF-")
    assert 'filename="new-drill_laying-plan.pdf"' in answer.headers["Content-Disposition"]
    assert answer.data == laying_pdf(Drills(workspace=tmp_path).plan(key))
    gone = client.get("/take-drill/gone/laying-plan.pdf")
    assert (gone.status_code, gone.data) == (
        404,
        b"There is no drill gone in the folder that is shown. It may have been moved.\n",
    )
    torn = client.get("/take-drill/torn/laying-plan.pdf")
    assert torn.status_code == 422
    assert b"this is not TOML" in torn.data


def test_a_phone_offers_numbers_where_no_minus_may_be_needed():
    from dashboard.components.drill_form import drill_form, transmitter_rows

    shown = {}

    def walk(node):
        for child in node if isinstance(node, (list, tuple)) else [node]:
            if hasattr(child, "inputMode"):
                shown[child.id["key"]] = child.inputMode
            if hasattr(child, "children"):
                walk(child.children)

    walk([*drill_form(FORM), *transmitter_rows(form_of(laid()))])
    assert {key for key, mode in shown.items() if mode == "decimal"} == {
        "angle_deg", "aspect_deg", "strip_width_m", "elevation_m", "time_limit_s", "reach_m",
        "t0.depth_m", "t0.axis_bearing_deg", "t0.position_sigma_m",
    }  # fmt: skip
    assert {key.rpartition(".")[2] for key, mode in shown.items() if mode == "text"} == {
        *NEGATIVE, "name", "date", "start", "id",
    }  # fmt: skip
