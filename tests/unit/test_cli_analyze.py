"""The analyze command: files, table, exit codes, cache, and the list of commands."""

import argparse
import csv
import importlib.util
import io
import json
import sys
import types
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.errors import EstimationError
from analyzer.workspace import batch
from tests.support.small_drill import DRILL, TRACK

_spec = importlib.util.spec_from_file_location("result_builder", Path(__file__).parent / "files" / "result_builder.py")
builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(builder)


@pytest.fixture
def calls(monkeypatch):
    """Return the list of (number of runs, draws, seed) of every call to an invented pipeline."""
    made = []

    def analyze_drill(drill, recordings, rules, *, draws=64, seed=0, told=None):
        made.append((len(recordings), draws, seed))
        return [
            EstimationError(where=r.run_id, what="no path", do="record longer")
            if r.run_id.startswith("vague")
            else builder.make_result(r.run_id, searcher=r.info.searcher, inputs=r.inputs, rows=3, rules=rules)
            for r in recordings
        ]

    fake = types.ModuleType("analyzer.engine.pipeline")
    fake.analyze_drill = analyze_drill
    monkeypatch.setitem(sys.modules, "analyzer.engine.pipeline", fake)
    return made


def make_drill(folder: Path, runs=("a-1", "b-1"), track=TRACK) -> Path:
    for run in runs:
        (folder / "runs" / run).mkdir(parents=True)
        (folder / "runs" / run / "track.csv").write_text(track)
    (folder / "drill.toml").write_text(DRILL)
    return folder


@pytest.fixture
def bowl(tmp_path):
    """Return a drill folder with two good runs."""
    return make_drill(tmp_path / "bowl")


def test_results_summary_and_table(bowl, tmp_path, capsys, calls):
    (bowl / "runs/a-1/run.toml").write_text('searcher = "=Mara [bold]"')
    out = tmp_path / "deep" / "out"
    assert cli.main(["analyze", str(bowl), "--out", str(out), "--draws", "8", "--seed", "5"]) == 0
    assert calls == [(2, 8, 5)]
    captured = capsys.readouterr()
    assert captured.err == ""
    assert "2 runs" in captured.out
    assert "=Mara [bold]" in captured.out  # shown as written, not as mark-up
    result = json.loads((out / "bowl/a-1.json").read_bytes())
    assert result["run"]["id"] == "a-1"
    assert len(result["drill_key"]) == 64
    assert result["engine"]
    rows = list(csv.DictReader(io.StringIO((out / "summary.csv").read_text())))
    assert [(r["drill"], r["run"]) for r in rows] == [("bowl", "a-1"), ("bowl", "b-1")]
    assert rows[0]["searcher"] == "'=Mara [bold]"
    assert not [p for p in out.rglob("*") if p.suffix == ".part"]


def test_second_pass_measures_nothing_and_says_the_same(bowl, tmp_path, capsys, calls):
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out")]
    (bowl / "runs/b-1/track.csv").write_text("x")
    assert cli.main(arguments) == 1
    first = capsys.readouterr()
    summary = (tmp_path / "out/summary.csv").read_bytes()
    assert cli.main(arguments) == 1
    second = capsys.readouterr()
    assert len(calls) == 1
    assert (second.out, second.err) == (first.out, first.err)
    assert (tmp_path / "out/summary.csv").read_bytes() == summary
    assert cli.main([*arguments, "--again"]) == 1
    assert len(calls) == 2


@pytest.mark.parametrize(
    ("change", "more"),
    [
        (lambda b: (b / "drill.toml").write_text(DRILL.replace("12", "13")), []),
        (lambda b: (b / "runs/a-1/track.csv").write_text(TRACK + "\n"), []),
        (lambda b: (b / "runs/a-1/marks.csv").write_text("elapsed,mark\n20,finish\n"), []),
        (lambda b: (b.parent / "out/bowl/a-1.json").unlink(), []),
        (lambda b: (b.parent / "out/bowl/a-1.json").write_text("{}"), []),
        (lambda b: None, ["--draws", "9"]),
        (lambda b: None, ["--seed", "9"]),
    ],
)
def test_any_change_measures_again(bowl, tmp_path, calls, change, more):
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    change(bowl)
    assert cli.main([*arguments, *more]) == 0
    assert len(calls) == 2


def test_other_rules_measure_again(bowl, tmp_path, calls):
    from importlib import resources

    sheet = resources.files("analyzer.files").joinpath("default_rules.toml").read_text()
    (tmp_path / "club.toml").write_text(sheet + "\n# another sheet\n")
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    assert cli.main([*arguments, "--rules", str(tmp_path / "club.toml")]) == 0
    assert len(calls) == 2


def test_only_the_changed_drill_is_measured_again(bowl, tmp_path, calls):
    other = make_drill(tmp_path / "ridge", runs=("c-1",))
    arguments = ["analyze", str(bowl), str(other), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    (other / "runs/c-1/track.csv").write_text(TRACK + "\n")
    assert cli.main(arguments) == 0
    assert [n for n, _, _ in calls] == [2, 1, 1]
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out/summary.csv").read_text())))
    assert [r["run"] for r in rows] == ["a-1", "b-1", "c-1"]


def test_result_of_a_run_that_went_bad_is_set_aside(bowl, tmp_path, calls):
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    before = (tmp_path / "out/bowl/a-1.json").read_bytes()
    (bowl / "runs/a-1/track.csv").write_text("x")
    assert cli.main(arguments) == 1
    assert sorted(p.name for p in (tmp_path / "out/bowl").iterdir()) == ["a-1.json.earlier", "b-1.json"]
    assert (tmp_path / "out/bowl/a-1.json.earlier").read_bytes() == before


def test_summary_holds_every_drill_of_the_folder(bowl, tmp_path, calls):
    other = make_drill(tmp_path / "ridge", runs=("c-1",))
    for folder in (bowl, other, other):
        assert cli.main(["analyze", str(folder), "--out", str(tmp_path / "out")]) == 0
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out/summary.csv").read_text())))
    assert [(r["drill"], r["run"]) for r in rows] == [("ridge", "c-1"), ("bowl", "a-1"), ("bowl", "b-1")]


def test_run_without_estimate_is_one_line(tmp_path, capsys, calls):
    folder = make_drill(tmp_path / "bowl", runs=("good-1", "vague-1"))
    assert cli.main(["analyze", str(folder), "--out", str(tmp_path / "out")]) == 1
    assert capsys.readouterr().err == "bowl/vague-1: no path; record longer\n"
    assert [p.name for p in (tmp_path / "out/bowl").iterdir()] == ["good-1.json"]


def test_failure_of_the_analysis_itself_leaves_the_other_drills(bowl, tmp_path, capsys, monkeypatch, calls):
    other = make_drill(tmp_path / "ridge", runs=("c-1",))
    good = sys.modules["analyzer.engine.pipeline"].analyze_drill

    def fragile(drill, recordings, rules, **more):
        if any(r.run_id == "a-1" for r in recordings):
            raise ZeroDivisionError("float division\nby zero " + "x" * 900)
        return good(drill, recordings, rules, **more)

    monkeypatch.setattr(sys.modules["analyzer.engine.pipeline"], "analyze_drill", fragile)
    arguments = ["analyze", str(bowl), str(other), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("bowl/a-1: the analysis itself failed (ZeroDivisionError: float division by zero")
    assert len(line) < 400
    assert (tmp_path / "out/ridge/c-1.json").exists()
    assert (tmp_path / "out/bowl/b-1.json").exists()  # one bad run does not take its drill along
    # Such a failure is no property of the files: the next pass tries again.
    monkeypatch.setattr(sys.modules["analyzer.engine.pipeline"], "analyze_drill", good)
    assert cli.main(arguments) == 0


def test_a_result_that_no_page_could_show_costs_its_run_alone(bowl, tmp_path, capsys, monkeypatch, calls):
    from analyzer.files.results import result_json

    def faults(result):
        return [("account[0]", "the result is damaged (odd)")] if result.run_id == "b-1" else []

    monkeypatch.setattr(result_json, "result_faults", faults)
    assert cli.main(["analyze", str(bowl), "--out", str(tmp_path / "out")]) == 1
    (line,) = [line for line in capsys.readouterr().err.splitlines() if "b-1" in line]
    assert "bowl/b-1.json, account[0]: the result is damaged (odd); no result was written" in line
    assert {p.name for p in (tmp_path / "out/bowl").glob("*.json")} == {"a-1.json"}


def test_nothing_is_taken_away_after_an_unforeseen_error(bowl, tmp_path, capsys, monkeypatch, calls):
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out"), "--again"]
    assert cli.main(arguments) == 0
    before = {p.name: p.read_bytes() for p in (tmp_path / "out/bowl").iterdir()}

    def broken(drill, recordings, rules, **more):
        raise RecursionError("too deep")

    monkeypatch.setattr(sys.modules["analyzer.engine.pipeline"], "analyze_drill", broken)
    assert cli.main(arguments) == 1
    assert len(capsys.readouterr().err.splitlines()) == 2
    assert {p.name: p.read_bytes() for p in (tmp_path / "out/bowl").iterdir()} == before


def test_a_reader_that_fails_as_nobody_thought_costs_its_run_alone(bowl, tmp_path, capsys, monkeypatch, calls):
    from analyzer.files import folder

    good = folder.read_run

    def fragile(run, drill):
        if run.name == "b-1":
            raise StopIteration
        return good(run, drill)

    monkeypatch.setattr(folder, "read_run", fragile)
    assert cli.main(["analyze", str(bowl), "--out", str(tmp_path / "out")]) == 1
    assert capsys.readouterr().err.startswith("bowl/b-1: reading itself failed (StopIteration")
    assert [p.name for p in (tmp_path / "out/bowl").iterdir()] == ["a-1.json"]


def test_a_result_cut_in_half_is_measured_again(bowl, tmp_path, calls):
    arguments = ["analyze", str(bowl), "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    path = tmp_path / "out/bowl/a-1.json"
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    assert cli.main(arguments) == 0
    assert path.read_bytes() == whole
    assert len(calls) == 2


@pytest.mark.parametrize("place", ["rows", "runs", "drills"])
def test_a_cache_that_names_files_elsewhere_harms_none(bowl, tmp_path, calls, place):
    out, victim = tmp_path / "out", tmp_path / "victim.json"
    assert cli.main(["analyze", str(bowl), "--out", str(out)]) == 0
    victim.write_text("precious")
    cache = json.loads((out / ".searchwake-cache.json").read_bytes())
    entry = cache["drills"]["bowl"]
    if place == "rows":
        entry["rows"].append(entry["rows"][0] | {"run": "../../victim"})
    elif place == "runs":
        entry["runs"]["../../victim"] = entry["runs"]["a-1"]
    else:
        cache["drills"]["../.."] = entry
    (out / ".searchwake-cache.json").write_text(json.dumps(cache))
    (bowl / "runs/a-1/track.csv").write_text(TRACK + "\n")
    assert cli.main(["analyze", str(bowl), "--out", str(out)]) == 0
    assert victim.read_text() == "precious"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bowl", "out", "victim.json"]


def test_drills_in_processes_give_the_same_lines(tmp_path, capsys, monkeypatch):
    folders = [str(make_drill(tmp_path / name, runs=("a-1",), track="x")) for name in ("one", "two")]
    assert cli.main(["analyze", *folders, "--out", str(tmp_path / "serial"), "--jobs", "1"]) == 1
    serial = capsys.readouterr()
    monkeypatch.setattr(batch, "WORTH_PROCESSES_S", 0.0)
    assert cli.main(["analyze", *folders, "--out", str(tmp_path / "parallel"), "--jobs", "2"]) == 1
    parallel = capsys.readouterr()
    assert parallel == serial
    assert len(serial.err.splitlines()) == 2


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda t: ["analyze"], "DRILL"),
        (lambda t: ["analyze", str(t / "bowl")], "--out"),
        (lambda t: ["analyze", str(t / "none"), "--out", str(t / "out")], "no such drill folder"),
        (
            lambda t: ["analyze", str(t / "bowl"), str(t / "b" / ".." / "bowl"), "--out", str(t / "out")],
            "have this name",
        ),
        (lambda t: ["analyze", str(t / "bowl"), "--out", str(t / "bowl/drill.toml")], "this is a file"),
        (
            lambda t: ["analyze", str(t / "bowl"), "--out", str(t / "out"), "--draws", "0"],
            "'0' is no whole number from 1 to 2000",
        ),
        (
            lambda t: ["analyze", str(t / "bowl"), "--out", str(t / "out"), "--rules", str(t / "no.toml")],
            "no such file",
        ),
        (lambda t: ["analyse", str(t / "bowl")], "invalid choice"),
        (lambda t: [], "COMMAND"),
    ],
)
def test_wrong_usage(bowl, tmp_path, capsys, calls, make, what):
    (tmp_path / "b").mkdir()
    assert cli.main(make(tmp_path)) == 2
    assert what in capsys.readouterr().err
    assert calls == []
    assert not (tmp_path / "out").exists()


def test_no_table_where_nothing_was_measured(tmp_path, capsys):
    """2026-11-27: an empty table stood before the line that says what is wrong."""
    (tmp_path / "ws" / "drills").mkdir(parents=True)
    assert cli.main(["analyze", str(tmp_path / "ws"), "--out", str(tmp_path / "out")]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.strip().splitlines()) == 1


@pytest.mark.parametrize("arguments", [["--help"], ["analyze", "--help"]])
def test_help_shows_units_and_an_example(capsys, arguments):
    assert cli.main(arguments) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Units: metres, seconds, degrees" in text
    assert "Example: searchwake analyze" in text


@pytest.mark.parametrize("name", list(cli.COMMANDS))
def test_a_command_is_loaded_only_when_given(monkeypatch, capsys, name):
    def add(parser):
        parser.add_argument("--folder", help="metres")

    loaded = []
    for other, command in cli.COMMANDS.items():

        def load(other=other):
            loaded.append(other)
            return add, lambda arguments: 7 if arguments.folder == "x" else 8

        monkeypatch.setitem(cli.COMMANDS, other, replace(command, load=load))
    assert cli.main([name, "--folder", "x"]) == 7
    assert loaded == [name]
    assert cli.main([name, "--help"]) == 0
    assert f"Example: searchwake {name}" in " ".join(capsys.readouterr().out.split())
    assert cli.main(["--help"]) == 0
    assert loaded == [name, name]


@pytest.mark.parametrize("name", list(cli.COMMANDS))
def test_every_command_loads_arguments_and_work(name):
    parser = argparse.ArgumentParser()
    add, run = cli.COMMANDS[name].load()
    add(parser)
    assert callable(run)
    assert len(parser.format_help().splitlines()) > 4


def test_version(capsys):
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("searchwake ")


def test_a_call_that_is_stopped_keeps_what_it_measured(tmp_path, monkeypatch, calls):
    """Stopped in its third drill, the first two are there, and the next call measures the others alone."""
    drills = [make_drill(tmp_path / name, runs=("r-1",)) for name in ("a", "b", "c", "d")]
    fake, measure = sys.modules["analyzer.engine.pipeline"], sys.modules["analyzer.engine.pipeline"].analyze_drill

    def stopping(*arguments, **settings):
        if len(calls) == 2:
            raise KeyboardInterrupt
        return measure(*arguments, **settings)

    monkeypatch.setattr(fake, "analyze_drill", stopping)
    words = ["analyze", *map(str, drills), "--out", str(tmp_path / "out"), "--jobs", "1"]
    assert cli.main(words) == 130
    assert len(calls) == 2
    monkeypatch.setattr(fake, "analyze_drill", measure)
    assert cli.main(words) == 0
    assert len(calls) == 4


def test_what_a_file_says_gives_no_orders_to_the_terminal(bowl, tmp_path, capsys, calls):
    """2026-11-27: a searcher's name went to the terminal with its control characters. ECMA-48: ESC, CSI (U+009B)."""
    (bowl / "runs/a-1/run.toml").write_text('searcher = "A\\u001b]0;owned\\u0007 B\\u009b2J"')
    assert cli.main(["analyze", str(bowl), "--out", str(tmp_path / "out")]) == 0
    printed = capsys.readouterr()
    assert not set(printed.out + printed.err) & {"\x1b", "\x07", "\x9b"}
    assert "\\x1b]0" in printed.out
