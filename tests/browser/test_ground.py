"""The picture of the ground: taken, pinned by pressing and by keys, under plan and replay, away by one press."""

import io
from pathlib import Path

import pytest

from analyzer.files.ground_toml import GROUND_FILE, parse_ground

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
SLOT = "return document.querySelector('.file-slot input')"
PHOTO = "const i = document.querySelector('.ground-photo img'); return i && i.complete && i.naturalWidth > 0 && i"
VISIBLE = "return document.querySelector('#plan .js-plotly-plot')?.layout?.images?.[0]?.visible"
DRAWN = (
    "return document.querySelector('#plan .js-plotly-plot .layer-below image, #plan .layer-subplot image, #plan image')"
)
# The share of the replay's plan that is half grey: the picture is black, drawn at half its weight.
HALF_GREY = """
const c = document.querySelector('canvas.replay-plan');
const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
let grey = 0;
for (let i = 0; i < d.length; i += 4) { grey += d[i] > 100 && d[i] < 150 && d[i] === d[i + 1] && d[i] === d[i + 2]; }
return grey / (d.length / 4);
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with a drill of one measured run, and the drill's folder."""
    import shutil

    from analyzer.api import analyze
    from analyzer.files.results.result_json import write_result
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("ground_club")
    folder = root / "drills" / "bowl"
    (folder / "runs").mkdir(parents=True)
    shutil.copy(SAMPLE / "drill.toml", folder / "drill.toml")
    shutil.copytree(SAMPLE / "runs" / "ilvo-1", folder / "runs" / "ilvo-1")
    (result,) = analyze(folder)
    write_result(root / "results" / "bowl" / "ilvo-1.json", result)
    with serve(Config(root / "results", workspace=root)) as address:
        yield address, folder


def photo(path):
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (800, 600), "black").save(out, "JPEG")
    path.write_bytes(out.getvalue())
    return path


def press(page, words):
    page.run("window.before = true")
    page.run(
        "[...document.querySelectorAll('main button')]"
        f".find(b => b.innerText === {words!r} && b.checkVisibility()).click()"
    )
    page.until("return window.before === undefined && document.querySelector('main h1') !== null")


def type_into(page, name, value):
    from selenium.webdriver.common.keys import Keys

    for _ in range(5):
        field = page.until(f"return document.querySelector('main input[name=\"{name}\"]')")
        field.send_keys(Keys.CONTROL, "a", Keys.NULL, Keys.DELETE, value)
        if field.get_property("value") == value:
            return
    raise AssertionError(f"{name} does not take {value!r}")


def choose(page, name, value):
    from selenium.webdriver.support.ui import Select

    Select(page.until(f"return document.querySelector('main select[name=\"{name}\"]')")).select_by_value(value)


def test_from_a_photo_to_the_plan_and_back(page, workspace, tmp_path):
    from selenium.webdriver.common.actions.action_builder import ActionBuilder

    address, folder = workspace
    for name in (GROUND_FILE, "ground.jpg"):
        (folder / name).unlink(missing_ok=True)
    page.open(f"{address}/ground/bowl")
    page.until(SLOT).send_keys(str(photo(tmp_path / "from above.jpg")))
    press(page, "Take this picture")
    page.until(PHOTO)

    # One point by a press, one by keys alone.
    left, top, width = page.run(
        "const i = document.querySelector('.ground-photo img');"
        "i.scrollIntoView({block: 'center', behavior: 'instant'});"
        "const box = i.getBoundingClientRect(); return [box.left, box.top, box.width]"
    )
    y_seen = max(top, 0.0) + 60.0
    pointer = ActionBuilder(page.driver)
    pointer.pointer_action.move_to_location(round(left + width / 4), round(y_seen)).click()
    pointer.perform()
    page.until("return document.querySelector('input[name=\"x_px-1\"]').value !== ''")
    x, y = (float(page.run(f"return document.querySelector('input[name=\"{k}_px-1\"]').value")) for k in "xy")
    assert (x, y) == pytest.approx((200.0, (y_seen - top) * 800.0 / width), abs=3.0)
    choose(page, "spot-1", "origin")
    type_into(page, "x_px-2", "600")
    type_into(page, "y_px-2", f"{y:.1f}".replace(".", ","))
    type_into(page, "east_m-2", "400")
    type_into(page, "north_m-2", "0")
    assert page.run("return document.querySelectorAll('.ground-sign').length") == 2
    page.screenshot("ground_pinned")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    press(page, "Save the points")
    saved = parse_ground((folder / GROUND_FILE).read_bytes())
    assert [(pin.east_m, pin.north_m) for pin in saved.pins] == [(0.0, 0.0), (400.0, 0.0)]

    page.open(f"{address}/run/bowl/ilvo-1")
    page.run("localStorage.clear()")
    page.open(f"{address}/run/bowl/ilvo-1")
    page.until(DRAWN)
    page.screenshot("ground_debrief")
    page.run("document.querySelector('.ground-switch').click()")
    page.until(VISIBLE + " === false")
    page.run("document.querySelector('.finding').click()")  # the views move, and it stays away
    page.until("return document.querySelector('.finding').getAttribute('aria-pressed') === 'true'")
    page.until(VISIBLE + " === false")

    page.open(f"{address}/replay/bowl/ilvo-1?at=100")  # away there too, for it was remembered
    page.until("return document.getElementById('replay')?.player !== undefined")
    page.until("return document.querySelector('.ground-switch').getAttribute('aria-pressed') === 'false'")
    assert page.run(HALF_GREY) < 0.05
    page.run("document.querySelector('.ground-switch').click()")
    page.until(HALF_GREY.replace("return grey / (d.length / 4)", "return grey / (d.length / 4) > 0.5"))
    page.screenshot("ground_replay")
    assert page.complaints() == []


def test_a_wrong_file_is_one_line(page, workspace, tmp_path):
    address, _ = workspace
    page.open(f"{address}/ground/bowl")
    wrong = tmp_path / "track.gpx"
    wrong.write_text("<gpx/>")
    page.until(SLOT).send_keys(str(wrong))
    press(page, "Take this picture")
    assert "track.gpx: this is no picture" in page.run("return document.querySelector('main').innerText")
