"""Laying out a drill in a browser: typed, picked on the plan, taken from waypoints, saved, opened again by its link."""

import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

FIELD = "return [...document.querySelectorAll('.lay-form :is(input, textarea)')].find(i => i.id.includes('\"{}\"'))"
DRAWN = "return document.querySelector('#lay-plan.js-plotly-plot, #lay-plan .js-plotly-plot')._fullData"
TEXT = "return document.getElementById('{}').innerText"
AXE = """
const done = arguments[0];
axe.run(document, {resultTypes: ['violations']}).then(found => done(found.violations
  .filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id)));
"""
GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="46.70010" lon="9.80010"><name>T1</name></wpt>
<wpt lat="46.70030" lon="9.80040"><name>by the &lt;b&gt;rock</name></wpt>
</gpx>
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with one drill that has a run, and the workspace."""
    from analyzer.lab.simulate import simulate_drill
    from analyzer.lab.simulate.write import write_drill
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("workspace")
    write_drill(root / "drills" / "bowl", simulate_drill(None, seed=4))
    (root / "drills" / "bowl" / "runs" / "mara-1").mkdir()
    with serve(Config(root / "results", workspace=root)) as address:
        yield address, root


def write(page, key, text):
    """Put a text into a field with the keyboard, and leave it."""
    from selenium.webdriver.common.keys import Keys

    field = page.run(FIELD.format(key))
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text, Keys.TAB)


def value(key):
    return f"{FIELD.format(key)}.value"


def says(page, place, words):
    page.until(f"return document.getElementById('{place}').innerText.includes({words!r})")


def press(page, text):
    page.run(f"[...document.querySelectorAll('main button')].find(b => b.innerText.startsWith({text!r})).click()")


def still(page):
    """Wait until the plan has stopped moving: words above it may have become fewer or more."""
    where, before = "return document.getElementById('lay-plan').getBoundingClientRect().top", None
    while before != (before := page.run(where)):
        time.sleep(0.15)


def click_plan(page, east, north):
    """Press the pointer at a place of the plan, in metres."""
    from selenium.webdriver.common.action_chains import ActionChains

    page.run("document.getElementById('lay-plan').scrollIntoView({block: 'center', behavior: 'instant'})")
    still(page)
    x, y = page.run(f"""
      const chart = document.querySelector('#lay-plan .js-plotly-plot') || document.getElementById('lay-plan');
      const box = chart.getBoundingClientRect(), l = chart._fullLayout;
      return [box.left + l.xaxis._offset + l.xaxis.d2p({east}), box.top + l.yaxis._offset + l.yaxis.d2p({north})];
    """)
    actions = ActionChains(page.driver)
    actions.w3c_actions.pointer_action.move_to_location(round(x), round(y))
    actions.w3c_actions.pointer_action.click()
    actions.perform()


def metres(page, key):
    return float(page.run(value(key)))


def test_a_drill_is_typed_picked_saved_and_opened_again_by_its_link(page, workspace):
    address, folder = workspace
    page.open(f"{address}/lay-out", charts=1)
    says(page, "lay-answer", "times the straight line")
    assert page.run(TEXT.format("lay-details")).count("example") == 1
    write(page, "name", f"Dawn <b>field {page.width}</b>")
    write(page, "latitude", "146")
    says(page, "lay-answer", "146 is out of range")
    assert "146 is out of range" in page.run("return document.querySelector('.lay-form .wrong:not(:empty)').innerText")
    page.screenshot("lay-out-wrong")
    write(page, "latitude", "46.7")
    page.until("return document.querySelector('.wrong:not(:empty)') === null")
    says(page, "lay-answer", "times the straight line")
    click_plan(page, 12.0, 20.0)
    page.until(f"{value('start_east')} !== '30'")
    assert (metres(page, "start_east"), metres(page, "start_north")) == pytest.approx((12.0, 20.0), abs=0.3)
    page.until("return location.search.startsWith('?start=1')")
    press(page, "New transmitter")
    click_plan(page, 40.0, 60.0)
    page.until("return document.querySelectorAll('#lay-rows > fieldset').length === 2")
    assert (metres(page, "t1.east_m"), metres(page, "t1.north_m")) == pytest.approx((40.0, 60.0), abs=0.3)
    says(page, "lay-answer", "T2, depth: depth is missing")
    write(page, "t1.depth_m", "0.8")
    says(page, "lay-answer", "for all 2")
    click_plan(page, 20.0, 70.0)
    page.until(f"{value('t1.north_m')} > 65")
    assert metres(page, "t1.east_m") == pytest.approx(20.0, abs=0.3)
    page.until(f"{DRAWN}.find(t => t.name === 'transmitter').y[1] > 65")
    page.screenshot("lay-out")
    press(page, "Save this drill")
    says(page, "lay-saved", "Saved: drills/dawn_b_field_" + f"{page.width}_b/drill.toml")
    page.until(f"return location.pathname === '/lay-out/dawn_b_field_{page.width}_b'")
    written = (folder / "drills" / f"dawn_b_field_{page.width}_b" / "drill.toml").read_text()
    assert written.count("[[transmitter]]") == 2
    link = page.run("return location.href")
    page.open(link, charts=1)
    assert page.run(value("name")) == f"Dawn <b>field {page.width}</b>"
    assert metres(page, "start_east") == pytest.approx(12.0, abs=0.3)
    assert page.run("return document.querySelectorAll('main b').length") == 0
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.complaints() == []


def test_waypoints_become_transmitters(page, workspace, tmp_path):
    file = tmp_path / "site.gpx"
    file.write_text(GPX)
    page.open(f"{workspace[0]}/lay-out", charts=1)
    page.run("return document.querySelector('#lay-gpx input[type=file]')").send_keys(str(file))
    page.until("return document.querySelectorAll('#lay-rows > fieldset').length === 2")
    says(page, "lay-said", "2 waypoints taken from site.gpx")
    assert page.run(value("latitude")) == "46.7001"
    assert page.run(value("t0.east_m")) == ""
    assert page.run(value("t1.id")) == "by the <b>rock"
    says(page, "lay-answer", "by the <b>rock, depth: depth is missing")
    write(page, "t1.depth_m", "1")
    says(page, "lay-answer", "for all 2")
    broken = tmp_path / "broken.gpx"
    broken.write_text("<gpx")
    page.run("return document.querySelector('#lay-gpx input[type=file]')").send_keys(str(broken))
    says(page, "lay-said", "broken.gpx")
    assert page.run("return document.querySelectorAll('#lay-rows > fieldset').length") == 2


def test_a_drill_with_a_run_is_changed_only_after_a_question(page, workspace):
    address, folder = workspace
    file = folder / "drills" / "bowl" / "drill.toml"
    before = file.read_bytes()
    page.open(f"{address}/lay-out/bowl", charts=1)
    depth = f"1.{page.width}"
    write(page, "t0.depth_m", depth)
    press(page, "Save this drill")
    says(page, "lay-saved", "This drill has a run already")
    assert file.read_bytes() == before
    page.screenshot("lay-out-question")
    press(page, "Yes, change it")
    says(page, "lay-saved", "Saved: drills/bowl/drill.toml")
    assert f"depth_m = {float(depth)}" in file.read_text()
    assert before in [path.read_bytes() for path in (folder / "originals").iterdir()]


def test_a_drill_typed_with_commas_is_saved_and_its_laying_plan_is_printed(page, workspace):
    address, folder = workspace
    page.open(f"{address}/lay-out", charts=1)
    write(page, "name", f"Comma {page.width}")
    write(page, "latitude", "47,1234, 11,5")
    says(page, "lay-answer", "'47,1234, 11,5' is more than one number")
    for key, typed in (("latitude", "47,1234"), ("longitude", "11,5"), ("start_east", "12,5"), ("t0.depth_m", "1,3")):
        write(page, key, typed)
    page.until("return document.querySelector('.wrong:not(:empty)') === null")
    page.until("return location.search === '?start=12.5,0'")
    assert page.run(f"{FIELD.format('t0.depth_m')}.inputMode") == "decimal"
    press(page, "Save this drill")
    says(page, "lay-saved", "Saved: drills/comma_")
    written = (folder / "drills" / f"comma_{page.width}" / "drill.toml").read_text()
    for line in ("latitude = 47.1234, longitude = 11.5", "start_m = [12.5, 0.0]", "depth_m = 1.3"):
        assert line in written
    links = page.run("return [...document.querySelectorAll('#lay-saved a')].map(a => a.getAttribute('href'))")
    assert links == [f"/load?drill=comma_{page.width}", f"/laying-plan/comma_{page.width}"]
    page.run("document.querySelector('#lay-saved a:last-child').click()")
    page.until("return document.querySelector('.laying-table') !== null")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 1")
    words = page.run("return document.querySelector('main').innerText")
    assert "For the instructor only" in words
    # 25.5 m east and 46 m north of the start: 52.6 m level, bearing 29.0; up the slope 46 / cos 25 degrees = 50.76,
    # with 25.5 across it 56.8 m of tape, and 46 tan 25 = 21.5 m higher.
    cells = page.run("return [...document.querySelectorAll('.laying-table td')].slice(0, 4).map(c => c.innerText)")
    assert cells == ["56.8", "52.6", "29.0°", "+21.5"]
    page.screenshot("laying-plan")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    got = page.driver.execute_async_script(
        "const done = arguments[0]; fetch(document.querySelector('.lay-buttons a').href).then(async r => "
        "done([r.status, (await r.text()).slice(0, 5)]))"
    )
    assert got == [200, "%PDF-"]
    assert page.complaints() == []
    page.run((Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8"))
    assert page.driver.execute_async_script(AXE) == []
    page.open(f"{address}/load?drill=comma_{page.width}")
    assert page.run("return document.querySelector('#drop-zone') !== null")
