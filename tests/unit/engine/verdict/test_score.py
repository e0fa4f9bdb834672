"""Points: lost are the account's positive seconds, every point is traced, and less evidence never scores more."""

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from analyzer.engine.verdict import points_of, score
from analyzer.files.rules_toml import default_rules
from analyzer.model.account import AccountRow, Search, WrongWay
from analyzer.model.figure import Figure, NotAssessable, exact
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL
from analyzer.model.rules import Deduction

RULES = replace(default_rules(), deductions=(), missed_s=300.0)
LOWEST = Deduction(FINE, "fine.ended_on_lowest_m", 0.2, 25.0, 15.0)
REFERENCE_S = {SIGNAL: 60.0, COARSE: 30.0, FINE: 50.0, PINPOINT: 20.0}


def search(name="A", *, found=True, coarse=(), fine=(), events=()):
    return Search(name, found, (), tuple(coarse), tuple(events), tuple(fine), (), ())


def row(phase, cause, seconds, *, half=0.0, metres=0.0, transmitter="A"):
    return AccountRow(phase, transmitter, cause, Figure(seconds, seconds - half, seconds + half, "s"), metres)


def references(*, transmitter="A", phases=PHASES):
    return [row(p, "reference", REFERENCE_S[p], transmitter=transmitter) for p in phases]


def scored(*rows, searches=None, rules=RULES):
    return score(searches or [search()], [*references(), *rows], rules)


def value(scores, key="overall"):
    return dict(scores.by_phase)[key].value


def why(scores, key="overall"):
    measured = dict(scores.by_phase)[key]
    assert isinstance(measured, NotAssessable), measured
    return measured.why


def lost(scores, phase):
    return sum(one.points for one in scores.losses if one.phase == phase)


def test_a_run_on_the_reference_has_all_points():
    scores = scored()
    assert {f.value for _, f in scores.by_phase} == {100.0}
    assert scores.losses == ()


def test_a_phase_scores_the_reference_over_reference_and_losses():
    """30 s of reference and 12 s lost: 100 x 30 / 42. The whole: 160 s of reference."""
    scores = scored(row(COARSE, "wrong_way", 12.0))
    assert value(scores, COARSE) == pytest.approx(3000.0 / 42.0)
    assert value(scores) == pytest.approx(16000.0 / 172.0)
    (loss,) = scores.losses
    assert (loss.phase, loss.cause, loss.measure) == (COARSE, "wrong_way", "")


def test_time_saved_makes_good_for_nothing():
    assert value(scored(row(COARSE, "wrong_way", 12.0), row(COARSE, "pace", -9.0)), COARSE) == value(
        scored(row(COARSE, "wrong_way", 12.0)), COARSE
    )


def test_a_fault_costs_the_same_with_a_wide_interval():
    """The values count: nothing is clipped draw by draw, which would make a loss of what may be none."""
    assert value(scored(row(COARSE, "detour", 0.0, half=6.0)), COARSE) == 100.0
    assert value(scored(row(COARSE, "detour", 4.0, half=6.0)), COARSE) == value(
        scored(row(COARSE, "detour", 4.0)), COARSE
    )


@pytest.mark.parametrize("cause", ["outside", "longer_lines", "marking", "pace", "not_told_apart"])
def test_causes_that_are_no_faults_count_where_they_are_positive(cause):
    assert value(scored(row(PINPOINT, cause, 5.0)), PINPOINT) == pytest.approx(80.0)
    assert value(scored(row(PINPOINT, cause, -5.0)), PINPOINT) == 100.0


def test_what_was_not_recorded_is_nobodys_loss_and_too_much_of_it_leaves_no_score():
    short = scored(row(COARSE, "not_recorded", 14.0))
    assert value(short, COARSE) == value(short) == 100.0
    long = scored(row(COARSE, "not_recorded", 16.0))
    assert why(long, COARSE) == "16 s of it were not recorded or held"
    assert "coarse search (16 s of it were not recorded or held)" in why(long)
    assert value(long, FINE) == 100.0


def test_two_transmitters_are_summed_not_averaged():
    rows = [*references(), *references(transmitter="B", phases=PHASES[1:]), row(COARSE, "standing", 20.0)]
    scores = score([search("A"), search("B")], rows, RULES)
    assert value(scores, COARSE) == pytest.approx(6000.0 / 80.0)
    assert value(scores) == pytest.approx(26000.0 / 280.0)


def test_a_transmitter_not_found_adds_what_the_sheet_says():
    scores = score([search("A"), search("B", found=False)], references(), RULES)
    assert value(scores) == pytest.approx(16000.0 / 460.0)
    assert value(scores, PINPOINT) == 100.0
    assert points_of(scores.losses, "missed") == pytest.approx(100.0 - value(scores))
    assert value(score([search("A"), search("B", found=False)], references(), replace(RULES, missed_s=0.0))) == 100.0


def test_without_a_known_first_signal_neither_phase_nor_the_whole_is_scored():
    rows = [*references(phases=(FINE, PINPOINT)), row(SIGNAL, "not_assessed", 90.0)]
    scores = score([search()], rows, RULES)
    assert "first signal is not known" in why(scores, SIGNAL)
    assert "first signal is not known" in why(scores, COARSE)
    assert why(scores) == "signal search and coarse search (without readings or a mark the first signal is not known)"
    assert value(scores, FINE) == 100.0


def test_a_phase_without_a_reference_is_not_scored():
    rows = [*references(phases=(SIGNAL, FINE, PINPOINT)), row(COARSE, "not_told_apart", 90.0)]
    scores = score([search()], rows, RULES)
    assert "no reference searcher" in why(scores, COARSE)
    assert "coarse search" in why(scores)


def test_a_phase_with_next_to_no_reference_counts_in_the_whole_only():
    rows = [*references(phases=(FINE, PINPOINT)), row(COARSE, "reference", 1.0), row(COARSE, "standing", 9.0)]
    scores = score([search()], rows, RULES)
    assert "the reference searcher needs 1 s only" in why(scores, COARSE)
    assert value(scores) == pytest.approx(7100.0 / 80.0)


@pytest.mark.parametrize(("metres", "points"), [(0.6, 10.0), (0.1, 0.0), (9.0, 15.0)])
def test_deductions_count_beyond_what_is_free_and_up_to_the_most(metres, points):
    searches = [search(fine=[("ended_on_lowest_m", exact(metres, "m"))])]
    scores = scored(searches=searches, rules=replace(RULES, deductions=(LOWEST,)))
    assert value(scores, FINE) == pytest.approx(100.0 - points)
    assert points_of(scores.losses, "fine.ended_on_lowest_m") == pytest.approx(points)
    # In the whole a phase's deductions count by its share of the reference: 50 s of 160 s.
    assert value(scores) == pytest.approx(100.0 - points * 50.0 / 160.0)


def test_a_deduction_below_what_is_free():
    rules = replace(RULES, deductions=(Deduction(FINE, "fine.reach_m", 0.7, -20.0, 10.0),))
    assert value(scored(searches=[search(fine=[("reach_m", exact(0.5, "m"))])], rules=rules), FINE) == pytest.approx(
        96.0
    )


def test_a_deduction_is_averaged_over_the_transmitters():
    rows = [*references(), *references(transmitter="B")]
    far, on = (("ended_on_lowest_m", exact(m, "m")) for m in (0.6, 0.0))
    scores = score([search("A", fine=[far]), search("B", fine=[on])], rows, replace(RULES, deductions=(LOWEST,)))
    assert value(scores, FINE) == pytest.approx(95.0)


def test_what_a_sheet_asks_for_and_nobody_knows_leaves_no_score():
    searches = [search(fine=[("ended_on_lowest_m", NotAssessable("no readings"))])]
    scores = scored(searches=searches, rules=replace(RULES, deductions=(LOWEST,)))
    assert why(scores, FINE) == "last reading above the lowest: no readings"
    assert "fine search (last reading above the lowest: no readings)" in why(scores)


def test_who_never_came_to_the_fine_search_of_a_transmitter_loses_all_that_the_sheet_may_take():
    rules = replace(RULES, deductions=(Deduction(COARSE, "coarse.speed_at_3_m", 0.8, 20.0, 10.0),))
    given_up = search(found=False, coarse=[("speed_at_3_m", NotAssessable("3 m were never reached"))])
    scores = score([given_up], references(phases=(SIGNAL, COARSE)), rules)
    assert value(scores, COARSE) == pytest.approx(90.0)
    assert value(scores) == pytest.approx(9000.0 / 390.0 - 10.0 / 3.0)


def test_where_nobody_went_wrong_there_is_no_turning_round_to_score():
    rules = replace(RULES, deductions=(Deduction(COARSE, "coarse.turnaround_s", 2.0, 5.0, 50.0),))
    figures = [("turnaround_s", NotAssessable("no wrong way")), ("wrong_way_m", exact(0.0, "m"))]
    assert value(scored(searches=[search(coarse=figures)], rules=rules), COARSE) == 100.0
    late = [("turnaround_s", exact(6.0, "s")), ("wrong_way_m", exact(12.0, "m"))]
    went = search(coarse=late, events=[WrongWay(1.0, 7.0, 12.0, 12.0)])
    assert value(scored(searches=[went], rules=rules), COARSE) == pytest.approx(80.0)


def test_losses_add_up_to_what_is_missing_even_where_they_are_more_than_all():
    taken = Deduction(COARSE, "coarse.standing_s", 0.0, 10.0, 100.0)
    searches = [search(coarse=[("standing_s", exact(9.0, "s"))])]
    rows = (row(COARSE, "wrong_way", 30.0), row(COARSE, "detour", 15.0))
    scores = scored(*rows, searches=searches, rules=replace(RULES, deductions=(taken,)))
    assert value(scores, COARSE) == 0.0
    assert lost(scores, COARSE) == pytest.approx(100.0)
    plain = scored(*rows)
    assert lost(plain, COARSE) == pytest.approx(100.0 - value(plain, COARSE))
    assert points_of(plain.losses, "wrong_way") == pytest.approx(2.0 * points_of(plain.losses, "detour"))


def test_the_interval_joins_what_each_row_may_have_cost():
    """One row of 10 s, 6 to 14 s, over 30 s: 30/44 to 30/36. Two of half its size: narrower by the root of two."""
    one = dict(scored(row(COARSE, "wrong_way", 10.0, half=4.0)).by_phase)[COARSE]
    assert (one.low, one.high) == (pytest.approx(3000.0 / 44.0), pytest.approx(3000.0 / 36.0))
    two = dict(scored(row(COARSE, "wrong_way", 5.0, half=2.0), row(COARSE, "detour", 5.0, half=2.0)).by_phase)[COARSE]
    assert two.value == pytest.approx(one.value)
    assert (two.high - two.low) == pytest.approx((one.high - one.low) / 2.0**0.5, rel=0.02)


def test_a_loss_that_may_be_none_bounds_the_score_from_below_only():
    figure = dict(scored(row(COARSE, "detour", -1.0, half=4.0)).by_phase)[COARSE]
    assert (figure.value, figure.high, figure.low) == (100.0, 100.0, pytest.approx(3000.0 / 33.0))


def test_all_phases_and_the_whole_are_always_listed():
    assert set(dict(score([search()], [], RULES).by_phase)) == {"overall", *PHASES}
    assert why(score([search()], [], RULES)) == "no phase of this run could be scored"


SECONDS = st.floats(-25.0, 60.0)


@given(own_m=st.floats(1.0, 40.0), own_s=st.floats(5.0, 200.0))
def test_bracket_and_pace_that_cannot_be_told_apart_cost_as_much_as_told(own_m, own_s):
    """A fast pace makes good for long lines neither where they are told apart nor where they are not."""
    line_m, reference_s = 10.0, REFERENCE_S[FINE]
    longer = (own_m - line_m) * own_s / own_m
    told = (row(FINE, "longer_lines", longer, metres=own_m - line_m), row(FINE, "pace", own_s - reference_s - longer))
    untold = row(FINE, "not_told_apart", own_s - reference_s, metres=own_m - line_m)
    rows = [row(FINE, "reference", reference_s, metres=line_m)]
    scores = [value(score([search()], [*rows, *more], RULES), FINE) for more in (told, (untold,))]
    assert scores[1] == pytest.approx(scores[0])


@given(
    own_m=st.floats(10.0, 40.0), own_s=st.floats(5.0, 200.0), extra_m=st.floats(0.1, 20.0), hurry=st.floats(0.2, 1.0)
)
def test_extra_lines_that_cannot_be_told_apart_cost_no_less(own_m, own_s, extra_m, hurry):
    """Where the further lines were walked no slower than the cross, which is what one can know without telling them."""
    line_m, reference_s = 10.0, REFERENCE_S[FINE]
    extra_s, longer = hurry * extra_m * own_s / own_m, (own_m - line_m) * own_s / own_m
    told = (
        row(FINE, "extra_lines", extra_s, metres=extra_m),
        row(FINE, "longer_lines", longer, metres=own_m - line_m),
        row(FINE, "pace", own_s - reference_s - longer),
    )
    untold = row(FINE, "not_told_apart", own_s + extra_s - reference_s, metres=own_m + extra_m - line_m)
    rows = [row(FINE, "reference", reference_s, metres=line_m)]
    scores = [value(score([search()], [*rows, *more], RULES), FINE) for more in (told, (untold,))]
    assert scores[1] <= scores[0] + 1e-9


@given(
    losses=st.lists(st.tuples(st.sampled_from(PHASES), SECONDS), max_size=8),
    hidden=st.sampled_from(["hole", "border", "reference", "measure"]),
    phase=st.sampled_from([SIGNAL, COARSE]),
)
def test_a_run_with_less_evidence_never_scores_higher(losses, hidden, phase):
    """Whatever is taken away: time on the record, the border of the first signal, the field line, a measure."""
    rules = replace(RULES, deductions=(Deduction(phase, "coarse.standing_s", 0.0, 1.0, 50.0),))
    known = search(coarse=[("standing_s", exact(7.0, "s"))])
    rows = [*references(), *(row(p, "pace", s) for p, s in losses)]
    own = [r for r in rows if r.phase == phase]
    if hidden == "hole":
        assume(sum(r.seconds.value for r in own) > 15.0)
        less = [r for r in rows if r.phase != phase] + [row(phase, "not_recorded", sum(r.seconds.value for r in own))]
    elif hidden == "border":
        joint = sum(r.seconds.value for r in rows if r.phase in (SIGNAL, COARSE))
        less = [r for r in rows if r.phase not in (SIGNAL, COARSE)] + [row(SIGNAL, "not_assessed", joint)]
    elif hidden == "reference":
        less = [r for r in rows if r.phase != phase] + [row(phase, "not_told_apart", sum(r.seconds.value for r in own))]
    else:
        less = rows
        known_less = search(coarse=[("standing_s", NotAssessable("not known"))])
    before = score([known], rows, rules)
    after = score([known_less if hidden == "measure" else known], less, rules)
    assert isinstance(dict(after.by_phase)["overall"], NotAssessable)
    for key in PHASES:
        one, two = dict(before.by_phase)[key], dict(after.by_phase)[key]
        assert isinstance(two, NotAssessable) or two.value <= one.value + 1e-9


@given(st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_more_seconds_lost_never_score_better(one, two):
    assume(one < two)
    assert value(scored(row(COARSE, "wrong_way", one))) >= value(scored(row(COARSE, "wrong_way", two)))
