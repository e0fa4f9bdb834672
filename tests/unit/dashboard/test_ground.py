"""The picture of the ground on pages, in what is taken away, and the form that pins it."""

import io
import re
import time

import numpy as np
import pytest
from PIL import Image

from analyzer.errors import InputError
from analyzer.files.ground_toml import GROUND_FILE, parse_ground, write_ground
from analyzer.files.writers import write_drill_toml
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.ground import Ground, GroundPicture, Pin
from dashboard.figures.plan import plan_figure
from dashboard.figures.replay import replay_data
from dashboard.view_models.ground import Under, degrees_of, number_of, within

OWN = {"Host": "localhost", "Origin": "http://localhost"}


def a_photo(colour=(90, 110, 90), kind="JPEG"):
    out = io.BytesIO()
    Image.new("RGB", (400, 300), colour).save(out, kind)
    return out.getvalue()


@pytest.fixture
def opened(results_folder, tmp_path):
    """Return a client of a dashboard over a workspace with a drill of the results, and the drill's folder."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    workspace = tmp_path / "club"
    folder = workspace / "drills" / "lower_bowl"
    folder.mkdir(parents=True)
    drill = Drill(
        "Bowl",
        None,
        Origin(47.0, 11.0, 2000.0),
        Slope(20.0, 90.0),
        (Transmitter("7", 30.0, -20.0, 1.0),),
        np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0]]),
    )
    (folder / "drill.toml").write_bytes(write_drill_toml(drill))
    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(results_folder, drills=(folder,), workspace=workspace))
    yield app.server.test_client(), folder
    _pages.PAGE_REGISTRY.clear()


def send(client, act, drill="lower_bowl", **form):
    """Send a form as the page does, and return the words of the page that it leads to."""
    answer = client.post(f"/change-ground/{act}?drill={drill}", data=form, headers=OWN)
    assert answer.status_code == 303, answer.data
    from flask import current_app

    token = re.search(r"said=([\w-]+)", answer.headers["Location"])[1]
    with client.application.app_context():
        said = current_app.config["SEARCHWAKE_RUNS"].said(token)
    return said.done or " ".join(said.faults)


def seen(folder):
    from analyzer.files.source import sha256_hex

    return sha256_hex((folder / GROUND_FILE).read_bytes())


def taken(client, folder, data=None, name="from above.jpg"):
    words = send(client, "picture", picture=(io.BytesIO(data or a_photo()), name), credit="Invented", seen="")
    assert words.startswith("Taken"), words
    return seen(folder)


def pinned(client, folder):
    """Pin the photo: the origin and the transmitter."""
    return send(
        client,
        "pins",
        seen=taken(client, folder),
        **{"x_px-1": "200", "y_px-1": "150", "spot-1": "origin"},
        **{"x_px-2": "230,0", "y_px-2": "170", "spot-2": "t0"},
    )


def test_a_photo_is_taken_pinned_and_under_the_plan(opened):
    client, folder = opened
    assert pinned(client, folder) == "Pinned."
    assert parse_ground((folder / GROUND_FILE).read_bytes()) == Ground(
        "ground.jpg", (Pin(200.0, 150.0, 0.0, 0.0), Pin(230.0, 170.0, 30.0, -20.0)), "Invented"
    )
    given = client.get("/ground-picture/lower_bowl/under.jpg", headers=OWN)
    assert given.content_type == "image/jpeg"
    assert Image.open(io.BytesIO(given.data)).size[0] > 100
    whole = client.get("/ground-picture/lower_bowl/whole.jpg", headers=OWN)
    assert Image.open(io.BytesIO(whole.data)).size == (400, 300)


def test_it_goes_with_the_page_that_is_one_file_and_the_sheet(opened):
    client, folder = opened
    before = {
        name: client.get(f"/take/lower_bowl/mara-1/{name}", headers=OWN).data for name in ("debrief.html", "sheet.pdf")
    }
    pinned(client, folder)
    after = {name: client.get(f"/take/lower_bowl/mara-1/{name}", headers=OWN).data for name in before}
    assert b"data:image/jpeg;base64," in after["debrief.html"]
    assert b"data:image/jpeg;base64," not in before["debrief.html"]
    assert b"/Subtype /Image" in after["sheet.pdf"]
    assert b"/Subtype /Image" not in before["sheet.pdf"]
    assert b"/ground-picture/" not in after["debrief.html"]
    assert b'href="/ground/' not in after["debrief.html"]


def test_turned_off_it_is_under_nothing(opened):
    client, folder = opened
    pinned(client, folder)
    assert "no plan" in send(client, "shown", shown="no", seen=seen(folder))
    assert client.get("/ground-picture/lower_bowl/under.jpg", headers=OWN).status_code == 404
    assert "again" in send(client, "shown", shown="yes", seen=seen(folder))
    assert client.get("/ground-picture/lower_bowl/under.jpg", headers=OWN).status_code == 200


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"x_px-1": "20", "y_px-1": "15", "spot-1": "origin"}, "two points"),
        ({"x_px-1": "20", "spot-1": "origin", "x_px-2": "200", "y_px-2": "200", "spot-2": "t0"}, "it is not marked"),
        ({"x_px-1": "20", "y_px-1": "x", "spot-1": "origin"}, "'x' is not a number"),
        ({"x_px-1": "20", "y_px-1": "15", "spot-1": "typed", "east_m-1": "10"}, "point 1, north"),
        ({"x_px-1": "20", "y_px-1": "15", "spot-1": "c9"}, "no such point"),
        ({"x_px-1": "20", "y_px-1": "15", "spot-1": "degrees", "degrees-1": "north of the hut"}, "latitude"),
        (
            {"x_px-1": "20", "y_px-1": "15", "spot-1": "origin", "x_px-2": "2000", "y_px-2": "15", "spot-2": "t0"},
            "outside the picture",
        ),
        (
            {
                "x_px-1": "20",
                "y_px-1": "15",
                "spot-1": "origin",
                "x_px-2": "200",
                "y_px-2": "15",
                "spot-2": "degrees",
                "degrees-2": "48.5 11",
            },
            "out of range",
        ),
    ],
)  # fmt: skip
def test_a_form_that_places_nothing_is_told_and_changes_nothing(opened, form, words):
    client, folder = opened
    token = taken(client, folder)
    before = (folder / GROUND_FILE).read_bytes()
    assert re.search(words, send(client, "pins", seen=token, **form))
    assert (folder / GROUND_FILE).read_bytes() == before


def test_of_two_windows_the_second_is_told(opened):
    client, folder = opened
    token = taken(client, folder)
    send(client, "shown", shown="no", seen=token)
    assert "somebody else" in send(client, "shown", shown="yes", seen=token)


def test_wrong_files_and_drills_are_one_line(opened):
    client, folder = opened
    words = send(client, "picture", picture=(io.BytesIO(b"<gpx/>"), "track.gpx"), credit="", seen="")
    assert words.startswith("track.gpx: this is no picture")
    assert "No file" in send(client, "picture", credit="", seen="")
    assert "no drill of this name" in send(client, "shown", drill="../lower_bowl", shown="no", seen="")
    assert client.get("/ground-picture/gone/under.jpg", headers=OWN).status_code == 404
    assert client.get("/ground-picture/lower_bowl/..%2Fdrill.toml", headers=OWN).status_code == 404
    (folder / GROUND_FILE).write_bytes(b"picture = [")
    assert client.get("/run/lower_bowl/mara-1", headers=OWN).status_code == 200


def test_a_page_elsewhere_cannot_change_it(opened):
    client, _ = opened
    foreign = {"Host": "localhost", "Origin": "http://elsewhere.example"}
    answer = client.post("/change-ground/shown?drill=lower_bowl", data={"shown": "no"}, headers=foreign)
    assert answer.status_code == 403


def test_the_plan_has_the_picture_as_its_lowest_layer_in_metres(result):
    under = Under("/ground-picture/a/under.jpg?v=1", (-50.0, 70.0, -30.0, 60.0))
    (image,) = plan_figure(result, None, under)["layout"]["images"]
    assert (image["x"], image["y"], image["sizex"], image["sizey"]) == (-50.0, 60.0, 120.0, 90.0)
    assert image["layer"] == "below"
    assert "images" not in plan_figure(result)["layout"]
    data = replay_data(result, (), under)["under"]
    assert data == {"source": under.source, "box": [-50.0, 70.0, -30.0, 60.0], "credit": under.credit}
    assert within(None) is None
    assert within(GroundPicture(b"\xff\xd8", under.box)).source == "data:image/jpeg;base64,/9g="


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("47.0912 11.3305", (47.0912, 11.3305)),
        ("47.0912, 11.3305", (47.0912, 11.3305)),
        ("47.0912,11.3305", (47.0912, 11.3305)),
        ("47,0912 11,3305", (47.0912, 11.3305)),
        ("47,0912; 11,3305", (47.0912, 11.3305)),
        ("-33.5° 150.25°", (-33.5, 150.25)),
    ],
)
def test_degrees_as_people_write_them(typed, found):
    assert degrees_of(typed, "point 1") == found


@pytest.mark.parametrize("typed", ["", "47.1", "47,1,11,2", "100 10", "47 190", "nan nan", "a b", "1 2 3"])
def test_what_are_no_degrees(typed):
    with pytest.raises(InputError, match="latitude"):
        degrees_of(typed, "point 1")


@pytest.mark.parametrize(
    ("typed", "found"), [("12.5", 12.5), ("12,5", 12.5), ("−3", -3.0), (" +4. ", 4.0), (",5", 0.5)]
)
def test_numbers_as_people_write_them(typed, found):
    assert number_of(typed, "point 1") == found


@pytest.mark.parametrize("typed", ["", "1e9", "nan", "1.2.3", "12 m", "1,2,3", "12345678"])
def test_what_are_no_numbers(typed):
    with pytest.raises(InputError, match="number"):
        number_of(typed, "point 1")


def test_ground_toml_of_the_page_is_what_its_reader_takes():
    assert parse_ground(write_ground(Ground("ground.png"))) == Ground("ground.png")


def test_several_who_ask_at_once_have_one_picture_drawn_and_a_wrong_one_is_looked_at_once(opened, monkeypatch):
    from concurrent.futures import ThreadPoolExecutor

    from dashboard.services import ground

    client, folder = opened
    taken(client, folder)
    drawn, real = [], ground.store.picture_of

    def slow(*given):
        drawn.append(given)
        time.sleep(0.2)
        return real(*given)

    monkeypatch.setattr(ground.store, "picture_of", slow)
    service = client.application.config["SEARCHWAKE_GROUNDS"]
    ground.forget_drawn()
    with ThreadPoolExecutor(6) as pool:
        list(pool.map(service.picture, ["lower_bowl"] * 6))
    assert len(drawn) == 1
    found, _ = ground.store.ground_of(folder)
    (folder / found.picture).write_bytes(b"no picture at all")
    for _ in range(3):
        assert service.picture("lower_bowl") is None
    assert len(drawn) == 2
    assert "no picture that can be read" in service.view("lower_bowl").problem


@pytest.mark.parametrize("credit", ["Invented Flights", "costs $5 or $x_{$", "<b>Invented</b> " + "flights " * 20])
def test_whose_picture_it_is_stands_beside_it_on_paper_and_in_the_replay(result, credit):
    from matplotlib.figure import Figure

    from dashboard.components.replay import replay_player
    from dashboard.export.drawings import draw_plan

    axes = Figure(figsize=(3, 3)).subplots()
    draw_plan(axes, result, GroundPicture(a_photo(), (-50.0, 150.0, -80.0, 120.0), credit))
    axes.get_figure().savefig(io.BytesIO(), format="pdf")
    assert any(" ".join(text.get_text().split()) == credit.strip() for text in axes.texts)
    player = replay_player(replay_data(result, (), Under("/x", (-50.0, 150.0, -80.0, 120.0), credit)))
    words = [part.children for part in player.children if getattr(part, "className", "") == "quiet"]
    assert words == [credit]
