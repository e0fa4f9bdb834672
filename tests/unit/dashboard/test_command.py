"""`demo` and `serve`: folders, ports and messages."""

import argparse
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request

import pytest
from event_builder import make_event

from analyzer.errors import InputError
from analyzer.files.results.result_json import write_result
from dashboard import command
from dashboard.config import Config
from dashboard.server import listen
from dashboard.services.events import Events
from dashboard.services.seasons import Seasons


def parsed(add, *words):
    parser = argparse.ArgumentParser()
    add(parser)
    return parser.parse_args(words)


def test_a_busy_port_gives_the_next_free_one():
    taken = listen.free_socket(18950)
    port = taken.getsockname()[1]
    free = listen.free_socket(port)
    assert free.getsockname()[0] == "127.0.0.1"
    assert free.getsockname()[1] > port
    taken.close()
    free.close()


def test_no_free_port_is_said_in_one_line(monkeypatch):
    monkeypatch.setattr(listen, "PORTS_TRIED", 1)
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    with pytest.raises(InputError, match="give another --port"):
        listen.free_socket(taken.getsockname()[1])
    taken.close()


@pytest.mark.parametrize("word", ["0", "70000", "x"])
def test_a_wrong_port_is_wrong_usage(word):
    with pytest.raises(SystemExit) as stop:
        parsed(command.add_demo_arguments, "--port", word)
    assert stop.value.code == 2


def test_drills_are_found_beside_and_below(tmp_path):
    for folder in ("upper", "drills/lower", "results/x"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "upper/drill.toml").touch()
    (tmp_path / "drills/lower/drill.toml").touch()
    assert command.drill_folders(tmp_path) == [tmp_path / "drills/lower", tmp_path / "upper"]
    assert command.drill_folders(tmp_path / "nowhere") == []


def test_an_installed_demo_finds_the_samples_of_the_checkout_it_runs_in(monkeypatch, tmp_path):
    """2026-11-25: after `pip install .` the README's first command found no sample drills."""
    (tmp_path / "checkout/sample_tracks/bowl").mkdir(parents=True)
    (tmp_path / "checkout/sample_tracks/bowl/drill.toml").touch()
    asked = []
    monkeypatch.setattr(command, "SAMPLES", tmp_path / "site-packages/sample_tracks")
    monkeypatch.setattr(command, "analyze", lambda drills, out, *, jobs, table: asked.append((list(drills), out)) or 0)
    monkeypatch.chdir(tmp_path / "checkout")
    assert command.run_demo(parsed(command.add_demo_arguments, "--once", "--out", str(tmp_path / "out"))) == 0
    assert asked == []  # the drill has no run yet
    assert (tmp_path / "out/drills/bowl/drill.toml").is_file()


def test_the_people_of_the_demo_may_be_named(monkeypatch, tmp_path):
    """Else its season would show nobody. People that are there already are left alone."""
    from analyzer.files.run_toml import read_run_toml
    from analyzer.workspace.people.people_toml import read_people

    monkeypatch.setattr(command, "_measure", lambda drills, out: 0)
    words = parsed(command.add_demo_arguments, "--once", "--out", str(tmp_path))
    assert command.run_demo(words) == 0
    people = read_people(tmp_path)
    searchers = {read_run_toml(path).searcher for path in tmp_path.glob("drills/*/runs/*/run.toml")}
    assert {person.name for person in people.persons if person.consent} == searchers
    (tmp_path / "people.toml").write_text("# mine\n")
    assert command.run_demo(words) == 0
    assert (tmp_path / "people.toml").read_text() == "# mine\n"


def test_a_demo_without_samples_says_what_to_do(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(command, "SAMPLES", tmp_path / "sample_tracks")
    with pytest.raises(InputError, match="no sample drills here"):
        command.run_demo(parsed(command.add_demo_arguments))


def test_a_folder_with_other_things_is_no_workspace(tmp_path):
    (tmp_path / "letters").mkdir()
    with pytest.raises(InputError, match=r"neither a drill\.toml nor a result"):
        command.run_serve(parsed(command.add_serve_arguments, str(tmp_path)))
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="this is a file"):
        command.run_serve(parsed(command.add_serve_arguments, str(tmp_path / "file")))


@pytest.fixture
def shown(monkeypatch):
    """Return the settings of the dashboards that would be shown, and what is measured, into which folder."""
    configs, asked = [], []
    monkeypatch.setattr(command, "_show", lambda config, _, code: configs.append(config) or code)
    monkeypatch.setattr(command, "analyze", lambda drills, out, *, jobs, table: asked.append((list(drills), out)) or 0)
    return configs, asked


def test_a_new_folder_becomes_a_workspace(shown, tmp_path, capsys):
    configs, asked = shown
    new = tmp_path / "club" / "week"
    assert command.run_serve(parsed(command.add_serve_arguments, str(new))) == 0
    assert new.is_dir()
    assert (configs[0].workspace, configs[0].results, asked) == (new, new / "results", [])
    assert "is an empty workspace" in capsys.readouterr().out
    (new / "originals").mkdir()
    (new / "drills/laid_out").mkdir(parents=True)
    (new / "drills/laid_out/drill.toml").touch()
    assert command.run_serve(parsed(command.add_serve_arguments, str(new))) == 0
    assert (configs[1].workspace, asked) == (new, [])


def test_what_is_no_workspace_is_shown_and_takes_nothing_in(shown, results_folder, tmp_path_factory):
    configs, asked = shown
    drill = tmp_path_factory.mktemp("drill")
    (drill / "runs/one").mkdir(parents=True)
    (drill / "drill.toml").touch()
    for folder in (results_folder, drill):
        assert command.run_serve(parsed(command.add_serve_arguments, str(folder))) == 0
    assert [config.workspace for config in configs] == [None, None]
    assert [config.results for config in configs] == [results_folder, drill / "results"]
    assert asked == [([drill], drill / "results")]


def test_demo_measures_copies_of_all_samples_in_its_workspace(shown, monkeypatch, tmp_path):
    configs, asked = shown
    for name in ("lower", "upper"):
        (tmp_path / name / "runs/one").mkdir(parents=True)
        (tmp_path / name / "drill.toml").touch()
    monkeypatch.setattr(command, "SAMPLES", tmp_path)
    out = tmp_path / "out"
    assert command.run_demo(parsed(command.add_demo_arguments, "--out", str(out))) == 0
    drills = [out / "drills/lower", out / "drills/upper"]
    assert asked == [(drills, out / "results")]
    assert (configs[0].workspace, configs[0].results) == (out, out / "results")


def test_a_copied_sample_follows_the_sample_until_it_is_changed(tmp_path):
    sample, copy = tmp_path / "bowl", tmp_path / "out/drills/bowl"
    (sample / "runs/one").mkdir(parents=True)
    (sample / "drill.toml").write_text("first")
    command.bring_sample(sample, tmp_path / "out")
    (sample / "drill.toml").write_text("second")
    command.bring_sample(sample, tmp_path / "out")
    assert (copy / "drill.toml").read_text() == "second"
    (copy / "drill.toml").write_text("mine")
    (sample / "drill.toml").write_text("third")
    command.bring_sample(sample, tmp_path / "out")
    assert (copy / "drill.toml").read_text() == "mine"


@pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")
def test_serving_results_answers_and_stops_on_interrupt(results_folder):
    words = ["-m", "analyzer.cli", "serve", str(results_folder), "--no-browser", "--port", "18970"]
    # A shell's background jobs ignore the interrupt, and hand that on to all they start: the tests may be one of them.
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        process = subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    finally:
        signal.signal(signal.SIGINT, before)
    try:
        line = next(text for text in process.stdout if "The debrief is at" in text)
        address = re.search(r"http://127\.0\.0\.1:\d+/", line).group()
        with urllib.request.urlopen(address, timeout=60) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        _, complaints = process.communicate(timeout=60)
        assert (process.returncode, complaints) == (0, "")
    finally:
        process.kill()
        process.communicate()


def test_a_folder_that_cannot_be_written_to_is_one_line(tmp_path, monkeypatch, capsys):
    """What was measured before is shown; where nothing was, there is nothing to serve."""

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied", str(tmp_path / "results"))

    monkeypatch.setattr(command, "analyze", refuse)
    (tmp_path / "drills/bowl/runs/mara-1").mkdir(parents=True)
    (tmp_path / "drills/bowl/drill.toml").write_text("")
    words = parsed(command.add_serve_arguments, str(tmp_path), "--once")
    with pytest.raises(InputError, match=r"we may not read or write here; allow it"):
        command.run_serve(words)
    (tmp_path / "results/bowl").mkdir(parents=True)
    (tmp_path / "results/bowl/mara-1.json").write_text("{}")
    assert command.run_serve(words) == 1
    said = capsys.readouterr().err.strip()
    assert said.endswith("what was measured before is shown")
    assert len(said.splitlines()) == 1


def test_a_thousand_runs_are_one_line_and_with_once_a_table(monkeypatch, tmp_path, capsys):
    """2026-11-27: 2,107 lines for 1,050 runs stood between the command and the address."""
    rows = [{"drill": "d", "run": f"r{i}", "searcher": "Ana", "evidence": "track"} for i in range(1050)]
    monkeypatch.setattr("analyzer.workspace.batch.analyze_drills", lambda *_, **__: (rows, ["d/x: damaged"]))
    monkeypatch.setattr(command, "_show", lambda config, arguments, code: code)
    (tmp_path / "drills" / "d" / "runs" / "r1").mkdir(parents=True)
    (tmp_path / "drills" / "d" / "drill.toml").touch()
    assert command.run_serve(parsed(command.add_serve_arguments, str(tmp_path))) == 1
    said = capsys.readouterr()
    assert said.out == "1,050 runs in 1 drill, 1 not measured.\n"
    assert "d/x: damaged" in said.err
    command.run_serve(parsed(command.add_serve_arguments, str(tmp_path), "--once"))
    assert capsys.readouterr().out.count("Ana") == 1050


def test_a_folder_of_drills_opens_their_workspace(monkeypatch, tmp_path, capsys):
    """2026-11-27: results were written among the drills, and the next `index` called their folder no drill."""
    monkeypatch.setattr(command, "_show", lambda config, arguments, code: config)
    for name in ("d", "e"):
        (tmp_path / "ws/drills" / name).mkdir(parents=True)
        (tmp_path / "ws/drills" / name / "drill.toml").touch()
    config = command.run_serve(parsed(command.add_serve_arguments, str(tmp_path / "ws/drills")))
    assert (config.results, config.workspace) == (tmp_path / "ws/results", tmp_path / "ws")
    said = capsys.readouterr().out
    assert f"holds the drills of the workspace {tmp_path / 'ws'}, which is opened" in said
    assert "no run in any drill yet" in said
    assert sorted(path.name for path in (tmp_path / "ws/drills").iterdir()) == ["d", "e"]


def test_once_says_that_results_alone_are_not_measured(tmp_path, capsys, make_result):
    write_result(tmp_path / "d" / "a.json", make_result(run_id="a", searcher="Ana"))
    assert command.run_serve(parsed(command.add_serve_arguments, str(tmp_path), "--once")) == 0
    assert "there is nothing to measure" in capsys.readouterr().out


def test_the_first_page_of_the_season_finds_everything_read(monkeypatch, tmp_path, make_result):
    """2026-11-27: it read every result of the workspace while somebody waited."""
    write_result(tmp_path / "results" / "read-ahead" / "a.json", make_result(run_id="a", searcher="Ana"))
    config = Config(tmp_path / "results", workspace=tmp_path)
    command._read_ahead(config)

    def refuse(path):
        raise AssertionError(path)

    monkeypatch.setattr("dashboard.services.seasons.read_bytes", refuse)
    assert Seasons(config.results, tmp_path).group().season.runs == 1
    (tmp_path / "people.toml").write_text("[[person]]\nname = 3\n")
    command._read_ahead(config)  # what is wrong is for the page to say


def test_the_first_page_of_an_event_finds_its_files_hashed(monkeypatch, tmp_path):
    """2026-11-27: it read and hashed 3,000 files while somebody waited; a damaged event stops nobody."""
    workspace = make_event(tmp_path).parents[1]
    (workspace / "events" / "broken").mkdir()
    (workspace / "events" / "broken" / "event.toml").write_text("[event\n")
    (workspace / "events" / "broken" / "scored.json").write_text("{")
    command._read_ahead(Config(tmp_path / "results", workspace=workspace))

    def refuse(data):
        raise AssertionError(data[:20])

    monkeypatch.setattr("analyzer.files.hashes.sha256_hex", refuse)
    assert Events(workspace).table("cup", "overall", "").rows
