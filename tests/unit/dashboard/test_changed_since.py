"""Runs that changed after they were measured: told on pages of many runs, without reading what did not change."""

import json
import os
import shutil
import time
from pathlib import Path

import pytest

from dashboard.config import INTAKE_KEY, RUNS_KEY, SERVICE_KEY, Config
from dashboard.services import changed_since as subject
from dashboard.services.changed_since import NEAR_NS, changed_since
from tests.support.small_drill import DRILL, TRACK

LONG_AGO = time.time() - 5.0 * NEAR_NS / 1e9


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the drills bowl (runs a, b) and gully (run a)."""
    for drill, run in (("bowl", "a"), ("bowl", "b"), ("gully", "a")):
        folder = tmp_path / "drills" / drill / "runs" / run
        folder.mkdir(parents=True)
        (folder / "track.csv").write_text(TRACK)
        (folder / "run.toml").write_text('searcher = "Mara Lind"\n')
        (tmp_path / "drills" / drill / "drill.toml").write_text(DRILL)
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    subject._known.clear()
    app = create_app(Config(club / "results", rules=club / "rules", workspace=club))
    app.server.config[INTAKE_KEY].measure("bowl", lambda _: None)
    yield app
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def look(app, monkeypatch):
    """Return a function that asks for all runs, and the runs whose files were read for it."""
    service, intake = app.server.config[SERVICE_KEY], app.server.config[INTAKE_KEY]
    read, before = [], subject.stale_words

    def counted(folder, run, result):
        read.append((folder.name, run))
        return before(folder, run, result)

    monkeypatch.setattr(subject, "stale_words", counted)

    def ask(**more):
        read.clear()
        found = changed_since(service, intake, [("bowl", "a"), ("bowl", "b"), ("gully", "a")], **more)
        return found, sorted(read)

    return ask


def older(monkeypatch, club):
    """Let every result look as if it had been measured long after its files were written."""
    later = time.time() + 2.0 * NEAR_NS / 1e9
    for path in (club / "results").glob("*/*.json"):
        os.utime(path, (later, later))


def test_what_did_not_change_since_is_not_read(club, look, monkeypatch):
    older(monkeypatch, club)
    found, read = look()
    assert (found.places, found.unread, read) == ((), 0, [])


def test_a_run_measured_a_moment_ago_is_read_once_and_then_known(look):
    found, read = look()
    assert found.places == ()
    assert read == [("bowl", "a"), ("bowl", "b"), ("gully", "a")]
    assert look() == (found, [])


@pytest.mark.parametrize(
    ("path", "text", "which"),
    [
        ("bowl/runs/a/track.csv", TRACK.replace(",0\n", ",1\n"), [("bowl", "a")]),
        ("bowl/runs/b/readings.csv", "elapsed,reading_m\n1,9\n2,8\n", [("bowl", "b")]),
        ("bowl/runs/a/run.toml", 'note = "tired"\nsearcher = "Mara Lind"\n', []),
        ("bowl/runs/a/run.toml", 'searcher = "Ilo Brandt"\n', [("bowl", "a")]),
        ("gully/drill.toml", DRILL.replace("depth_m = 1", "depth_m = 2"), [("gully", "a")]),
        ("bowl/notes.txt", "cold", []),
    ],
)
def test_a_run_whose_files_changed_is_found_and_words_alone_are_no_change(club, look, path, text, which):
    look()
    (club / "drills" / path).write_text(text)
    assert list(look()[0].places) == which


@pytest.fixture
def settled(club, look, monkeypatch):
    """Let all results be newer than all files, with nothing between the two."""
    monkeypatch.setattr(subject, "NEAR_NS", 0)
    time.sleep(0.05)
    for path in (club / "results").glob("*/*.json"):
        path.touch()
    time.sleep(0.05)
    assert look()[1] == []


@pytest.mark.usefixtures("settled")
def test_a_file_that_came_with_an_old_time_is_found_all_the_same(club, look, tmp_path):
    other = tmp_path / "other.csv"
    other.write_text(TRACK.replace(",0\n", ",2\n"))
    os.utime(other, (LONG_AGO, LONG_AGO))
    shutil.copy2(other, club / "drills/bowl/runs/a/track.csv")
    found, read = look()
    assert (found.places, read) == ((("bowl", "a"),), [("bowl", "a")])


@pytest.mark.usefixtures("settled")
def test_a_file_or_a_run_that_is_gone_is_found(club, look):
    (club / "drills/bowl/runs/a/run.toml").unlink()
    shutil.rmtree(club / "drills/gully/runs/a")
    found, read = look()
    assert set(found.places) == {("bowl", "a"), ("gully", "a")}
    assert read == [("bowl", "a"), ("gully", "a")]


def test_a_sheet_in_force_that_came_by_hand_is_found(club, look):
    from analyzer.files.rules_toml import default_rules_bytes

    look()
    (club / "drills/bowl/rules.toml").write_bytes(default_rules_bytes().replace(b"missed_s = 300", b"missed_s = 200"))
    assert set(look()[0].places) == {("bowl", "a"), ("bowl", "b")}


def test_one_view_reads_few_and_says_how_many_are_left(look):
    found, read = look(most=1)
    assert (found.unread, len(read)) == (2, 1)
    assert look(most=1)[0].unread == 1
    assert look(most=1)[0].unread == 0


def page_of(app, path):
    places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
    inputs = [{"id": "_pages_location", "property": k, "value": v} for k, v in (("pathname", path), ("search", ""))]
    body = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": places,
        "inputs": inputs,
        "changedPropIds": ["_pages_location.pathname"],
    }
    return json.dumps(app.server.test_client().post("/_dash-update-component", json=body).get_json())


def test_the_list_and_the_seasons_say_it(club, app):
    assert "hanged after" not in page_of(app, "/")
    (club / "drills/bowl/runs/a/track.csv").write_text(TRACK.replace(",0\n", ",1\n"))
    first = page_of(app, "/")
    assert "Changed after being measured: " in first
    assert "a (bowl)" in first
    assert "/particulars/bowl/a" in first
    assert "/particulars/bowl/b" not in first
    season = page_of(app, "/season")
    assert "1 run of this page changed after being measured" in season
    assert "/particulars/bowl/a" not in season
    assert "/particulars/bowl/a" in page_of(app, "/season/Mara%20Lind")


def test_a_drill_that_is_being_measured_is_not_told_as_changed(club, app, monkeypatch):
    (club / "drills/bowl/runs/a/track.csv").write_text(TRACK.replace(",0\n", ",1\n"))
    monkeypatch.setattr(type(app.server.config[RUNS_KEY].measuring), "busy", lambda self, drill: True)
    assert "hanged after" not in page_of(app, "/")


def test_without_the_files_nothing_is_said(app, club):
    shutil.rmtree(club / "drills")
    Path(club / "drills").mkdir()
    assert "hanged after" not in page_of(app, "/")
