"""The rule sheet editor in a browser, over a drill that is simulated and measured for it."""

import time

import pytest

pytestmark = pytest.mark.browser

FIELD = "return [...document.querySelectorAll('.rule-form input')].find(i => i.id.includes('\"{}\"'))"
# Fields that cannot be seen: nothing of them is painted at their middle.
COVERED = """
return [...document.querySelectorAll('main input')].filter(i => {
  i.scrollIntoView({block: 'center', behavior: 'instant'});
  const b = i.getBoundingClientRect();
  return b.width < 60 || document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2) !== i;
}).map(i => i.id);
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over a drill with its tracks, and its folder of rule sheets."""
    from analyzer.files.rules_toml import default_rules
    from analyzer.lab.simulate import RunSettings, simulate_drill, simulate_run
    from analyzer.lab.simulate.write import write_drill, write_run
    from analyzer.workspace.batch import Batch, analyze_drills
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("workspace")
    place, drill = root / "drills" / "bowl", simulate_drill(None, seed=4)
    write_drill(place, drill)
    for number in range(2):
        write_run(place, drill, simulate_run(drill, RunSettings(), seed=4 + number, run_id=f"run-{number}"))
    analyze_drills([place], Batch(out=root / "results", rules=default_rules(), draws=64, seed=0))
    with serve(Config(root / "results", drills=(place,), rules=root / "rules")) as address:
        yield address, root / "rules"


def write(page, key, text):
    """Put a number into a field with the keyboard, and leave it."""
    from selenium.webdriver.common.keys import Keys

    field = page.run(FIELD.format(key))
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text, Keys.TAB)


def preview(page):
    return page.run("return document.getElementById('preview').innerText")


def test_points_are_previewed_at_once_and_a_missing_number_is_said(page, workspace):
    page.open(f"{workspace[0]}/rules/bowl")
    page.until("return document.querySelectorAll('.preview tbody tr').length === 2")
    assert preview(page).count("unchanged") >= 8
    assert page.run(COVERED) == []
    write(page, "missed_s", "-5")
    page.until("return document.getElementById('preview').innerText.includes('missed_s: -5 is out of range')")
    page.screenshot("rule-sheet-wrong")
    write(page, "missed_s", "120")
    page.until("return document.querySelectorAll('.preview tbody tr').length === 2")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.complaints() == []


def test_a_pace_is_previewed_by_measuring_again_and_the_sheet_is_saved(page, workspace):
    address, folder = workspace
    page.open(f"{address}/rules/bowl")
    page.until("return document.querySelectorAll('.preview tbody tr').length === 2")
    write(page, "pace_2", "2.4")
    page.until("return document.getElementById('preview').innerText.includes('Press the button')")
    page.run("document.getElementById('measure').click()")
    page.until("return document.querySelectorAll('.preview .change-clear').length > 0", seconds=60)
    page.screenshot("rule-sheet")
    version = str(page.width)
    page.run("return document.getElementById('sheet-name')").send_keys("Brisk <b>club</b>")
    page.run("return document.getElementById('sheet-version')").send_keys(version)
    page.run("document.getElementById('save').click()")
    page.until("return document.getElementById('saved').innerText.includes('Saved as brisk-b-club-b-1')")
    assert (folder / f"brisk-b-club-b-1{version}.toml").is_file()
    assert page.run("return document.querySelectorAll('#sheet-list b').length") == 0
    page.run("[...document.querySelectorAll('a.sheet')].find(a => a.innerText.includes('Brisk')).click()")
    page.until("return location.search.startsWith('?sheet=')")
    page.until(
        "return [...document.querySelectorAll('.rule-form input')]"
        ".find(i => i.id.includes('\"pace_2\"'))?.value === '2.4'"
    )
    page.driver.refresh()
    page.until(
        "return [...document.querySelectorAll('.rule-form input')]"
        ".find(i => i.id.includes('\"pace_2\"'))?.value === '2.4'"
    )
    assert page.complaints() == []


@pytest.fixture(scope="module")
def club(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with two measured drills, and the workspace."""
    from analyzer.files.rules_toml import default_rules
    from analyzer.lab.simulate import RunSettings, simulate_drill, simulate_run
    from analyzer.lab.simulate.write import write_drill, write_run
    from analyzer.workspace.batch import Batch, analyze_drills
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("club")
    for seed, name in ((4, "bowl"), (9, "gully")):
        place, drill = root / "drills" / name, simulate_drill(None, seed=seed)
        write_drill(place, drill)
        for number in range(2):
            write_run(place, drill, simulate_run(drill, RunSettings(), seed=seed + number, run_id=f"run-{number}"))
    places = [root / "drills" / name for name in ("bowl", "gully")]
    analyze_drills(places, Batch(out=root / "results", rules=default_rules()))
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def test_a_sheet_is_saved_put_in_force_measured_with_progress_and_taken_back(page, club):
    address, root = club
    gully = {p.name: p.read_bytes() for p in (root / "results/gully").glob("*.json")}
    bowl = {p.name: p.read_bytes() for p in (root / "results/bowl").glob("*.json")}
    says = "return document.getElementById('in-force').innerText"
    page.open(f"{address}/rules/bowl")
    page.until("return document.querySelectorAll('.preview tbody tr').length === 2")
    assert "comes with the program" in page.run(says)
    write(page, "pinpoint_reference_s", "3")
    page.run("return document.getElementById('sheet-name')").send_keys("Quick hands")
    page.run("return document.getElementById('sheet-version')").send_keys(str(page.width))
    page.run("document.getElementById('save-in-force').click()")
    page.until(f"{says}.includes('Quick hands, version')")
    assert "is in force for this drill now. Its 2 runs are measured with it." in page.run(says)
    page.screenshot("sheet-in-force")
    assert page.run("return document.querySelectorAll('#sheet-list .tag').length") == 2  # one open, one in force
    page.run("[...document.querySelectorAll('#in-force a')].find(a => a.innerText === 'See how far it is').click()")
    page.until("return document.querySelector('main').innerText.includes('What moved')", seconds=60)
    words = page.run("return document.querySelector('main').innerText")
    assert f"Measured with the rule sheet Quick hands, version 1{page.width}" in words
    page.screenshot("sheet-measured")
    assert {p.name: p.read_bytes() for p in (root / "results/gully").glob("*.json")} == gully
    assert {p.name: p.read_bytes() for p in (root / "results/bowl").glob("*.json")} != bowl
    page.open(f"{address}/rules/bowl")
    page.until("return document.querySelectorAll('.preview tbody tr').length === 2")
    page.run("[...document.querySelectorAll('#sheet-list button')][0].click()")
    page.until(f"{says}.includes('Take this back: Quick hands')")
    for _ in range(200):
        if {p.name: p.read_bytes() for p in (root / "results/bowl").glob("*.json")} == bowl:
            break
        time.sleep(0.1)
    assert {p.name: p.read_bytes() for p in (root / "results/bowl").glob("*.json")} == bowl
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.complaints() == []
