"""A recorder left on all day: its recording is cut into runs on Load, by dragging and by keys, and debriefed."""

import datetime as dt

import numpy as np
import pytest

from analyzer.files.run_toml import parse_run_toml

pytestmark = pytest.mark.browser

PICK = "return document.querySelector('#drop-zone input#pick-files')"
FORM = "return document.querySelector('form.load-form') !== null"
BANDS = """
const gd = document.querySelector('.chart-cuts .js-plotly-plot');
return gd?.layout?.shapes?.filter(s => s.name && s.x1 > s.x0).map(s => [s.x0, s.x1]);
"""
VALUE = "return document.querySelector('main [name=\"{}\"]').value"


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    """Return a drill, a day of three runs and its GPX file."""
    from analyzer.files.writers import write_gpx
    from analyzer.geometry.slope_plane import LocalFrame
    from analyzer.lab.simulate import simulate_drill
    from analyzer.lab.simulate.whole_day import DaySettings, simulate_day
    from analyzer.model.recording import Track

    drill = simulate_drill(seed=43)
    made = simulate_day(drill, DaySettings(runs=3, pause_share=0.0, halt_share=0.0), seed=43)
    n = made.time_s.size
    nothing = np.full(n, np.nan)
    track = Track(
        made.time_s - made.time_s[0],
        *made.place_m.T,
        np.full(n, 2000.0),
        nothing,
        nothing,
        resolution_m=0.0,
        survey_grade=False,
    )
    zero = dt.datetime.fromtimestamp(made.time_s[0], tz=dt.UTC)
    return drill.drill, made, write_gpx(track, LocalFrame(drill.drill.origin), time_zero=zero, name="day")


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve, day):
    """Return the address of a dashboard over a workspace with the drill, and the workspace."""
    from analyzer.files.writers import write_drill_toml
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("day_club")
    for width in (1280, 390):
        folder = root / "drills" / f"slope-{width}"
        folder.mkdir(parents=True)
        (folder / "drill.toml").write_bytes(write_drill_toml(day[0]))
    with serve(Config(root / "results", workspace=root)) as address:
        yield address, root


def changed(name, how, value):
    return f"{VALUE.format(name)} {how} {value!r}"


def press(page, words):
    page.run("window.before = true")
    page.run(
        "[...document.querySelectorAll('main button')]"
        f".find(b => b.innerText === {words!r} && b.checkVisibility()).click()"
    )
    page.until("return window.before === undefined && document.querySelector('main h1') !== null")


def test_three_runs_out_of_one_recording(page, workspace, day, tmp_path):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.actions.action_builder import ActionBuilder
    from selenium.webdriver.common.keys import Keys

    address, root = workspace
    _, made, gpx = day
    drill = f"slope-{page.width}"
    track = tmp_path / "all day.gpx"
    track.write_bytes(gpx)
    page.open(f"{address}/load?drill={drill}")
    page.until(PICK).send_keys(str(track))
    page.until(FORM)
    assert "minutes long" in page.run("return document.querySelector('main').innerText")
    page.run("[...document.querySelectorAll('main a')].find(a => a.innerText.startsWith('Cut this')).click()")
    bands = page.until(BANDS)
    assert len(bands) >= 5
    page.screenshot("cut_proposed")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.run("return document.querySelector('main').innerText").count("A run from a halt") == 3

    # The border between the first two pieces: dragged in the picture where there is a mouse, then moved by keys.
    before = page.run(VALUE.format("begin-1"))
    if page.width > 600:
        x, y = page.run(
            "const gd = document.querySelector('.chart-cuts .js-plotly-plot');"
            "gd.scrollIntoView({block: 'center', behavior: 'instant'});"
            "const box = gd.getBoundingClientRect(), l = gd._fullLayout;"
            "const s = gd.layout.shapes.find(s => s.name === 'piece-1');"
            "return [box.left + l.xaxis._offset + l.xaxis.d2p(s.x0), box.top + l.yaxis._offset + 60]"
        )
        mouse = ActionBuilder(page.driver)
        mouse.pointer_action.move_to_location(round(x), round(y)).pointer_down()
        mouse.pointer_action.move_to_location(round(x) - 15, round(y)).move_to_location(round(x) - 30, round(y))
        mouse.pointer_action.pointer_up()
        mouse.perform()
        page.until(changed("begin-1", "!==", before))
        assert page.run(VALUE.format("end-0")) == page.run(VALUE.format("begin-1"))
        assert page.run(VALUE.format("begin-1")) < before
    field = page.until("return document.querySelector('main [name=\"begin-1\"]')")
    page.run("document.querySelector('main [name=\"begin-1\"]').focus()")
    was = page.run(VALUE.format("begin-1"))
    ActionChains(page.driver).send_keys(Keys.ARROW_UP).perform()
    page.until(changed("begin-1", ">", was))
    field.send_keys(Keys.CONTROL, "a", Keys.NULL, before, Keys.TAB)
    page.until(changed("begin-1", "===", before))
    title = page.until("return document.querySelector('main [name=\"title-1\"]')")
    title.send_keys(Keys.CONTROL, "a", Keys.NULL, "Mara first", Keys.TAB)
    page.run("[...document.querySelectorAll('.cut-row')].slice(0, 1).forEach(r => r.scrollIntoView())")
    page.screenshot("cut_changed")

    press(page, "Cut it so")
    page.until(FORM)
    page.screenshot("cut_on_load")
    legends = page.run("return document.querySelectorAll('form.load-form .load-run').length")
    assert legends == 3
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.run("document.querySelector('form.load-form .button-go').click()")
    page.until("return document.querySelectorAll('a.load-done').length === 3", 90.0)
    page.screenshot("cut_done")
    runs = sorted(path.name for path in (root / "drills" / drill / "runs").iterdir())
    assert runs == ["Mara-first", "all-day-2", "all-day-3"]
    for name, (begin, hit, _) in zip(runs, made.spans, strict=True):
        folder = root / "drills" / drill / "runs" / name
        assert (folder / "track.gpx").read_bytes() == gpx
        low, high = (bound.at_s for bound in parse_run_toml((folder / "run.toml").read_bytes()).window)
        assert abs(low - begin) <= 15.0
        assert high >= hit - 1.0
    assert page.complaints() == []


def test_joined_and_left_out(page, workspace, day, tmp_path):
    address, _ = workspace
    track = tmp_path / f"other day {page.width}.gpx"
    track.write_bytes(day[2].replace(b">day<", f">day {page.width}<".encode()))
    page.open(f"{address}/load?drill=slope-{page.width}")
    page.until(PICK).send_keys(str(track))
    page.until(FORM)
    page.run("[...document.querySelectorAll('main a')].find(a => a.innerText.startsWith('Cut this')).click()")
    page.until(BANDS)
    end = page.run(VALUE.format("end-2"))
    page.run("document.querySelector('.cut-row[data-piece=\"1\"] .cut-join').click()")
    page.until(changed("end-1", "===", end))
    assert page.run(VALUE.format("begin-2")) == ""
    page.run("document.querySelector('main [name=\"end-1\"]').value")
    press(page, "Cut it so")
    page.until(FORM)
    assert page.run("return document.querySelectorAll('form.load-form .load-run').length") == 3
    page.run("[...document.querySelectorAll('main a')].find(a => a.innerText.startsWith('Cut again')).click()")
    page.until(BANDS)
    press(page, "Take the recording whole again")
    page.until(FORM)
    assert page.run("return document.querySelectorAll('form.load-form .load-run').length") == 1


def test_a_wrong_time_is_told_with_what_was_typed(page, workspace, day, tmp_path):
    from selenium.webdriver.common.keys import Keys

    address, _ = workspace
    track = tmp_path / f"wrong {page.width}.gpx"
    track.write_bytes(day[2].replace(b">day<", f">wrong {page.width}<".encode()))
    page.open(f"{address}/load?drill=slope-{page.width}")
    page.until(PICK).send_keys(str(track))
    page.until(FORM)
    page.run("[...document.querySelectorAll('main a')].find(a => a.innerText.startsWith('Cut this')).click()")
    page.until(BANDS)
    field = page.until("return document.querySelector('main [name=\"begin-1\"]')")
    field.send_keys(Keys.CONTROL, "a", Keys.NULL, "quarter past", Keys.TAB)
    press(page, "Cut it so")
    page.until("return document.querySelector('main .load-bad') !== null")
    assert "'quarter past' is no time of day" in page.run("return document.querySelector('main .load-bad').innerText")
    assert page.run(VALUE.format("begin-1")) == "quarter past"
