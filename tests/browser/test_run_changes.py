"""An evening with a coach: a run is loaded for a new person, renamed, given its log, deleted by mistake, put back."""

from pathlib import Path

import pytest

from analyzer.files.run_toml import parse_run_toml
from analyzer.workspace.people.people_toml import read_people

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
PICK = "return document.querySelector('#drop-zone input#pick-files')"
FORM = "return document.querySelector('form.load-form') !== null"
SLOT = "return document.querySelector('.file-slot input')"
SMALL = """
return [...document.querySelectorAll('main button, main select, main input, main textarea, main summary, main .button')]
  .filter(e => e.checkVisibility() && e.type !== 'hidden' && e.getBoundingClientRect().height < 44)
  .map(e => e.outerHTML.slice(0, 80));
"""


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over a workspace with a drill, and the workspace."""
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("club_week")
    for name in ("bowl", "gully"):
        (root / "drills" / name).mkdir(parents=True)
        (root / "drills" / name / "drill.toml").write_bytes((SAMPLE / "drill.toml").read_bytes())
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def text(page):
    return page.run("return document.querySelector('main').innerText")


def fill(page, name, value):
    """Type into a field of the form that has a name beginning so, as a person does, who looks whether it is there.

    On a busy machine a page may be drawn once more between two keys.
    """
    from selenium.webdriver.common.keys import Keys

    for _ in range(5):
        field = page.until(f"return document.querySelector('main [name^=\"{name}\"]')")
        field.send_keys(Keys.CONTROL, "a", Keys.NULL, Keys.DELETE, value)
        if field.get_property("value") == value:
            return
    raise AssertionError(f"{name} does not take {value!r}")


def choose(page, name, value):
    from selenium.webdriver.support.ui import Select

    Select(page.until(f"return document.querySelector('main select[name^=\"{name}\"]')")).select_by_value(value)


def press(page, words):
    """Press the button with these words, and wait for the next page."""
    page.run("window.before = true")
    page.run(
        "[...document.querySelectorAll('main button')]"
        f".find(b => b.innerText === {words!r} && b.checkVisibility()).click()"
    )
    page.until("return window.before === undefined && document.querySelector('main h1') !== null")


def fits(page):
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.run(SMALL) == []


def test_from_load_to_a_mistake_that_is_taken_back(page, workspace, tmp_path):
    address, root = workspace
    name = f"Ása Björk {page.width}"
    track = tmp_path / f"2026-02-14-09-00-{page.width}.gpx"
    # Other bytes for each width: the same recording is not put in twice.
    track.write_bytes((SAMPLE / "runs/mara-1/track.gpx").read_bytes() + b"\n" * page.width)
    page.open(f"{address}/load?drill=bowl")
    page.until(PICK).send_keys(str(track))
    page.until(FORM)
    page.screenshot("runs-load")
    fits(page)
    fill(page, "name-", f"Second try, {name}")
    fill(page, "new_searcher-", name)
    choose(page, "consent-", "yes")
    fill(page, "bib-", "07")
    press(page, "Put in and measure")
    page.until("return document.querySelector('a.load-done') !== null", seconds=60)
    page.screenshot("runs-loaded")
    assert f"{name} is new in people.toml, and may be named." in text(page)
    assert read_people(root).find(name).consent
    run = page.run("return document.querySelector('a.load-done strong').innerText")
    folder = root / "drills/bowl/runs" / run
    assert parse_run_toml((folder / "run.toml").read_bytes()).title == f"Second try, {name}"

    page.open(f"{address}/run/bowl/{run}")
    page.run("[...document.querySelectorAll('.run-links a')].find(a => a.innerText === 'Particulars').click()")
    page.until("return document.querySelector('.particulars') !== null")
    fits(page)
    fill(page, "title", "Third, after all")
    press(page, "Save")
    assert "Saved." in text(page)
    assert page.run("return document.querySelector('main h1').innerText") == "Third, after all"

    page.until(SLOT).send_keys(str(SAMPLE / "runs/mara-1/readings.csv"))
    press(page, "Put in and measure")
    page.until("return document.querySelector('main').innerText.includes('What this changed')", seconds=60)
    page.screenshot("runs-changed")
    fits(page)
    assert "Evidence: Track only: no reading log; now track and reading log." in text(page)

    press(page, "Put this run into the bin")
    assert "Nothing of it is lost" in text(page)
    page.screenshot("runs-bin")
    fits(page)
    assert not folder.exists()
    press(page, "Take this back")
    page.until("return document.querySelector('.particulars') !== null")
    assert "Put back as it was." in text(page)
    assert (folder / "readings.csv").read_bytes() == (SAMPLE / "runs/mara-1/readings.csv").read_bytes()
    page.open(f"{address}/season")
    page.until(f"return document.querySelector('main').innerText.includes({name!r})")
    assert page.complaints() == []


def test_the_coachs_words_stand_on_the_debrief_and_a_finding_comes_back(page, workspace, tmp_path):
    from selenium.webdriver.support.ui import WebDriverWait

    address, root = workspace
    folder = root / "drills/gully/runs" / f"mara-{page.width}"
    folder.mkdir(parents=True)
    for name in ("track.gpx", "readings.csv", "marks.csv"):
        (folder / name).write_bytes((SAMPLE / "runs/mara-1" / name).read_bytes())
    page.open(f"{address}/particulars/gully/{folder.name}")
    page.run(f"""fetch('/change-run/measure?drill=gully&run={folder.name}', {{method: 'POST'}})
        .then(() => {{ window.asked = true; }})""")
    page.until("return window.asked === true")
    result = root / "results/gully" / f"{folder.name}.json"
    WebDriverWait(page.driver, 60).until(lambda _: result.is_file())
    page.open(f"{address}/particulars/gully/{folder.name}")
    page.until("return document.querySelector('details summary') !== null")
    page.run("document.querySelectorAll('.particulars details').forEach(d => { d.open = true; })")
    fill(page, "note", "calm <b>and</b> quick")
    fill(page, "aside-", "I called her back")
    press(page, "Save the words")
    page.screenshot("runs-words")
    page.open(f"{address}/run/gully/{folder.name}")
    page.until("return document.querySelector('main').innerText.includes('Set aside: I called her back')")
    assert "calm <b>and</b> quick" in text(page)
    page.open(f"{address}/particulars/gully/{folder.name}")
    fill(page, "aside-", "")
    press(page, "Save the words")
    page.open(f"{address}/run/gully/{folder.name}")
    page.until("return document.querySelector('main').innerText.includes('calm <b>and</b> quick')")
    assert "I called her back" not in text(page)
    assert page.complaints() == []
