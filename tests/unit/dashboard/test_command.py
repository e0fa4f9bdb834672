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

from analyzer.errors import InputError
from dashboard import command


def parsed(add, *words):
    parser = argparse.ArgumentParser()
    add(parser)
    return parser.parse_args(words)


def test_a_busy_port_gives_the_next_free_one():
    taken = command.free_socket(18950)
    port = taken.getsockname()[1]
    free = command.free_socket(port)
    assert free.getsockname()[0] == "127.0.0.1"
    assert free.getsockname()[1] > port
    taken.close()
    free.close()


def test_no_free_port_is_said_in_one_line(monkeypatch):
    monkeypatch.setattr(command, "PORTS_TRIED", 1)
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    with pytest.raises(InputError, match="give another --port"):
        command.free_socket(taken.getsockname()[1])
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
    monkeypatch.setattr("analyzer.cli.main", lambda words: asked.append(words) or 0)
    monkeypatch.chdir(tmp_path / "checkout")
    assert command.run_demo(parsed(command.add_demo_arguments, "--once", "--out", str(tmp_path / "out"))) == 0
    assert asked[0][1] == str(tmp_path / "checkout/sample_tracks/bowl")


def test_a_demo_without_samples_says_what_to_do(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(command, "SAMPLES", tmp_path / "sample_tracks")
    with pytest.raises(InputError, match="no sample drills here"):
        command.run_demo(parsed(command.add_demo_arguments))


def test_serving_nothing_says_what_to_do(tmp_path):
    with pytest.raises(InputError, match=r"neither a drill\.toml nor a result"):
        command.run_serve(parsed(command.add_serve_arguments, str(tmp_path)))
    with pytest.raises(InputError, match="no such folder"):
        command.run_serve(parsed(command.add_serve_arguments, str(tmp_path / "x")))


def test_demo_measures_all_samples_into_the_folder(monkeypatch, tmp_path):
    for name in ("lower", "upper"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "drill.toml").touch()
    asked = []
    monkeypatch.setattr(command, "SAMPLES", tmp_path)
    monkeypatch.setattr("analyzer.cli.main", lambda words: asked.append(words) or 1)
    out = str(tmp_path / "out")
    assert command.run_demo(parsed(command.add_demo_arguments, "--once", "--out", out)) == 1
    assert asked == [["analyze", str(tmp_path / "lower"), str(tmp_path / "upper"), "--out", out]]


@pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")
def test_serving_results_answers_and_stops_on_interrupt(results_folder):
    words = ["-m", "analyzer.cli", "serve", str(results_folder), "--no-browser", "--port", "18970"]
    process = subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        line = next(text for text in process.stdout if "The debrief is at" in text)
        address = re.search(r"http://127\.0\.0\.1:\d+/", line).group()
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        _, complaints = process.communicate(timeout=20)
        assert (process.returncode, complaints) == (0, "")
    finally:
        process.kill()
        process.communicate()
