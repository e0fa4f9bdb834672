"""A rule sheet in force for one drill: its runs are measured with it, no other drill moves, and it goes back."""

import json
from dataclasses import replace

import pytest

from analyzer.api import analyze
from analyzer.commands.analyze import analyze as analyze_command
from analyzer.errors import AnalyzerError, InputError
from analyzer.files.results.result_json import read_result
from analyzer.files.rules_toml import default_rules, default_rules_bytes, parse_rules_toml
from analyzer.files.source import sha256_hex
from analyzer.files.writers import write_rules_toml
from analyzer.workspace.batch import Batch, analyze_drills, outcomes
from analyzer.workspace.check.drill import check_drill
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.moved import latest_moves
from analyzer.workspace.sheet_in_force import put_in_force, rules_in_force
from tests.support.small_drill import DRILL, TRACK

RULES = default_rules()
CLUB = write_rules_toml(replace(RULES, name="Club", version="2", missed_s=120.0, pinpoint_reference_s=3.0))
SLOW = write_rules_toml(replace(RULES, name="Slow", version="1", signal_pace_mps=0.5))


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the drills bowl (two runs) and gully (one run), measured."""
    for name, runs in (("bowl", ("mara-1", "ilo-1")), ("gully", ("mara-2",))):
        for number, run in enumerate(runs):
            folder = tmp_path / "drills" / name / "runs" / run
            folder.mkdir(parents=True)
            (folder / "track.csv").write_text(TRACK.replace("17T09:30", f"17T09:3{number}"))
        (tmp_path / "drills" / name / "drill.toml").write_text(DRILL.replace("Bowl", name))
    measure(tmp_path)
    return tmp_path


def measure(club, **more):
    """Measure all drills as the dashboard does, and return drill -> runs that were measured now."""
    batch = Batch(club / "results", RULES, draws=4, own=True)
    found = outcomes([club / "drills" / name for name in ("bowl", "gully")], batch, **more)
    return {one.name: sorted(one.measured) for one in found}


def put(club, data, seen):
    return put_in_force(club, "bowl", data, seen=sha256_hex(seen))


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*.json"))}


def sheets(club, drill="bowl"):
    return {path.stem: read_result(path).rules for path in (club / "results" / drill).glob("*.json")}


def test_a_sheet_in_force_measures_the_runs_of_its_drill_and_no_other(club):
    before = files(club / "results" / "gully")
    assert put(club, CLUB, default_rules_bytes()) is None
    assert (club / "drills/bowl/rules.toml").read_bytes() == CLUB
    assert measure(club) == {"bowl": ["ilo-1", "mara-1"], "gully": []}
    assert {(r.name, r.version, r.sha256) for r in sheets(club).values()} == {("Club", "2", sha256_hex(CLUB))}
    assert files(club / "results" / "gully") == before
    assert measure(club) == {"bowl": [], "gully": []}
    assert rules_in_force(club / "drills/bowl") == parse_rules_toml(CLUB)
    assert rules_in_force(club / "drills/gully") == RULES


def test_the_sheet_before_put_back_gives_the_results_before_byte_for_byte(club):
    before = files(club / "results")
    put(club, CLUB, default_rules_bytes())
    measure(club)
    assert files(club / "results") != before
    assert put(club, default_rules_bytes(), CLUB) == CLUB
    assert not (club / "drills/bowl/rules.toml").exists()
    assert measure(club) == {"bowl": ["ilo-1", "mara-1"], "gully": []}
    assert files(club / "results") == before
    assert (club / "originals" / sha256_hex(CLUB)).read_bytes() == CLUB


def test_what_moved_is_noted_each_time_the_sheet_changes(club):
    assert latest_moves(club / "results", "bowl") == ("", ())
    put(club, SLOW, default_rules_bytes())
    measure(club)
    at, moves = latest_moves(club / "results", "bowl")
    assert at.endswith("Z")
    assert sorted(move["run"] for move in moves) == ["ilo-1", "mara-1"]
    assert len((club / "results/bowl/moved.jsonl").read_text().splitlines()) == 1
    assert not (club / "results/gully/moved.jsonl").exists()
    put(club, CLUB, SLOW)
    measure(club)
    assert len((club / "results/bowl/moved.jsonl").read_text().splitlines()) == 2


@pytest.mark.parametrize("text", ["", "[", "[]", "{}", '{"at": 1, "runs": 3}', '{"at": "x", "runs": [{}]}', '"x"'])
def test_a_damaged_list_of_what_moved_is_none(club, text):
    (club / "results/bowl/moved.jsonl").write_text(text)
    assert latest_moves(club / "results", "bowl") == ("", ())


def test_a_run_that_comes_later_is_measured_with_the_sheet_in_force(club):
    put(club, CLUB, default_rules_bytes())
    measure(club)
    folder = club / "drills/bowl/runs/late"
    folder.mkdir()
    (folder / "track.csv").write_text(TRACK.replace("17T09:30", "17T09:35"))
    assert measure(club)["bowl"] == ["late"]
    assert sheets(club)["late"].name == "Club"


def test_of_two_who_change_the_sheet_the_second_is_told(club):
    put(club, CLUB, default_rules_bytes())
    with pytest.raises(InputError, match="another rule sheet came into force since this page was opened"):
        put(club, SLOW, default_rules_bytes())
    assert (club / "drills/bowl/rules.toml").read_bytes() == CLUB


def test_what_is_no_sheet_or_no_drill_changes_nothing(club):
    with pytest.raises(AnalyzerError):
        put(club, b"[rules", default_rules_bytes())
    with pytest.raises(InputError, match="not in the workspace"):
        put_in_force(club, "nowhere", CLUB, seen=RULES.sha256)
    with pytest.raises(InputError, match="not in the workspace"):
        put_in_force(club, "../drills/bowl", CLUB, seen=RULES.sha256)
    assert [p.name for p in (club / "drills/bowl").iterdir() if p.suffix == ".toml"] == ["drill.toml"]


def test_a_drill_that_is_a_link_is_left_alone(club, tmp_path):
    (club / "drills/gully").rename(tmp_path / "elsewhere")
    (club / "drills/gully").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InputError, match="a link to another folder"):
        put_in_force(club, "gully", CLUB, seen=RULES.sha256)
    assert not (tmp_path / "elsewhere/rules.toml").exists()


def test_a_sheet_that_cannot_be_used_is_one_line_and_the_results_stay(club):
    before = files(club / "results")
    (club / "drills/bowl/rules.toml").write_text("[rules")
    batch = Batch(club / "results", RULES, draws=4, own=True)
    rows, failures = analyze_drills([club / "drills/bowl", club / "drills/gully"], batch)
    assert len(failures) == 1
    assert failures[0].startswith("bowl/rules.toml")
    assert "this is not TOML" in failures[0]
    assert len(rows) == 3
    assert files(club / "results") == before
    report = check_drill(club / "drills/bowl", "bowl")
    assert [found.where for found in report.problems if "rules.toml" in found.where]
    put(club, CLUB, b"[rules")
    assert measure(club)["bowl"] == ["ilo-1", "mara-1"]
    assert (club / "originals" / sha256_hex(b"[rules")).is_file()
    assert not any("rules.toml" in found.where for found in check_drill(club / "drills/bowl", "bowl").remarks)


def test_commands_and_notebooks_measure_with_the_sheet_in_force_too(club, tmp_path):
    put(club, CLUB, default_rules_bytes())
    assert {result.rules.name for result in analyze(club / "drills/bowl", draws=0)} == {"Club"}
    assert {result.rules.name for result in analyze(club / "drills/bowl", RULES, draws=0)} == {RULES.name}
    out = tmp_path / "out"
    analyze_command([club / "drills/bowl", club / "drills/gully"], out, draws=4, jobs=1, table=False)
    assert {p.parent.name: read_result(p).rules.name for p in out.glob("*/*.json")} == {
        "bowl": "Club",
        "gully": RULES.name,
    }
    analyze_command([club / "drills/bowl"], out, rules=parse_rules_toml(SLOW), draws=4, jobs=1, table=False)
    assert {read_result(p).rules.name for p in out.glob("bowl/*.json")} == {"Slow"}


def test_the_index_of_a_workspace_knows_the_sheet_of_each_drill(club):
    from sqlalchemy import select

    from analyzer.workspace.database.connection import opened
    from analyzer.workspace.database.tables import DrillRow

    put(club, CLUB, default_rules_bytes())
    report = index_workspace(club)
    assert report.failures == []
    with opened(club) as store, store.reading() as session:
        known = dict(session.execute(select(DrillRow.name, DrillRow.rules_sha256)).all())
    assert known == {"bowl": sha256_hex(CLUB), "gully": RULES.sha256}
    assert index_workspace(club).measured == 0
    index_workspace(club, rules=parse_rules_toml(SLOW))
    assert {rules.name for rules in (*sheets(club).values(), *sheets(club, "gully").values())} == {"Slow"}


def test_an_index_of_an_earlier_program_measures_nothing_for_its_missing_sheets(club):
    path = club / "results/.searchwake-cache.json"
    index = json.loads(path.read_text())
    for entry in index["drills"].values():
        del entry["rules"]
    path.write_text(json.dumps(index))
    assert measure(club) == {"bowl": [], "gully": []}
