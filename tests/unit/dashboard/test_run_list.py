"""The list of runs: by day and drill, newest first, a page at a time, found by name, each failed result named once."""

import datetime as dt
import json
from dataclasses import replace

import pytest

from analyzer.files.results.result_json import write_result
from analyzer.model.figure import NotAssessable
from dashboard.view_models.account import JOINT_TITLE, Totals
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.run_days import ROWS, days_of, list_page
from dashboard.view_models.run_summary import loss_words, practice, split_times, what_happened

MORNING = dt.datetime(2026, 2, 14, 9, 0, tzinfo=dt.UTC)


def entry(run, hours, *, drill="bowl", searcher="Mara Fennick", **more):
    return RunEntry(drill, run, drill.title(), searcher, 90.0, began=MORNING + dt.timedelta(hours=hours), **more)


def drill(key, *runs):
    return DrillEntry(key, key.title(), runs)


def shown(days):
    return [(day.drill.key, [run.run for run in day.runs]) for day in days]


def test_runs_stand_by_day_and_drill_with_the_newest_first():
    bowl = drill("bowl", entry("a", 0), entry("b", 1), entry("c", 24), entry("d", 29.9))
    gully = drill("gully", entry("e", 2, drill="gully"))
    assert shown(days_of([bowl, gully])) == [("bowl", ["d", "c"]), ("gully", ["e"]), ("bowl", ["b", "a"])]


def test_a_day_over_midnight_is_one_day():
    late = drill("bowl", entry("a", 13), entry("b", 14.9), entry("c", 15.5))
    (day,) = days_of([late])
    assert day.began == MORNING + dt.timedelta(hours=13)


@pytest.mark.parametrize(
    ("find", "runs"),
    [
        ("mara", ["a"]),
        ("  ILO  brandt ", ["c", "b"]),
        ("bowl", ["b", "a"]),
        ("2026-02-15", ["c"]),
        ("gully ilo", ["c"]),
        ("bowl gully", []),
        ("", ["c", "b", "a"]),
    ],
)
def test_every_word_that_is_looked_for_stands_in_name_drill_or_date(find, runs):
    bowl = drill("bowl", entry("a", 0), entry("b", 1, searcher="Ilo Brandt"))
    gully = drill("gully", entry("c", 24, drill="gully", searcher="Ilo Brandt"))
    assert [run for _, names in shown(days_of([bowl, gully], find)) for run in names] == runs


def test_pages_hold_every_run_once_and_none_holds_more_than_its_rows():
    runs = [entry(f"run-{n:03d}", 20.0 * (n // 40) + n / 60.0) for n in range(130)]
    place = drill("bowl", *runs)
    pages = [list_page([place], page=str(n)) for n in range(1, 7)]
    assert {page.pages for page in pages} == {6}
    seen = [run.run for page in pages for part in page.parts for run in part.runs]
    assert seen == [run.run for run in reversed(runs)]
    assert max(sum(len(part.runs) for part in page.parts) for page in pages) == ROWS
    begins = {day.runs[0].run: page for day, page in pages[0].days}
    assert all(begins[part.day.runs[0].run] == page.page for page in pages for part in page.parts if part.first == 0)


@pytest.mark.parametrize(("page", "number"), [("", 1), ("0", 1), ("2", 2), ("99", 2), ("x", 1), ("²", 1), ("-1", 1)])
def test_a_page_that_there_is_not_is_the_nearest(page, number):
    place = drill("bowl", *[entry(f"run-{n}", n / 60.0) for n in range(ROWS + 1)])
    assert list_page([place], page=page).page == number


def test_splits_whose_border_is_not_known_share_one_entry():
    known = (Totals("Signal search", 10, 9, 1, 0, 0), Totals("Fine search", 20, 20, 0, 0, 0))
    run = Totals("In all", 30, 29, 1, 0, 0)
    assert [(name, t and t.seconds) for name, t in split_times((*known, run))] == [
        ("signal", 10),
        ("coarse", None),
        ("fine", 20),
        ("probe", None),
    ]
    joint = Totals(JOINT_TITLE, 40, 0, 0, 0, 40)
    assert [(name, t and t.seconds) for name, t in split_times((joint, *known, run))] == [
        ("signal and coarse", 50),
        ("fine", 20),
        ("probe", None),
    ]


def test_a_finding_in_words_and_what_to_practise(result):
    text = "At 0.5 m/s you did it. Wrong it was. To practise: say every reading aloud, and turn."
    assert what_happened(text) == "At 0.5 m/s you did it."
    assert practice(text) == "Say every reading aloud, and turn."
    assert practice("At 3 m you ran 1.3 m/s. Nobody reads so fast. Slow down at 5 m.") == "Slow down at 5 m."
    assert practice("You stood still.") == ""
    finding = replace(result.findings[0], id="late_slow_down:A", saving_s=NotAssessable("no reference"))
    assert loss_words(replace(result, findings=(finding,))).startswith("Slowed down late")
    missed = replace(result, searches=(result.searches[0], replace(result.searches[1], found=False)))
    assert loss_words(missed).startswith("B not found; ")


def nodes(value, kind):
    if isinstance(value, dict):
        if value.get("type") == kind:
            yield value["props"]
        for item in value.values():
            yield from nodes(item, kind)
    elif isinstance(value, list):
        for item in value:
            yield from nodes(item, kind)


def test_the_page_builds_no_more_rows_than_it_shows_and_names_a_failed_result_once(
    app, make_result, results_folder, ask
):
    made = make_result()
    for number in range(2 * ROWS):
        begins = made.time_zero + dt.timedelta(minutes=number)
        run = replace(made, run_id=f"run-{number:02d}", time_zero=begins)
        write_result(results_folder / "upper_bowl" / f"{run.run_id}.json", run)
    first, second = (json.loads(ask("/", search)[1]) for search in ("", "?page=2"))
    for page in (first, second):
        assert len([one for one in nodes(page, "Link") if str(one.get("className")).startswith("run row")]) == ROWS
    words = [json.dumps(page, ensure_ascii=False) for page in (first, second)]
    assert [page.count("cannot be shown:") for page in words] == [1, 0]
    assert "53 runs of 2 drills, the newest first: 1 to 25 are shown." in words[0]
    (found,) = (json.dumps(json.loads(ask("/", search)[1])) for search in ("?find=ilo+brandt",))
    assert "1 run of 1 drill." in found
    assert "Mara Fennick" not in found
    assert 'No run has \\"nobody\\" in its name, drill or date.' in json.dumps(json.loads(ask("/", "?find=nobody")[1]))
