"""Cells, claims and matched events, by construction."""

import numpy as np
import pytest

from analyzer.lab.evaluate.account_rows import account_rows
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, absent, pair, share, side_by_side, size
from analyzer.lab.evaluate.claims import HALF_90, Claim
from analyzer.lab.evaluate.finding_rows import false_findings, first_row, reliability
from analyzer.lab.evaluate.interval_rows import claimed, held
from analyzer.lab.evaluate.rows import wrong_way_length
from analyzer.lab.evaluate.show import counts
from analyzer.lab.evaluate.trial import Trial, event_counts
from analyzer.lab.evaluate.truths import bounds_of, field_line_m, range_m, true_events, way_out
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.truth import TrueWrongWay
from analyzer.model.account import Search, WrongWay


def trials(name, values):
    return [Trial("block", i, numbers={name: v}) for i, v in enumerate(values)]


def test_pair_asks_for_both_the_median_and_the_90th_percentile():
    values = [0.1] * 8 + [0.9, 5.0]
    assert pair(trials("x", values), "x", (0.2, 1.0)).met is True
    assert pair(trials("x", values), "x", (0.2, 0.8)).met is False
    assert pair(trials("x", values), "x", (0.05, 1.0)).met is False


def test_a_run_without_result_counts_as_the_worst():
    refused = [Trial("block", 9, error="no path")] * 2
    assert pair(trials("x", [0.1] * 8) + refused, "x", (0.2, 1.0)).met is False


def test_size_takes_the_median_of_the_absolute_errors():
    cell = size(trials("x", [-3.0, 1.0, 2.0]), "x", "s", 2.0)
    assert dict(cell.numbers)["median"] == 2.0
    assert cell.met is True
    assert size(trials("x", [-3.0, 1.0, 2.0]), "x", "s", 1.9).met is False


def test_silence_in_most_runs_is_not_met():
    cell = size(trials("x", [0.0, np.nan, np.nan]), "x", "s", 1.0)
    assert cell.met is False
    assert "1 of 3 runs" in cell.measured
    assert size(trials("x", [np.nan]), "x", "s", 1.0).met is False


def test_not_assessable_is_wanted_in_every_run():
    assert absent(trials("x", [np.nan, np.nan]), "x").met is True
    assert absent(trials("x", [np.nan, 1.0]), "x").met is False


def test_share_compares_with_its_bounds():
    assert share(19, 20, at_least=0.95).met is True
    assert share(18, 20, at_least=0.95).met is False
    assert share(1, 20, at_most=0.05).met is True
    assert share(2, 20, at_most=0.05).met is False
    assert share(0, 0, at_least=0.9).met is None


def test_a_normal_claim_holds_in_nine_of_ten_cases():
    rng = np.random.default_rng(3)
    errors = rng.standard_normal(4000)
    right = [Claim("x", e, -HALF_90, HALF_90) for e in errors]
    assert dict(held(right).numbers)["share"] == pytest.approx(0.9, abs=0.015)  # 3 standard deviations of a share
    narrow = [Claim("x", e, -0.5, 0.5) for e in errors]
    assert held(narrow, (0.85, 0.95)).met is False
    wide = [Claim("x", e, -9.0, 9.0) for e in errors]
    assert held(wide, (0.85, 0.95)).met is False


def test_claims_not_made_are_not_counted():
    claims = [Claim("x", 0.0, np.nan, np.nan), Claim("x", 0.0, -1.0, 1.0)]
    assert dict(held(claims).numbers)["of"] == 1.0


def test_the_mean_of_squared_error_over_variance_is_compared():
    rng = np.random.default_rng(4)
    values = rng.exponential(1.0, 4000)  # a perfect claim on one offset in the plane: chi-square of 2 over 2
    cell = claimed(trials("error_over_claim", values), (0.6, 1.6))
    assert cell.met is True
    assert dict(cell.numbers)["median"] == pytest.approx(np.log(2.0), abs=0.05)
    assert claimed(trials("error_over_claim", 3.0 * values), (0.6, 1.6)).met is False


def test_wrong_way_length_is_met_by_its_share_or_its_metres():
    few = [Trial("b", 0, numbers={"wrong_way_m": 0.9, "wrong_way_share": 0.3})]
    assert wrong_way_length(few, "readings").met is True
    assert wrong_way_length(few, "survey").met is False
    many = [Trial("b", 0, numbers={"wrong_way_m": 1.1, "wrong_way_share": 0.11})]
    assert wrong_way_length(many, "readings").met is False


def search_with(*events):
    return Search("T1", True, (), (), tuple(WrongWay(a, a, b, 5.0) for a, b in events), (), (), ())


def test_events_are_matched_by_overlap_in_time():
    true = (TrueWrongWay(10.0, 15.0, 20.0, 6.0), TrueWrongWay(40.0, 42.0, 44.0, 2.0))
    assert event_counts(search_with((12.0, 18.0)), true) == (1, 1, 1, 0)
    assert event_counts(search_with((20.5, 30.0)), true) == (1, 0, 1, 1)
    assert event_counts(search_with((41.0, 43.0)), true) == (1, 0, 1, 0)  # true, though not over 4 m
    assert event_counts(search_with(), true) == (1, 0, 0, 0)
    assert event_counts(search_with((1.0, 2.0)), ()) == (0, 0, 1, 1)


def test_first_finding_counts_only_the_first():
    def one(*findings):
        return Trial("b", 0, findings=findings, faults=("standing",))

    everybody = {"readings": [one("standing"), one("detour", "standing"), one()], "track": [], "survey": []}
    row = first_row("standing", everybody)
    assert dict(row.cells[0].numbers)["share"] == pytest.approx(1 / 3)
    assert row.cells[1:] == (NO_RUNS, NO_RUNS)
    assert row.note == "readings: detour 1, none 1"


def test_false_findings_are_counted_in_a_hundred_runs():
    runs = [Trial("b", 0, findings=("detour", "standing"), false=("detour",)), Trial("b", 1), Trial("b", 2, error="no")]
    cell = false_findings(runs, 5.0)
    assert dict(cell.numbers)["per_100"] == pytest.approx(50.0)  # one in the two runs that have a result
    assert cell.met is False
    assert false_findings(runs[1:2], 5.0).met is True


def test_probabilities_are_held_against_the_share_of_true_ones():
    def said(p, true):
        return Trial("b", 0, stated=(("detour", p, true),))

    honest = [said(0.95, i % 20 != 0) for i in range(200)]
    boasting = [said(0.95, i % 5 != 0) for i in range(200)]
    assert reliability(honest, 0.9, 0.97).met is True
    assert reliability(boasting, 0.9, 0.97).met is False
    assert reliability(boasting[:50], 0.9, 0.97).met is None  # too few to tell
    assert reliability(honest, 0.6, 0.75) == NO_RUNS
    assert reliability([said(1.0, True)], 0.97, 1.0).measured.startswith("100 % of 1")


def test_seconds_are_held_against_the_pair_where_only_this_fault_was_made():
    runs = [
        Trial("standing/readings", i, numbers={"paired_standing_s": off, "cost_standing_s": 9.0})
        for i, off in enumerate((-0.5, 1.5, 0.8))
    ]
    rows = {r.figure: r for r in account_rows({"standing/readings": runs, "examiner/standing/readings": runs[:1]})}
    cell = rows["seconds of standing against the same run without it"].cells[0]
    assert dict(cell.numbers)["median"] == pytest.approx(0.8)
    assert dict(cell.numbers)["mean"] == pytest.approx(0.6)
    assert cell.met is True


def test_side_by_side_the_worse_one_counts():
    def table(*met):
        return tuple(Row(f"row {i}", (Cell("1", "2", m) if m is not None else NO_RUNS,)) for i, m in enumerate(met))

    section = side_by_side("x", ("a", "b"), (table(True, True, None), table(True, False, None)), 0)
    assert [r.figure for r in section.rows] == ["row 0", "row 1"]
    assert counts([section]) == (1, 1)
    alone = side_by_side("x", ("a", "b"), (table(True), ()), 0)
    assert alone.rows[0].cells[1] is None
    assert counts([alone]) == (1, 0)


@pytest.fixture(scope="module")
def astray():
    drill = simulate_drill(seed=8)
    return simulate_run(drill, fault="wrong_way", seed=8)


def test_on_a_track_the_fine_search_begins_at_the_distance_over_the_surface(astray):
    truth, search = astray.truth, astray.truth.searches[0]
    bounds = bounds_of(truth, search, radius_m=3.0, heard=False)
    assert np.interp(bounds.fine_s, truth.time_s, range_m(truth, search)) == pytest.approx(3.0, abs=0.1)
    before = (truth.time_s >= bounds.coarse_s) & (truth.time_s < bounds.fine_s)
    assert np.all(range_m(truth, search)[before] > 3.0)


def test_a_field_line_to_a_wider_radius_is_shorter_and_no_shorter_than_straight(astray):
    search = astray.truth.searches[0]
    near, far = (field_line_m(astray, search, radius_m=r, heard=False) for r in (3.0, 5.0))
    begin = float(np.hypot(*(np.array(search.acquired_m) - (astray.truth.sources[0].x, astray.truth.sources[0].y))))
    assert far < near
    assert near >= begin - 3.0 - 0.05


def test_the_way_out_is_at_least_as_long_as_the_range_rises(astray):
    truth, search = astray.truth, astray.truth.searches[0]
    events = true_events(truth, search, bounds_of(truth, search, radius_m=3.0, heard=True))
    metres, seconds = way_out(truth, search, events)
    rise = sum(e.metres for e in events)
    assert events
    assert rise * 0.98 <= metres <= 1.5 * rise
    assert 0.0 < seconds <= sum(e.turn_s - e.from_s for e in events) + 0.1
