"""An error is one line, whatever stands in the file that it is about."""

import pickle
import re
from pathlib import Path

import pytest

import analyzer
from analyzer.errors import FileError, InputError, Problem, quoted

LONGEST = 1000
NOT_MESSAGES = {"model/measures.py", "engine/result.py", "physics/field_lines.py", "geometry/slope_plane.py"}
"""Modules whose !r is of the program's own words and numbers, never of a file."""


@pytest.mark.parametrize("value", ["x" * 5000, "\n" * 5000, "\U0010ffff" * 5000, "'\"" * 5000, ["y" * 5000], b"z" * 99])
def test_a_long_value_is_shown_cut(value):
    shown = quoted(value)
    assert len(shown) <= 65
    assert shown.isprintable()


@pytest.mark.parametrize("value", ["", "north", "it's", 'a "b"', 1.5, None, ["a", 2], "x" * 60])
def test_a_short_value_is_shown_whole(value):
    assert quoted(value) == repr(value)


def test_a_whole_number_that_python_writes_no_text_of_is_shown():
    assert "too long" in quoted(16**5000)


@pytest.mark.parametrize("text", ["a\nb", "a\r\x00b", "\x1b[2Jb", "\u202eb", "\ud800b", "w" * 9000, "\n" * 9000])
def test_each_part_of_an_error_is_one_line(text):
    for error in (InputError(where=text, what=text, do=text), InputError(where="a.csv", what=text, do=text)):
        line = str(error)
        assert len(line) <= LONGEST
        assert line.isprintable()
        assert str(pickle.loads(pickle.dumps(error))) == line


def test_each_of_several_problems_is_one_line():
    many = FileError("a\n.toml", [Problem("k", "a\n.toml, k", "v" * 3000, "\n\n"), Problem("", "a\n.toml", "w", "d")])
    head, *lines = str(many).split("\n")
    assert len(lines) == 2
    assert all(line.isprintable() and len(line) <= LONGEST for line in (head, *lines))


def test_the_place_keeps_its_file_and_its_line():
    error = InputError(where=f"track.csv, {'x' * 500}, line 12", what="w", do="d")
    assert error.where.startswith("track.csv, x")
    assert error.where.endswith("x, line 12")


def test_a_folder_goes_before_each_problem_of_a_file():
    error = FileError("run.toml", [Problem(k, f"run.toml, {k}", "is wrong", "mend it") for k in ("a", "b")])
    moved = error.under("mara-1")
    assert moved.where == "mara-1/run.toml"
    assert [p.where for p in moved.problems] == ["mara-1/run.toml, a", "mara-1/run.toml, b"]
    assert str(moved).count("\n") == str(error).count("\n") == 2


def test_no_message_shows_a_value_by_another_way():
    root = Path(analyzer.__file__).parent
    found = {
        str(path.relative_to(root))
        for path in root.rglob("*.py")
        if re.search(r"![ra]\}", path.read_text(encoding="utf-8"))
    }
    assert found <= NOT_MESSAGES | {"files/writers.py"}, "use analyzer.errors.quoted, which cuts and escapes"
