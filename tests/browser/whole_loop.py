"""The loops of a day on snow as a person goes them: what is pressed and typed, counted.

`python -m tests.browser.whole_loop` goes them once and prints presses, keys and seconds of this machine.
"""

import contextlib
import csv
import datetime as dt
import io
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

PRESSABLE = "button, a, summary"
FILM_SPEED = 8.0
"""The clock of the page runs so many times faster while a log is typed, so that a test need not last five minutes."""
FAST_CLOCK = (
    f"(() => {{ const now = Date.now, began = now(); Date.now = () => began + (now() - began) * {FILM_SPEED}; }})()"
)


@dataclass
class Hands:
    """A person at a page, who finds things by their words. `presses`, `keys`: what was pressed and typed so far."""

    page: Any
    presses: int = 0
    keys: int = 0
    began: float = field(default_factory=time.monotonic)

    def wait(self, find: Any, what: str, seconds: float = 40.0) -> Any:
        """Wait until something is found, and return it."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            with contextlib.suppress(StaleElementReferenceException):  # the page was drawn again in between
                if found := find():
                    return found
            time.sleep(0.1)
        raise AssertionError(f"not on the page: {what}; on it: {self.page.run('return document.body.innerText')}")

    def shown(self, css: str, words: str) -> list[Any]:
        """Return what is to be seen and has a line that begins with these words."""
        found = self.page.driver.find_elements(By.CSS_SELECTOR, css)
        return [
            one
            for one in found
            if one.is_displayed() and any(line.startswith(words) for line in one.text.strip().split("\n"))
        ]

    def press(self, words: str, css: str = PRESSABLE) -> None:
        """Press what begins with these words."""
        (first, *_) = self.wait(lambda: self.shown(css, words), words)
        self._into_sight(first)
        first.click()
        self.presses += 1

    def _into_sight(self, one: Any) -> None:
        self.page.driver.execute_script("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", one)
        time.sleep(0.3)  # plans that follow the typing move what lies below them

    def field(self, label: str) -> Any:
        """Return the field with this label; a hint below the label does not belong to it."""
        exact = lambda: [one for one in self.shown("label", label) if one.text.strip().split("\n")[0] == label]  # noqa: E731
        (first, *_) = self.wait(exact, label)
        name = first.get_attribute("for")
        return (
            self.page.driver.find_element(By.ID, name)
            if name
            else first.find_element(By.CSS_SELECTOR, "input, select, textarea")
        )

    def type(self, label: str, text: str) -> None:
        """Write a text into the field with this label, over what stands there."""
        one = self.field(label)
        self._into_sight(one)
        one.click()
        one.send_keys(Keys.CONTROL, "a")
        one.send_keys(text)
        self.presses += 1
        self.keys += 1 + len(text)

    def choose(self, label: str, option: str) -> None:
        """Choose an option: one press opens the list, one takes it."""
        Select(self.field(label)).select_by_visible_text(option)
        self.presses += 2

    def give(self, *files: Path) -> None:
        """Choose files: one press opens the window of the system, one a file marks them, one takes them."""
        self.page.driver.find_element(By.ID, "pick-files").send_keys("\n".join(map(str, files)))
        self.presses += 2 + len(files)

    def see(self, words: str, seconds: float = 40.0) -> None:
        """Wait until the page says something."""
        said = lambda: words in self.page.run("return document.body.innerText")  # noqa: E731
        self.wait(said, words, seconds)

    def said(self) -> str:
        """Return what it took so far."""
        return f"{self.presses} presses, {self.keys} keys, {time.monotonic() - self.began:.1f} s"


@dataclass(frozen=True, slots=True)
class Files:
    """Files of a drill and a run as a person has them, called as recorders and people call them."""

    drill: Any
    track: Path
    readings: Path
    marks: Path


def make_files(folder: Path) -> Files:
    """Make a drill and a run whose truth is known, and put its files into a folder of downloads."""
    from analyzer.cli import main
    from analyzer.files.drill_toml import read_drill_toml

    said = ["--fault", "wrong_way", "--slope", "20", "--aspect", "140", "--readings", "by_hand", "--seed", "77"]
    assert main(["simulate", str(folder / "made"), "--runs", "1", *said]) == 0
    run, names = (
        folder / "made" / "runs" / "run-1",
        ("Activity 2026-02-14 jonna.gpx", "jonna log.csv", "jonna marks.csv"),
    )
    for name, own in zip(names, ("track.gpx", "readings.csv", "marks.csv"), strict=True):
        (folder / name).write_bytes((run / own).read_bytes())
    return Files(read_drill_toml(folder / "made" / "drill.toml"), *(folder / name for name in names))


def lay_out(hands: Hands, address: str, drill: Any, *, depth_m: float) -> None:
    """From an empty workspace to a drill that is saved; `depth_m`: what is typed, right or wrong."""
    (one,), comma = drill.transmitters, str.maketrans(".", ",")
    hands.page.open(address)
    hands.press("1. Lay out a drill")
    for label, value in (
        ("Slope angle", drill.slope.angle_deg),
        ("Aspect: bearing downhill", drill.slope.aspect_deg),
        ("Start, east", 0.0),
        ("Start, north", 0.0),
        ("Depth", depth_m),
        ("East", one.east_m),
        ("North", one.north_m),
        ("Antenna bearing", one.axis_bearing_deg),
        ("Antenna tilt", one.axis_tilt_deg),
        ("Latitude of the origin", drill.origin.latitude),
        ("Longitude of the origin", drill.origin.longitude),
        ("Height of the origin", drill.origin.elevation_m),
    ):
        hands.type(label, f"{value:g}".translate(comma))
    hands.type("Name", "Morning slope")
    hands.type("Date", drill.date.isoformat())
    hands.type("Corners, in order around it", "\n".join(f"{x:g}, {y:g}" for x, y in drill.corners_m))
    hands.press("Save this drill")
    hands.see("Saved: drills/morning_slope/drill.toml")


def load(hands: Hands, *files: Path, searcher: str) -> None:
    """From a drill that was saved to the debrief of a named searcher, who agreed to be named."""
    hands.press("Load runs of this drill")
    hands.see("Drop files here")
    hands.give(*files)
    hands.see("Everything has one clear place")
    hands.type("or somebody new", searcher)
    (label,) = [one.text for one in hands.shown("label", "May others see this name")]
    hands.choose(label.split("\n")[0], "yes, they agreed today")
    hands.press("Put in and measure")
    hands.press("Open the debrief")
    hands.see("What cost most")


def sheet(hands: Hands) -> bytes:
    """Return the printed sheet behind its link on the debrief."""
    import urllib.request

    (link,) = hands.wait(lambda: hands.shown("a", "Sheet to print (PDF)"), "the link to the sheet")
    with urllib.request.urlopen(link.get_attribute("href"), timeout=60) as answer:
        found: bytes = answer.read()
    hands.presses += 1
    return found


def correct_depth(hands: Hands, depth_m: float) -> None:
    """From the debrief to a corrected depth, and to what it moved."""
    hands.press("Lay out")
    hands.press("Morning slope")
    hands.see("Morning slope")
    hands.type("Depth", f"{depth_m:g}".replace(".", ","))
    hands.press("Save this drill")
    hands.press("Yes, change it")
    hands.press("Its 1 run is measured now")
    hands.see("What moved")


def type_log(hands: Hands, address: str, run: str, files: Files) -> None:
    """Readings and marks typed while a film plays, by keys alone, then saved; from the first key to the debrief."""
    at = {row["mark"]: row["time"] for row in csv.DictReader(io.StringIO(files.marks.read_text()))}
    start, hit = (dt.datetime.fromisoformat(at[mark]) for mark in ("start", "probe_hit"))
    rows = [(float(r["elapsed"]), r["reading_m"]) for r in csv.DictReader(io.StringIO(files.readings.read_text()))]
    script = hands.page.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": FAST_CLOCK})
    hands.page.open(f"{address}/from-film?run={run}")
    hands.press("Reading shown, m", "label")
    typed = [*((t, f"{float(value):g}".replace(".", ",") + Keys.ENTER) for t, value in rows)]
    typed.append(((hit - start).total_seconds(), "h"))
    began = time.monotonic()
    for after_s, text in [(0.0, "s"), *sorted(typed)]:
        time.sleep(max(0.0, began + after_s / FILM_SPEED - time.monotonic()))
        hands.page.driver.switch_to.active_element.send_keys(text)
        hands.keys += len(text)
    hands.press("Save into")
    hands.press("Open the debrief")
    hands.page.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", script)
    hands.see("What cost most")


def main() -> None:
    """Go the loops once in a browser of its own, and print what each took."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    from dashboard.config import Config
    from tests.browser.conftest import BROWSER, DRIVER, FLAGS, Page, served

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER or ""
    for flag in FLAGS:
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    try:
        with tempfile.TemporaryDirectory() as name:
            folder, files = Path(name), make_files(Path(name))
            (folder / "workspace").mkdir()
            config = Config(folder / "workspace" / "results", workspace=folder / "workspace")
            with served(config) as address:
                for what, took in go(Page(driver, 1280, 900), address, files):
                    print(f"{what}: {took}")  # noqa: T201
    finally:
        driver.quit()


def go(page: Any, address: str, files: Files) -> Any:
    """Yield (what was done, what it took) of each loop, in the order of a day."""
    (one,) = files.drill.transmitters
    hands = Hands(page)
    lay_out(hands, address, files.drill, depth_m=one.depth_m + 0.6)
    yield "an empty folder to a drill laid out", hands.said()
    hands = Hands(page)
    load(hands, files.track, files.readings, files.marks, searcher="Jonna Ekdal")
    sheet(hands)
    yield "three files to the printed sheet of a named searcher", hands.said()
    hands = Hands(page)
    correct_depth(hands, one.depth_m)
    yield "a wrong depth corrected, to what it moved", hands.said()
    run = page.run("return document.querySelector('main a[href^=\"/run/\"]').pathname")
    hands = Hands(page)
    type_log(hands, address, run.removeprefix("/run/"), files)
    yield f"readings typed from a film ({FILM_SPEED:g} times as fast), to the debrief", hands.said()


if __name__ == "__main__":
    main()
