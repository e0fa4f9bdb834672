"""The command: the table printed, both files written, exit codes."""

import json

import pytest

from analyzer.cli import main
from analyzer.commands import evaluate as command
from analyzer.commands.evaluate import recordings_text
from analyzer.lab.evaluate import run as lab_run
from analyzer.lab.evaluate.blocks import blocks_of
from analyzer.lab.evaluate.trial import Trial


@pytest.fixture
def few(monkeypatch):
    """Only the runs without a fault, so that a test of the command stays short."""
    monkeypatch.delenv("SEARCHWAKE_REALDATA", raising=False)

    def some(**settings):
        return tuple(b for b in blocks_of(**settings) if b.key in ("taped/readings", "plain/readings"))

    monkeypatch.setattr(command, "blocks_of", some)


def test_command_prints_the_table_and_writes_the_files(few, tmp_path, capsys):
    out = tmp_path / "table.json", tmp_path / "table.md"
    code = main(
        [
            "evaluate",
            "--runs",
            "2",
            "--seed",
            "5",
            "--jobs",
            "1",
            "--draws",
            "10",
            "--noise",
            "--json",
            str(out[0]),
            "--markdown",
            str(out[1]),
        ]
    )
    shown = capsys.readouterr().out
    assert code == 0
    values = json.loads(out[0].read_text())
    assert (values["runs"], values["seed"]) == (2, 5)
    assert "fused error in fine search" in shown
    assert "no recordings at hand" in shown
    assert f"{values['met']} met, {values['not_met']} not met" in shown
    assert "| figure |" in out[1].read_text()


def test_the_same_seed_gives_the_same_table(few, tmp_path):
    texts = []
    for name in ("a", "b"):
        out = tmp_path / f"{name}.json"
        main(["evaluate", "--runs", "2", "--seed", "6", "--jobs", "1", "--draws", "10", "--noise", "--json", str(out)])
        texts.append(out.read_text())
    assert texts[0] == texts[1]


def test_a_refused_run_is_told_and_fails_the_command(few, monkeypatch, capsys):
    def refused(block, number, *, seed, rules, draws):
        return Trial(block.key, seed + number, error="the evidence does not determine a path")

    monkeypatch.setattr(lab_run, "trial_of", refused)
    code = main(["evaluate", "--runs", "1", "--jobs", "1", "--noise"])
    captured = capsys.readouterr()
    assert code == 1
    assert "no result for taped/readings, seed 0: the evidence does not determine a path" in captured.err


def test_a_folder_that_is_not_there_is_wrong_usage(tmp_path, capsys):
    assert main(["evaluate", "--runs", "1", "--realdata", str(tmp_path / "nowhere")]) == 2
    assert "no such folder" in capsys.readouterr().err


def test_a_folder_without_the_table_has_no_recordings(tmp_path):
    assert recordings_text(tmp_path) is None
    assert recordings_text(None) is None
