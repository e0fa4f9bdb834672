"""A coach types a taped walk, has it worked out, and uses it in a drill; on a wide screen and on a phone."""

from pathlib import Path

import pytest

from analyzer.files.drill_toml import read_drill_toml

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
LOOKS = [("5", "5,6"), ("10", "11"), ("20", "22"), ("26", "29"), ("34", ""), ("38", "")]
AXE = Path(__file__).with_name("axe") / "axe.min.js"
RUN_AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then(found => done(found.violations
  .filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id + v.nodes[0].target)));
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("club_range")
    (root / "drills/bowl").mkdir(parents=True)
    (root / "drills/bowl/drill.toml").write_bytes((SAMPLE / "drill.toml").read_bytes())
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def test_a_walk_is_typed_and_used(page, workspace):
    from selenium.webdriver.common.keys import Keys
    from selenium.webdriver.support.ui import Select

    def field(name):
        return page.until(f"return document.querySelector('main [name=\"{name}\"]')")

    address, root = workspace
    page.open(f"{address}/range-check")
    assert field("r0.distance_m").get_attribute("inputmode") == "decimal"
    for number, (distance, shown) in enumerate(LOOKS):
        field(f"r{number}.distance_m").send_keys(distance)
        if shown:
            field(f"r{number}.reading_m").send_keys(shown)
        else:
            Select(field(f"r{number}.nothing")).select_by_value("yes")
        Select(field(f"r{number}.orientation")).select_by_value("broadside")
    field("r0.distance_m").send_keys(Keys.ENTER)  # by keyboard: Enter works it out
    page.until("return document.querySelector('.range-told') !== null")
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert "Strip width, proposed" in page.run("return document.querySelector('main').innerText")
    assert field("r4.nothing").get_attribute("value") == "yes"
    page.run(AXE.read_text(encoding="utf-8"))
    assert page.driver.execute_async_script(RUN_AXE) == []
    receiver = f"club {page.width}"
    field("receiver").send_keys(receiver)
    Select(field("drill")).select_by_value("bowl")
    page.until("return document.querySelector('button[value=use]')").send_keys(Keys.ENTER)
    page.until("return document.querySelector('.said button') !== null")
    assert read_drill_toml(root / "drills/bowl/drill.toml").receiver(receiver) is not None
