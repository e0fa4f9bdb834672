"""The checks before a drill: their file, the form, the bin, and who is forgotten."""

import shutil
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from analyzer.errors import AnalyzerError, FileError
from analyzer.files.checks_toml import parse_checks_toml, write_checks_toml
from analyzer.model.checks import DrillCheck
from analyzer.workspace.drill_key import drill_key
from analyzer.workspace.people.changes import person_named
from analyzer.workspace.people.forget import forget_person
from analyzer.workspace.people.personal_data import find_traces
from dashboard.config import RUNS_KEY, Config
from dashboard.services.checks import Checks
from dashboard.view_models.checks import summary

SAMPLE = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
MARA = {"c0.who": "Mara Kern", "c0.receiver": "club 3", "c0.battery_percent": "82,5", "c0.group_check": "passed"}
ILO = {"c1.who": "Ilo", "c1.battery_percent": "30 %", "c1.group_check": "failed", "c1.remarks": 'says "low"'}


@pytest.fixture
def club(tmp_path):
    (tmp_path / "drills/bowl/runs").mkdir(parents=True)
    shutil.copy(SAMPLE / "drill.toml", tmp_path / "drills/bowl/drill.toml")
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(club / "results", rules=club / "rules", workspace=club))
    _pages.PAGE_REGISTRY.clear()


def saved(app, drill="bowl", **form):
    answer = app.server.test_client().post("/change-checks/save", query_string={"drill": drill}, data=form)
    assert answer.status_code == 303
    return app.server.config[RUNS_KEY].said(parse_qs(urlsplit(answer.headers["Location"]).query)["said"][0])


def test_a_file_reads_back_as_it_was_written():
    checks = (DrillCheck("Mara", "club 3", 82.5, "as of\tJanuary", "passed", 'a "word"\\'), DrillCheck("Ilo"))
    assert parse_checks_toml(write_checks_toml(checks)) == checks
    assert parse_checks_toml(write_checks_toml(())) == ()


def test_all_that_is_wrong_with_a_file_is_told():
    text = '[[check]]\nwho = "Mara"\nbattery_percent = 140\n[[check]]\nwho = "mara"\ngroup_check = "yes"\n[[check]]\n'
    with pytest.raises(FileError) as told:
        parse_checks_toml(text.encode())
    for words in ("140 is out of range", "'mara' is here twice", "'yes' is not known", "who is missing"):
        assert words in str(told.value)


def test_no_result_depends_on_them(app, club):
    before = drill_key(club / "drills/bowl", settings=())
    assert saved(app, **MARA).faults == ()
    assert drill_key(club / "drills/bowl", settings=()) == before


def test_checks_are_saved_changed_and_put_back(app, club):
    file = club / "drills/bowl/checks.toml"
    assert saved(app, **MARA, **ILO).faults == ()
    first = parse_checks_toml(file.read_bytes())
    assert [(one.who, one.battery_percent, one.group_check) for one in first] == [
        ("Mara Kern", 82.5, "passed"),
        ("Ilo", 30.0, "failed"),
    ]
    assert summary(first) == "2 people, group range check failed: 1, 1 with a low battery"
    view = Checks(app.server.config[RUNS_KEY]).view("bowl")
    said = saved(app, seen=view.seen, **MARA)
    assert len(parse_checks_toml(file.read_bytes())) == 1
    app.server.test_client().post("/change-run/restore", query_string={"entry": said.entry})
    assert parse_checks_toml(file.read_bytes()) == first


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"c0.who": ""}, "Row 1: nobody is named"),
        ({"c0.battery_percent": "full"}, "Row 1, battery: 'full' is not a number"),
        ({"c0.battery_percent": "-4"}, "Row 1, battery: -4 is out of range"),
        ({"c1.who": "mara kern"}, "'mara kern' is here twice"),
    ],
)
def test_what_is_wrong_is_told_and_kept(app, club, more, words):
    said = saved(app, **(MARA | more))
    assert len(said.faults) == 1
    assert words in said.faults[0]
    assert said.words["c0.receiver"] == "club 3"
    assert not (club / "drills/bowl/checks.toml").exists()


def test_of_two_who_save_the_second_is_told_and_a_broken_file_stays(app, club):
    file = club / "drills/bowl/checks.toml"
    saved(app, **MARA)
    assert "changed by someone else" in saved(app, seen="", **ILO).faults[0]
    file.write_bytes(b"[[check]\n")
    view = Checks(app.server.config[RUNS_KEY]).view("bowl")
    assert "checks.toml" in view.problem
    assert "would be lost" in saved(app, seen=view.seen, **MARA).faults[0]
    assert file.read_bytes() == b"[[check]\n"
    assert "not in the workspace" in saved(app, drill="gone", **MARA).faults[0]


def test_who_is_forgotten_is_in_no_check_and_not_in_the_bin(app, club):
    saved(app, **MARA, **ILO)
    view = Checks(app.server.config[RUNS_KEY]).view("bowl")
    saved(app, seen=view.seen, **MARA, **(ILO | {"c1.remarks": ""}))
    assert find_traces(club, person_named(club, "Mara Kern")[0]).checks == (club / "drills/bowl/checks.toml",)
    forget_person(club, "mara kern")
    left = b"".join(path.read_bytes() for path in club.rglob("*") if path.is_file())
    assert b"Mara" not in left
    assert [one.who for one in parse_checks_toml((club / "drills/bowl/checks.toml").read_bytes())] == ["Ilo"]
    with pytest.raises(AnalyzerError, match="nothing of this name"):
        forget_person(club, "Mara Kern")
