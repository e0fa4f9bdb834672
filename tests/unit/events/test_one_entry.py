"""What the command says of one entry, of a class by its title, and of a run that is not there."""

import pytest

from analyzer import cli


@pytest.fixture
def cup(tmp_path):
    from event_builder import make_event

    return make_event(tmp_path)


def standings(cup, *words):
    return cli.main(["standings", str(cup), *words])


def test_an_entry_without_a_line_says_why(cup, capsys):
    """2026-11-27: an empty table, of an entry that did not start."""
    standings(cup, "--bib", "5")
    said = capsys.readouterr().out
    assert "bib 5, Keno Aas:" in said
    assert "did not start" in said
    assert "nothing to add up" in said
    assert "evidence" not in said.split("bib 5, Keno Aas:")[1]


@pytest.mark.parametrize("word", ["young", "First season", "first SEASON"])
def test_a_class_is_chosen_by_its_title_too(cup, capsys, word):
    standings(cup, "--class", word)
    said = capsys.readouterr().out
    assert "Runa Holm" in said
    assert "Ilo Brandt" not in said


def test_an_unknown_class_lists_those_that_are_there(cup, capsys):
    assert standings(cup, "--class", "elders") == 2
    assert "classes: open (Open), young (First season)" in capsys.readouterr().err
