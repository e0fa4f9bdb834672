"""Another rule sheet in force, from the page on: what is told, what is measured, and the way back."""

import json
import time
from dataclasses import replace

import pytest

from analyzer.errors import InputError
from analyzer.files.rules_toml import default_rules
from analyzer.files.writers import write_rules_toml
from dashboard.config import RUNS_KEY, SHEETS_KEY, Config
from dashboard.services.results import Service
from dashboard.services.sheet_in_force import OWN_FILE, SheetsInForce
from dashboard.view_models.entries import BUILT_IN
from dashboard.view_models.sheets_used import sheet_line
from tests.support.small_drill import DRILL, TRACK

RULES = default_rules()
CLUB = replace(RULES, name="Club", version="2", pinpoint_reference_s=3.0)


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the drills bowl and gully of one run each."""
    for name in ("bowl", "gully"):
        folder = tmp_path / "drills" / name / "runs" / "mara-1"
        folder.mkdir(parents=True)
        (folder / "track.csv").write_text(TRACK)
        (tmp_path / "drills" / name / "drill.toml").write_text(DRILL.replace("Bowl", name))
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(club / "results", rules=club / "rules", workspace=club))
    for drill in ("bowl", "gully"):
        app.server.config[RUNS_KEY].intake.measure(drill, lambda _: None)
    yield app
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def forces(app, club):
    config = app.server.config
    return SheetsInForce(club, config[SHEETS_KEY], config[RUNS_KEY].measuring)


def waited(forces, drill="bowl"):
    for _ in range(600):
        if not forces.measuring.busy(drill):
            return
        time.sleep(0.05)
    raise AssertionError("the measuring did not end")


def used(club):
    service = Service(club / "results")
    return {drill: service.result(drill, "mara-1").rules.name for drill in ("bowl", "gully")}


def page_of(app, path):
    places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
    values = [("pathname", path), ("search", "")]
    body = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": places,
        "inputs": [{"id": "_pages_location", "property": name, "value": value} for name, value in values],
        "changedPropIds": ["_pages_location.pathname"],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 200, answer.data
    return json.dumps(answer.get_json())


def test_a_sheet_that_is_put_in_force_measures_its_runs_at_once_and_goes_back(forces, club):
    saved = forces.sheets.save(CLUB)
    assert forces.of("bowl").place == BUILT_IN
    before, now = forces.put("bowl", saved.sha256, seen=RULES.sha256)
    assert (before.name, now) == (RULES.name, saved)
    waited(forces)
    assert used(club) == {"bowl": "Club", "gully": RULES.name}
    assert forces.of("bowl") == saved
    assert forces.of("gully").place == BUILT_IN
    at, lines = forces.moved("bowl")
    assert at
    assert [line.partition(":")[0] for line in lines] == ["mara-1"]
    forces.put("bowl", before.sha256, seen=now.sha256)
    waited(forces)
    assert used(club)["bowl"] == RULES.name


def test_a_sheet_written_by_hand_is_kept_among_the_sheets_before_another_takes_its_place(forces, club):
    data = write_rules_toml(replace(CLUB, name="By hand"))
    (club / "drills/bowl/rules.toml").write_bytes(data)
    hand = forces.of("bowl")
    assert (hand.name, hand.place) == ("By hand", OWN_FILE)
    before, _ = forces.put("bowl", RULES.sha256, seen=hand.sha256)
    waited(forces)
    assert (club / "rules" / before.place).read_bytes() == data
    assert before.sha256 == hand.sha256
    forces.put("bowl", before.sha256, seen=RULES.sha256)
    waited(forces)
    assert (club / "drills/bowl/rules.toml").read_bytes() == data


def test_a_sheet_that_cannot_be_used_is_told_and_another_can_take_its_place(forces, club, app):
    (club / "drills/bowl/rules.toml").write_text("[rules")
    broken = forces.of("bowl")
    assert "this is not TOML" in broken.problem
    assert "The sheet in force cannot be used" in page_of(app, "/rules/bowl")
    assert "The rule sheet of this drill cannot be used" in page_of(app, "/run/bowl/mara-1")
    forces.put("bowl", RULES.sha256, seen=broken.sha256)
    waited(forces)
    assert used(club)["bowl"] == RULES.name


def test_a_hash_that_is_no_sheet_or_an_old_page_changes_nothing(forces, club):
    with pytest.raises(InputError, match="no sheet with this hash"):
        forces.put("bowl", "0" * 64, seen=RULES.sha256)
    saved = forces.sheets.save(CLUB)
    with pytest.raises(InputError, match="came into force since this page was opened"):
        forces.put("bowl", saved.sha256, seen=saved.sha256)
    assert not (club / "drills/bowl/rules.toml").exists()
    assert not forces.measuring.busy("bowl")


def test_every_page_of_a_run_says_with_which_sheet_it_was_measured(forces, app):
    saved = forces.sheets.save(CLUB)
    forces.put("bowl", saved.sha256, seen=RULES.sha256)
    waited(forces)
    for path in (
        "/", "/run/bowl/mara-1", "/replay/bowl/mara-1", "/particulars/bowl/mara-1", "/team/bowl", "/measured/bowl",
        "/rules/bowl",
    ):  # fmt: skip
        assert "Club, version 2" in page_of(app, path), path
    assert "measured with another rule sheet" not in page_of(app, "/run/bowl/mara-1")
    assert "What moved" in page_of(app, "/measured/bowl")


def test_a_result_by_another_sheet_than_that_in_force_says_so(club, app, forces):
    (club / "drills/bowl/rules.toml").write_bytes(write_rules_toml(CLUB))
    shown = page_of(app, "/run/bowl/mara-1")
    assert "This result was measured with another rule sheet than Club, version 2, which is in force" in shown
    assert "another rule sheet" not in page_of(app, "/run/gully/mara-1")


def test_sheets_in_one_line():
    one, two = ("House", "1", "a" * 64), ("Club", "2", "b" * 64)
    assert sheet_line([]) == ""
    assert sheet_line([one, one]) == "Measured with the rule sheet House, version 1."
    assert sheet_line([one, two, one]) == (
        "Measured with different rule sheets: 2 with House, version 1; 1 with Club, version 2. "
        "Their scores do not compare."
    )
    twin = ("House", "1", "c" * 64)
    assert "1 with House, version 1 (aaaaaaaa); 1 with House, version 1 (cccccccc)" in sheet_line([one, twin])
