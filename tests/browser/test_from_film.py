"""A log typed while a film plays, by keyboard: nothing of it is lost, readers take it, its clock is found."""

import csv
import datetime as dt
import json
import re
from pathlib import Path

import numpy as np
import pytest

from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.model.recording import MARKS

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
ENTRY = "return document.querySelector('.film-entry')"
SAID = "return document.querySelector('.film-said').textContent"
ANSWER = "return document.querySelector('.film-answer').textContent"
FILES = "return document.querySelector('.film-log').log.files()"
CLOCK = "Date.now = () => 1700000000000 + 1000 * arguments[0]"
"""The page's clock is set by hand, so that minutes of a film take seconds of a test."""
SMALL = """
return [...document.querySelectorAll('main button, main select, main input, main summary')]
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80));
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with a run that has no log yet, and the workspace."""
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("film_week")
    for run in ("mara-1", "mara-390"):
        folder = root / "drills" / "bowl" / "runs" / run
        folder.mkdir(parents=True)
        (root / "drills/bowl/drill.toml").write_bytes((SAMPLE / "drill.toml").read_bytes())
        for name in ("track.gpx", "run.toml", "marks.csv"):
            (folder / name).write_bytes((SAMPLE / "runs" / "mara-1" / name).read_bytes())
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def at(page, seconds):
    page.driver.execute_script(CLOCK, seconds)


def typed(page, keys):
    """Press keys as they come, wherever the focus is."""
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(page.driver).send_keys(keys).perform()


def with_shift(page, key):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    ActionChains(page.driver).key_down(Keys.SHIFT).send_keys(key).key_up(Keys.SHIFT).perform()


def in_field(page):
    page.driver.execute_script("arguments[0].focus()", page.until(ENTRY))


def opened(page, address, query=""):
    page.open(f"{address}/from-film{query}")
    page.until(ENTRY)
    page.run("localStorage.clear()")
    page.driver.refresh()
    in_field(page)


def test_everything_by_keyboard_and_nothing_lost(page, workspace):
    from selenium.webdriver.common.keys import Keys

    opened(page, workspace[0])
    at(page, 0)
    typed(page, " ")
    at(page, 10)
    typed(page, "s")
    at(page, 20)
    typed(page, "3")
    at(page, 21.5)  # the moment of the first digit counts
    typed(page, "1,5" + Keys.ENTER)
    assert page.run(SAID) == "Written: 31.5 m, at 0:10.0."
    at(page, 25)
    typed(page, "00" + Keys.ENTER)
    at(page, 30)
    typed(page, "2.4" + Keys.ENTER)
    typed(page, Keys.ARROW_RIGHT)
    with_shift(page, Keys.ARROW_LEFT)
    assert page.run(SAID) == "2.4 m, at 0:19.1"
    at(page, 40)
    typed(page, "7" + Keys.ENTER)
    typed(page, "u")
    assert page.run(SAID) == "Taken back: 7 m, at 0:30.0."
    typed(page, "999" + Keys.ENTER)
    assert "is no reading" in page.run(SAID)
    at(page, 50)
    typed(page, "h")
    typed(page, " ")  # it stands
    at(page, 500)
    typed(page, "e")
    assert page.run(SAID) == "Written: Finish, at 0:40.0."
    page.driver.refresh()
    page.until(ENTRY)
    assert page.run(SAID).startswith("6 rows are back")
    files = page.run(FILES)
    log = parse_readings_csv(files["readings"].encode())
    assert [(r.time_s, r.reading_m) for r in log.readings] == [(10.0, 31.5), (19.1, 2.4)]
    assert log.dropped == (("no reading in the row", 1),)
    marks = parse_marks_csv(files["marks"].encode())
    found = [(m.mark, m.time_s, m.clock) for m in marks]
    assert found == [("start", 0.0, ""), ("probe_hit", 40.0, "readings"), ("finish", 40.0, "readings")]
    page.screenshot("from-film")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.run(SMALL) == []
    assert page.complaints() == []


def test_every_mark_of_the_format_has_a_button(page, workspace):
    opened(page, workspace[0])
    kinds = page.run("return [...document.querySelectorAll('.film-mark')].map(b => b.firstChild.textContent)")
    assert len(kinds) == len(MARKS) + 1
    at(page, 0)
    typed(page, " ")
    for number, button in enumerate(page.run("return [...document.querySelectorAll('.film-mark')]")):
        at(page, number)
        page.driver.execute_script("arguments[0].click()", button)
    rows = page.run("return document.querySelector('.film-log').log.state.rows.map(r => r.kind)")
    assert set(rows) == {"nothing", *MARKS}


def test_rows_are_corrected_deleted_and_cleared(page, workspace):
    from selenium.webdriver.common.keys import Keys

    opened(page, workspace[0])
    at(page, 0)
    typed(page, " ")
    at(page, 5)
    typed(page, "12" + Keys.ENTER)
    at(page, 6)
    typed(page, "11" + Keys.ENTER)
    page.run("document.querySelector('.film-table input').focus(); document.activeElement.select()")
    typed(page, "0:04,5" + Keys.TAB)
    assert page.run("return document.activeElement.getAttribute('aria-label')").startswith("Metres of 12 m, at 0:04.5")
    assert "4.50,12\n6.00,11\n" in page.run(FILES)["readings"]
    in_field(page)
    typed(page, Keys.DELETE)
    assert page.run(SAID).startswith("Deleted: 12 m")
    page.run("document.querySelector('.film-table input').focus(); document.activeElement.select()")
    typed(page, "soon" + Keys.TAB)
    assert page.run(SAID) == "soon is no time: write 1:04.5 or 64.5."
    assert page.run("return document.querySelector('.film-table input').value") == "0:06.0"
    for _ in range(2):
        page.run("[...document.querySelectorAll('button')].find(b => b.textContent.includes('lear')).click()")
    assert page.run("return localStorage.getItem('film-log:/')").startswith('{"rows":[]')


def seen_by_a_person(run, rng, late_start_s):
    """Return (film time, keys) of a person who types what a display showed, 0.3 to 1 s late, and the offset to find.

    The film shows the start at 12 s; the mark is pressed `late_start_s` after it.
    """
    folder = SAMPLE / "runs" / run
    offset = json.loads((folder / "truth.json").read_text())["clock_offset_s"]
    marks = list(csv.DictReader((folder / "marks.csv").read_text().splitlines()))
    start = dt.datetime.fromisoformat(marks[0]["time"])
    keys, delays = [(12.0 + late_start_s, "s")], []
    free_s = 0.0
    for row in csv.DictReader((folder / "readings.csv").read_text().splitlines()):
        shown = row.get("elapsed") or (dt.datetime.fromisoformat(row["time"]) - start).total_seconds()
        moment, late = 12.0 + float(shown) + offset, rng.uniform(0.3, 1.0)
        if moment < free_s or moment + late < keys[0][0]:
            continue  # a person types one at a time
        keys.append((moment + late, f"{float(row['reading_m']):g}\n"))
        delays.append(late)
        free_s = moment + late + 0.5
    hit = next(m for m in marks if m["mark"] == "probe_hit")
    at_s = 12.0 + (dt.datetime.fromisoformat(hit["time"]) - start).total_seconds() + 0.6
    keys.append((at_s, "h"))
    return sorted(keys), late_start_s - float(np.mean(delays))


def test_a_typed_run_is_saved_and_its_clock_found(page, workspace):
    address, root = workspace
    run = "mara-1" if page.width > 600 else "mara-390"
    keys, truth = seen_by_a_person("mara-1", np.random.default_rng(5), 4.0)
    opened(page, address, f"?run=bowl/{run}")
    at(page, 0)
    typed(page, " ")
    for moment, key in keys:
        at(page, moment)
        typed(page, key.replace("\n", "\ue007"))
    page.run("[...document.querySelectorAll('button')].find(b => b.textContent.startsWith('Save into')).click()")
    page.until("return document.querySelector('.film-answer').textContent.includes('Your clock was')", 60)
    told = page.run(ANSWER)
    assert "Kept of the marks the run had: start, finish." in told
    value, side, low, high = re.search(
        r"was ([\d.]+) s (\w+) against the track \((-?[\d.]+) to (-?[\d.]+) s", told
    ).groups()
    assert side == "early"
    assert float(low) - 0.05 <= truth <= float(high) + 0.05
    assert abs(float(value) - truth) < 1.0
    page.screenshot("from-film-saved")
    folder = root / "drills" / "bowl" / "runs" / run
    assert len(parse_readings_csv((folder / "readings.csv").read_bytes()).readings) == len(keys) - 2
    kept = parse_marks_csv((folder / "marks.csv").read_bytes())
    assert [(m.mark, m.elapsed) for m in kept] == [("start", False), ("finish", False), ("probe_hit", True)]
    old = (SAMPLE / "runs" / "mara-1" / "marks.csv").read_bytes()
    assert old in [path.read_bytes() for path in (root / "bin").rglob("marks.csv")]


def test_a_film_opened_here_gives_the_times_and_is_never_sent(page, workspace, film):
    from selenium.webdriver.common.keys import Keys

    opened(page, workspace[0])
    page.requests()
    page.run("document.querySelector('.film-log summary').click()")
    page.until("return document.querySelector('.film-log input[type=file]')").send_keys(str(film))
    page.until("return document.querySelector('.film-video').readyState >= 2")  # the field has the focus
    page.run("document.querySelector('.film-video').currentTime = 6")
    page.until("return document.querySelector('.film-video').currentTime === 6")
    typed(page, "4,2" + Keys.ENTER)
    assert page.run(SAID) == "Written: 4.2 m, at 0:06.0."
    typed(page, "j")
    page.until("return document.querySelector('.film-video').currentTime === 1")
    typed(page, "-")
    assert page.run("return document.querySelector('.film-video').playbackRate") == 0.5
    typed(page, "++")
    assert page.run("return document.querySelector('.film-video').playbackRate") == 2
    typed(page, " ")
    page.until("return document.querySelector('.film-video').currentTime > 2")
    typed(page, " ")
    page.until("return document.querySelector('.film-video').paused")
    assert [url for url in page.requests() if not url.startswith(("blob:", "data:image/"))] == []
    assert page.complaints() == []
    page.screenshot("from-film-video")
