"""The pictures of README and guides: `python -m tests.support.pictures [FOLDER]` makes them anew.

They are of the sample day, of the invented season that `searchwake simulate CLUB --season` makes, and of an invented
recording of three runs.

Needs Debian's chromium and chromium-driver, as the browser tests do. Left out, FOLDER is docs/pictures.
"""

import argparse
import base64
import datetime as dt
import shutil
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path

import matplotlib as mpl
import numpy as np
import waitress
from dash import page_registry
from selenium import webdriver
from selenium.webdriver.chrome.service import Service as Driver
from selenium.webdriver.support.ui import WebDriverWait

from analyzer.api import analyze
from analyzer.cli import main as command
from analyzer.files.results.result_json import write_result
from analyzer.files.writers import write_gpx
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.lab.simulate.sample_day import sample_day
from analyzer.lab.simulate.whole_day import DaySettings, simulate_day
from analyzer.model.recording import Track
from dashboard.app import app_to_serve
from dashboard.config import Config
from dashboard.export.sheet import sheet_papers
from dashboard.server.listen import free_socket
from dashboard.services.intake import Intake
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


FORM = "return document.querySelector('.load-form') !== null"
PLAYER = "return document.getElementById('replay')?.player !== undefined"
SHOTS = (
    Shot("debrief", f"/run/{RUN}", 1280, 1150, DRAWN + "1"),
    Shot("debrief_phone", f"/run/{RUN}", 390, 844, DRAWN + "1"),
    Shot("replay", f"/replay/{RUN}?at=160.0&view=80", 1280, 900, PLAYER),
    Shot("laying_plan", "/laying-plan/lower_bowl", 1280, 900, DRAWN + "1"),
    Shot(
        "load",
        "/load?batch=guide-of-the-coach&drill=lower_bowl",
        1280,
        1000,
        "return document.querySelector('.load-form') !== null",
    ),
    Shot("cut", "/cut?batch=guide-all-day&track=1&drill=lower_bowl", 1280, 800, DRAWN + "1"),
)
SEASON_SHOTS = (
    Shot("standings", "/standings/spring_cup", 1280, 900, "return document.querySelector('.standings tbody') !== null"),
    Shot("season_person", "/season/Kaja%20Solbrekk", 1280, 1000, DRAWN + "3"),
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


def fill(workspace: Path) -> None:
    """Put the sample drills into a workspace, and two loads that wait for a person's decision."""
    for drill in sorted(p.parent for p in (ROOT / "sample_tracks").glob("*/drill.toml")):
        shutil.copytree(drill, workspace / "drills" / drill.name)
    shutil.copy(ROOT / "sample_tracks" / "people.toml", workspace / "people.toml")
    intake = Intake(workspace, workspace / "results")
    runs = ROOT / "sample_tracks" / "lower_bowl" / "runs"
    for run, name in (("mara-1", "2026-02-15 Mara"), ("bera-1", "2026-02-15 Bera")):
        for kind in ("track.gpx", "readings.csv"):
            data = (runs / run / kind).read_bytes().replace(b"2026-02-14", b"2026-02-15")
            intake.take("guide-of-the-coach", f"{name} {kind}", len(data), [data])
    data = day_of_three_runs()
    intake.take("guide-all-day", "all day.gpx", len(data), [data])


def day_of_three_runs() -> bytes:
    """Return an invented recording of three runs, as GPX."""
    drill = sample_day()[0].drill
    day = simulate_day(drill, DaySettings(runs=3, pause_share=0.0, halt_share=0.0), seed=7)
    nothing = np.full(day.time_s.size, np.nan)
    height = np.full(day.time_s.size, drill.drill.origin.elevation_m)
    since = day.time_s - day.time_s[0]
    track = Track(since, *day.place_m.T, height, nothing, nothing, resolution_m=0.0, survey_grade=False)
    zero = dt.datetime.fromtimestamp(day.time_s[0], tz=dt.UTC)
    return write_gpx(track, LocalFrame(drill.drill.origin), time_zero=zero, name="all day")


def season(workspace: Path) -> None:
    """Make the invented season, measure it and score its event, by the commands that people use."""
    for arguments in (
        ["simulate", str(workspace), "--season"],
        ["index", str(workspace)],
        ["standings", str(workspace / "events" / "spring_cup")],
    ):
        if command(arguments):
            raise SystemExit(f"searchwake {' '.join(arguments)} did not work")


def pictures(driver: webdriver.Chrome, config: Config, shots: tuple[Shot, ...], out: Path, port: int) -> None:
    """Serve a workspace and write a picture of each of its pages."""
    page_registry.clear()
    socket = free_socket(port)
    server = waitress.create_server(app_to_serve(config).server, sockets=[socket], threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    for shot in shots:
        data = take(driver, f"http://127.0.0.1:{socket.getsockname()[1]}", shot)
        (out / f"{shot.name}.png").write_bytes(data)
    server.close()


def make(out: Path) -> None:
    """Write every picture into `out`."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        workspace, club = Path(name) / "sample", Path(name) / "club"
        fill(workspace)
        measured(workspace / "results")
        with mpl.rc_context({"text.hinting": "none"}):  # letters as wide as on paper
            shown = Printed(Service(workspace / "results")).run(*RUN.split("/"))
            sheet_papers(shown)[0].figure.savefig(out / "sheet.png", dpi=SHEET_DPI)
        season(club)
        driver = browser(Path(name) / "profile")
        config = Config(workspace / "results", note="Invented runs.", workspace=workspace)
        pictures(driver, config, SHOTS, out, 18800)
        pictures(driver, Config(club / "results", workspace=club), SEASON_SHOTS, out, 18850)
        driver.quit()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=ROOT / "docs" / "pictures")
    make(parser.parse_args().folder)
