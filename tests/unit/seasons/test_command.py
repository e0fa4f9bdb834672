"""`searchwake season`: a person in sentences, a group as a table, and what is wrong in one line."""

import datetime as dt

import pytest

from analyzer.cli import main
from analyzer.model.figure import Figure
from analyzer.model.people import People, Person
from analyzer.model.run_line import RunLine

FIRST = dt.datetime(2026, 1, 10, 9, 0, tzinfo=dt.UTC)


def lines():
    made = []
    for day in range(8):
        for number, name in enumerate(("Mara", "Mara", "Ilvo")):
            value = 9.0 - 0.6 * day + 0.05 * number if name == "Mara" else 5.0 + (-1.0) ** day
            start = FIRST + dt.timedelta(days=7 * day, minutes=10 * number)
            figure = Figure(value, value - 0.4, value + 0.4, "s")
            made.append(
                RunLine(
                    name,
                    f"day-{day}",
                    f"run-{number}",
                    start.isoformat(),
                    200.0,
                    150.0,
                    (("turnaround_s", figure),),
                    (("wrong_way", 10.0), ("standing", 3.0)),
                )
            )
    return tuple(made)


@pytest.fixture
def workspace(monkeypatch, tmp_path):
    """Return a workspace whose index holds the lines; Ilvo has not agreed to be named."""
    people = People((Person("Mara", "North", True, FIRST.date(), ("mk",)), Person("Ilvo", "North")))
    monkeypatch.setattr("analyzer.seasons.source.indexed_season", lambda _: (lines(), people))
    return str(tmp_path)


def test_a_persons_season(workspace, capsys):
    assert main(["season", workspace, "--person", "MK"]) == 0
    out = capsys.readouterr().out
    assert "Mara: 16 runs on 8 days of practice, 2026-01-10 to 2026-02-28" in out
    assert "Turns back sooner: from about 9.0 s to 4.8 s over eight days of practice (clear)." in out
    assert "Best: 4.8 s (2026-02-28, day-7/run-0)" in out
    assert "Wrong way: 160 s in 16 runs, 77 %" in out


def test_a_group_names_only_who_agreed(workspace, capsys):
    assert main(["season", workspace]) == 0
    out = capsys.readouterr().out
    assert "Mara" in out
    assert "Ilvo" not in out
    assert "Not named: 1 person who has not agreed to it" in out
    assert "better" in out
    assert main(["season", workspace, "--person", "Ilvo"]) == 0, "one's own season needs no consent"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--person", "Nobody"], "there is no run of this name"),
        (["--person", " "], "there is no run of this name"),
        (["--group", "South"], "nobody of this group has a run"),
    ],
)
def test_who_is_not_there(workspace, capsys, more, said):
    assert main(["season", workspace, *more]) == 2
    assert said in capsys.readouterr().err


def test_a_folder_that_is_no_workspace_and_one_without_index(tmp_path, capsys):
    assert main(["season", str(tmp_path)]) == 2
    assert "there is no workspace here" in capsys.readouterr().err
    (tmp_path / "drills").mkdir()
    assert main(["season", str(tmp_path)]) == 2
    assert "run searchwake index" in capsys.readouterr().err
