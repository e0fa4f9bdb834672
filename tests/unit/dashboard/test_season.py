"""Season pages: what stands in them is what the trends say, who has not agreed is not named, charts hold every run."""

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest

from analyzer.errors import AnalyzerError
from analyzer.files.results.result_json import write_result
from analyzer.model.figure import Figure
from analyzer.model.people import People, Person
from analyzer.model.run_line import RunLine
from analyzer.seasons.group import group_season
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import CLEAR, HINT, NONE, Period
from analyzer.seasons.trend import person_season
from analyzer.workspace.people.people_toml import people_bytes
from dashboard.components.season import (
    cause_list,
    change_words,
    changes_table,
    group_table,
    measure_panel,
    person_address,
    season_choice,
)
from dashboard.figures.season import places, short_date, trend_figure
from dashboard.services.seasons import PersonMissingError, Seasons

FIRST = dt.datetime(2026, 1, 10, 9, 0, tzinfo=dt.UTC)
BY_KEY = {m.key: m for m in MEASURES}
DAYS = 8


def line(day, number, value, *, name="Mara", key="turnaround_s"):
    """Return a run with one measure."""
    start = FIRST + dt.timedelta(days=7 * day, minutes=10 * number)
    figure = Figure(value, value - 0.5, value + 1.0, BY_KEY[key].unit)
    return RunLine(
        name,
        f"day {day}",
        f"run-{number}",
        start.isoformat(),
        200.0,
        150.0,
        ((key, figure),),
        (("wrong_way", 10.0), ("unexplained", 99.0)),
    )


def text_of(component):
    """Return all texts of a component in order."""
    if component is None or isinstance(component, (str, int, float)):
        return "" if component is None else str(component)
    children = getattr(component, "children", component)
    parts = children if isinstance(children, (list, tuple)) else [children]
    return " ".join(text_of(part) for part in parts)


@pytest.fixture
def falling():
    """Return the season of someone who turns back sooner, two runs a day."""
    lines = [line(d, n, 9.0 - 0.6 * d + 0.2 * n) for d in range(DAYS) for n in range(2)]
    return person_season("Mara", lines)


def trend_of(season, key="turnaround_s"):
    return next(t for t in season.trends if t.measure.key == key)


def test_chart_shows_every_run_with_its_interval_and_the_line(falling):
    trend = trend_of(falling)
    figure = trend_figure(trend, falling.dates)
    runs, fit = figure["data"]
    assert list(runs["y"]) == pytest.approx([p.figure.value for p in trend.points])
    assert list(runs["error_y"]["array"]) == pytest.approx([1.0] * 16)
    assert list(runs["error_y"]["arrayminus"]) == pytest.approx([0.5] * 16)
    assert runs["marker"]["symbol"].count("star") == 1
    assert runs["marker"]["symbol"][14] == "star"
    assert (fit["line"]["dash"], list(fit["x"])) == ("solid", [1.0, 8.0])
    assert fit["y"][0] > fit["y"][1]
    low, high = figure["layout"]["yaxis"]["range"]
    assert low <= 0.0
    assert high > 9.1
    assert figure["layout"]["yaxis"]["title"]["text"] == "s"
    assert figure["layout"]["xaxis"]["ticktext"][0] == "10 Jan"
    (band,) = figure["layout"]["shapes"]
    assert (band["type"], band["y1"]) == ("rect", 4.0), "up to four seconds is soon enough"


def test_runs_of_a_day_stand_side_by_side(falling):
    at = places(trend_of(falling))
    assert len(set(at)) == 16
    assert np.all(np.abs(at - np.repeat(np.arange(1, 9), 2)) < 0.5)


def test_a_measure_against_the_reference_shows_where_that_is():
    season = person_season("Mara", [line(d, 0, 1.5, key="coarse_ratio") for d in range(DAYS)])
    band, shape = trend_figure(trend_of(season, "coarse_ratio"), season.dates)["layout"]["shapes"]
    assert band["y1"] == 1.25
    assert shape["y0"] == shape["y1"] == 1.0


def test_few_runs_have_a_chart_without_a_line():
    season = person_season("Mara", [line(0, 0, 5.0)])
    figure = trend_figure(trend_of(season), season.dates)
    assert [trace["name"] for trace in figure["data"]] == ["runs"]


def test_words_for_changes(falling):
    trend = trend_of(falling)
    assert change_words(trend) == "↘ better"
    assert change_words(replace(trend, state=HINT)) == "↘ perhaps better"
    assert change_words(replace(trend, state=NONE, way="")) == "→ no clear change"
    assert change_words(replace(trend, way="worse")) == "↘ worse"
    assert change_words(trend_of(falling, "score")) == "too few runs"


def test_panel_says_the_sentence_and_the_best(falling):
    words = text_of(measure_panel(trend_of(falling), None))
    assert "Turns back sooner: from about 9.1 s to 4.9 s over eight days of practice (clear)." in words
    assert "day 7/run-0 , 4.80 s on 2026-02-28 ; not clearly better than the next, 5.00 s." in words


def test_what_is_as_good_as_it_needs_to_be_has_no_best():
    """2026-11-27: the best of nineteen runs that lost nothing was the first one, "not clearly better than 0.00"."""
    mixed = person_season("Mara", [line(d, 0, 2.0 if d < 5 else 6.0) for d in range(DAYS)])
    assert "As good as it needs to be in 5 of 8 runs." in text_of(measure_panel(trend_of(mixed), None))
    every = person_season("Mara", [line(d, 0, 2.0) for d in range(DAYS)])
    words = text_of(measure_panel(trend_of(every), None))
    assert words.count("s good as it needs to be") == 1
    assert "Best" not in words


def test_table_of_a_group():
    lines = [line(d, 0, 9.0 - 0.6 * d) for d in range(DAYS)] + [line(d, 1, 5.0, name="Ilvo Ø") for d in range(2)]
    people = People(tuple(Person(name, consent=True, consent_date=FIRST.date()) for name in ("Mara", "Ilvo Ø")))
    season = group_season(lines, people)
    words = text_of(changes_table(season))
    assert words.index("Turns back sooner: from about 9.0 s to 4.8 s") < words.index("Ilvo Ø"), (
        "who changed comes first"
    )
    assert words.count("Too few days of practice") == 1
    assert "2 runs on 2 days" in words
    table = text_of(group_table(season))
    assert "↘ better" in table
    assert "too few" not in table, "it is said once, where the changes are"
    assert person_address("Ilvo Ø/x") == "/season/Ilvo%20%C3%98%2Fx"
    causes = text_of(cause_list(season.causes, season.runs))
    assert "Wrong way" in causes
    assert "100 s" in causes
    assert "in 10 of 10 runs" in causes


def test_seasons_are_chosen_by_their_bounds_in_the_address():
    period = Period(dt.date(2025, 10, 1), dt.date(2026, 9, 30), "2025/26")
    choice = season_choice("/season", (period,), period, group="North & South")
    links = [part.href for part in choice._traverse() if getattr(part, "href", None)]
    assert links == [
        "/season?group=North%20%26%20South&from=2025-10-01&to=2026-09-30",
        "/season?group=North%20%26%20South&across=yes",
    ]
    assert "Shown:  2025/26" in text_of(choice)
    own = Period(dt.date(2026, 1, 1), dt.date(2026, 1, 5), "from 2026-01-01 to 2026-01-05")
    assert "Shown:  from 2026-01-01" in text_of(season_choice("/season", (period,), own))
    assert person_address("Mara", period) == "/season/Mara?from=2025-10-01&to=2026-09-30"


def test_dates():
    assert [short_date(f"2026-{m:02d}-07") for m in (1, 5, 12)] == ["7 Jan", "7 May", "7 Dec"]


@pytest.fixture
def workspace(tmp_path, make_result):
    """Return a workspace whose results are those of Mara, who agreed to be named, and Ilvo, who did not."""
    for day in range(3):
        for name in ("Mara K", "Ilvo"):
            result = replace(make_result(run_id=name, searcher=name), time_zero=FIRST + dt.timedelta(days=day))
            write_result(tmp_path / "results" / f"day-{day}" / f"{name}.json", result)
    (tmp_path / "results" / "day-0" / "broken.json").write_text("{}")
    people = People((Person("Mara Kern", "North", True, FIRST.date(), ("Mara K",)), Person("Ilvo", "South")))
    (tmp_path / "people.toml").write_bytes(people_bytes(people))
    return tmp_path


def test_seasons_of_a_folder(workspace):
    door = Seasons(workspace / "results", workspace)
    view = door.group()
    assert [row.name for row in view.season.rows] == ["Mara Kern"]
    assert (view.season.others, view.season.runs, view.groups) == (1, 6, ("North", "South"))
    assert any("broken.json" in text for text in view.problems)
    assert [r.name for r in door.group("South").season.rows] == []
    assert door.group("nowhere").group == ""
    assert door.person("mara k").season.name == "Mara Kern"
    assert len(door.person("Ilvo").season.dates) == 3, "one's own page needs no consent"
    with pytest.raises(PersonMissingError):
        door.person("Nobody")
    with pytest.raises(PersonMissingError):
        door.person("")
    assert not (workspace / "searchwake.db").exists(), "looking makes no database"


def test_a_season_is_the_newest_winter_and_others_are_asked_for(workspace, make_result):
    old = replace(make_result(run_id="old", searcher="Mara K"), time_zero=FIRST.replace(year=2024))
    write_result(workspace / "results" / "old" / "old.json", old)
    door = Seasons(workspace / "results", workspace)
    view = door.group()
    assert (view.period.name, view.season.runs, [w.name for w in view.winters]) == (
        "2025/26",
        6,
        ["2025/26", "2023/24"],
    )
    assert door.group("", "2023-10-01", "2024-09-30").season.runs == 1
    assert [row.period.name for row in door.across().season.rows] == ["2023/24", "2025/26"]
    assert door.person("Mara Kern").season.runs == 3
    assert door.person("Mara Kern", "2024-01-01", "2024-12-31").season.runs == 1
    assert door.person("Mara Kern", "2020-01-01", "2020-12-31").season.runs == 0
    with pytest.raises(AnalyzerError, match="not a day"):
        door.group("", "yesterday")


def test_near_spellings_are_counted_and_not_named(workspace, make_result):
    write_result(workspace / "results" / "day-2" / "other.json", make_result(run_id="other", searcher="Ílvo"))
    assert Seasons(workspace / "results", workspace).group().near == 1


@pytest.mark.parametrize("left", [None, b"", b"[[person]\n", b"# nobody\n"])
def test_a_people_file_that_was_lost_names_nobody_who_was_not_named(workspace, left):
    """Gone, empty, damaged, without its people: the table is empty, and says how many are not in it."""
    (workspace / "people.toml").unlink()
    if left is not None:
        (workspace / "people.toml").write_bytes(left)
    view = Seasons(workspace / "results", workspace).group()
    assert (view.season.rows, view.season.others, view.season.runs) == ((), 2, 6)
    assert any("people.toml" in text for text in view.problems) is (left == b"[[person]\n")


def test_with_a_damaged_people_file_nobody_is_named(workspace):
    (workspace / "people.toml").write_text("[[person]]\nname = 3\n")
    view = Seasons(workspace / "results", workspace).group()
    assert view.season.rows == ()
    assert any("people.toml" in text for text in view.problems)


def test_without_a_workspace_nobody_is_named(workspace):
    """Else a folder of results served alone would show who has not agreed to be named."""
    season = Seasons(workspace / "results", None).group().season
    assert (season.rows, season.others) == ((), 2)
    assert Seasons(workspace / "gone", None).group().season.runs == 0


def test_a_changed_result_changes_the_season(workspace, make_result):
    door = Seasons(workspace / "results", workspace)
    before = door.person("Ilvo").season.runs
    path = workspace / "results" / "day-2" / "Ilvo.json"
    values = json.loads(path.read_text())
    values["run"]["searcher"] = "Mara K"
    path.write_text(json.dumps(values))
    assert (door.person("Ilvo").season.runs, before) == (2, 3)
    assert door.person("Mara Kern").season.runs == 4


def test_lines_of_the_database_are_those_of_the_files(workspace, monkeypatch):
    """What the database holds of the same bytes is taken; of other bytes nothing is."""
    from analyzer.files.source import sha256_hex

    path = workspace / "results" / "day-0" / "Ilvo.json"
    score = ("score", Figure(1.0, 1.0, 1.0, "points"))
    marked = RunLine("Ilvo", "elsewhere", "x", FIRST.isoformat(), 1.0, 1.0, (score,), ())
    known = {sha256_hex(path.read_bytes()): marked, "f" * 64: marked}
    monkeypatch.setattr("dashboard.services.seasons.known_lines", lambda _: known)
    season = Seasons(workspace / "results", workspace).person("Ilvo").season
    points = trend_of(season, "score").points
    assert [(p.drill, p.run, p.figure.value) for p in points if p.figure.value == 1.0] == [("day-0", "Ilvo", 1.0)]
    assert season.runs == 3
    assert CLEAR not in [t.state for t in season.trends]
