"""Probing, marking and digging in the browser, on the sample day: whole at both widths, no longer than needed."""

import datetime as dt
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
DUG, SEVERAL = ("lower_bowl", "keno-1"), ("long_gully", "mara-3")
CHARTS = {DUG: 4, SEVERAL: 6}
MOST_SCREENS = 7.0
"""Screens of a phone that a debrief of three transmitters may fill; it was nine and more with everything open."""
AXE = Path(__file__).with_name("axe") / "axe.min.js"
RUN_AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then(found => done(found.violations
  .filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id + ': ' + v.help)))
  .catch(error => done(['axe failed: ' + error]));
"""
CUT = """
const box = document.querySelector('.practice');
return [box.scrollWidth - box.clientWidth, ...[...box.querySelectorAll('th, td')]
  .filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)];
"""
DRAWN = "return [...document.querySelectorAll('.chart-closeup')].map(e => [e.checkVisibility(), "
DRAWN += "e.querySelector('.js-plotly-plot')._fullLayout.width > 200])"


@pytest.fixture(scope="module")
def sample(tmp_path_factory, serve):
    """Return the address of a dashboard over the measured sample day."""
    from analyzer.api import analyze
    from analyzer.files.results.result_json import write_result
    from dashboard.config import Config

    folder = tmp_path_factory.mktemp("sample_results")
    for drill in ("lower_bowl", "long_gully"):
        for result in analyze(SAMPLES / drill):
            write_result(folder / drill / f"{result.run_id}.json", result)
    with serve(Config(folder)) as address:
        yield address


def opened(page, sample, run):
    page.open(f"{sample}/run/{'/'.join(run)}", CHARTS[run])


@pytest.mark.parametrize("run", [DUG, SEVERAL])
def test_the_table_is_whole_and_nothing_scrolls_sideways(page, sample, run):
    opened(page, sample, run)
    page.screenshot(f"practice-{run[1]}")
    assert page.run(CUT) == [0]
    page.run("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.driver.execute_script(AXE.read_text(encoding="utf-8"))
    assert page.driver.execute_async_script(RUN_AXE) == []
    assert page.complaints() == []


def test_the_airway_stands_among_the_splits_with_the_group_and_after_the_run(page, sample):
    opened(page, sample, DUG)
    cells = page.run("return [...document.querySelectorAll('.split-moment')].map(e => e.textContent)")
    cells = [text.replace("\u00a0", " ") for text in cells]
    assert [cell.split("0:0")[0] for cell in cells[:1]] == ["Settled to first probing"]
    assert cells[0].endswith("7 probings before the hit, 5 s each")
    assert [text.split("group")[0] for text in cells[1:]] == [
        "Start to hit4:25digging began 0:33 later",
        "Start to airway13:068:41 after the hit",
    ]
    assert cells[2].endswith("group 9:59")  # by the marks of mara-2, between teodor-1 and olmar-1
    rows = page.run("return [...document.querySelectorAll('.later-rows td strong')].map(e => e.textContent)")
    assert rows == ["Until digging began", "Until the airway was free"]


def test_a_mark_on_the_timeline_is_chosen_with_the_pointer(page, sample):
    from selenium.webdriver.common.action_chains import ActionChains

    opened(page, sample, DUG)
    mark = "document.querySelectorAll('#timeline-bar .scatterlayer .point')[0]"
    page.run(f"{mark}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
    assert page.run("return document.querySelectorAll('#timeline-bar .scatterlayer .point').length") == 7
    ActionChains(page.driver).move_to_element(page.driver.execute_script(f"return {mark}")).pause(0.3).click().perform()
    page.until("return location.search !== ''")
    lines = (SAMPLES / DUG[0] / "runs" / DUG[1] / "marks.csv").read_text().splitlines()
    at = {mark.split(",")[1]: dt.datetime.fromisoformat(mark.split(",")[0]) for mark in reversed(lines[1:])}
    probes = [dt.datetime.fromisoformat(line.split(",")[0]) for line in lines if ",probe," in line]
    moments = [(probe - at["start"]).total_seconds() for probe in probes]
    # Signs of neighbouring probings lie over each other on a phone: one of them was met.
    assert page.run("return location.search") in [f"?from={at - 0.5:.1f}&to={at + 0.5:.1f}" for at in moments]


def test_three_transmitters_are_folded_but_the_dearest(page, sample):
    opened(page, sample, SEVERAL)
    screens = page.run("return document.documentElement.scrollHeight") / 844
    assert page.width > 600 or screens <= MOST_SCREENS
    seen = page.run(DRAWN)
    assert sorted(visible for visible, _ in seen) == [False, False, True]
    assert all(wide for _, wide in seen)  # drawn in its size while folded, so that it is there when it opens
    folds = "[...document.querySelectorAll('.debrief summary')].filter(e => e.textContent.startsWith('Fine search'))"
    page.run(f"{folds}[0].focus()")
    page.driver.switch_to.active_element.send_keys(" ")
    page.until(f"return {folds}[0].parentElement.open")
    assert sorted(visible for visible, _ in page.run(DRAWN)) == [False, True, True]


def test_side_by_side_tells_the_order_of_each_run(page, sample):
    page.open(f"{sample}/side-by-side/long_gully?run=mara-3&run=ilvo-3")
    page.until("return document.querySelectorAll('.splits-table').length === 2")
    order = "return [...document.querySelectorAll('.splits-table')[1].querySelectorAll('tbody tr')].map(r => "
    cells = page.run(order + "[...r.cells].map(c => c.textContent))")
    assert cells == [
        ["1st", "T2: 2:14, marked 0:02 later", "T3: 2:23"],
        ["2nd", "T1: 1:26, marked 0:01 later", "T1: 1:18"],
        ["3rd", "T3: 1:23, marked 0:03 later", "T2: 1:26"],
    ]
    page.screenshot("practice-side-by-side")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
