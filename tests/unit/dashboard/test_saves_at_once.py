"""Several who save at once: one comes first, the others are told, and nothing of theirs is written over."""

import dataclasses
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.rules_toml import default_rules
from analyzer.workspace.runs.at_hand import run_at_hand
from analyzer.workspace.runs.bin import binned
from analyzer.workspace.runs.changes import delete_run, edit_run
from analyzer.workspace.runs.restore import restore
from dashboard.services import drills as drills_module
from dashboard.services import rules as rules_module
from dashboard.services.drill_form import checked
from dashboard.services.drills import Drills
from dashboard.services.results import Service
from dashboard.services.rules import Sheets
from dashboard.view_models.drill_form import example
from tests.support.small_drill import DRILL, TRACK

SAVERS = 4


def at_once(save):
    """Return what each of several threads got, or the line that it was told."""
    ready = threading.Barrier(SAVERS)

    def one(number):
        ready.wait()
        try:
            return save(number)
        except InputError as error:
            return str(error)

    with ThreadPoolExecutor(SAVERS) as threads:
        return list(threads.map(one, range(SAVERS)))


@pytest.fixture
def slow(monkeypatch):
    """Let time pass between looking and writing, as on a busy machine."""

    def slowed(module, name):
        usual = getattr(module, name)

        def later(*parts, **named):
            time.sleep(0.05)
            return usual(*parts, **named)

        monkeypatch.setattr(module, name, later)

    for module, name in ((drills_module, "keep"), (drills_module, "write_atomic"), (rules_module, "write_new")):
        slowed(module, name)


def test_of_four_who_save_an_opened_drill_one_does(tmp_path, slow):
    """2026-11-27: four at once were all told "Saved", and three of them were written over."""
    drills = Drills((), tmp_path)
    drill = checked(example("2026-02-14")).drill
    key = drills.save(drill, drills.new()[0]).key
    opened, _ = drills.opened(key)
    said = at_once(lambda n: drills.save(dataclasses.replace(drill, name=f"Mine {n}"), opened))
    saved = [n for n, answer in enumerate(said) if not isinstance(answer, str)]
    told = [answer for answer in said if isinstance(answer, str)]
    assert len(saved) == 1
    assert all("was changed by someone else since this page opened it" in line for line in told)
    assert read_drill_toml(tmp_path / "drills" / key / "drill.toml").name == f"Mine {saved[0]}"


def test_of_four_who_save_a_new_drill_of_one_name_one_does(tmp_path, slow):
    drills, drill = Drills((), tmp_path), checked(example("2026-02-14")).drill
    said = at_once(lambda _: drills.save(drill, drills.new()[0]))
    told = [answer for answer in said if isinstance(answer, str)]
    assert len(told) == SAVERS - 1
    assert all("there is a drill in the folder" in line and "the fields are still here" in line for line in told)


def test_of_four_who_save_another_sheet_under_one_version_one_does(tmp_path, slow):
    sheets = Sheets(Service(tmp_path / "results"), folder=tmp_path / "rules", workspace=tmp_path)
    rules = dataclasses.replace(default_rules(), name="Own", version="1")
    said = at_once(lambda n: sheets.save(dataclasses.replace(rules, missed_s=100.0 + n)))
    told = [answer for answer in said if isinstance(answer, str)]
    assert len(told) == SAVERS - 1
    assert all("exists with other content" in line for line in told)
    assert len(list((tmp_path / "rules").glob("*.toml"))) == 1


def test_four_who_save_the_same_sheet_all_have_it(tmp_path, slow):
    sheets = Sheets(Service(tmp_path / "results"), folder=tmp_path / "rules", workspace=tmp_path)
    rules = dataclasses.replace(default_rules(), name="Own", version="1")
    said = at_once(lambda _: sheets.save(rules))
    assert {entry.place for entry in said} == {"own-1.toml"}


def test_a_drill_that_a_load_put_there_in_the_meantime_is_not_written_over(tmp_path, monkeypatch):
    drills, drill = Drills((), tmp_path), checked(example("2026-02-14")).drill
    there = tmp_path / "drills" / drills_module.folder_name(drill.name)

    def late(path, data):
        there.mkdir(parents=True)
        (there / "drill.toml").write_text("theirs")
        usual(path, data)

    usual = drills_module.write_new
    monkeypatch.setattr(drills_module, "write_new", late)
    with pytest.raises(InputError, match="there is a drill in the folder"):
        drills.save(drill, drills.new()[0])
    assert (there / "drill.toml").read_text() == "theirs"
    assert [path.name for path in (tmp_path / "drills").iterdir() if path.name.startswith(".new")] == []


def test_of_four_who_change_a_run_one_does(tmp_path):
    folder = tmp_path / "drills/bowl/runs/mara-1"
    folder.mkdir(parents=True)
    (tmp_path / "drills/bowl/drill.toml").write_text(DRILL)
    (folder / "track.csv").write_text(TRACK)
    (folder / "run.toml").write_text('searcher = "Mara"\n')
    seen = run_at_hand(tmp_path, "bowl", "mara-1").sha256

    def save(number):
        changes = {"bib": str(number)}
        return edit_run(tmp_path, tmp_path / "results", "bowl", "mara-1", changes, sha256=seen, what="bib")

    told = at_once(save)
    done = [number for number, line in enumerate(told) if "changed by someone else" not in line]
    assert len(done) == 1
    assert run_at_hand(tmp_path, "bowl", "mara-1").info.bib == str(done[0])
    assert len(binned(tmp_path)) == 1


def test_of_four_who_delete_a_run_one_does_and_four_who_put_it_back_put_it_back_once(tmp_path):
    folder = tmp_path / "drills/bowl/runs/mara-1"
    folder.mkdir(parents=True)
    (tmp_path / "drills/bowl/drill.toml").write_text(DRILL)
    (folder / "track.csv").write_text(TRACK)
    told = at_once(lambda _: delete_run(tmp_path, tmp_path / "results", "bowl", "mara-1"))
    (entry,) = [line for line in told if "not in the workspace" not in line]
    told = at_once(lambda _: restore(tmp_path, tmp_path / "results", entry))
    assert sum("put back already" in str(line) for line in told) == SAVERS - 1
    assert [p.name for p in (tmp_path / "drills/bowl/runs").iterdir()] == ["mara-1"]
