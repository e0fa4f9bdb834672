"""The pictures of the README, from the sample day: `python -m tests.support.pictures [FOLDER]` makes them anew.

Needs Debian's chromium and chromium-driver, as the browser tests do. Left out, FOLDER is docs/pictures.
"""

import argparse
import base64
import shutil
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path

import matplotlib as mpl
import waitress
from selenium import webdriver
from selenium.webdriver.chrome.service import Service as Driver
from selenium.webdriver.support.ui import WebDriverWait

from analyzer.api import analyze
from analyzer.files.results.result_json import write_result
from dashboard.app import app_to_serve
from dashboard.config import Config
from dashboard.export.sheet import sheet_papers
from dashboard.server.listen import free_socket
from dashboard.services.printed import Printed
from dashboard.services.results import Service

ROOT = Path(__file__).resolve().parents[2]
RUN = "lower_bowl/ilvo-1"
DRAWN = "return document.querySelectorAll('.js-plotly-plot .subplot.xy').length >= "
SHEET_DPI = 90
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars")


@dataclass(frozen=True, slots=True)
class Shot:
    """One picture: its name, the address, the window in CSS pixels, and the script that says when all is drawn."""

    name: str
    path: str
    width: int
    height: int
    ready: str


SHOTS = (
    Shot("debrief", f"/run/{RUN}", 1280, 1150, DRAWN + "1"),
    Shot("debrief_phone", f"/run/{RUN}", 390, 844, DRAWN + "1"),
    Shot(
        "replay",
        f"/replay/{RUN}?at=160.0&view=80",
        1280,
        900,
        "return document.getElementById('replay')?.player !== undefined",
    ),
)


def measured(folder: Path) -> None:
    """Measure the sample drills into `folder`, as `searchwake analyze` does."""
    for drill in sorted(p.parent for p in (ROOT / "sample_tracks").glob("*/drill.toml")):
        for result in analyze(drill):
            write_result(folder / drill.name / f"{result.run_id}.json", result)


def browser(profile: Path) -> webdriver.Chrome:
    """Return a headless browser with a profile of its own."""
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or "chromium"
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    return webdriver.Chrome(options=options, service=Driver(shutil.which("chromedriver")))


def take(driver: webdriver.Chrome, address: str, shot: Shot) -> bytes:
    """Return the picture of one page as PNG."""
    size = {"width": shot.width, "height": shot.height, "deviceScaleFactor": 1, "mobile": shot.width < 600}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.get(address + shot.path)
    WebDriverWait(driver, 60).until(lambda d: d.execute_script(shot.ready), shot.name)
    return base64.b64decode(driver.execute_cdp_cmd("Page.captureScreenshot", {})["data"])


def make(out: Path) -> None:
    """Write every picture into `out`."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        results = Path(name) / "results"
        measured(results)
        with mpl.rc_context({"text.hinting": "none"}):  # letters as wide as on paper
            shown = Printed(Service(results)).run(*RUN.split("/"))
            sheet_papers(shown)[0].figure.savefig(out / "sheet.png", dpi=SHEET_DPI)
        socket = free_socket(18800)
        config = Config(results, note="Invented runs.", workspace=Path(name))
        server = waitress.create_server(app_to_serve(config).server, sockets=[socket], threads=4)
        threading.Thread(target=server.run, daemon=True).start()
        driver = browser(Path(name) / "profile")
        for shot in SHOTS:
            data = take(driver, f"http://127.0.0.1:{socket.getsockname()[1]}", shot)
            (out / f"{shot.name}.png").write_bytes(data)
        driver.quit()
        server.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=ROOT / "docs" / "pictures")
    make(parser.parse_args().folder)
