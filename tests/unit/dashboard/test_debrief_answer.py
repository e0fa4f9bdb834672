"""What the debrief tells first: splits, numbered losses and their places, the account as steps, and plain words."""

import dataclasses
import math

import numpy as np
import pytest
from dash import html

from analyzer.model.account import FINDING_TITLES
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.recording import RunWords
from analyzer.model.result import PathTable, Phase
from dashboard.components.split_strip import split_strip
from dashboard.components.unbroken import unbroken, with_unbroken_units
from dashboard.figures.beside import GAP_SHARE, beside_shift
from dashboard.figures.fine_closeup import closeup_figure
from dashboard.figures.plan import plan_figure
from dashboard.view_models.account_steps import account_steps
from dashboard.view_models.chart_words import fine_words, plan_words, timeline_words
from dashboard.view_models.losses import losses, numbered_losses
from dashboard.view_models.order import window_of_button
from dashboard.view_models.run_summary import run_entry
from dashboard.view_models.sheet import medians
from dashboard.view_models.splits import answer_words, run_splits
from dashboard.view_models.unassessed import untold_measures, untold_time
from dashboard.wording import spread_shows

replace = dataclasses.replace


def words_of(node):
    if isinstance(node, (list, tuple)):
        return " ".join(words_of(item) for item in node if item is not None)
    return words_of(node.children) if hasattr(node, "children") else str(node)


def longer(result, phase, seconds):
    """Return a result whose `phase` took that much longer, by its account."""
    rows = list(result.account)
    at = next(i for i, row in enumerate(rows) if row.phase == phase)
    rows[at] = replace(rows[at], seconds=Figure(rows[at].seconds.value + seconds, 0.0, 999.0, "s"))
    return replace(result, account=tuple(rows))


def test_splits_add_up_to_the_run_and_its_reference(result):
    splits = run_splits(result)
    assert sum(split.seconds for split in splits) == round(sum(row.seconds.value for row in result.account))
    reference = sum(row.seconds.value for row in result.account if row.cause == "reference")
    assert sum(split.reference for split in splits) == pytest.approx(reference, abs=0.5 * len(result.phases))


def test_the_group_has_a_median_from_three_other_runs_on(result):
    own = run_splits(result)[1].seconds
    others = [run_entry("d", f"r{n}", longer(result, "coarse_search", extra)) for n, extra in enumerate((2, 40, 7))]
    assert run_splits(result, others)[1].group == own + 7  # the middle of three, not their mean
    assert run_splits(result, others[:2])[1].group is None
    assert "median of 3 other runs" in words_of(split_strip(result, others))
    assert "Group" not in words_of(split_strip(result, others[:2]))


def test_a_split_without_a_known_border_is_called_not_assessable(result):
    rows = [row for row in result.account if row.phase not in ("signal_search", "coarse_search")]
    joint = replace(
        result.account[0], phase="signal_search", cause="not_assessed", seconds=Figure(90.0, 90.0, 90.0, "s")
    )
    strip = words_of(split_strip(replace(result, account=(joint, *rows))))
    assert "Signal and coarse search 1:30 not assessable: where one ended and the other began" in strip
    assert "reference 0:00" not in strip
    assert "cannot be held against" in answer_words(replace(result, account=(joint, *rows)))


def cut_off(result, phase="coarse_search"):
    """Return a result whose recording ends in a phase, before any hit."""
    kept = [p.phase for p in result.phases]
    phases = result.phases[: kept.index(phase) + 1]
    rows = tuple(row for row in result.account if row.phase in [p.phase for p in phases])
    searches = tuple(replace(search, found=False) for search in result.searches)
    return replace(result, phases=phases, account=rows, searches=searches)


def test_a_run_that_ends_before_the_hit_is_not_said_to_be_faster_than_anybody(result):
    short = cut_off(longer(result, "coarse_search", -20.0))
    said = answer_words(short)
    assert "no probe hit at A or B: it is not held against the reference searcher as a whole" in said
    assert "than the reference" not in said
    assert "as long as" not in said
    signal, coarse = run_splits(short)[:2]
    assert (signal.reference is None, coarse.reference) == (False, None)
    assert "not assessable: the recording does not show where it ended, and no probe hit" in words_of(
        split_strip(short)
    )


def test_a_run_that_ends_before_the_hit_makes_no_group_faster(result):
    def by(name, run):
        return run_entry("d", name, replace(run, searcher=name))

    others = [by(f"r{n}", longer(result, "coarse_search", extra)) for n, extra in enumerate((2, 40, 7))]
    ended = [by(f"e{n}", cut_off(longer(result, "coarse_search", -20.0))) for n in range(4)]
    before, after = run_splits(result, others), run_splits(result, [*others, *ended])
    assert [split.group for split in before[1:]] == [split.group for split in after[1:]]
    assert after[0].others == 7  # their signal search is whole
    ended_run = cut_off(result)
    assert run_splits(ended_run, others)[1].group is None
    own = run_entry("d", "own", ended_run)
    assert {name for name, _ in medians(own, others)[0]} == {"signal"}
    assert (
        dict(medians(run_entry("d", "own", result), [*others, *ended])[0])["in all"]
        == (dict(medians(run_entry("d", "own", result), others)[0])["in all"])
    )


def test_losses_are_numbered_alike_in_words_and_on_the_plan(result):
    told = numbered_losses(result)
    costs = [loss.cost.value for loss in told]
    assert costs == sorted(costs, reverse=True)
    marks = [a for a in plan_figure(result)["layout"]["annotations"] if a.get("bgcolor") == "#a3122f"]
    assert [mark["text"] for mark in marks] == ["<b>1</b>", "<b>2</b>", "<b>3</b>"]
    for mark, loss in zip(marks, told, strict=True):
        middle = sum(loss.windows[0]) / 2.0
        east = np.interp(middle, result.path.time_s, result.path.east_m)
        assert abs(mark["x"] - east) <= 2 * beside_shift(result)[1] + 1e-9
        shown = window_of_button(result, {"place": loss.place, "number": loss.button})
        assert (shown.from_s, shown.to_s) == loss.windows[0]


def test_a_loss_that_the_coach_set_aside_is_neither_told_nor_marked(result):
    first = numbered_losses(result)[0]
    aside = replace(result, words=replace(result.words, set_aside=(f"{first.finding.id}: held by the coach",)))
    assert first.title not in [loss.title for loss in losses(aside)]
    assert f"1, {first.title.lower()}" in plan_words(result)
    assert f"1, {first.title.lower()}" not in plan_words(aside)


def test_a_loss_without_a_finding_has_its_number_and_its_window(result):
    (first, *_) = numbered_losses(replace(result, findings=()))
    assert first.place == "loss"
    shown = window_of_button(replace(result, findings=()), {"place": "loss", "number": 0})
    assert shown.from_s == min(a for a, _ in first.windows)
    assert shown.to_s == max(b for _, b in first.windows)


def out_and_back(result, *, aside_m=0.0):
    """Return a result of one coarse search: 60 m east, 20 m back over the same ground, and on to 100 m."""
    time_s = np.arange(0.0, 141.0)
    east = np.concatenate([np.arange(0.0, 61.0), np.arange(59.0, 39.0, -1.0), np.arange(41.0, 101.0)])
    north = aside_m * np.repeat([0.0, 1.0, -1.0], [61, 20, 60])
    path = PathTable(time_s, east, north, np.full(141, 9.0), np.full(141, 0.2))
    return replace(result, path=path, phases=(Phase("coarse_search", "A", 0.0, 140.0, 0.0, 0.0, 140.0, ""),))


def test_a_way_walked_three_times_is_drawn_as_three_lines(result):
    shift, gap = beside_shift(out_and_back(result))
    assert gap == pytest.approx(GAP_SHARE * 100.0)
    assert shift[50].tolist() == [0.0, 0.0]  # the first time it stays
    assert shift[70][1] == pytest.approx(gap)  # back, over 50 m east
    assert shift[90][1] == pytest.approx(2 * gap)  # and on
    assert shift[130].tolist() == [0.0, 0.0]  # new ground
    assert max(abs(shift[:, 0])) < 1e-9


def test_ways_apart_from_each_other_stay_where_they_are(result):
    shift, gap = beside_shift(out_and_back(result, aside_m=5.0))
    assert gap == 0.0
    assert not shift.any()


def test_the_legends_name_five_things_at_most(result):
    for figure in (plan_figure(result), closeup_figure(result, result.searches[0])):
        assert 3 <= sum(trace.get("showlegend", True) for trace in figure["data"]) <= 5


def test_the_steps_of_the_account_add_up_and_keep_one_scale(result):
    account = account_steps(result)
    assert account.reference + sum(step.seconds for step in account.steps) == account.seconds
    for step in account.steps:
        begin = account.zero if step.seconds > 0 else account.zero - step.width
        assert step.left == pytest.approx(begin)
        assert step.left >= 0.0
        assert step.left + step.width <= 100.0 + 1e-9
    first, second = account.steps[:2]
    assert first.width / second.width == pytest.approx(abs(first.seconds / second.seconds))


def test_text_alternatives_tell_the_answer(result):
    total, reference = (sum(s.seconds for s in run_splits(result)), sum(s.reference for s in run_splits(result)))
    over = total - reference
    said = answer_words(result)
    assert f"The run took {total // 60}:{total % 60:02d}, {over // 60}:{over % 60:02d} more" in said
    assert said in plan_words(result)
    assert "Most of it" in timeline_words(result)
    count = len(result.searches[0].legs)
    assert f"{count} straight line{'' if count == 1 else 's'}" in fine_words(result, result.searches[0])


def test_time_of_nobody_says_what_would_have_shown_it(result):
    row = replace(result.account[0], cause="not_told_apart", seconds=Figure(9.0, 1.0, 20.0, "s"))
    ((what, why),) = untold_time(replace(result, account=(result.account[0], row)))
    assert "+0:09 against the reference" in what
    assert "What would help" in why
    assert untold_time(replace(result, account=result.account[:1])) == []


def test_measures_without_a_figure_share_a_reason(result):
    search = replace(result.searches[0], coarse=tuple((k, NotAssessable("no log")) for k in ("walked_m", "pace_mps")))
    found = untold_measures(replace(result, searches=(search,)))
    assert any(what.endswith("and 1 other") and why == "no log." for what, why in found)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("12 to 14 s", "12 to 14\u00a0s"),
        ("6 m with", "6\u00a0m with"),
        ("at 3 more", "at 3 more"),
        ("1.3 m/s,", "1.3\u00a0m/s,"),
    ],
)
def test_units_stay_with_their_numbers(text, kept):
    assert unbroken(text) == kept
    assert with_unbroken_units(html.Div([html.P(text), 3])).children[0].children == kept


def test_an_interval_that_rounds_to_its_value_is_not_shown():
    assert not spread_shows(Figure(0.141, 0.138, 0.144, "m"))
    assert spread_shows(Figure(0.141, 0.134, 0.144, "m"))
    assert not spread_shows(Figure(2.0, 2.0, 2.0, "1"))


def test_an_arrow_of_a_number_has_a_length(result):
    for mark in plan_figure(result)["layout"]["annotations"]:
        if mark.get("bgcolor") == "#a3122f":
            assert math.hypot(mark["ax"], mark["ay"]) > 40.0


@pytest.mark.parametrize(("reference_s", "words"), [(0.1, "reference under 1 s"), (0.0, "reference: no time needed")])
def test_a_reference_that_rounds_to_nothing_is_said_as_it_is(result, reference_s, words):
    def put(row):
        if (row.phase, row.cause) != ("signal_search", "reference"):
            return row
        return replace(row, seconds=Figure(reference_s, reference_s, reference_s, "s"))

    short = replace(result, account=tuple(map(put, result.account)))
    split = run_splits(short)[0]
    assert (split.reference, split.why) == (0, "")
    strip = words_of(split_strip(short))
    assert f"{words} (+{split.seconds // 60}:{split.seconds % 60:02d})" in " ".join(strip.split())
    assert "not assessable" not in strip.partition("Coarse search")[0]
    assert "reference 0:00" not in strip


def test_a_phase_whose_account_has_no_reference_is_not_assessable(result):
    rows = tuple(row for row in result.account if (row.phase, row.cause) != ("signal_search", "reference"))
    split = run_splits(replace(result, account=rows))[0]
    assert (split.reference, split.why, split.brief) == (None, "the reference is not assessable", "")


def test_what_the_coach_set_aside_is_no_loss_of_the_list_the_group_sheet_or_the_replay(result):
    from dashboard.components.run_list import ALL_ASIDE, _run
    from dashboard.export.group_sheet import group_papers
    from dashboard.figures.replay import replay_data
    from dashboard.view_models.sheet import GroupRow, GroupSheet

    assert result.findings
    every = tuple(f"{finding.id}: called back" for finding in result.findings)
    aside = replace(result, words=RunWords("", "", "", (), every))
    before, after = run_entry("d", "r", result), run_entry("d", "r", aside)
    assert (before.aside, after.aside) == (False, True)
    names = {FINDING_TITLES[finding.id.split(":")[0]] for finding in result.findings}
    assert any(name in str(_run(before)) for name in names)
    assert not any(name in after.loss for name in names)
    bare = replace(after, loss="")
    assert ALL_ASIDE in str(_run(bare))
    assert "No findings" not in str(_run(bare))
    papers = group_papers(GroupSheet("d", "D", (GroupRow(bare, None),)))
    words = " ".join(t.get_text() for paper in papers for t in paper.figure.texts)
    assert "The coach set aside what was found." in words
    assert replay_data(aside, ())["findings"] == []
    assert len(replay_data(result, ())["findings"]) == min(len(result.findings), 3)
