"""A phone comes in over the network option, hands a run in and reads its debrief; on loopback, in a real browser."""

import threading
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
AXE = Path(__file__).with_name("axe") / "axe.min.js"
RUN_AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then(found => done(found.violations.map(v => v.id + ': ' + v.help)))
  .catch(error => done(['axe failed: ' + error]));
"""
SMALL = """
return [...document.querySelectorAll('button, a.button, input')].map(e => e.closest('.tick') || e)
  .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML);
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with one drill, and that of its pages for phones."""
    from dash import Dash

    from dashboard import app as app_module
    from dashboard.config import PHONES_KEY, Config
    from dashboard.server.listen import free_socket, phones_server_of
    from dashboard.server.phones.app import phones_app

    root, apps = tmp_path_factory.mktemp("phones"), []
    folder = root / "drills" / "lower_bowl"
    folder.mkdir(parents=True)
    (folder / "drill.toml").write_bytes((SAMPLE / "drill.toml").read_bytes())
    outer = free_socket(18790)
    config = Config(root / "results", workspace=root, network=f"http://127.0.0.1:{outer.getsockname()[1]}/")
    made = app_module.create_app
    app_module.create_app = lambda *args: apps.append(made(*args)) or apps[-1]
    try:
        with serve(config) as address:
            assert isinstance(apps[-1], Dash)
            phones = apps[-1].server.config[PHONES_KEY]
            server = phones_server_of(phones_app(phones), outer, lets_in=phones.lets_in)
            threading.Thread(target=server.run, daemon=True).start()
            yield address, config.network
            server.close()
    finally:
        app_module.create_app = made


def text(page):
    return page.run("return document.querySelector('main').innerText")


def check(page, name):
    page.screenshot(name)
    page.run(AXE.read_text(encoding="utf-8"))
    assert page.driver.execute_async_script(RUN_AXE) == []
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.run(SMALL) == []


def test_from_the_code_to_the_debrief(page, both):
    from selenium.webdriver.common.keys import Keys

    address, outer = both
    who, run = f"Ana Zwick {page.width}", ("mara-1" if page.width > 500 else "bera-1")
    page.open(f"{address}/phones")
    page.until("return document.querySelector('.join-code').naturalWidth > 100")
    page.screenshot("phones-coach")
    code = page.run("return [...document.querySelectorAll('.join-way strong')].at(-1).innerText")

    page.open(f"{outer}join/{code.replace('-', '')}")
    check(page, "phone-join")
    page.driver.find_element("name", "name").send_keys(who)
    page.driver.find_element("name", "agreed").send_keys(Keys.SPACE)
    page.driver.find_element("name", "code").send_keys(Keys.ENTER)
    page.until("return location.pathname === '/mine'")
    for name in ("track.gpx", "readings.csv"):
        assert (SAMPLE / "runs" / run / name).is_file()
    page.driver.find_element("name", "files").send_keys(
        "\n".join(str(SAMPLE / "runs" / run / name) for name in ("track.gpx", "readings.csv", "marks.csv"))
    )
    page.driver.find_element("css selector", "form[action='/hand-in'] button").send_keys(Keys.ENTER)
    page.until("return document.querySelectorAll('li.waits').length === 3")
    check(page, "phone-waits")

    page.open(f"{address}/phones")
    assert who in text(page)
    page.screenshot("phones-coach-waiting")
    assert page.run("return [...document.querySelectorAll('.join-way strong')].at(-1).innerText") != code
    page.run("[...document.querySelectorAll('.phones a.button')].at(0).click()")
    page.until("return document.querySelector('form.load-form') !== null")
    page.run("document.querySelector('form.load-form .button-go').click()")
    page.until("return document.querySelector('a.load-done') !== null", 120)

    page.open(f"{outer}mine")
    check(page, "phone-measured")
    page.requests()
    page.run("document.querySelector('li.measured a').click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length > 3")
    page.screenshot("phone-debrief")
    assert [url for url in page.requests() if not url.startswith((outer, "data:", "blob:", "about:"))] == []
    assert page.complaints() == []
    page.open(f"{outer}mine")
    page.run("document.querySelector('form[action=\"/leave\"] button').click()")
    page.until("return location.pathname === '/'")
    assert "Hand in your search" in text(page)


def test_the_list_keeps_what_has_the_focus(page, both):
    """Every three seconds the page asks who came in; a button that is about to be pressed must stay the same one."""
    address, _ = both
    page.open(f"{address}/phones")
    page.until("return document.querySelector('.join-code') !== null")
    page.run("window.before = document.querySelector('.join-code')")
    page.requests()
    page.until(
        "return performance.getEntriesByType('resource').filter(e => e.name.includes('update-component')).length > 1"
    )
    assert page.run("return window.before === document.querySelector('.join-code')")
