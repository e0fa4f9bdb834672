"""The account on the pages: whole seconds that add up, words, windows, the largest loss without a finding."""

import csv
import io
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.model.account import AccountRow
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.recording import InputFile
from dashboard.components.account_comparison import account_comparison
from dashboard.components.account_table import account_table
from dashboard.components.finding_list import finding_list, headline, in_doubt
from dashboard.components.run_list import NOT_SCORED, day_card
from dashboard.export.account import account_csv, timeline_csv
from dashboard.export.measures import measures_json
from dashboard.export.sheet import sheet_papers
from dashboard.view_models.account import (
    JOINT_TITLE,
    AccountLine,
    account_view,
    account_windows,
    compared_accounts,
    not_found,
    phase_totals,
    unremarked_loss,
)
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.losses import UNTOLD, losses
from dashboard.view_models.rounding import adding_up
from dashboard.view_models.run_days import Day, Part
from dashboard.view_models.run_summary import loss_words
from dashboard.view_models.sheet import SheetRun
from dashboard.view_models.splits import answer_words
from dashboard.view_models.unassessed import untold_measures, untold_time

W = ((10.0, 20.0),)


def row(cause, seconds, *, phase="coarse_search", half=1.0, who="A", windows=()):
    return AccountRow(phase, who, cause, Figure(seconds, seconds - half, seconds + half, "s"), 0.0, windows)


def text_of(component):
    """Return all words of a component, in order."""
    found = []

    def walk(node):
        if isinstance(node, (list, tuple)):
            for child in node:
                walk(child)
        elif hasattr(node, "children"):
            walk(node.children)
        elif node is not None:
            found.append(str(node))

    walk(component)
    return " ".join(" ".join(found).split())


# Rounding.


@pytest.mark.parametrize(
    ("values", "whole", "shown"),
    [
        ([], None, []),
        ([127.6, 56.4], None, [128, 56]),  # 2:08 + 0:56 = 3:04
        ([128.5, 56.5], None, [129, 56]),  # 185.0: of equal remainders the first goes up
        ([33.3, 33.3, 33.4], None, [33, 33, 34]),
        ([30.4, -4.4], None, [30, -4]),
        ([10.4, -3.5, -0.9], None, [10, -3, -1]),  # 6.0
        ([1.5, 1.5], 2, [1, 1]),
        ([1.5, 1.5], 4, [2, 2]),
    ],
)
def test_adding_up_by_hand(values, whole, shown):
    assert adding_up(values, whole) == shown


@given(st.lists(st.floats(-1e4, 1e4, allow_nan=False), max_size=40))
def test_a_column_adds_up_and_no_number_is_off_by_a_whole_one(values):
    shown = adding_up(values)
    assert sum(shown) == round(sum(values)) or abs(sum(values) % 1.0 - 0.5) < 1e-6
    assert all(abs(a - b) < 1.0 for a, b in zip(shown, values, strict=True))


# The view.


def test_rows_add_up_to_their_phase_and_phases_to_the_run(result):
    view = account_view(result)
    assert view.seconds == sum(part.seconds for part in view.parts) == 600
    for part in view.parts:
        assert part.seconds == sum(line.seconds for line in part.lines), part.title
    assert view.reference + view.lost - view.gained + view.nobody == 600
    assert [(p.title, p.seconds) for p in view.parts[:2]] == [
        ("Signal search, transmitter A", 110),
        ("Coarse search, transmitter A", 106),
    ]
    # 84.3 + 22.4 + 3.3: one of the fractions goes up, and the largest is 0.4.
    assert [line.seconds for line in view.parts[0].lines] == [84, 23, 3]


def test_totals_of_phases_add_up_both_ways(result):
    totals = phase_totals(account_view(result))
    *phases, whole = totals
    assert [t.title for t in totals] == ["Signal search", "Coarse search", "Fine search", "Pinpoint", "In all"]
    for t in totals:
        assert t.seconds == t.reference + t.lost - t.gained + t.nobody
    for name in ("seconds", "reference", "lost", "gained", "nobody"):
        assert sum(getattr(t, name) for t in phases) == getattr(whole, name)


def test_the_reference_comes_first_and_what_is_nobodys_last(result):
    causes = [[line.cause for line in part.lines] for part in account_view(result).parts]
    assert all(found[0] == "reference" for found in causes)
    assert causes[1] == ["reference", "wrong_way", "detour", "pace"]
    assert causes[5] == ["reference", "not_told_apart"]
    assert "detour" not in causes[4]  # 0.1 s would show as 0:00


def test_an_interval_holds_the_rounded_value(result):
    for line in account_view(result).lines:
        if line.interval:
            low, high = (int(n) for n in line.interval.removesuffix(" s").replace("−", "-").split(" to "))
            assert low <= line.seconds <= high
            assert low <= line.figure.low
            assert high >= line.figure.high
        else:
            assert line.figure.low == line.figure.high


def test_windows_are_numbered_as_the_buttons_are(result):
    every = account_windows(result)
    lines = account_view(result).lines
    assert all(every[number] == (a, b) for line in lines for number, a, b in line.windows)
    assert [w for line in lines if line.cause == "wrong_way" for w in line.windows] == [(2, 168.0, 202.0)]
    assert not [w for line in lines if line.cause == "reference" for w in line.windows]


def test_where_the_border_is_not_known_two_phases_are_one(result):
    rows = (
        row("not_assessed", 216.0, phase="signal_search", windows=((0.0, 216.0),)),
        *(
            r
            for r in result.account
            if (r.phase, r.transmitter) not in {("signal_search", "A"), ("coarse_search", "A")}
        ),
    )
    joint = replace(result, account=rows)
    first = account_view(joint).parts[0]
    assert (first.title, first.phase_number, first.seconds) == (f"{JOINT_TITLE}, transmitter A", None, 216)
    assert "nobody's fault" in first.lines[0].what
    assert "Signal and coarse search, 3:36 of it, could not be assessed." in text_of(headline(joint))
    assert account_view(joint).nobody == 216 + 18


def test_the_headline_adds_up(result):
    words = text_of(headline(result))
    view = account_view(result)
    # By hand, phase by phase rounded to the phase: 84 + 47 + 32 + 30 for A, 43 + 40 + 30 for B.
    assert words.startswith("10:00 in all. The reference searcher needs 5:06 ")
    assert f"{view.lost // 60}:{view.lost % 60:02d} were lost and 0:07 gained" in words
    assert "for 0:18 more no cause is known" in words


def test_the_table_says_it_in_words(result):
    words = text_of(account_table(result, None))
    for part in (
        "Time gained by a faster pace than the sheet's",
        "Wrong way from turning away until the lost range was regained 2:48 to 3:22",
        "+0:34",
        "nobody's fault: the lines, or the moment of settling,",
        "The reference searcher in all 5:06",
        "Gained −0:07",
        "This run 10:00",
    ):
        assert part in words
    assert "ledger" not in words.lower()


# The largest loss.


def test_a_finding_on_the_largest_loss_leaves_nothing_to_say(result):
    assert result.findings[0].id == "off_lowest:B"
    assert unremarked_loss(result) == ""


def test_the_largest_loss_without_a_finding_is_said(result):
    said = unremarked_loss(replace(result, findings=result.findings[1:]))
    assert said.startswith("The largest loss has no remark of its own: 1:50 min in the pinpoint, transmitter B")
    assert "(90 %: 105 to 116 s)" in said
    assert "Probing beside the lowest spot" in said
    shown = text_of(finding_list(replace(result, findings=()), None))
    assert "Probing beside the lowest spot 110 s In the pinpoint, transmitter B" in shown
    assert "The evidence does not show how it came about." in shown
    assert "Nothing in the evidence" not in shown


def test_what_can_be_practised_stands_before_seconds_that_no_finding_speaks_of(result):
    """2026-11-27: who bracketed too fast was told first that her signal search was 12 s too slow."""
    finding = replace(
        result.findings[0], id="late_slow_down:A", phase="fine_search", transmitter="A", saving_s=NotAssessable("x")
    )
    account = (row("longer_lines", 23.0, phase="fine_search", windows=W),)
    shown = replace(result, findings=(finding,), account=account)
    first, second = losses(shown)
    assert (first.title, second.title) == ("Slowed down late", "Lines longer than needed")
    # The same: "The evidence does not show how it came about" stood beside the finding on the same seconds.
    assert "you walked further than one cross needs. See also, in the same phase: slowed down late." in second.text
    assert UNTOLD not in second.text
    assert loss_words(shown) == "Slowed down late; lines longer than needed, fine search, transmitter A: 23 s"
    elsewhere = replace(finding, transmitter="B")
    assert UNTOLD in losses(replace(shown, findings=(elsewhere,)))[1].text


def test_a_slow_pace_is_told_in_plain_words(result):
    (loss,) = losses(replace(result, findings=(), account=(row("pace", 12.0, phase="signal_search", windows=W),)))
    assert loss.text == "In the signal search, transmitter A, you went more slowly than the rule sheet's pace."


def test_list_and_debrief_name_the_dearest_loss_first(result):
    finding = replace(result.findings[0], id="standing:A", transmitter="A", saving_s=Figure(5.0, 4.0, 6.0, "s"))
    rows = (row("longer_lines", 23.0, phase="fine_search", windows=W),)
    shown = replace(result, findings=(finding,), account=rows)
    assert [loss.title for loss in losses(shown)] == ["Lines longer than needed", "Standing"]
    assert loss_words(shown) == "Lines longer than needed, fine search, transmitter A: 23 s; standing: 5 s"
    nobodys = replace(shown, account=(row("not_told_apart", 23.0, phase="fine_search"),))
    assert loss_words(nobodys) == "Standing: 5 s"


@pytest.mark.parametrize(
    ("others", "said"),
    [
        ((), "All that was lost, 0:06, lies in the coarse search."),
        ((5.0,), "Most of what was lost, 0:06 of 0:11, lies in the coarse search."),
        ((3.0, 3.0), "The largest part of what was lost, 0:06 of 0:12, lies in the coarse search."),
    ],
)
def test_most_is_more_than_half(result, others, said):
    """2026-11-27: half was called most, and all as well."""
    phases = ("signal_search", "fine_search")
    rows = [row("pace", seconds, phase=phase) for seconds, phase in zip(others, phases, strict=False)]
    account = (row("reference", 60.0), row("detour", 6.0), *rows)
    found = replace(result, account=account, searches=tuple(replace(s, found=True) for s in result.searches))
    assert answer_words(found).endswith(said)


@pytest.mark.parametrize(
    ("tier", "said"),
    [
        ("track", "What would help: a track good to a tenth of a metre, and a log of the readings."),
        ("track+readings", "What would help: a track good to a tenth of a metre."),
        ("survey", "What would help: a log of the readings."),
        ("survey+readings", "cannot be told apart."),
    ],
)
def test_nothing_is_wished_for_that_the_run_has(result, tier, said):
    """2026-11-27: searchers who had logged their readings were told that a log of the readings would help."""
    account = (row("not_told_apart", 18.0, phase="fine_search"),)
    shown = replace(result, account=account, evidence=replace(result.evidence, tier=tier))
    ((_, why),) = untold_time(shown)
    assert why.endswith(said)


def test_a_reason_says_of_which_transmitter_it_is_true(result):
    """2026-11-27: three reasons for "Crossing angle of the bracket" stood below each other, of three transmitters."""
    key = "crossing_angle_deg"
    one, two = result.searches
    searches = tuple(
        replace(s, signal=(), coarse=(), fine=((key, NotAssessable(why)),), pinpoint=())
        for s, why in ((one, "known to 22"), (two, "known to 24"))
    )
    told = dict(untold_measures(replace(result, searches=searches)))
    assert told["Crossing angle of the bracket (A)"] == "known to 22."
    assert told["Crossing angle of the bracket (B)"] == "known to 24."
    alone = dict(untold_measures(replace(result, searches=searches[:1])))
    assert alone["Crossing angle of the bracket"] == "known to 22."


def test_a_run_that_could_not_be_assessed_is_not_praised(result):
    """2026-11-26: a run of 5:34, 4:24 of it not assessable, was told that nothing had cost time."""
    good = (row("reference", 60.0), row("pace", -2.0))
    told = [
        text_of(finding_list(replace(result, account=rows, findings=()), None))
        for rows in (
            good,
            (*good, row("not_assessed", 259.0, phase="signal_search")),
            (*good, row("not_told_apart", -3.0, phase="pinpoint")),
        )
    ]
    assert ["Nothing in the evidence cost time" in words for words in told] == [True, False, True]
    assert "does not tell what 4:19 of this run went into" in told[1]


def test_a_run_with_a_transmitter_not_found_is_not_praised(result):
    """2026-11-26: a run of 12 points without a hit was told that 0:00 were lost and that nothing had cost time."""
    good, (first, *others) = (row("reference", 60.0), row("pace", -2.0)), result.searches
    missed = replace(result, searches=(replace(first, found=False), *others), account=good, findings=())
    marked = InputFile("marks", "marks.csv", "0" * 64, rows=1, used=1)
    missed = replace(missed, inputs=(*(i for i in missed.inputs if i.role != "marks"), marked))
    said = "Transmitter A counts as not found: the recording shows no probe hit at it. The score adds 5:00 lost."
    assert result.rules.missed_s == 300.0
    assert text_of(headline(missed)).endswith(said)
    assert "Nothing in the evidence" not in text_of(finding_list(missed, None))
    (page, *_) = sheet_papers(SheetRun("bowl", "mara-1", missed))
    assert said in [t.get_text() for t in page.figure.texts]
    both = replace(missed, searches=tuple(replace(s, found=False) for s in result.searches))
    assert "Transmitters A and B count as not found" in text_of(headline(both))
    assert "lost for each." in text_of(headline(both))
    assert "not found" not in text_of(headline(result))


def test_what_is_only_possible_stands_apart_without_a_button_or_seconds(result):
    (doubtful,) = result.possible
    apart = in_doubt(result)
    assert text_of(apart).endswith(f"{doubtful.text} (71 % likely)")
    assert "Nobody is blamed" in text_of(apart)
    assert "finding" not in str(apart)
    assert "Button" not in str(apart)
    assert doubtful.text not in text_of(finding_list(result, None))
    assert in_doubt(replace(result, possible=())) is None


def test_a_finding_on_another_transmitter_says_nothing_of_it(result):
    other = replace(result.findings[0], transmitter="A")
    assert "transmitter B" in unremarked_loss(replace(result, findings=(other,)))


def test_what_a_narrow_cross_cost_lies_in_the_probing_after_it(result):
    narrow = replace(result.findings[0], id="narrow_bracketing:A", phase="fine_search", transmitter="A")
    long = replace(result, account=(row("long_probing", 22.0, phase="pinpoint"),), findings=(narrow,))
    assert unremarked_loss(long) == ""
    untimed = replace(narrow, saving_s=NotAssessable("not timed"))
    assert "22 s in the pinpoint" in unremarked_loss(replace(long, findings=(untimed,)))


@pytest.mark.parametrize("cause", ["reference", "not_recorded", "not_assessed"])
def test_what_is_no_loss_is_not_called_one(result, cause):
    assert unremarked_loss(replace(result, account=(row(cause, 90.0),), findings=())) == ""


def test_a_loss_that_may_be_none_is_not_said(result):
    assert unremarked_loss(replace(result, account=(row("detour", 9.0, half=9.5),), findings=())) == ""
    assert "9 s in the coarse" in unremarked_loss(replace(result, account=(row("detour", 9.0),), findings=()))


def test_a_loss_that_cannot_be_told_apart_is_nobodys_fault(result):
    said = unremarked_loss(replace(result, account=(row("not_told_apart", 40.0, phase="fine_search"),), findings=()))
    # 2026-11-26: the headline said that 0:04 were lost, and the line below it called 17 s of nobody's the largest loss.
    assert said.startswith("The most time went where no cause can be named: 40 s more than the reference in the fine")
    assert "nobody's fault" in said
    assert "loss" not in said


def test_a_second_that_may_be_none_is_no_loss_to_speak_of(result):
    """2026-11-26: of a run with 97 points it was said that its largest loss was 1 s (90 %: 0 to 2 s)."""
    assert unremarked_loss(replace(result, account=(row("detour", 1.1, half=0.7),), findings=())) == ""
    assert "2 s in the coarse" in unremarked_loss(replace(result, account=(row("detour", 2.0, half=0.7),), findings=()))


def test_card_and_account_round_one_interval_alike(result):
    """2026-11-26: the card of a wrong way said 13 to 14 s where its row in the account said 12 to 14 s."""
    finding = replace(result.findings[0], saving_s=Figure(13.4, 12.6, 13.7, "s"))
    card = text_of(finding_list(replace(result, findings=(finding,)), None))
    line = AccountLine("wrong_way", "", "", 13, finding.saving_s, ())
    assert line.interval == "12 to 14 s"
    assert f"90 %: {line.interval}" in card


def test_a_card_without_seconds_says_why(result):
    finding = replace(result.findings[0], saving_s=NotAssessable("it costs certainty"))
    card = text_of(finding_list(replace(result, findings=(finding,)), None))
    assert "time not assessable" in card
    assert card.endswith("It costs certainty")


def test_the_list_does_not_say_no_findings_of_a_run_that_was_not_assessed():
    """2026-11-26: a run of which 4:37 could not be assessed stood in the list with "No findings."."""

    def listed(**known):
        runs = (RunEntry("bowl", "mara-1", duration_s=90.0, **known),)
        day = Day(DrillEntry("bowl", "Bowl", runs), runs)
        return text_of(day_card(Part(day, 0, runs), at_hand=False, told=False))

    score = Figure(96.0, 95.0, 97.0, "points")
    assert NOT_SCORED in listed()
    assert "No findings." not in listed()
    assert "No findings." in listed(score=score)
    assert listed(loss="Standing: 12 s").endswith("Standing: 12 s")


# Side by side.


def test_accounts_side_by_side_add_up_run_by_run(result):
    rows = compared_accounts([result, result])
    whole = rows[-1].cells
    for n in range(2):
        assert whole[n].seconds == 600 == sum(r.cells[n].seconds for r in rows if r.cause)
        assert sum(r.cells[n].seconds for r in rows[:-1] if not r.cause) == 600
    found = {(r.group, r.cause): r for r in rows}
    # Pinpoint: 28 s for A and 3.6 s for B, rounded as on the page of the run.
    own = [line.seconds for line in account_view(result).lines if line.cause == "long_probing"]
    assert found["Pinpoint", "long_probing"].cells[0].seconds == sum(own)


def test_what_another_run_does_not_show_is_no_zero(result):
    told = tuple(
        row("extra_lines", 17.8, phase="fine_search", who="B") if r.cause == "not_told_apart" else r
        for r in result.account
    )
    lost = tuple(r for r in result.account if r.cause != "extra_lines")  # A fine, B not told apart
    found = {r.cause: r for r in compared_accounts([replace(result, account=told), replace(result, account=lost)])}
    assert found["extra_lines"].cells[1].why == "cannot be told apart in this run"
    assert found["wrong_way"].cells[1].seconds == 34
    coarse_only = replace(result, account=tuple(r for r in result.account if r.phase == "coarse_search"))
    none = {(r.group, r.cause): r for r in compared_accounts([result, coarse_only])}
    assert none["Pinpoint", ""].cells[1].why == "no pinpoint of its own in this run"


def test_only_a_sure_difference_is_called_one(result):
    faster = tuple(
        row("wrong_way", 4.0) if r.cause == "wrong_way" else row("pace", 9.0) if r == result.account[6] else r
        for r in result.account
    )
    words = text_of(account_comparison([result, replace(result, account=faster)], 0))
    assert "▼ 0:30 less" in words
    assert "≈ no clear difference" in words
    assert "no difference can be told" not in words
    # No difference of references or of what is nobody's is anybody's merit.
    assert words.count("▲") + words.count("▼") + words.count("≈") == len(
        [r for r in compared_accounts([result]) if r.cause not in ("", "reference", "not_told_apart")]
    )


def test_a_cause_that_went_both_ways_is_called_neither_lost_nor_gained(result):
    def with_pace(seconds):
        return replace(result, account=(row("pace", seconds), row("reference", 600.0 - seconds)))

    def titles(*seconds):
        return [r.title for r in compared_accounts([with_pace(s) for s in seconds]) if r.cause == "pace"]

    assert titles(5.0, -4.0) == ["Pace against the sheet's"]
    assert titles(-5.0, -4.0) == ["Time gained by a faster pace than the sheet's"]
    assert titles(5.0, 4.0) == ["Slower than the sheet's pace"]


# Files.


def rows_of(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def test_tables_for_a_spreadsheet_add_up(result):
    account, timeline = rows_of(account_csv(result)), rows_of(timeline_csv(result))
    assert sum(float(r["seconds"]) for r in account) == pytest.approx(600.0, abs=1e-3)
    assert sum(float(r["seconds"]) for r in timeline) == pytest.approx(600.0, abs=1e-3)
    (wrong,) = (r for r in account if r["key"] == "wrong_way")
    assert (wrong["cause"], wrong["seconds"], wrong["windows"]) == ("Wrong way", "34.4", "168.0 202.0")
    assert [r["key"] for r in timeline[4:6]] == ["wrong_way", "way_back"]
    assert any(float(r["seconds"]) < 0 and r["cause"].startswith("Time gained") for r in account)


def test_a_name_is_no_formula_in_them(result):
    risky = replace(result, searcher="=1+1")
    assert {r["searcher"] for data in (account_csv(risky), timeline_csv(risky)) for r in rows_of(data)} == {"'=1+1"}


def test_measures_as_json_hold_both(result):
    values = json.loads(measures_json(result))
    assert sum(r["seconds"]["value"] for r in values["account"]) == pytest.approx(600.0)
    assert sum(r["seconds"] for r in values["timeline"]) == pytest.approx(600.0)
    assert "ledger" not in values


def test_who_gave_no_marks_is_told_so_and_of_no_score_that_there_is_not(result):
    """2026-11-27: a track without marks was told that its transmitter was not found, and that 5:00 were added."""
    search, *others = result.searches
    marked = InputFile("marks", "marks.csv", "0" * 64, rows=1, used=1)
    missed = replace(result, searches=(replace(search, found=False), *others))
    unmarked = replace(missed, inputs=tuple(i for i in missed.inputs if i.role != "marks"))
    assert "Nobody gave marks" in not_found(unmarked)
    assert "Nobody gave marks" not in not_found(replace(unmarked, inputs=(*unmarked.inputs, marked)))
    parts = (("overall", NotAssessable("a phase could not be assessed")), *result.scores.by_phase[1:])
    unscored = replace(unmarked, scores=replace(unmarked.scores, by_phase=parts))
    assert "The score adds 5:00 lost" in not_found(unmarked)
    assert "score" not in not_found(unscored)
