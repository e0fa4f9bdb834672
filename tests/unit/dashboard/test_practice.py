"""Probing, marking and digging on the pages: what is shown where a mark shows it, and what is said where none does."""

import dataclasses

import pytest

from analyzer.engine.result import splits_of
from analyzer.model.recording import Mark
from dashboard.components.comparison import order_table, split_table
from dashboard.components.debrief import debrief_page
from dashboard.components.practice_table import noted_list, practice_panel
from dashboard.components.run_list import _run
from dashboard.components.split_strip import split_strip
from dashboard.export.practice_block import marks_lines
from dashboard.figures.timeline_bar import timeline_figure
from dashboard.view_models.chart_words import timeline_words
from dashboard.view_models.order import windows_of_page
from dashboard.view_models.practice import compared_practice, later_rows, moments, practice_table, told
from dashboard.view_models.run_summary import run_entry
from dashboard.view_models.unassessed import untold_measures

HIT_A, HIT_B = 330.0, 598.0
HITS = (Mark(HIT_A, "probe_hit", "A"), Mark(HIT_B, "probe_hit", "B"))


def marked(result, *marks, hits=HITS):
    found = tuple(sorted((*hits, *marks), key=lambda mark: mark.time_s))
    told_ = tuple((mark.transmitter, mark.time_s) for mark in found if mark.mark == "probe_hit")
    return dataclasses.replace(result, splits=splits_of(found), probe_hits_s=told_)


def alone(result):
    """Return the run as if A alone had been buried: it ends with its hit."""
    phases = tuple(p for p in result.phases if p.transmitter == "A")
    return dataclasses.replace(result, searches=result.searches[:1], phases=phases, duration_s=HIT_A)


@pytest.fixture
def dug(result):
    return marked(
        alone(result),
        *(Mark(at, "probe") for at in (280.0, 290.0, 310.0)),
        Mark(HIT_A + 5.0, "marking_end"),
        Mark(HIT_A + 20.0, "dig_begin"),
        Mark(HIT_A + 320.0, "airway_free"),
        hits=HITS[:1],
    )


def test_the_table_of_one_transmitter(dug):
    table = practice_table(dug)
    assert table.heads == ("A, hit at 5:30",)
    rows = {title: cells[0][0] for title, cells in table.rows}
    assert rows == {
        "From the start": "5:30",
        "Settled to first probing": "0:08",
        "Settled to the hit": "0:58",
        "Probings, no hit": "3",
        "For each probing": "0:17",
        "Hit to marked": "0:05",
        "Hit to digging": "0:20",
        "Hit to airway free": "5:20",
        "Start to airway free": "10:50",
    }
    assert table.untold == ()
    assert table.asides == ()


def test_what_no_mark_shows_says_which_mark_would_have_shown_it(result):
    table = practice_table(alone(dataclasses.replace(result, probe_hits_s=(("A", HIT_A),))))
    said = dict(table.untold)
    probing = said["Settled to first probing, Probings, no hit, For each probing"]
    assert "a mark probe at each one without a hit would have shown it" in probing
    assert said["Hit to marked"] == "a mark marking_end would have shown it"
    assert said["Hit to digging"] == "a mark dig_begin would have shown it"
    assert said["Hit to airway free, Start to airway free"] == "a mark airway_free would have shown it"
    open_ = dict(untold_measures(alone(result)))
    assert open_["Hit to digging"].endswith("a mark dig_begin would have shown it.")


def test_a_plain_run_of_one_transmitter_has_no_panel_and_no_moments(result):
    plain = alone(result)
    assert not told(plain)
    assert practice_panel(plain) == []
    assert moments(plain) == []
    assert later_rows(plain) == []
    assert noted_list(plain) is None
    assert marks_lines(plain) == []
    assert "mark" not in [trace["name"] for trace in timeline_figure(plain)["data"]]


def test_moments_stand_among_the_splits_and_have_the_median_of_three_other_runs(dug, result):
    found = {one.title: one for one in moments(dug)}
    assert found["Settled to first probing"].said == "3 probings before the hit, 17 s each"
    assert (found["Start to hit"].seconds, found["Start to hit"].said) == (HIT_A, "digging began 0:20 later")
    assert found["Start to airway"].seconds == HIT_A + 320.0
    others = [
        dataclasses.replace(run_entry("bowl", f"r{n}", dug), hit_s=300.0 + n, airway_s=600.0 + n) for n in range(3)
    ]
    assert {one.title: one.group for one in moments(dug, others)} == {
        "Settled to first probing": None,
        "Start to hit": 301.0,
        "Start to airway": 601.0,
    }
    assert all(one.group is None for one in moments(dug, others[:2]))
    words = str(split_strip(dug, others))
    assert "group 10:01" in words
    assert "Group: the median of 3 other runs of this drill." in words


def test_rows_after_the_run_stand_apart_in_the_timeline(dug):
    assert [(row.title, row.transmitter, row.from_s, row.to_s) for row in later_rows(dug)] == [
        ("Marking", "A", 330.0, 335.0),
        ("Until digging began", "A", 335.0, 350.0),
        ("Until the airway was free", "A", 350.0, 650.0),
    ]
    page = str(debrief_page(dug, ("bowl", "mara-1"), None))
    assert "After the run, in no sum" in page
    assert "Probing, marking and digging" in page


def test_marks_within_the_run_stand_on_the_bar_and_later_ones_do_not(dug):
    (marks,) = [trace for trace in timeline_figure(dug)["data"] if trace["name"] == "mark"]
    assert marks["customdata"] == [[279.5, 280.5], [289.5, 290.5], [309.5, 310.5]]
    shown = [(window.from_s, window.to_s) for window in windows_of_page(dug)]
    assert all(tuple(bounds) in shown for bounds in marks["customdata"])  # the page that is a file knows them too
    assert "Triangles stand at 3 marks." in timeline_words(dug)


def test_several_transmitters_in_the_order_found(result):
    run = marked(result, Mark(HIT_A + 4.0, "marking_end"))
    table = practice_table(run)
    assert table.heads == ("1st: A, hit at 5:30", "2nd: B, hit at 9:58")
    rows = {title: [text for text, _ in cells] for title, cells in table.rows}
    assert rows["From start, or hit before"] == ["5:30", "4:28"]
    assert rows["Hit to marked"] == ["0:04", "-"]
    swapped = marked(result, hits=(Mark(200.0, "probe_hit", "B"), Mark(HIT_A, "probe_hit", "A")))
    missed = marked(result, hits=HITS[:1])
    assert compared_practice([run, swapped, missed]).order == (
        ("1st", ("A: 5:30, marked 0:04 later", "B: 3:20", "A: 5:30")),
        ("2nd", ("B: 4:28", "A: 2:10", "B: no hit")),
    )
    assert "B: no hit" in str(order_table([run, missed], 0))
    assert order_table([alone(result)], 0) is None


def test_side_by_side_and_the_list_tell_the_airway_where_it_is_marked(dug, result):
    several = marked(result, Mark(280.0, "probe"), Mark(470.0, "probe"), Mark(500.0, "probe"))
    assert dict(compared_practice([dug, alone(result), several]).moments)["Probed, no hit"] == (
        "3, 17 s each",
        "",
        "A: 1; B: 2",
    )
    words = str(split_table([dug, alone(result)], 0))
    assert "Start to last airway" in words
    assert "10:50" in words
    assert "Start to last" not in str(split_table([alone(result)], 0))
    assert "Hit at 5:30, airway free at 10:50" in str(_run(run_entry("bowl", "r", dug)))
    assert "airway" not in str(_run(run_entry("bowl", "r", alone(result))))


def test_marks_that_are_not_counted_are_told_on_the_page_and_on_the_sheet(result):
    run = marked(result, Mark(100.0, "probe", "A"), Mark(340.0, "probe", "A"))
    said = practice_table(run).asides
    assert said == (
        "Probed, no hit at 1:40, transmitter A is marked before the fine search: not counted.",
        "Probed, no hit at 5:40, transmitter A is marked after the hit: not counted.",
    )
    assert said[1] in str(practice_panel(run))
    assert "after the hit: not counted" in " ".join(marks_lines(run))
