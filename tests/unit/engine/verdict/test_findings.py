"""Remarks: one per fault that the evidence supports, the dearest first, none without evidence."""

import numpy as np
import pytest

from analyzer.engine.verdict.findings import POSSIBLY, REMARKS, findings
from analyzer.files.rules_toml import default_rules
from analyzer.model.account import AccountRow, MeasuredSearch, WrongWay
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan

RULES = default_rules()
SPANS = tuple(
    PhaseSpan(p, "A", a, b, 0.0, 0.0, np.array([a]), np.array([b]), hit_s=b if p == "pinpoint" else None)
    for p, a, b in ((SIGNAL, 0.0, 20.0), (COARSE, 20.0, 80.0), (FINE, 80.0, 130.0), (PINPOINT, 130.0, 150.0))
)


def sure(value, unit="m", half=0.0):
    return Figure(value, value - half, value + half, unit)


def cost(cause, seconds, half=1.0, windows=((30.0, 45.0),), phase=COARSE):
    """Return a row of the account."""
    return AccountRow(phase, "A", cause, sure(seconds, "s", half), seconds, tuple(windows))


def run(*, coarse=(), fine=(), events=(), extra=(), signal=(), account=()):
    groups = tuple(signal), tuple(coarse), tuple(events), tuple(fine)
    search = MeasuredSearch("A", True, *groups, (), (), tuple(extra), (29.0, 45.0), account=tuple(account))
    return findings([search], SPANS, RULES).said


def names(found):
    return [f.id.split(":")[0] for f in found]


WRONG = {
    "coarse": [("wrong_way_m", sure(8.0, half=0.8)), ("wrong_way_s", sure(7.0, "s"))],
    "events": [WrongWay(30.0, 37.0, 44.0, 8.0)],
    "account": (cost("wrong_way", 14.0, 0.6, [(30.0, 44.0)]),),
}


def test_a_clean_run_draws_no_remark():
    assert (
        run(
            coarse=[("wrong_way_m", sure(0.0)), ("standing_s", sure(0.0, "s")), ("speed_at_3_m", sure(0.55, "m/s"))],
            fine=[
                ("crossing_bounds_deg", sure(86.0, "deg")),
                ("reach_m", sure(1.2)),
                ("pace_mps", sure(0.3, "m/s")),
                ("ended_on_lowest_m", sure(0.05)),
            ],
        )
        == ()
    )


def test_a_wrong_way_names_its_times_and_its_cost():
    (found,) = run(**WRONG)
    assert (found.from_s, found.to_s) == (30.0, 44.0)
    assert (found.saving_s.low, found.saving_s.value, found.saving_s.high) == pytest.approx((13.4, 14.0, 14.6))
    assert "0:30" in found.text
    assert "8 m" in found.text
    assert dict(found.figures)["wrong_way_m"].value == 8.0


def test_a_rise_to_the_side_of_the_line_is_told_as_a_detour():
    extra = (("off_line_peak_m", sure(15.0, half=1.0)), ("detour_m", sure(8.0)))
    (found,) = run(**{**WRONG, "account": (*WRONG["account"], cost("detour", 3.0))}, extra=extra)
    assert names([found]) == ["detour"]
    assert found.saving_s.value == pytest.approx(17.0)


@pytest.mark.parametrize(("peak", "half", "told"), [(6.0, 1.0, True), (6.0, 4.0, False), (3.0, 0.2, False)])
def test_a_detour_needs_to_be_wide_and_certain(peak, half, told):
    extra = (("off_line_peak_m", sure(peak, half=half)), ("detour_m", sure(4.0)))
    assert names(run(extra=extra, account=[cost("detour", 3.0)])) == (["detour"] if told else [])


@pytest.mark.parametrize(("seconds", "half"), [(0.2, 0.1), (-2.0, 0.5), (2.5, 3.4)])
def test_a_detour_that_cost_nothing_for_certain_is_not_told(seconds, half):
    """2026-11-26: people were told of ways beside the line that had cost them nothing."""
    extra = (("off_line_peak_m", sure(6.0, half=1.0)), ("detour_m", sure(4.0)))
    assert run(extra=extra, account=[cost("detour", seconds, half)]) == ()


def test_back_along_the_line_is_the_wrong_way_and_no_detour():
    """2026-11-25: who walks back along the line is as far from it as he walked; that is not to the side."""
    extra = (("off_line_peak_m", sure(9.0, half=1.0)), ("detour_m", sure(0.2)))
    rows = (*WRONG["account"], cost("detour", 0.1, 0.5))
    assert names(run(**{**WRONG, "account": rows}, extra=extra)) == ["wrong_way"]


@pytest.mark.parametrize(("seconds", "half", "told"), [(8.0, 1.0, True), (2.0, 0.2, False), (4.0, 3.5, False)])
def test_standing_needs_to_be_long_and_certain(seconds, half, told):
    found = run(
        coarse=[("standing_s", sure(seconds, "s", half))],
        account=[cost("standing", seconds, half, [(40.0, 40.0 + seconds)])],
    )
    assert names(found) == (["standing"] if told else [])


@pytest.mark.parametrize(("speed", "half", "told"), [(1.2, 0.1, True), (0.6, 0.1, False), (0.8, 0.4, False)])
def test_too_fast_into_the_fine_search(speed, half, told):
    found = run(coarse=[("speed_at_3_m", sure(speed, "m/s", half))])
    assert names(found) == (["late_slow_down"] if told else [])


@pytest.mark.parametrize(
    ("name", "figure", "remark"),
    [
        ("reach_m", sure(0.3, half=0.2), "narrow_bracketing"),
        ("pace_mps", sure(0.8, "m/s", 0.1), "rushed_bracketing"),
        ("ended_on_lowest_m", sure(0.5, half=0.1), "off_lowest"),
    ],
)
def test_fine_search_faults(name, figure, remark):
    assert names(run(fine=[(name, figure)])) == [remark]


@pytest.mark.parametrize(("share", "lines", "told"), [(0.95, 2.0, True), (0.8, 2.0, False), (0.95, 4.0, False)])
def test_an_oblique_line_is_told_where_it_is_likely_and_there_is_one_cross(share, lines, told):
    figures = [
        ("crossing_angle_deg", sure(45.0, "deg", 15.0)),
        ("oblique_share", sure(share, "1")),
        ("lines_seen", sure(lines, "1")),
    ]
    assert ("oblique_bracketing" in names(run(fine=figures))) == told


def test_nothing_is_said_of_an_angle_that_is_not_assessable():
    """2026-11-26: a result called the angle not assessable and told its searcher of "probably 58 degrees"."""
    figures = [
        ("crossing_angle_deg", NotAssessable("known to 30 degrees only")),
        ("crossing_bounds_deg", sure(45.0, "deg", 30.0)),
        ("oblique_share", sure(0.95, "1")),
    ]
    assert run(fine=figures) == ()


def test_who_hurries_and_turns_early_is_told_of_the_hurry_first():
    hurry = ("pace_mps", sure(0.8, "m/s", 0.1))
    assert names(run(fine=[hurry, ("reach_m", sure(0.58, half=0.1))])) == ["rushed_bracketing", "narrow_bracketing"]


@pytest.mark.parametrize(
    ("name", "figure"),
    [
        ("reach_m", sure(0.6, half=0.6)),
        ("pace_mps", sure(0.4, "m/s", 0.15)),
        ("ended_on_lowest_m", sure(0.31, half=0.3)),
        ("oblique_share", NotAssessable("too coarse")),
    ],
)
def test_poor_evidence_draws_no_remark(name, figure):
    assert run(fine=[(name, figure)]) == ()


def test_the_dearest_comes_first():
    found = run(
        coarse=[*WRONG["coarse"], ("standing_s", sure(30.0, "s", 1.0))],
        events=WRONG["events"],
        account=(*WRONG["account"], cost("standing", 30.0, windows=[(45.0, 75.0)])),
        fine=[("reach_m", sure(0.5, half=0.1))],
    )
    assert names(found) == ["standing", "wrong_way", "narrow_bracketing"]
    assert [f.severity for f in found] == ["severe", "costly", "costly"]


def test_extra_brackets_are_told_where_lines_beyond_a_cross_were_seen():
    """2026-11-26: time over that of one cross was called extra bracketing of people who had made one cross."""
    windows = [(95.0, 110.0), (112.0, 130.0)]
    figures = [("duration_s", sure(50.0, "s"))]
    (found,) = run(fine=figures, account=[cost("extra_lines", 33.0, 2.0, windows, FINE)])
    assert (found.from_s, found.to_s, found.saving_s.value) == (95.0, 130.0, 33.0)
    assert run(fine=figures, account=[cost("not_told_apart", 33.0, 2.0, windows, FINE)]) == ()
    assert run(fine=figures, account=[cost("extra_lines", 14.0, 12.0, windows, FINE)]) == ()


@pytest.mark.parametrize(
    ("cause", "word"), [("missed_strip", "left a strip out"), ("covered_twice", "already covered")]
)
def test_strips_left_out_and_ground_covered_twice(cause, word):
    rows = [cost(cause, 16.0, 2.0, [(2.0, 18.0)], SIGNAL)]
    (found,) = run(account=rows, signal=[("duration_s", sure(20.0, "s"))])
    assert (found.id, found.phase, found.from_s, found.to_s) == (f"{cause}:A", SIGNAL, 2.0, 18.0)
    assert word in found.text


def test_probing_is_not_blamed_where_it_cannot_be_told_from_bracketing():
    rows = [cost("not_told_apart", 40.0, 3.0, [(130.0, 150.0)], PINPOINT)]
    assert run(account=rows) == ()
    (found,) = run(account=[cost("long_probing", 40.0, 3.0, [(130.0, 150.0)], PINPOINT)])
    assert (found.id, found.saving_s.value) == ("long_probing:A", 40.0)


def test_the_seconds_of_one_probing_are_claimed_once():
    seen = [("lines_seen", sure(2.0, "1")), ("crossing_bounds_deg", sure(88.0, "deg", 2.0))]
    rows = [cost("off_lowest", 40.0, 3.0, [(130.0, 150.0)], PINPOINT)]
    found = run(account=rows, fine=[("reach_m", sure(0.3)), ("ended_on_lowest_m", sure(0.6)), *seen])
    assert sorted(names(found)) == ["narrow_bracketing", "off_lowest"]
    assert [f.saving_s.value for f in found if isinstance(f.saving_s, Figure)] == [40.0]


def test_ids_are_unique():
    found = run(**WRONG, fine=[("reach_m", sure(0.3))])
    assert len({f.id for f in found}) == len(found) == 2


def test_what_is_likely_and_not_sure_is_possible_in_other_words():
    """Between 0.6 and 0.9 nothing blames; below 0.6, and where it would not be worth it, nothing is said."""

    def of(value, half):
        parts = {"coarse": (("speed_at_3_m", sure(value, "m/s", half)),)}
        search = MeasuredSearch("A", True, (), parts["coarse"], (), (), (), ())
        return findings([search], SPANS, RULES)

    pace = next(k.pace_mps for k in RULES.pace if k.range_m == 3.0)
    said, doubtful, unlikely, small = (
        of(2.0 * pace, 0.05),
        of(1.8 * pace, 0.4),
        of(1.71 * pace, 2.0),
        of(1.6 * pace, 0.01),
    )
    assert names(said.said) == ["late_slow_down"]
    assert said.possible == ()
    assert doubtful.said == ()
    assert names(doubtful.possible) == ["late_slow_down"]
    assert "may" in doubtful.possible[0].text
    assert 0.6 <= doubtful.possible[0].probability < 0.9
    assert unlikely.said == unlikely.possible == small.said == small.possible == ()


@pytest.mark.parametrize("look", REMARKS, ids=lambda look: look.__name__)
def test_every_remark_has_words_for_what_is_possible_only(look):
    assert look.__name__ in POSSIBLY


@pytest.mark.parametrize(("offset_m", "said"), [(0.2, True), (1.0, False)])
def test_a_spiral_that_began_far_off_is_no_long_probing(offset_m, said):
    """40 s beyond the sheet: at 1.0 m there are 50 holes to the square of 25 cm, 100 s of a quick hand. By hand."""
    rows = [cost("long_probing", 40.0, 3.0, [(130.0, 150.0)], PINPOINT)]
    found = run(account=rows, fine=[("final_offset_m", sure(offset_m, half=0.3))])
    assert names(found) == (["long_probing"] if said else [])


def test_a_short_reach_without_a_crossing_line_may_be_that_of_a_slanting_one():
    """0.6 m across is 0.94 m along at 40 degrees, which is beyond 0.7 of the arm of 1.2 m. By hand."""
    reach = ("reach_m", sure(0.6, half=0.02))
    seen = [("lines_seen", sure(2.0, "1")), ("crossing_bounds_deg", sure(88.0, "deg", 2.0))]
    told, doubted = run(fine=[reach, *seen]), run(fine=[reach])
    assert told[0].probability == pytest.approx(1.0)
    assert doubted[0].probability == pytest.approx(0.9, abs=0.01)
