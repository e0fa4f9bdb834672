"""Every number among the options of a command has bounds: outside them one line, and the exit code of wrong usage."""

import argparse

import pytest

from analyzer import cli
from analyzer.commands.output import WRONG_USAGE
from analyzer.lab.examiner.__main__ import main as examine

WRONG = [
    ("simulate", "--seed", "-5"),
    ("simulate", "--seed", "9" * 5000),
    ("simulate", "--seed", "1e3"),
    ("simulate", "--runs", "0"),
    ("simulate", "--runs", "1000000000"),
    ("simulate", "--transmitters", "0"),
    ("simulate", "--transmitters", "100000"),
    ("simulate", "--slope", "nan"),
    ("simulate", "--slope", "90"),
    ("simulate", "--aspect", "-1"),
    ("simulate", "--noise-scale", "inf"),
    ("simulate", "--noise-scale", "-1"),
    ("simulate", "--lag", "1e308"),
    ("simulate", "--stated-off", "0"),
    ("simulate", "--antennas", "4"),
    ("evaluate", "--draws", "1000000000"),
    ("evaluate", "--draws", "0"),
    ("evaluate", "--runs", "-1"),
    ("evaluate", "--seed", "-1"),
    ("evaluate", "--jobs", "100000"),
    ("evaluate", "--bound", "x\ny"),
    ("analyze", "--draws", "2001"),
    ("analyze", "--seed", "-1"),
    ("analyze", "--jobs", "0"),
]
NEEDED = {"simulate": ["out"], "evaluate": [], "analyze": ["bowl", "--out", "out"]}


@pytest.mark.parametrize(("command", "option", "value"), WRONG)
def test_a_number_out_of_bounds_is_one_line(command, option, value, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main([command, *NEEDED[command], option, value]) == WRONG_USAGE
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert option in said
    assert len(said) < 1000
    assert not list(tmp_path.iterdir())


def numbers_of(command):
    """Yield the options of a command that take a number, by what their type makes of "3"."""
    parser = cli.build_parser([command])
    (commands,) = (a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    for action in commands.choices[command]._actions:
        if callable(action.type):
            try:
                value = action.type("3")
            except (argparse.ArgumentTypeError, ValueError):
                continue
            if isinstance(value, int | float):
                yield action


@pytest.mark.parametrize("command", list(cli.COMMANDS))
def test_every_number_of_every_command_has_bounds(command):
    for action in numbers_of(command):
        if action.choices is not None:
            continue
        for value in ("-1", "1" * 30):
            with pytest.raises((argparse.ArgumentTypeError, ValueError)):
                action.type(value)


def test_some_command_has_numbers():
    assert {"--runs", "--seed"} <= {word for action in numbers_of("simulate") for word in action.option_strings}


def test_noise_of_bytes_that_are_no_text_is_one_line(tmp_path, capsys):
    noise = tmp_path / "noise.csv"
    noise.write_bytes(b"time_s,east_m,north_m\n\xff\xfe\n")
    assert cli.main(["simulate", str(tmp_path / "out"), "--noise", str(noise)]) == WRONG_USAGE
    assert capsys.readouterr().err.startswith("noise.csv, line 2: ")


@pytest.mark.parametrize(
    ("option", "value"), [("--runs", "-1"), ("--seed", "-1"), ("--slope", "nan"), ("--lever", "9")]
)
def test_the_second_simulator_has_bounds(option, value, tmp_path, capsys):
    with pytest.raises(SystemExit) as stop:
        examine([str(tmp_path / "out"), option, value])
    assert stop.value.code == WRONG_USAGE
    assert option in capsys.readouterr().err
