"""Loading what people bring: times that are off and mended by one press, and twenty files of many kinds in one drop."""

import datetime as dt
import gzip
import json
import re
from pathlib import Path

import pytest

from analyzer.files.tracks.formats import FORMATS
from tests.support.sheets import xlsx

pytestmark = pytest.mark.browser

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
RUNS = SAMPLE / "runs"
PICK = "return document.querySelector('#drop-zone input#pick-files')"
FORM = "return document.querySelector('form.load-form') !== null"
STAMP = re.compile(r"(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d+)?)(?:Z|\+00:00)")
POINT = re.compile(r'<trkpt lat="([^"]+)" lon="([^"]+)">.*?<time>([^<]+)</time>', re.DOTALL)
WIDE = "return document.documentElement.scrollWidth"


@pytest.fixture(scope="module")
def workspace(tmp_path_factory, serve):
    """Return the address of a dashboard over an empty workspace, and the workspace."""
    from dashboard.config import Config

    root = tmp_path_factory.mktemp("mixed_week")
    with serve(Config(root / "results", rules=root / "rules", workspace=root)) as address:
        yield address, root


def text(page):
    return page.run("return document.querySelector('main').innerText")


def moved(data, **delta):
    """Return a file with all of its times moved."""
    return STAMP.sub(
        lambda m: (dt.datetime.fromisoformat(m.group(1)) + dt.timedelta(**delta)).isoformat() + "Z", data.decode()
    ).encode()


def named_drill(page, name):
    return (SAMPLE / "drill.toml").read_text().replace("Lower bowl", f"{name} {page.width}").encode()


def drop(page, address, folder, files):
    """Give files to the page and return when it shows where they go."""
    for name, data in files.items():
        (folder / name).write_bytes(data)
    page.open(f"{address}/load")
    page.until(PICK).send_keys("\n".join(str(folder / name) for name in files))
    page.until(FORM, seconds=60)


def test_one_press_takes_a_track_with_its_weeks_and_a_log_with_its_hours(page, workspace, tmp_path):
    address, root = workspace
    run = RUNS / "mara-1"
    track = moved((run / "track.gpx").read_bytes(), weeks=-1024)
    log = moved((run / "readings.csv").read_bytes(), hours=2)
    drop(page, address, tmp_path, {"drill.toml": named_drill(page, "Weeks"), "mara-1.gpx": track, "mara-1.csv": log})
    page.screenshot("load-offers")
    assert "1024 weeks before the drill's day" in text(page)
    assert page.run("return document.querySelector('form.load-form button').hidden")  # what the Enter key presses
    press = "[...document.querySelectorAll('.load-offers button')].find(b => b.innerText.includes('{}'))"
    page.run(press.format("1024 weeks added") + ".click()")
    page.until("return document.querySelector('main')?.innerText.includes('2 h too late')", seconds=20)
    assert "Put in with 1024 weeks added to its dates; the file stays as it came" in text(page)
    page.run(press.format("2 h taken off its times") + ".click()")
    page.until(
        "return document.querySelector('main')?.innerText.includes('Everything has one clear place')", seconds=20
    )
    page.screenshot("load-offers-taken")
    assert "Put in with other times than they say, as chosen: 2 files." in text(page)
    assert page.run(WIDE) <= page.width
    page.run("document.querySelector('.button-go').click()")
    page.until("return document.querySelector('a.load-done') !== null", seconds=60)
    folder = root / "drills" / f"weeks-{page.width}-invented" / "runs" / "mara-1"
    assert ((folder / "track.gpx").read_bytes(), (folder / "readings.csv").read_bytes()) == (track, log)
    said = (folder / "run.toml").read_text()
    assert "weeks = 1024" in said
    assert "readings_hours = -2" in said
    result = json.loads((root / "results" / f"weeks-{page.width}-invented" / "mara-1.json").read_text())
    told = {row["role"]: row.get("told") for row in result["inputs"]}
    assert told["track"] == ["1024 weeks added to its dates, as run.toml says"]
    assert told["readings"] == ["2 h taken off its times, as run.toml says"]
    assert page.complaints() == []


def points(run):
    return POINT.findall((RUNS / run / "track.gpx").read_text())


def kml(run):
    at = points(run)
    whens = "".join(f"<when>{t}</when>" for _, _, t in at)
    coords = "".join(f"<gx:coord>{lon} {lat} 0</gx:coord>" for lat, lon, _ in at)
    return (
        '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Placemark>'
        f"<gx:Track>{whens}{coords}</gx:Track></Placemark></kml>"
    ).encode()


def geojson(run):
    at = points(run)
    line = {"type": "LineString", "coordinates": [[float(lon), float(lat)] for lat, lon, _ in at]}
    return json.dumps(
        {"type": "Feature", "geometry": line, "properties": {"coordTimes": [t for _, _, t in at]}}
    ).encode()


def table(run, *, zone):
    rows = [f"{t if zone else t.removesuffix('Z')};{lat};{lon}" for lat, lon, t in points(run)]
    return "\n".join(["Zeit;Breitengrad;Längengrad", *rows]).encode()


def mixed(page):
    """Return twenty files as they come from phones, watches, note-takers and the drill's laptop: nine can be used."""
    mara = RUNS / "mara-1"
    logs = {f"Sheet {who}": [["elapsed", "reading"], [30, 30], [60, 12]] for who in ("mara", "bera")}
    return {
        "drill.toml": named_drill(page, "Mixed"),
        "mara-1.gpx": (mara / "track.gpx").read_bytes(),
        "mara-1 readings.csv": (mara / "readings.csv").read_bytes(),
        "mara-1 marks.csv": (mara / "marks.csv").read_bytes(),
        "bera-1.kml": moved(kml("bera-1"), minutes=20),
        "mara-2.geojson": moved(geojson("mara-2"), minutes=40),
        "weeks.gpx": moved((mara / "track.gpx").read_bytes(), weeks=-1024, minutes=60),
        "clock.csv": table("mara-2", zone=False),
        "packed.gpx.gz": gzip.compress(moved((RUNS / "bera-1" / "track.gpx").read_bytes(), minutes=90)),
        "logs.xlsx": xlsx(logs),
        "IMG_0001.jpg": b"\xff\xd8\xff\xe0" + b"x" * 200,
        "film.mp4": b"\x00\x00\x00\x18ftypmp42" + b"x" * 200,
        "plan.pdf": b"%PDF-1.7\n" + b"x" * 200,
        "empty.gpx": b"",
        "drawn.kml": b'<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><LineString>'
        b"<coordinates>9.9,46.6 9.91,46.6</coordinates></LineString></Placemark></kml>",
        "cut.gpx": (mara / "track.gpx").read_bytes()[:4000],
        "note.txt": b"Mara was quick, the light was flat.\n",
        "letter.docx": b"PK\x03\x04" + b"x" * 400,
        "twelve.csv": b"time,reading_m\n2026-02-14T09:02:07Z,twelve\n",
        "half.tcx": b"<TrainingCenterDatabase><Activities>",
    }


def test_twenty_mixed_files_in_one_drop(page, workspace, tmp_path):
    address, _ = workspace
    files = mixed(page)
    assert len(files) == 20
    drop(page, address, tmp_path, files)
    page.screenshot("load-mixed")
    said = text(page)
    assert "6 tracks, 3 reading logs, 1 marks, 1 drill" in said
    refused = ("IMG_0001.jpg", "film.mp4", "plan.pdf", "empty.gpx", "drawn.kml", "cut.gpx", "note.txt", "letter.docx")
    lines = page.run("return [...document.querySelectorAll('.load-bad li')].map(e => e.innerText)")
    for name in (*refused, "twelve.csv", "half.tcx"):
        assert sum(line.startswith(name) for line in lines) == 1, name
    assert len(lines) == 10
    assert "has one clear place" not in said
    assert said.index("not used; the rest goes on") < said.index("To decide")
    assert "weeks.gpx: It says" in said
    assert "clock.csv: its times bear no zone" in said
    assert page.run(WIDE) <= page.width
    cut = page.run(
        "return [...document.querySelectorAll('main li, main p, main button, main legend')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')"
        ".map(e => e.innerText)"
    )
    assert cut == []
    page.run("document.querySelector('.load-offers button').click()")
    page.until(
        "return document.querySelector('main')?.innerText.includes('1024 weeks added to its dates;')", seconds=20
    )
    page.run("document.querySelector('select[name^=zone-]').value = '+00:00'")
    for name, value in (("clock.csv", "yes"), ("mara-1.gpx", "yes")):
        page.run(
            "const f = [...document.querySelectorAll('fieldset')]"
            f".find(e => e.querySelector('legend').innerText === '{name}');"
            f"f.querySelector('select[name^=use-]').value = '{value}'"
        )
    page.screenshot("load-mixed-answered")
    assert page.complaints() == []


def test_what_can_be_loaded_is_listed_on_the_page(page, workspace):
    address, _ = workspace
    page.open(f"{address}/load")
    page.until(PICK)
    assert not page.run("return document.querySelector('details.formats').open")
    page.run("document.querySelector('details.formats summary').click()")
    page.screenshot("load-formats")
    said = page.run("return document.querySelector('details.formats').innerText")
    for form in FORMATS:
        assert f"{form.name} {', '.join(form.endings)}" in said
    assert page.run(WIDE) <= page.width
    assert page.complaints() == []
