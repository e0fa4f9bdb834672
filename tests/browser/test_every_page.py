"""What holds for every page: nothing leaves the machine, axe-core finds nothing serious, the keyboard reaches all."""

from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

PLOTS = "return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === "
AXE = Path(__file__).with_name("axe") / "axe.min.js"
PAGES = {
    "/": "return document.querySelectorAll('a.run').length > 0",
    "/?find=mara&page=1": "return document.querySelectorAll('a.run').length === 1",
    "/run/lower_bowl/mara-1": PLOTS + "5",
    "/run/lower_bowl/ilo-1?from=168.0&to=202.0": PLOTS + "5",
    "/replay/lower_bowl/mara-1?at=232.0&view=40": "return document.getElementById('replay')?.player !== undefined",
    "/side-by-side/lower_bowl?run=mara-1&run=ilo-1": PLOTS + "3",
    "/side-by-side/lower_bowl?run=mara-1": "return document.querySelectorAll('.option').length > 0",
    "/lay-out?start=38,26": "return document.querySelectorAll('.lay-form input').length > 10"
    " && document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 1",
    "/laying-plan/lower_bowl": "return document.querySelector('main h1') !== null",
    "/rules/lower_bowl": "return document.querySelectorAll('.rule-form input').length > 0",
    "/standings": "return document.querySelectorAll('a.run').length === 2",
    "/standings/cup": "return document.querySelectorAll('.standings tbody').length === 5",
    "/standings/cup?field=lower_bowl&class=young": "return document.querySelectorAll('.standings tbody').length === 3",
    "/recording": "return document.querySelectorAll('.recording .steps').length === 6",
    "/load": "return document.querySelector('#drop-zone #pick-files') !== null",
    "/load?batch=to-decide-on": "return document.querySelector('.load-undecided select') !== null",
    "/load?batch=already-done": "return document.querySelector('a.load-done') !== null",
    "/cut?batch=to-decide-on&track=2": "return document.querySelector('main h1') !== null",
    "/load?batch=gone-for-good": "return document.querySelector('main h1') !== null",
    "/particulars/lower_bowl/mara-1": "return document.querySelector('.file-slot input') !== null",
    "/particulars/lower_bowl/gone": "return document.querySelector('main h1') !== null",
    "/ground/lower_bowl": "return document.querySelector('.ground .file-slot input') !== null",
    "/range-check": "return document.querySelectorAll('.range-row').length === 16",
    "/checks/lower_bowl": "return document.querySelectorAll('.check-row').length === 4",
    "/bin": "return document.querySelector('.binned button') !== null",
    "/measured/lower_bowl": "return document.querySelector('main h1') !== null",
    "/from-film": "return document.querySelector('.film-entry') !== null",
    "/phones": "return document.querySelector('main h1') !== null",
    "/season": "return document.querySelectorAll('.season-table tbody tr').length === 3",
    "/season/Mara%20Fennick": "return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === "
    "Math.max(10, document.querySelectorAll('.chart-season').length)",
    "/run/lower_bowl/gone": "return document.querySelector('main h1') !== null",
    "/nowhere": "return document.querySelector('main h1') !== null",
}
RUN_AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then(found => done(found.violations
  .filter(v => v.impact === 'serious' || v.impact === 'critical')
  .map(v => v.id + ': ' + v.help + ' | ' + v.nodes.slice(0, 3).map(n => n.target.join(' ')).join(' ; '))))
  .catch(error => done(['axe failed: ' + error]));
"""
# Everything that a pointer could press, save what is folded away or not shown. One radio button of a group takes focus.
REACHABLE = """
const groups = new Set();
return [...document.querySelectorAll('a[href], button, input, select, summary')].filter(e => {
  if (e.disabled || !e.checkVisibility() || e.tabIndex < 0) { return false; }
  if (e.type === 'radio') {
    if (groups.has(e.name)) { return false; }
    groups.add(e.name);
  }
  e.dataset.reach = e.type === 'radio' ? e.name : String([...document.querySelectorAll('*')].indexOf(e));
  if (e.type === 'radio') { document.getElementsByName(e.name).forEach(r => { r.dataset.reach = e.name; }); }
  return true;
}).map(e => e.dataset.reach);
"""
FOCUSED = """
const e = document.activeElement, s = getComputedStyle(e);
return [e.dataset.reach || null, e.tagName, s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2];
"""


def opened(page, address, path):
    page.open(address + path)
    page.until(PAGES[path])


@pytest.mark.parametrize("path", PAGES)
def test_nothing_leaves_the_machine(page, address, path):
    opened(page, address, path)
    asked = page.requests()
    assert len(asked) > 3
    assert [url for url in asked if not url.startswith((f"{address}/", "data:", "blob:", "about:"))] == []
    assert [c for c in page.complaints() if "/nowhere - " not in c] == []  # what is no page is answered 404
    assert page.run("return document.documentElement.scrollWidth") <= page.width


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_serious(page, address, path):
    opened(page, address, path)
    page.run("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.run(AXE.read_text(encoding="utf-8"))
    page.driver.set_script_timeout(60)
    assert page.driver.execute_async_script(RUN_AXE) == []


def test_axe_would_find_something(page, address):
    opened(page, address, "/")
    page.run("document.querySelector('main').insertAdjacentHTML('beforeend', '<input><p style=color:#ccc>pale</p>')")
    page.run(AXE.read_text(encoding="utf-8"))
    found = page.driver.execute_async_script(RUN_AXE)
    assert [line.split(":")[0] for line in found] == ["color-contrast", "label"]


@pytest.mark.parametrize("path", PAGES)
def test_the_keyboard_reaches_everything_and_the_focus_is_seen(page, address, path):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    opened(page, address, path)
    wanted = set(page.run(REACHABLE))
    assert wanted
    seen, unseen_focus = set(), []
    for _ in range(2 * len(wanted) + 10):
        ActionChains(page.driver).send_keys(Keys.TAB).perform()
        reach, tag, shown = page.run(FOCUSED)
        if reach:
            seen.add(reach)
            if not shown:
                unseen_focus.append((reach, tag))
        if seen >= wanted:
            break
    assert wanted - seen == set()
    assert unseen_focus == []
