"""Loading through the drop zone in a browser: the sample files of the checkout go in, and their debrief opens."""

import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
PICK = "return document.querySelector('#drop-zone input#pick-files')"
FORM = "return document.querySelector('form.load-form') !== null"


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over an empty workspace, and the workspace."""
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("club_week")
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def choose(page, *paths):
    """Give files to the file field, as a person does in the browser's own window."""
    page.until(PICK).send_keys("\n".join(str(p) for p in paths))


def text(page):
    return page.run("return document.querySelector('main').innerText")


def test_three_files_give_a_debrief(page, workspace, tmp_path):
    """A drill, a track and its reading log come in loose, beside a bad file; the next page shows where they go."""
    address, root = workspace
    run = SAMPLE / "runs" / "mara-1"
    drill = tmp_path / "drill.toml"  # a drill of its own for each width
    drill.write_text((SAMPLE / "drill.toml").read_text().replace("Lower bowl", f"Bowl {page.width}"))
    bad = tmp_path / "<b onmouseover=alert(1)>bad.csv"
    bad.write_text("time,reading_m\n2026-02-14T09:02:07Z,twelve\n")
    page.open(f"{address}/load")
    page.until(PICK)
    page.screenshot("load-empty")
    choose(page, drill, run / "track.gpx", run / "readings.csv", run / "marks.csv", run / "run.toml", bad)
    page.until(FORM)
    page.screenshot("load-review")
    said = text(page)
    assert "Not used, as told above: 1 file. Everything else has one clear place" in said
    assert "<b onmouseover=alert(1)>bad.csv, line 2: reading_m 'twelve' is not a number" in said
    assert page.run("return document.querySelector('input[name^=name-]').value") == "mara-1"
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.run("document.querySelector('.button-go').click()")
    page.until("return document.querySelector('a.load-done') !== null", seconds=60)
    page.screenshot("load-done")
    page.run("document.querySelector('a.load-done').click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length > 3")
    folder = root / "drills" / f"bowl-{page.width}-invented"
    for name in ("track.gpx", "readings.csv", "marks.csv", "run.toml"):
        assert (run / name).read_bytes() == (folder / "runs" / "mara-1" / name).read_bytes()
    assert page.complaints() == []


def test_a_spreadsheet_of_readings_goes_in_as_it_came(page, workspace, tmp_path):
    """Written by a spreadsheet program, see tests/data/sheets; beside it one that nobody can read."""
    address, root = workspace
    sheets = SAMPLE.parents[1] / "tests" / "data" / "sheets"
    sheet = tmp_path / "bera-1.xlsx"
    sheet.write_bytes((sheets / "both.xlsx").read_bytes())
    drill = tmp_path / "drill.toml"
    drill.write_text((SAMPLE / "drill.toml").read_text().replace("Lower bowl", f"Sheet {page.width}"))
    cut = tmp_path / "cut.ods"
    cut.write_bytes((sheets / "hand.ods").read_bytes()[:5000])
    page.open(f"{address}/load")
    choose(page, drill, SAMPLE / "runs" / "bera-1" / "track.gpx", sheet, cut)
    page.until(FORM)
    page.screenshot("load-spreadsheet")
    said = text(page)
    assert "cut.ods: the spreadsheet is damaged or cut off" in said
    assert "Everything has one clear place" not in said
    assert "Everything else has one clear place" in said
    folded = page.run("return document.querySelector('form.load-form details').textContent")
    assert "1 in the sheet 'participants', which is not read" in folded
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.run("document.querySelector('.button-go').click()")
    page.until("return document.querySelector('a.load-done') !== null", seconds=60)
    (found,) = (root / "drills" / f"sheet-{page.width}-invented" / "runs").glob("*/readings.xlsx")
    assert found.read_bytes() == sheet.read_bytes()
    assert page.complaints() == []


def test_what_is_doubtful_is_asked_and_a_zip_is_opened(page, workspace, tmp_path):
    address, root = workspace
    runs = SAMPLE / "runs"
    place = root / "drills" / f"asked-{page.width}"
    place.mkdir(parents=True)
    (place / "drill.toml").write_bytes((SAMPLE / "drill.toml").read_bytes())
    with zipfile.ZipFile(tmp_path / "day.zip", "w") as archive:
        for run in ("mara-2", "bera-1"):
            archive.write(runs / run / "track.gpx", f"day/{run}.gpx")
        archive.write(runs / "bera-1" / "readings.csv", "day/video.csv")
        archive.write(runs / "mara-2" / "readings.csv", "day/shown.csv")
    page.open(f"{address}/load?drill={place.name}")
    choose(page, tmp_path / "day.zip")
    page.until(FORM)
    page.screenshot("load-decide")
    said = text(page)
    assert "To decide: 1" in said
    assert "It has no time of day, and its name fits no track." in said
    assert page.run("return document.querySelector('select[name=drill]').selectedOptions[0].innerText").startswith(
        "Lower bowl (invented) (asked-"
    )
    page.run("""const s = document.querySelector('.load-undecided select');
        s.value = [...s.options].find(o => o.text.startsWith('bera-1')).value;
        document.querySelector('.button-go').click()""")
    page.until("return document.querySelectorAll('a.load-done').length === 2", seconds=60)
    assert (place / "runs/bera-1/readings.csv").read_bytes() == (runs / "bera-1/readings.csv").read_bytes()
    assert page.complaints() == []


def test_a_link_to_a_load_that_is_gone_says_so(page, workspace):
    page.open(f"{workspace[0]}/load?batch=AAAAAAAAAAAAAAAA")
    assert "This load is not here" in text(page)
    page.screenshot("load-gone")


def test_a_file_that_is_too_large_is_refused_by_its_size_and_the_rest_goes_on(page, workspace, tmp_path):
    huge = tmp_path / "huge.gpx"
    with huge.open("wb") as stream:
        stream.truncate(500_000_000)
    page.open(f"{workspace[0]}/load")
    choose(page, huge, SAMPLE / "runs/mara-1/track.gpx")
    page.until(FORM)
    assert "huge.gpx: the file has 500 MB; at most 100 MB are taken" in text(page)
    assert "1 track" in text(page)
