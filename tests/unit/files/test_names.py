"""Names that the program makes are such as every system takes.

ORIGIN of the names and signs: "Naming Files, Paths, and Namespaces" of the documentation of Windows.
"""

import os
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.errors import InputError
from analyzer.files.names import check_new_name
from analyzer.files.source import write_atomic
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from dashboard.services.drills import Drills, Opened


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("CON", "for a device"),
        ("aux.zip", "for a device"),
        ("Nul.tar.gz", "for a device"),
        ("prn ", "for a device"),
        ("COM1", "for a device"),
        ("lpt9.json", "for a device"),
        ("COM¹", "for a device"),
        ("bowl.", "ends with a dot or a space"),
        ("bowl ", "ends with a dot or a space"),
        *((f"a{sign}b", "which Windows refuses") for sign in '<>:"/\\|?*\n'),
    ],
)
def test_a_name_that_not_every_system_takes_is_refused(name, words):
    with pytest.raises(InputError, match=words):
        check_new_name(name, where="drill")


@pytest.mark.parametrize("name", ["console", "com0", "com10", "aux-1", ".hidden", "Größe", "lower bowl", "a.b"])
def test_other_names_are_taken(name):
    check_new_name(name, where="drill")


@pytest.mark.parametrize(
    "arguments",
    [
        ["simulate", "CON"],
        ["simulate", "bowl."],
        ["analyze", ".", "--out", "a?b"],
        ["people", ".", "export", "M", "--out", "nul.zip"],
    ],
    ids=" ".join,
)
def test_commands_make_no_such_name(arguments, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(arguments) == 2
    assert "Windows" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="no such folder can be there")
def test_a_folder_that_is_there_is_used(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("aux").mkdir()
    assert cli.main(["simulate", "aux"]) == 0
    assert Path("aux", "drill.toml").is_file()


def test_a_drill_of_such_a_name_is_not_saved(tmp_path):
    drill = Drill("Con", None, Origin(46.5, 8.0, 2100.0), Slope(20.0, 180.0), (Transmitter("A", 0.0, 0.0, 1.0),))
    with pytest.raises(InputError, match="for a device; give another one, such as my-con"):
        Drills(workspace=tmp_path).save(drill, Opened("", ""))
    assert [p.name for p in tmp_path.rglob("*") if p.name[0] != "."] == ["drills"], "the lock of saves lies there"


def test_a_device_is_not_replaced_by_a_file(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="this is no file but a pipe"):
        write_atomic(tmp_path / "pipe", b"x")
    assert (tmp_path / "pipe").is_fifo()
