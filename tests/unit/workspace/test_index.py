"""The index: what is measured, what is read, what is kept when a process is killed. The pipeline is invented."""

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import tiny_workspace as tiny
from sqlalchemy import select, text

from analyzer.errors import InputError
from analyzer.files.source import sha256_hex
from analyzer.workspace.database import index
from analyzer.workspace.database.connection import opened
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.database.queries import audit_lines, failures, run_lines, searchers
from analyzer.workspace.database.tables import DrillRow, RunRow

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def two(club, measured):
    """Return a workspace of two drills, indexed once."""
    tiny.add_drill(club, "bowl", {"mara-1": "Mara", "ilo-1": "Ilo"})
    tiny.add_drill(club, "gully", {"mara-2": "MARA", "vague-1": "Ilo"})
    index_workspace(club)
    measured.clear()
    return club


def rows_of(club):
    """Return drill, run, searcher and hash of all rows."""
    with opened(club) as store, store.reading() as session:
        query = select(DrillRow.name, RunRow.name, RunRow.searcher, RunRow.result_sha256).join(DrillRow.runs)
        return sorted(map(tuple, session.execute(query)))


def lines_of(club):
    with opened(club) as store:
        return run_lines(store)


def stale_runs(club):
    """Return drill and run of the rows that are marked stale."""
    with opened(club) as store, store.reading() as session:
        query = select(DrillRow.name, RunRow.name).join(DrillRow.runs).where(RunRow.stale)
        return tuple(map(tuple, session.execute(query)))


def files_of(club):
    """Return the same from the result files."""
    found = []
    for path in (club / "results").glob("*/*.json"):
        data = path.read_bytes()
        found.append((path.parent.name, path.stem, json.loads(data)["run"]["searcher"], sha256_hex(data)))
    return sorted(found)


def test_rows_are_those_of_the_files(two):
    assert [row[:3] for row in rows_of(two)] == [
        ("bowl", "ilo-1", "Ilo"), ("bowl", "mara-1", "Mara"), ("gully", "mara-2", "MARA")
    ]  # fmt: skip
    assert rows_of(two) == files_of(two)
    with opened(two) as store:
        assert failures(store) == ("gully/vague-1: no path; record longer",)


def test_lines_are_those_of_a_season(two):
    """The line that comes out of the database is the one that the season makes of the result file."""
    from analyzer.engine.run_line import run_line
    from analyzer.files.results.result_json import read_result

    lines = lines_of(two)
    assert [(line.drill, line.run) for line in lines] == [("bowl", "ilo-1"), ("bowl", "mara-1"), ("gully", "mara-2")]
    path = two / "results" / "bowl" / "mara-1.json"
    assert lines[1] == run_line(read_result(path), "bowl", "mara-1")


def test_second_pass_measures_and_writes_nothing(two, measured):
    with opened(two) as store:
        before = audit_lines(store)
    report = index_workspace(two)
    assert (report.drills, report.runs, report.measured, report.read) == (2, 3, 0, 0)
    assert report.failures == ["gully/vague-1: no path; record longer"]  # told again: it is still so
    assert measured == []
    with opened(two) as store:
        assert audit_lines(store) == before


def test_again_measures_all(two, measured):
    assert index_workspace(two, again=True).measured == 3
    assert measured == ["bowl", "gully"]


def test_only_what_changed_is_measured(two, measured):
    (two / "drills/gully/runs/mara-2/run.toml").write_text('searcher = "Bera"')
    assert index_workspace(two).measured == 1
    assert measured == ["gully"]
    assert ("gully", "mara-2", "Bera") in [row[:3] for row in rows_of(two)]
    assert rows_of(two) == files_of(two)


def shared_in(path):
    """Return the runs that a result names as those of its fit."""
    return [run["run"] for run in json.loads(path.read_bytes())["shared"]["runs"]]


def test_nobody_s_result_moves_because_of_somebody_else_s(two, measured):
    """A run that comes later is fitted with the others; their results stay, byte for byte, when it changes, too."""
    before = files_of(two)
    tiny.add_drill(two, "bowl", {"zoe-1": "Zoe"})
    assert (index_workspace(two).measured, measured) == (1, ["bowl"])
    later = two / "results/bowl/zoe-1.json"
    assert shared_in(later) == ["ilo-1", "mara-1", "zoe-1"]
    assert shared_in(two / "results/bowl/ilo-1.json") == ["ilo-1", "mara-1"]
    assert [row for row in files_of(two) if row[1] != "zoe-1"] == before
    assert rows_of(two) == files_of(two)
    (two / "drills/bowl/runs/zoe-1/run.toml").write_text('searcher = "Bera"')
    assert index_workspace(two).measured == 1
    shutil.rmtree(two / "drills/bowl/runs/zoe-1")
    assert index_workspace(two).measured == 0
    assert files_of(two) == before
    assert rows_of(two) == files_of(two)


def test_a_result_changed_by_hand_is_held_when_another_run_comes(two, measured):
    path, before = two / "results/bowl/mara-1.json", rows_of(two)
    path.write_bytes(path.read_bytes().replace(b'"searcher":"Mara"', b'"searcher":"Mira"'))
    tiny.add_drill(two, "bowl", {"zoe-1": "Zoe"})
    report = index_workspace(two)
    assert [line for line in report.failures if line.startswith("bowl/mara-1: the result file was changed")]
    assert stale_runs(two) == (("bowl", "mara-1"),)
    assert [row for row in rows_of(two) if row[1] != "zoe-1"] == before


def test_anew_measures_a_drill_together_and_notes_what_moved(two, measured, monkeypatch):
    tiny.add_drill(two, "bowl", {"zoe-1": "Zoe"})
    index_workspace(two)
    assert not (two / "results/bowl/moved.jsonl").exists()
    make = tiny._builder.make_result

    def worse(*arguments, **settings):
        made = make(*arguments, **settings)
        dearer = replace(made.account[1], seconds=replace(made.account[1].seconds, value=9.0, high=9.5))
        scores = (("overall", replace(made.scores.by_phase[0][1], value=71.0, low=70.0)), *made.scores.by_phase[1:])
        account = (made.account[0], dearer, *made.account[2:])
        return replace(made, scores=replace(made.scores, by_phase=scores), account=account)

    monkeypatch.setattr(tiny._builder, "make_result", worse)
    report = index_workspace(two, anew=["bowl"])
    assert (report.measured, measured[-1]) == (3, "bowl")
    assert {tuple(shared_in(path)) for path in (two / "results/bowl").glob("*.json")} == {("ilo-1", "mara-1", "zoe-1")}
    (line,) = (two / "results/bowl/moved.jsonl").read_text().splitlines()
    noted = json.loads(line)
    assert [run["run"] for run in noted["runs"]] == ["ilo-1", "mara-1", "zoe-1"]
    assert noted["runs"][0] == {
        "run": "ilo-1", "score_before": 80.0, "score_after": 71.0,
        "account": {"phase": "coarse_search", "transmitter": "A", "cause": "wrong_way",
                    "seconds_before": 4.0, "seconds_after": 9.0},
    }  # fmt: skip
    assert (
        report.moved[0]
        == "bowl/ilo-1: score 80.0 to 71.0; most in the account: wrong way in coarse search A, 4.0 to 9.0 s"
    )
    assert rows_of(two) == files_of(two)


def test_anew_of_a_drill_that_is_not_there(two):
    with pytest.raises(InputError, match="did you mean 'bowl'"):
        index_workspace(two, anew=["bow"])


def test_alone_every_run_has_a_fit_of_its_own(two, measured, tmp_path):
    from analyzer.files.rules_toml import default_rules
    from analyzer.workspace.batch import Batch, analyze_drills

    analyze_drills([two / "drills/bowl"], Batch(tmp_path / "alone", default_rules(), alone=True))
    assert measured == ["bowl", "bowl"]
    assert json.loads((tmp_path / "alone/bowl/ilo-1.json").read_bytes())["shared"] == "none"


def test_another_rule_sheet_measures_again(two, measured):
    from analyzer.files.rules_toml import default_rules

    other = replace(default_rules(), sha256="f" * 64)
    assert index_workspace(two, rules=other).measured == 3
    with opened(two) as store, store.reading() as session:
        assert set(session.scalars(select(DrillRow.rules_sha256))) == {"f" * 64}


def drop_database(club):
    """Delete the database, as a user would; on a server, its tables."""
    with opened(club) as store:
        if store.engine.dialect.name != "sqlite":
            with store.writing() as session:
                session.execute(text("DROP SCHEMA public CASCADE"))
                session.execute(text("CREATE SCHEMA public"))
    for path in club.glob("searchwake.db*"):
        path.unlink()


def test_database_that_is_gone_is_made_again_without_measuring(two, measured):
    before = rows_of(two), lines_of(two)
    drop_database(two)
    report = index_workspace(two)
    assert (report.measured, report.read) == (0, 3)
    assert measured == []
    assert (rows_of(two), lines_of(two)) == before


@pytest.mark.parametrize("database", [True, False], ids=["indexed", "database gone"])
def test_a_result_of_the_format_before_is_measured_anew_and_no_failure(two, measured, database):
    before = files_of(two)
    path = two / "results" / "bowl" / "mara-1.json"
    data = path.read_bytes()
    assert b"searchwake-result/2" in data
    path.write_bytes(data.replace(b"searchwake-result/2", b"searchwake-result/1", 1))
    if not database:
        drop_database(two)
    report = index_workspace(two)
    assert (report.measured, measured) == (1, ["bowl"])  # the other run's result stays
    assert report.failures == ["gully/vague-1: no path; record longer"]
    assert stale_runs(two) == ()
    assert files_of(two) == before
    assert rows_of(two) == before


def test_lines_of_an_older_way_are_made_again_from_files(two, measured, monkeypatch):
    monkeypatch.setattr(index, "LINES_VERSION", 99)
    assert (index_workspace(two).read, index_workspace(two).read) == (3, 0)
    assert measured == []


def test_result_that_cannot_be_read_is_measured_where_no_row_tells_of_it(two, measured):
    drop_database(two)
    path = two / "results/bowl/mara-1.json"
    path.write_bytes(path.read_bytes()[:500])  # the key at its head is as it was
    report = index_workspace(two)
    assert measured == ["bowl"]
    assert (report.measured, report.read) == (1, 2)
    assert rows_of(two) == files_of(two)


def test_result_changed_after_indexing_is_stale_and_not_taken_over(two, measured):
    path = two / "results/bowl/mara-1.json"
    good, before = path.read_bytes(), rows_of(two)
    path.write_bytes(good.replace(b'"searcher":"Mara"', b'"searcher":"Mira"'))
    for _ in range(2):
        report = index_workspace(two)
        assert [line for line in report.failures if line.startswith("bowl/mara-1: the result file was changed")]
        assert stale_runs(two) == (("bowl", "mara-1"),)
    assert rows_of(two) == before
    assert b"Mira" in path.read_bytes()  # nor overwritten
    path.write_bytes(good)
    assert not [line for line in index_workspace(two).failures if "changed" in line]
    assert stale_runs(two) == ()
    path.unlink()
    assert index_workspace(two).measured == 1  # a file that is gone is measured again, as ever
    assert measured == ["bowl"]


def test_rows_of_a_drill_that_is_gone_go(two):
    shutil.rmtree(two / "drills/gully")
    assert index_workspace(two).gone == ["gully"]
    assert {row[0] for row in rows_of(two)} == {"bowl"}


def test_measured_elsewhere_is_taken_over(two, measured):
    """What another command measured into the same results is read, not measured again."""
    from analyzer.files.rules_toml import default_rules
    from analyzer.workspace.batch import Batch, analyze_drills

    (two / "drills/bowl/runs/ilo-1/run.toml").write_text('searcher = "Bera"')
    analyze_drills([two / "drills/bowl"], Batch(two / "results", default_rules()))
    measured.clear()
    report = index_workspace(two)
    assert (report.measured, report.read, measured) == (0, 2, [])
    assert rows_of(two) == files_of(two)


def test_odd_names_are_kept(club, measured):
    """Of a character 0 in a name, which PostgreSQL does not store, the index keeps a sign in its place."""
    tiny.add_drill(club, "=b'o\"wl ü", {"r;1": 'O\\u0000\'Mara \\"x\\" ✓'})
    index_workspace(club)
    with opened(club) as store:
        assert [s.name for s in searchers(store)] == ['O\ufffd\'Mara "x" ✓']
        assert [line.drill for line in run_lines(store)] == ["=b'o\"wl ü"]


@pytest.mark.parametrize(("make", "what"), [
    (lambda club: (club / "drills").rmdir(), "there is no folder drills/"),
    (lambda club: (club / "people.toml").write_text("[[person]]\nnme = 1\n"), "the key 'nme' is not known"),
    (lambda club: (club / "people.toml").write_text("[[person]\n"), "this is not TOML"),
])  # fmt: skip
def test_bad_workspace(club, make, what):
    make(club)
    with pytest.raises(InputError, match=what):
        index_workspace(club)


def child(*words):
    script = Path(__file__).with_name("indexing_child.py")
    return subprocess.Popen([sys.executable, "-W", "error", script, *map(str, words)], cwd=ROOT, text=True,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE)  # fmt: skip


def test_several_processes_at_once(club, tmp_path):
    """Three processes index one empty workspace: all succeed, and the rows are those of the files."""
    for n in range(12):
        tiny.add_drill(club, f"drill-{n:02d}", {"a": "Mara", "b": "Ilo"})
    running = [child("once", club, tmp_path / "log") for _ in range(3)]
    for process in running:
        out, err = process.communicate(timeout=60)
        assert process.returncode == 0, err
        assert out.split() == [f"drill-{n:02d}" for n in range(12)]
    assert len(rows_of(club)) == 24
    assert rows_of(club) == files_of(club)
    assert index_workspace(club).measured == 0  # and nothing is left to do


def test_killed_again_and_again(club, tmp_path):
    """Killed with SIGKILL at random moments, no drill that was told to be kept is lost or measured again.

    Twenty times with a file; on a server, whose files are not touched by it, six times.
    """
    drills = 90
    for n in range(drills):
        tiny.add_drill(club, f"drill-{n:02d}", {"a": "Mara"})
    log, kills = tmp_path / "log", 6 if os.environ.get("SEARCHWAKE_DB") else 20
    process = child("killed", club, log, kills)
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    attempts = [json.loads(line) for line in out.splitlines()]
    assert len(attempts) == kills
    assert sum(a["killed"] for a in attempts) == kills  # none had come to its end before
    told = set()
    for attempt in attempts:
        told |= set(attempt["told"])
        assert attempt["sound"] == "ok"
        assert told <= set(attempt["rows"])
    assert 5 < len(told) < drills  # the kills came while it worked
    _, err = (last := child("once", club, log)).communicate(timeout=60)
    assert last.returncode == 0, err
    measured = log.read_text().split()
    for attempt in attempts:  # what was told to be kept is not measured again
        assert not set(attempt["told"]) & set(measured[len(attempt["measured"]) :])
    assert [row[0] for row in rows_of(club)] == [f"drill-{n:02d}" for n in range(drills)]
    assert rows_of(club) == files_of(club)
