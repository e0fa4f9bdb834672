"""Seasons by date: winters, bounds, all winters side by side; and names that may be two spellings of one."""

import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.model.figure import exact
from analyzer.model.people import People, Person
from analyzer.model.run_line import RunLine
from analyzer.seasons.group import across_seasons, group_season
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import BETTER, CLEAR
from analyzer.seasons.period import ALL_TIME, chosen_period, winter_of, winters_of, within
from analyzer.seasons.spellings import folded, near_names
from analyzer.seasons.trend import person_season

BY_KEY = {m.key: m for m in MEASURES}
TURN = (BY_KEY["turnaround_s"],)
AGREED = People(tuple(Person(name, "", True, dt.date(2020, 1, 1)) for name in ("Ana", "Ilvo", "Mara")))


def run(day, value=9.0, *, name="Mara", number=0):
    figure = exact(value, "s")
    time = f"{day}T{9 + number:02d}:00:00Z"
    return RunLine(name, str(day), f"r{number}", time, 200.0, 150.0, (("turnaround_s", figure),), ())


@pytest.mark.parametrize(
    ("day", "name"),
    [("2025-09-30", "2024/25"), ("2025-10-01", "2025/26"), ("2026-03-01", "2025/26"), ("1999-12-31", "1999/00")],
)
def test_a_winter_begins_in_october(day, name):
    period = winter_of(dt.date.fromisoformat(day))
    assert period.name == name
    assert period.first <= dt.date.fromisoformat(day) <= period.last
    assert winter_of(period.last + dt.timedelta(days=1)).first == period.last + dt.timedelta(days=1)


def test_the_newest_winter_is_the_season():
    lines = [run("2024-01-05"), run("2025-12-20"), run("2026-01-05")]
    assert chosen_period(lines).name == "2025/26"
    assert [line.drill for line in within(lines, chosen_period(lines))] == ["2025-12-20", "2026-01-05"]
    assert [w.name for w in winters_of(lines)] == ["2025/26", "2023/24"]
    assert chosen_period([]) == ALL_TIME


def test_bounds_hold_their_own_days_and_may_be_open():
    lines = [run("2025-12-20"), run("2026-01-05"), run("2026-02-01")]
    both = chosen_period(lines, "2025-12-20", "2026-01-05")
    assert (both.name, len(within(lines, both))) == ("from 2025-12-20 to 2026-01-05", 2)
    assert len(within(lines, chosen_period(lines, "2026-01-05"))) == 2
    assert len(within(lines, chosen_period(lines, "", "2025-12-20"))) == 1
    assert chosen_period(lines, "2025-10-01", "2026-09-30").name == "2025/26", "the bounds of a winter are that winter"


@pytest.mark.parametrize(("first", "last"), [("soon", ""), ("", "2026-02-30"), ("2026-02-01", "2026-01-01")])
def test_bounds_that_are_none_are_refused(first, last):
    with pytest.raises(InputError):
        chosen_period([run("2026-01-05")], first, last)


def winters(years=(2021, 2022, 2023, 2024, 2025, 2026)):
    """Return the runs of someone who gets better within each winter, and begins each where they began the last."""
    start = [(dt.date(year, 1, 3) + dt.timedelta(days=7 * d), 14.0 - d) for year in years for d in range(8)]
    return [run(day, value, number=n) for day, value in start for n in range(2)]


def test_winters_together_hide_what_each_of_them_changed():
    """2026-11-27: a season was every run ever."""
    lines = winters()
    (whole,) = person_season("Mara", lines, TURN).trends
    (one,) = person_season("Mara", within(lines, chosen_period(lines)), TURN).trends
    assert whole.state != CLEAR
    assert (one.state, one.way) == (CLEAR, BETTER)


def test_across_seasons_there_is_a_row_a_winter_and_person():
    lines = [*winters(), run("2026-01-05", name="Ilvo")]
    rows = across_seasons(lines, AGREED, measures=TURN).rows
    assert [(row.name, row.period.name) for row in rows][0:2] == [("Ilvo", "2025/26"), ("Mara", "2020/21")]
    assert len(rows) == 7
    assert rows[1].cells[0].latest == 10.5, "the median of the whole winter"
    assert all(row.changes and row.runs == 16 for row in rows[1:])
    assert rows[0].too_few


def test_who_changed_clearly_stands_first():
    still = [run(line.drill, 9.0 + (-1.0) ** i, name="Ana") for i, line in enumerate(winters((2026,)))]
    rows = group_season([*still, *winters((2026,))], AGREED, measures=TURN).rows
    assert [row.name for row in rows] == ["Mara", "Ana"]


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("Kaja Solbrekk", "Kaja S\u00f8lbrekk"),
        ("J\u00fcrg M\u00e4der", "Jurg Mader"),
        ("Kaja Solbrekk", "Solbrekk, Kaja"),
        ("Kaja Solbrekk", "Kaja Solbreck"),
        ("Bj\u00f8rn", "Bjorn"),
        ("Anne-Lise Dahl", "Anne Lise Dahl"),
    ],
)
def test_near_spellings_are_offered(name, other):
    people = People((Person(name),))
    (found,) = near_names([name, other, "Odd Marsten"], people)
    assert (found.name, found.other, found.listed) == (name, other, True)
    assert "merge" in found.words("club")
    (unlisted,) = near_names([name, other], People())
    assert "--spelling" in unlisted.words("club")


def test_what_is_known_to_be_one_or_far_apart_is_not_offered():
    known = People((Person("Kaja Solbrekk", spellings=("Kaja S\u00f8lbrekk",)),))
    assert near_names(["Kaja S\u00f8lbrekk", "kaja  SOLBREKK", "", " "], known) == ()
    assert near_names(["Mara", "Mari", "Ilvo", "Nela Brodnik", "Timo Aschgrund"], People()) == ()
    assert folded("  S\u00d8LBREKK,  Kaja ") == "kaja solbrekk"
