"""The account: one worked example to the hundredth of a second, and what must hold of every run."""

from dataclasses import replace

import numpy as np
import pytest
from builders import exact_path, walk
from hypothesis import given
from hypothesis import strategies as st

from analyzer.engine.measures.accounting.activities import fine_activities, pinpoint_activities
from analyzer.engine.measures.accounting.coarse import coarse_shares
from analyzer.engine.measures.accounting.fine import fine_shares, marking_shares, pinpoint_shares
from analyzer.engine.measures.accounting.run import contiguous, not_assessed, rows_of
from analyzer.engine.measures.accounting.signal import NEW, OUTSIDE, TWICE, WAY, ground_kinds, signal_shares
from analyzer.engine.measures.line import progress_of
from analyzer.engine.measures.signal_search import luck_figure
from analyzer.engine.measures.standing import Stop, stops
from analyzer.engine.measures.window import cut
from analyzer.engine.measures.wrong_way import Excursion, excursions
from analyzer.files.rules_toml import default_rules
from analyzer.model.account import WrongWay
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.rules import PaceKnot

STEADY = replace(default_rules(), pace=(PaceKnot(3.0, 1.3),))
AREA = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0]])


def one(seconds):
    return np.array([float(seconds)])


def window_of(time_s, points, phase=COARSE, *, end_sigma_s=0.0, start_sigma_s=0.0):
    end = float(time_s[-1])
    span = PhaseSpan(phase, "A", 0.0, end, start_sigma_s, end_sigma_s, np.zeros(1), one(end))
    return cut(exact_path(time_s, points), span)


def bent_line(length_m=35.0):
    """Return an ideal line whose range falls from 33 m to 3 m, evenly along it: a spiral about the transmitter."""
    range_m = np.linspace(33.0, 3.0, 4001)
    # ds^2 = dr^2 + (r dphi)^2, and ds/dr is 35/30 everywhere.
    turn = np.sqrt((length_m / 30.0) ** 2 - 1.0) * np.log(33.0 / range_m)
    line = np.column_stack([range_m * np.cos(turn), range_m * np.sin(turn)])
    return CoarseIdeal("A", line, one(length_m), Figure(length_m, length_m, length_m, "m"), 30.0)


def the_walk():
    """Return 29 s at 2 m/s: straight in from 33 m, at 23 m back out 10 m and in again, at 13 m a stop of 4 s."""
    knots_s = [0.0, 5.0, 10.0, 15.0, 20.0, 24.0, 29.0]
    range_m = [33.0, 23.0, 33.0, 23.0, 13.0, 13.0, 3.0]
    time_s = np.arange(0.0, 29.01, 0.25)
    return time_s, np.column_stack([np.interp(time_s, knots_s, range_m), np.zeros(len(time_s))])


def by_cause(rows):
    return {row.cause: row.seconds.value for row in rows}


def test_a_worked_example():
    """50 m walked for a line of 35 m: 20 m of it a wrong way, and 30 m straight where the line bends.

    Wrong way 20 m at 2 m/s, standing 4 s, reference 35 m at 1.3 m/s, detour (30 - 35) m at 0.5 s/m, and for pace
    35 m x (0.5 - 1 / 1.3) s/m; together the 29 s of the walk. By hand.
    """
    window, ideal = window_of(*the_walk()), bent_line()
    way = Excursion(WrongWay(5.0, 10.0, 15.0, 10.0), one(5.0), one(10.0), one(15.0), one(10.0), one(5.0), 1.0)
    progress = progress_of(ideal, np.zeros(2), STEADY)
    shares = coarse_shares(window, progress, ideal.length_draws_m, [way], [Stop(20.0, 24.0, one(4.0))], ())
    found = by_cause(rows_of(window, shares))
    assert found == pytest.approx(
        {"wrong_way": 10.0, "standing": 4.0, "reference": 26.92, "detour": -2.5, "pace": -9.42}, abs=0.01
    )
    assert sum(found.values()) == pytest.approx(29.0, abs=1e-9)


def test_the_same_example_with_the_faults_found_in_the_path():
    window, ideal = window_of(*the_walk()), bent_line()
    progress = progress_of(ideal, np.zeros(2), STEADY)
    rows = rows_of(window, coarse_shares(window, progress, ideal.length_draws_m, excursions(window), stops(window), ()))
    found = by_cause(rows)
    assert found["wrong_way"] == pytest.approx(10.0, abs=0.4)
    assert found["standing"] == pytest.approx(4.0, abs=0.4)
    assert found["reference"] == pytest.approx(26.92, abs=0.01)
    assert sum(found.values()) == pytest.approx(29.0, abs=1e-9)
    ((a, b),) = next(row.windows for row in rows if row.cause == "wrong_way")
    assert (a, b) == pytest.approx((5.0, 15.0), abs=0.4)


@given(st.floats(0.4, 2.5), st.floats(1.0, 1.6))
def test_a_walk_by_the_line_costs_its_pace_alone(pace, bend):
    """Who walks the line itself has no detour, whatever the pace: by definition."""
    ideal = bent_line(30.0 * bend)
    line, along = ideal.line_m, np.linspace(0.0, 30.0 * bend, len(ideal.line_m))
    time_s = np.linspace(0.0, along[-1] / pace, 400)
    points = np.column_stack([np.interp(pace * time_s, along, line[:, j]) for j in (0, 1)])
    window = window_of(time_s, points)
    progress = progress_of(ideal, np.zeros(2), STEADY)
    found = by_cause(rows_of(window, coarse_shares(window, progress, ideal.length_draws_m, (), (), ())))
    assert found["detour"] == pytest.approx(0.0, abs=0.15)
    assert found["pace"] == pytest.approx(along[-1] * (1.0 / pace - 1.0 / 1.3), abs=0.2)


def test_a_faster_searcher_still_pays_for_a_detour():
    """2026-11-26: who walked faster than the reference was charged nothing for any detour."""
    knots = np.array([[33.0, 0.0], [18.0, 8.0], [3.0, 0.0]])
    away = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
    time_s = np.linspace(0.0, away[-1] / 2.0, 200)
    points = np.column_stack([np.interp(2.0 * time_s, away, knots[:, j]) for j in (0, 1)])
    straight = np.column_stack([np.linspace(33.0, 3.0, 61), np.zeros(61)])
    ideal = CoarseIdeal("A", straight, one(30.0), Figure(30.0, 30.0, 30.0, "m"), 30.0)
    window, progress = window_of(time_s, points), progress_of(ideal, np.zeros(2), STEADY)
    found = by_cause(rows_of(window, coarse_shares(window, progress, one(30.0), (), (), ())))
    assert found["detour"] == pytest.approx((away[-1] - 30.0) / 2.0, abs=0.1)
    assert found["pace"] < 0.0


def test_unrecorded_time_is_nobodys_fault():
    time_s, points = the_walk()
    gone = (time_s > 5.1) & (time_s < 14.9)
    window, ideal = window_of(time_s[~gone], points[~gone]), bent_line()
    progress = progress_of(ideal, np.zeros(2), STEADY)
    rows = rows_of(window, coarse_shares(window, progress, ideal.length_draws_m, (), (), ((5.0, 15.0),)))
    assert by_cause(rows)["not_recorded"] == pytest.approx(10.0)
    assert sum(by_cause(rows).values()) == pytest.approx(29.0)


def test_without_a_line_the_rest_is_not_told_apart():
    window = window_of(*the_walk())
    assert by_cause(rows_of(window, coarse_shares(window, None, None, (), (), ()))) == {"not_told_apart": 29.0}


def test_a_cross_in_the_reference_time_and_a_third_line_beyond_it():
    time_s = np.arange(0.0, 60.1, 0.5)
    points = np.column_stack([0.2 * np.minimum(time_s, 40.0), np.zeros(len(time_s))])
    window = window_of(time_s, points, FINE)
    lines = [(0.0, 20.0), (20.0, 40.0), (40.0, 60.0)]
    beyond = np.array([lines[2]])
    found = by_cause(rows_of(window, fine_shares(window, one(8.0), 0.2, lines, (), (), beyond_s=beyond)))
    assert found == pytest.approx({"extra_lines": 20.0, "reference": 40.0, "longer_lines": 0.0, "pace": 0.0}, abs=1e-6)


def test_a_turn_between_two_lines_belongs_to_them():
    time_s = np.arange(0.0, 60.1, 0.5)
    window = window_of(time_s, np.column_stack([0.2 * time_s, np.zeros(len(time_s))]), FINE)
    done = fine_activities(window, [(1.0, 20.0), (21.0, 40.0), (50.0, 59.5)], (), ())
    rows = [(e.activity, e.from_s, e.to_s) for e in done if e.activity != "bracketing"]
    assert rows == [("first_line", 0.0, 20.5), ("crossing_line", 20.5, 40.0), ("extra_line", 50.0, 60.0)]
    assert fine_activities(window, (), (), ())[0].activity == "bracketing"


def test_where_the_settling_is_not_known_nobody_is_blamed():
    time_s = np.arange(0.0, 60.1, 0.5)
    points = np.column_stack([0.2 * time_s, np.zeros(len(time_s))])
    unsure = window_of(time_s, points, FINE, end_sigma_s=6.0)
    lines = [(0.0, 20.0), (20.0, 60.0)]
    assert by_cause(rows_of(unsure, fine_shares(unsure, one(8.0), 0.2, lines, (), ()))) == pytest.approx(
        {"reference": 40.0, "not_told_apart": 20.0}
    )
    probing = window_of(time_s, points, PINPOINT, start_sigma_s=6.0)
    assert "long_probing" not in by_cause(rows_of(probing, pinpoint_shares(probing, 20.0, (), beside_lowest=False)))


@pytest.mark.parametrize(("drawn", "told"), [(1, True), (6, False)])
def test_lines_that_some_draws_have_and_the_best_estimate_has_not_are_not_told_apart(drawn, told):
    """20 draws, of which so many have a line more: one in twenty is told apart, three in ten are not."""
    time_s = np.arange(0.0, 60.1, 0.5)
    window = window_of(time_s, np.column_stack([0.2 * time_s, np.zeros(len(time_s))]), FINE)
    beyond_s = np.array([(60.0, 60.0)] * (21 - drawn) + [(45.0, 60.0)] * drawn)
    shares = fine_shares(window, one(8.0), 0.2, [(0.0, 20.0), (20.0, 60.0)], (), (), beyond_s=beyond_s)
    assert ("not_told_apart" not in {s.cause for s in shares}) == told


def test_probing_beyond_the_sheet_is_called_by_what_is_certain():
    time_s = np.arange(0.0, 50.1, 0.5)
    window = window_of(time_s, np.zeros((len(time_s), 2)), PINPOINT)
    for beside, cause in ((True, "off_lowest"), (False, "long_probing")):
        found = by_cause(rows_of(window, pinpoint_shares(window, 20.0, (), beside_lowest=beside)))
        assert found == pytest.approx({"reference": 20.0, cause: 30.0})


def test_probing_after_a_bracket_that_was_not_told_apart_is_not_blamed():
    """2026-11-26: a fine search of 31 s was taken for 7 s, and 22 s of it were said to be lost in probing."""
    time_s = np.arange(0.0, 50.1, 0.5)
    window = window_of(time_s, np.zeros((len(time_s), 2)), PINPOINT)
    shares = pinpoint_shares(window, 20.0, (), beside_lowest=False, told_apart=False)
    assert by_cause(rows_of(window, shares)) == pytest.approx({"reference": 20.0, "not_told_apart": 30.0})


def pinpoint_of(end_s, *, hit_s=12.0):
    """Return a pinpoint from 0 s that ends at `end_s` (S,) in each draw, and its path on the spot."""
    ends = np.asarray(end_s, float)
    span = PhaseSpan(PINPOINT, "A", 0.0, float(ends[0]), 0.0, 0.0, np.zeros(len(ends)), ends, hit_s=hit_s)
    time_s = np.arange(0.0, 100.1, 0.5)
    return span, exact_path(time_s, np.zeros((len(time_s), 2)), rows=len(ends))


def shares_of(span, path, holes=()):
    probing = pinpoint_shares(cut(path, span.probing), 20.0, holes, beside_lowest=False)
    return [*marking_shares(cut(path, span.marking), 30.0, holes), *probing]


def test_what_follows_a_hit_is_reference_up_to_the_sheets_time_and_then_marking():
    """Struck after 12 s of the sheet's 20, left 40 s later, 30 of which the sheet allows. By hand."""
    span, path = pinpoint_of([52.0])
    rows = rows_of(cut(path, span), shares_of(span, path))
    assert by_cause(rows) == pytest.approx({"reference": 50.0, "marking": 10.0, "pace": -8.0})
    assert next(r.windows for r in rows if r.cause == "marking") == ((42.0, 52.0),)
    done = pinpoint_activities(cut(path, span), ())
    assert [(e.activity, e.from_s, e.to_s) for e in done] == [("probing", 0.0, 12.0), ("marking", 12.0, 52.0)]


def test_marking_makes_good_for_nothing_and_is_blamed_on_no_probing():
    """A hit after 35 s, left 10 s later: 15 s of probing too long, and no marking beyond the sheet. By hand."""
    span, path = pinpoint_of([45.0], hit_s=35.0)
    assert by_cause(rows_of(cut(path, span), shares_of(span, path))) == pytest.approx(
        {"reference": 30.0, "long_probing": 15.0}
    )


@given(st.lists(st.floats(12.0, 95.0), min_size=2, max_size=12), st.booleans())
def test_probing_and_marking_add_up_in_every_draw(ends, holed):
    span, path = pinpoint_of([60.0, *ends])
    shares = shares_of(span, path, ((20.0, 40.0),) if holed else ())
    assert sum(s.seconds for s in shares) == pytest.approx(span.end_draws_s, abs=1e-6)
    assert all((s.seconds >= 0.0).all() for s in shares if s.cause in ("marking", "reference", "not_recorded"))


def strips_walk(*, again=False, away=False):
    """Return times and points of two strips of 80 m, 40 m apart; the first once more, or 40 m out and back."""
    knots = [[0.0, 10.0], [80.0, 10.0], [80.0, 50.0], [0.0, 50.0]]
    knots += [[0.0, 10.0], [80.0, 10.0]] if again else []
    knots += [[-40.0, 50.0], [0.0, 50.0]] if away else []
    knots = np.array(knots)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
    time_s = np.arange(0.0, along[-1] / 1.3, 1.0)
    return time_s, np.column_stack([np.interp(1.3 * time_s, along, knots[:, j]) for j in (0, 1)])


def metres(time_s, points, kind):
    kinds = ground_kinds(time_s, points, slice(0, len(time_s)), AREA, 40.0)
    return np.hypot(*np.diff(points, axis=0).T)[kinds == kind].sum()


def test_strips_side_by_side_are_all_reference():
    time_s, points = strips_walk()
    assert metres(time_s, points, TWICE) < 10.0
    assert metres(time_s, points, OUTSIDE) == 0.0
    assert metres(time_s, points, NEW) + metres(time_s, points, WAY) > 190.0


def test_a_strip_walked_again_is_covered_twice():
    time_s, points = strips_walk(again=True)
    # 120 m more: 40 m across and the first strip's 80 m; the 40 m that it led aside are a way between strips.
    # Pieces are of a metre or two, so a border is known no better.
    assert metres(time_s, points, TWICE) == pytest.approx(80.0, abs=5.0)


def test_back_along_the_strip_itself_is_no_way_to_the_next():
    """60 m back and out again on one strip were all seen before, from the turn on. By hand."""
    knots = np.array([[0.0, 10.0], [80.0, 10.0], [20.0, 10.0], [80.0, 10.0], [80.0, 50.0], [0.0, 50.0]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
    time_s = np.arange(0.0, along[-1] / 1.3, 1.0)
    points = np.column_stack([np.interp(1.3 * time_s, along, knots[:, j]) for j in (0, 1)])
    assert metres(time_s, points, TWICE) == pytest.approx(120.0, abs=8.0)
    assert metres(time_s, points, WAY) <= 45.0


def test_out_of_the_area_is_outside():
    time_s, points = strips_walk(away=True)
    assert 60.0 <= metres(time_s, points, OUTSIDE) <= 80.0


def test_a_signal_search_without_an_area_is_judged_by_its_pace_alone():
    time_s, points = strips_walk(again=True)
    window = window_of(time_s, points, SIGNAL)
    found = by_cause(rows_of(window, signal_shares(window, None, 40.0, 1.0, None, (), ())))
    walked = np.hypot(*np.diff(points, axis=0).T).sum()
    assert found == pytest.approx({"reference": walked, "pace": time_s[-1] - walked})


def test_spans_are_joined_in_every_draw():
    """A phase that only some draws hold is left out of the spans; its seconds go to the next."""
    ends = [(SIGNAL, [0.0, 0.0, 0.0], [10.0, 10.0, 9.0]), (FINE, [10.0, 10.0, 11.0], [20.0, 20.0, 20.0])]
    spans = [PhaseSpan(phase, "A", a[0], b[0], 0.0, 0.0, np.array(a), np.array(b)) for phase, a, b in ends]
    joined = contiguous(spans)
    assert np.array_equal(joined[1].start_draws_s, joined[0].end_draws_s)
    assert sum(np.sum(s.end_draws_s - s.start_draws_s) for s in joined) == 60.0


def test_a_border_that_is_not_known_joins_two_phases():
    time_s, points = the_walk()
    rows, spans = [], []
    for phase, a, b, unknown in ((SIGNAL, 0.0, 10.0, "end"), (COARSE, 10.0, 29.0, "start")):
        sigma = (0.0, np.nan) if unknown == "end" else (np.nan, 0.0)
        span = PhaseSpan(phase, "A", a, b, *sigma, one(a), one(b))
        window = cut(exact_path(time_s, points), span)
        rows += rows_of(window, signal_shares(window, None, 40.0, 1.3, None, (), ()))
        spans.append(span)
    (only,) = not_assessed(spans, rows)
    assert (only.cause, only.seconds.value) == ("not_assessed", 29.0)


FIELD = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]])
ZIGZAGS_M = {
    40.0: [[0, 20], [40, 20]],
    20.0: [[100, 20], [80, 20]],
    160.0: [[0, 60], [100, 60], [100, 20], [80, 20]],
    180.0: [[100, 60], [0, 60], [0, 20], [40, 20]],
}
"""Metres -> the walk: two strips over FIELD from each side and end until (60, 20) is 20 m away; 100 m on average."""


def luck_of(knots, zigzags_s, *, holes=()):
    time_s, points = walk(knots, pace=2.0)
    return luck_figure(signal_shares(window_of(time_s, points, SIGNAL), FIELD, 40.0, 1.25, None, (), holes), zigzags_s)


@pytest.mark.parametrize("metres", list(ZIGZAGS_M))
def test_luck_is_the_reference_less_the_mean_of_the_zigzags(metres):
    """Who walks a zigzag is lucky by 100 m less its length, at the sheet's 1.25 m/s, however fast he goes: minus is
    luck. By hand."""
    found = luck_of(ZIGZAGS_M[metres], one(100.0 / 1.25))
    assert found.value == pytest.approx((metres - 100.0) / 1.25)
    assert (found.low, found.high, found.unit) == (found.value, found.value, "s")


def test_luck_is_not_told_where_it_cannot_be():
    knots = ZIGZAGS_M[160.0]
    assert luck_of(knots, NotAssessable("the drill has no area")).why == "the drill has no area"
    assert "hearing range" in luck_of(knots, one(np.inf)).why
    assert "not on record" in luck_of(knots, one(80.0), holes=((10.0, 40.0),)).why
