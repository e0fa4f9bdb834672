"""The addresses that a log typed from a film is sent to: what they write, keep, and do not let in."""

import math
import shutil
import time
from pathlib import Path

import pytest

from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.times import utc_text
from dashboard.config import RUNS_KEY, Config
from dashboard.services.typed_log import clock_words
from tests.support.sheets import xlsx

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
READINGS = "elapsed,reading_m\n27.00,33\n30.00,-\n35.50,20\n60.00,9.5\n"
MARKS = "elapsed,mark,transmitter,clock\n0.00,start,,\n131.00,probe_hit,,readings\n"


@pytest.fixture
def club(tmp_path):
    folder = tmp_path / "drills/bowl/runs/mara-1"
    folder.mkdir(parents=True)
    shutil.copy(SAMPLES / "drill.toml", tmp_path / "drills/bowl/drill.toml")
    for name in ("track.gpx", "readings.csv", "marks.csv"):
        shutil.copy(SAMPLES / "runs/mara-1" / name, folder / name)
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(club / "results", rules=club / "rules", workspace=club))
    yield app
    for _ in range(600):
        if not app.server.config[RUNS_KEY].measuring.busy("bowl"):
            break
        time.sleep(0.05)
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def client(app):
    return app.server.test_client()


def save(client, run="mara-1", headers=None, **texts):
    sent = {"readings": READINGS, "marks": MARKS} | texts
    return client.post("/typed-log/save", query_string={"drill": "bowl", "run": run}, json=sent, headers=headers)


def test_it_is_put_in_and_the_files_before_are_kept(client, club):
    folder = club / "drills/bowl/runs/mara-1"
    before = {name: (folder / name).read_bytes() for name in ("readings.csv", "marks.csv")}
    answer = save(client)
    assert answer.status_code == 200, answer.json
    assert answer.json["line"].endswith("Kept of the marks the run had: start, finish.")
    assert (folder / "readings.csv").read_text() == READINGS
    marks = parse_marks_csv((folder / "marks.csv").read_bytes())
    assert [(m.mark, m.elapsed, m.clock) for m in marks] == [
        ("start", False, ""),
        ("finish", False, ""),
        ("probe_hit", True, "readings"),
    ]
    assert marks[0].time_s == parse_marks_csv(before["marks.csv"])[0].time_s
    for name, data in before.items():
        assert [path.read_bytes() for path in (club / "bin").rglob(name)] == [data]


def test_a_start_alone_leaves_the_marks_as_they_are(client, club):
    path = club / "drills/bowl/runs/mara-1/marks.csv"
    before = path.read_bytes()
    assert save(client, marks="elapsed,mark\n0.00,start\n").status_code == 200
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("texts", "status", "words"),
    [
        ({"readings": "elapsed,reading_m\n1,900\n"}, 422, "900"),
        ({"marks": "elapsed,mark\n1,dance\n"}, 422, "dance"),
        ({"readings": "", "marks": ""}, 422, "nothing was typed"),
        ({"readings": None}, 400, "no log"),
        ({"readings": "\ud800"}, 400, "no log"),
    ],
)
def test_what_is_refused_changes_nothing(client, club, texts, status, words):
    folder = club / "drills/bowl/runs/mara-1"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    answer = save(client, **texts)
    assert (answer.status_code, words in answer.json["line"]) == (status, True)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_pages_from_elsewhere_and_unknown_runs_are_refused(client):
    assert save(client, headers={"Origin": "http://evil.example"}).status_code == 403
    assert "not in the workspace" in save(client, run="../mara-1").json["line"]
    assert client.post("/typed-log/save", data=b"[" * 100_000, content_type="application/json").status_code == 400


def test_the_clock_is_told_in_words():
    assert clock_words(-3.2, -3.8, -2.6).startswith("Your clock was 3.2 s late against the track (2.6 to 3.8 s")
    assert clock_words(1.0, 0.4, 1.6).startswith("Your clock was 1.0 s early against the track (0.4 to 1.6 s")
    assert "(0.0 to 1.1 s" in clock_words(0.4, -0.04, 1.1)


@pytest.mark.parametrize("marks", ["", "elapsed,mark\n0.00,start\n"])
def test_marks_in_one_workbook_with_the_readings_stay_where_these_are_typed(client, club, marks):
    folder = club / "drills/bowl/runs/mara-1"
    before = parse_marks_csv((folder / "marks.csv").read_bytes())
    (folder / "marks.csv").unlink()
    (folder / "readings.csv").unlink()
    day = before[0].time_s
    rows = [["time", "mark"], *([utc_text(m.time_s), m.mark] for m in before)]
    (folder / "readings.xlsx").write_bytes(
        xlsx({"readings": [["time", "reading"], [utc_text(day + 5), 20], [utc_text(day + 6), 19]], "marks": rows})
    )
    answer = save(client, marks=marks)
    assert answer.status_code == 200, answer.json
    after = parse_marks_csv((folder / "marks.csv").read_bytes())
    assert [(m.mark, m.time_s) for m in after] == [(m.mark, m.time_s) for m in before]
    assert not (folder / "readings.xlsx").exists()


def test_a_mark_whose_time_may_mean_two_things_is_not_rewritten_as_one_of_them(client, club):
    """6.04 is 6 min 4 s where the track says so; beside typed seconds nothing would tell any more."""
    path = club / "drills/bowl/runs/mara-1/marks.csv"
    path.write_text("elapsed,mark\n0.35,first_reading\n2.04,fine_start\n")
    before = path.read_bytes()
    answer = save(client)
    assert answer.status_code == 422
    assert (
        "marks.csv, line 2: the time of the mark 'first_reading' that the run has may be seconds, or"
        in (answer.json["line"])
    )
    assert path.read_bytes() == before


def test_typed_seconds_are_called_so_and_mean_one_thing(client, club):
    path = club / "drills/bowl/runs/mara-1/marks.csv"
    assert save(client, marks="elapsed (s),mark\n0.00,start\n1.31,probe_hit\n").status_code == 200
    assert path.read_text().startswith("time,elapsed (s),mark")
    (hit,) = [m for m in parse_marks_csv(path.read_bytes()) if m.mark == "probe_hit"]
    assert (hit.time_s, math.isnan(hit.other_s)) == (1.31, True)
