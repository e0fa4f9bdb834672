"""`searchwake season`: a person in sentences, a group as a table, and what is wrong in one line."""

import datetime as dt
from dataclasses import replace

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
    assert "Mara, 2025/26: 16 runs on 8 days of practice, 2026-01-10 to 2026-02-28" in out
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


def test_too_few_is_said_once(workspace, capsys):
    """2026-11-27: it stood nine times in a row of the table and sixteen times on a person's page."""
    assert main(["season", workspace, "--person", "Mara"]) == 0
    assert capsys.readouterr().out.count("Too few") == 1
    assert main(["season", workspace, "--from", "2026-02-20"]) == 0
    assert capsys.readouterr().out.lower().count("too few") == 2, "in the row, and what that means"


def test_what_is_good_in_every_run_is_said_once(workspace, monkeypatch, capsys):
    good = tuple(replace(x, measures=(("turnaround_s", Figure(2.0, 1.0, 3.0, "s")),)) for x in lines())
    monkeypatch.setattr("analyzer.seasons.source.indexed_season", lambda _: (good, People()))
    assert main(["season", workspace, "--person", "Mara"]) == 0
    out = capsys.readouterr().out
    assert out.count("s good as it needs to be") == 1
    assert "Best:" not in out


def test_a_season_is_a_winter_or_what_bounds_say(workspace, monkeypatch, capsys):
    people = People(tuple(Person(name, "", True, FIRST.date()) for name in ("Mara", "Ilvo")))
    earlier = tuple(replace(x, time_zero=x.time_zero.replace("2026", "2024")) for x in lines()[:4])
    monkeypatch.setattr("analyzer.seasons.source.indexed_season", lambda _: ((*earlier, *lines()), people))
    assert main(["season", workspace]) == 0
    assert "All, 2025/26: 24 runs on 8 days" in capsys.readouterr().out
    assert main(["season", workspace, "--from", "2024-01-01", "--to", "2024-01-11"]) == 0
    assert "All, from 2024-01-01 to 2024-01-11: 3 runs on 1 day" in capsys.readouterr().out
    assert main(["season", workspace, "--across"]) == 0
    out = capsys.readouterr().out
    assert [out.count(winter) for winter in ("2023/24", "2025/26")] == [2, 2], "a row a winter and person"
    assert main(["season", workspace, "--across", "--person", "Mara"]) == 0
    out = capsys.readouterr().out
    assert out.index("Mara, 2023/24: 3 runs on 2 days") < out.index("Mara, 2025/26: 16 runs on 8 days")


def test_names_that_look_alike_are_told_and_not_named_to_others(workspace, monkeypatch, capsys):
    people = People((Person("Kaja Solbrekk", "", True, FIRST.date()),))
    two = [replace(x, searcher=name) for x, name in zip(lines(), ("Kaja Solbrekk", "Kaja Sølbrekk"), strict=False)]
    monkeypatch.setattr("analyzer.seasons.source.indexed_season", lambda _: (tuple(two), people))
    assert main(["season", workspace]) == 0
    out = capsys.readouterr().out
    assert "1 pair of names looks like one person" in out
    assert "Sølbrekk" not in out


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--from", "2026-13-01"], "--from 2026-13-01: this is not a day; write it as 2026-01-15"),
        (["--from", "2026-02-01", "--to", "2026-01-01"], "--to 2026-01-01: this is before --from 2026-02-01"),
        (["--to", "2020-01-01"], "no run lies in these days"),
        (["--person", "Mara", "--to", "2020-01-01"], "Mara has no run in these days; there are runs in 2025/26"),
        (["--across", "--to", "2020-01-01"], "it shows all winters"),
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


def test_a_group_may_be_called_what_its_people_like(monkeypatch, tmp_path, capsys):
    """2026-11-27: a group whose name looks like mark-up of the table ended the command."""
    people = People((Person("Mara", "[/b] [red]", True, FIRST.date()),))
    monkeypatch.setattr("analyzer.seasons.source.indexed_season", lambda _: (lines(), people))
    assert main(["season", str(tmp_path), "--group", "[/b] [red]"]) == 0
    assert "[/b] [red], " in capsys.readouterr().out
