"""A headless Chromium, a dashboard to look at, and a record of everything the browser asked for."""

import base64
import contextlib
import datetime as dt
import importlib.util
import json
import os
import shutil
import threading
from pathlib import Path

import pytest

BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
SCREENSHOTS = Path(__file__).resolve().parents[2] / "test-screenshots"
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
SEARCHERS = {
    "mara-1": {},
    "ilo-1": {"searcher": "Ilo Brandt", "with_readings": False, "findings": 1},
    "odd <i>run": {"searcher": "<img src=x onerror=window.harmed=1><b>Bold</b>", "drill": "<u>Bowl</u>"},
}

MAKE_FILM = """
const done = arguments[arguments.length - 1], canvas = document.createElement('canvas');
Object.assign(canvas, {width: 64, height: 48});
const pen = canvas.getContext('2d'), pieces = [], began = performance.now();
const recorder = new MediaRecorder(canvas.captureStream(20), {mimeType: 'video/webm'});
recorder.ondataavailable = e => pieces.push(e.data);
recorder.onstop = async () => {
  const bytes = new Uint8Array(await new Blob(pieces).arrayBuffer());
  done(btoa(Array.from(bytes, b => String.fromCharCode(b)).join('')));
};
recorder.start();
(function draw() {
  pen.fillStyle = `hsl(${performance.now() / 20 % 360} 80% 50%)`;
  pen.fillRect(0, 0, 64, 48);
  if (performance.now() - began < arguments_seconds * 1000) { requestAnimationFrame(draw); } else { recorder.stop(); }
})();
"""


def _builder():
    path = Path(__file__).resolve().parents[1] / "unit" / "dashboard" / "result_builder.py"
    spec = importlib.util.spec_from_file_location("browser_result_builder", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.make_result


@contextlib.contextmanager
def served(config, port=18700):
    """Serve a dashboard on loopback and give its address.

    Dash keeps the pages of a process in one registry: what was in it is put back, so that a dashboard that is
    still being served keeps its pages.
    """
    import waitress
    from dash import _pages

    from dashboard.app import app_to_serve
    from dashboard.server.listen import free_socket

    before = dict(_pages.PAGE_REGISTRY)
    _pages.PAGE_REGISTRY.clear()
    listening = free_socket(port)
    server = waitress.create_server(app_to_serve(config).server, sockets=[listening], threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    server.close()
    _pages.PAGE_REGISTRY.clear()
    _pages.PAGE_REGISTRY.update(before)


def _fill_baskets(workspace):
    """Take in files that need a decision, beside a bad one, and make a basket of files that were put in."""
    import dataclasses

    from analyzer.workspace.intake.model import Outcome
    from analyzer.workspace.intake.upload_session import save_basket
    from dashboard.services.intake import Intake

    intake, sample = Intake(workspace, workspace / "results"), Path(__file__).resolve().parents[2] / "sample_tracks"
    files = ("drill.toml", "runs/mara-1/track.gpx", "runs/mara-1/readings.csv", "runs/bera-1/readings.csv")
    for name in files:
        intake.take("to-decide-on", name.replace("bera-1", "video"), 0, [(sample / "lower_bowl" / name).read_bytes()])
    intake.take("to-decide-on", "<b>bad</b>.csv", 0, [b"time,reading_m\nnoon,3\n"])
    basket = intake.basket("to-decide-on")
    outcome = Outcome("lower_bowl", ("mara-1",), ("lower_bowl/x: an invented failure; no need to do anything",))
    save_basket(workspace, dataclasses.replace(basket, token="already-done", state="done", outcome=outcome))


def _fill_bin(workspace):
    """Put a run into the bin."""
    from analyzer.workspace.runs.changes import delete_run

    sample = Path(__file__).resolve().parents[2] / "sample_tracks/lower_bowl/runs/mara-1/track.gpx"
    folder = workspace / "drills" / "lower_bowl" / "runs" / "deleted-1"
    folder.mkdir(parents=True)
    (folder / "track.gpx").write_bytes(sample.read_bytes())
    delete_run(workspace, workspace / "results", "lower_bowl", "deleted-1")


def _fill_ground(workspace):
    """Lay an invented photo under the plans of a drill, pinned at two points."""
    import io

    from PIL import Image

    from analyzer.files.ground_toml import write_ground
    from analyzer.model.ground import Ground, Pin

    out, folder = io.BytesIO(), workspace / "drills" / "lower_bowl"
    Image.linear_gradient("L").resize((800, 600)).save(out, "JPEG")
    (folder / "ground.jpg").write_bytes(out.getvalue())
    pins = (Pin(400.0, 300.0, 0.0, 0.0), Pin(500.0, 300.0, 50.0, 0.0))
    (folder / "ground.toml").write_bytes(write_ground(Ground("ground.jpg", pins, "Invented picture")))


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    """Return the address of a dashboard over invented runs, served for the whole session."""
    from event_builder import make_event

    from analyzer.files.results.result_json import write_result
    from analyzer.model.people import People, Person
    from analyzer.workspace.people.people_toml import people_bytes
    from dashboard.config import Config

    folder, make_result = tmp_path_factory.mktemp("results"), _builder()
    for run, changes in SEARCHERS.items():
        write_result(folder / "lower_bowl" / f"{run}.json", make_result(run_id=run, **changes))
    (folder / "lower_bowl" / "zz-damaged.json").write_text("{}")
    workspace = make_event(tmp_path_factory.mktemp("workspace")).parents[1]
    names = {changes.get("searcher", "Mara Fennick") for changes in SEARCHERS.values()}
    agreed = (Person(name, consent=True, consent_date=dt.date(2026, 1, 1)) for name in sorted(names))
    (workspace / "people.toml").write_bytes(people_bytes(People(tuple(agreed))))
    _fill_baskets(workspace)
    _fill_bin(workspace)
    _fill_ground(workspace)
    with served(Config(folder, note="Invented runs.", workspace=workspace)) as place:
        yield place


@pytest.fixture(scope="session")
def make_result():
    """Return the maker of invented results."""
    return _builder()


@pytest.fixture(scope="session")
def serve():
    """Return `served`, for tests that need a dashboard of their own."""
    return served


class Page:
    """One browser window with the questions that the tests ask of it."""

    def __init__(self, driver, width, height):
        """Set the size of the window; a narrow one is a phone."""
        self.driver, self.width = driver, width
        phone = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", phone)

    def until(self, script, seconds=20.0):
        """Wait until a script returns something true, and return it."""
        from selenium.webdriver.support.ui import WebDriverWait

        return WebDriverWait(self.driver, seconds, poll_frequency=0.05).until(
            lambda d: d.execute_script(script), script
        )

    def open(self, url, charts=None):
        """Open an address and wait for its heading, and for that many drawn charts."""
        self.driver.get(url)
        self.until("return document.querySelector('main h1') !== null")
        if charts:
            self.until(f"return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === {charts}")

    def run(self, script):
        """Return what a script returns."""
        return self.driver.execute_script(script)

    def requests(self):
        """Return every address that the browser asked for since the last call."""
        messages = [json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance")]
        return [m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"]

    def complaints(self):
        """Return what the page complained of in the console."""
        return [entry["message"] for entry in self.driver.get_log("browser") if entry["level"] == "SEVERE"]

    def screenshot(self, name):
        """Keep a picture of the whole page."""
        SCREENSHOTS.mkdir(exist_ok=True)
        height = self.run("return document.documentElement.scrollHeight")
        clip = {"x": 0, "y": 0, "width": self.width, "height": height, "scale": 1}
        shot = self.driver.execute_cdp_cmd("Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip})
        (SCREENSHOTS / f"{name}-{self.width}.png").write_bytes(base64.b64decode(shot["data"]))


@pytest.fixture(scope="session")
def driver(tmp_path_factory):
    """Return Chromium; without one the tests are skipped, but fail where CI is set, so that they never go missing."""
    if not BROWSER or not DRIVER:
        if os.environ.get("CI"):
            pytest.fail("chromium and chromedriver are needed in CI")
        pytest.skip("chromium or chromedriver is not installed")
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    browser = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield browser
    browser.quit()


@pytest.fixture(params=[(1280, 900), (390, 844)], ids=["laptop", "phone"])
def page(request, driver):
    """Return a window of laptop and of phone size."""
    window = Page(driver, *request.param)
    driver.get("about:blank")
    window.requests()
    window.complaints()
    return window


@pytest.fixture(scope="session")
def film(driver, tmp_path_factory):
    """Return some seconds of film, made by the browser itself."""
    driver.get("about:blank")
    driver.set_script_timeout(30)
    data = driver.execute_async_script(MAKE_FILM.replace("arguments_seconds", "9"))
    path = tmp_path_factory.mktemp("film") / "helmet.webm"
    path.write_bytes(base64.b64decode(data))
    return path
