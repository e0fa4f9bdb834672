"""The account of the true path, and how an account is held against it."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.true_account import account_claims, charged_errors, true_path, true_result, true_spans
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.model.account import AccountRow
from analyzer.model.figure import Figure
from analyzer.model.result import RunResult

RULES = default_rules()


@pytest.fixture(scope="module")
def case():
    drill = simulate_drill(seed=611)
    run = simulate_run(drill, fault="wrong_way", seed=612)
    result = analyze_drill(drill.drill, [run.recording], RULES)[0]
    assert isinstance(result, RunResult)
    return drill.drill, run, result


def test_the_true_path_is_where_the_searcher_was(case):
    drill, run, _ = case
    path = true_path(run, drill)
    there = np.column_stack([np.interp(path.time_s, run.truth.time_s, run.truth.plane_m[:, j]) for j in (0, 1)])
    assert np.abs(path.draws.path_m[0] - there).max() == 0.0
    spans = true_spans(run.truth, path, float(path.time_s[-1]))
    assert [s.phase for s in spans] == [p.phase for p in run.truth.phases]


def test_the_true_account_adds_up_and_holds_the_planted_wrong_way(case):
    """The simulator tells from when to when it walked away; the way back takes about as long."""
    drill, run, _ = case
    rows = true_result(run, drill, RULES).account
    whole = sum(row.seconds.value for row in rows)
    assert whole == pytest.approx(run.truth.phases[-1].end_s, abs=0.5)
    (done,) = (f for f in run.truth.faults if f.name == "wrong_way")
    (way,) = (row for row in rows if row.cause == "wrong_way")
    assert way.seconds.value == pytest.approx(2.0 * (done.to_s - done.from_s), rel=0.35)
    assert way.windows[0][0] == pytest.approx(done.from_s, abs=2.0)


def row(cause, value, half=0.5, phase="coarse_search"):
    return AccountRow(phase, "T1", cause, Figure(value, value - half, value + half, "s"), 0.0)


def test_a_charge_is_held_against_the_truth_and_silence_is_no_charge(case):
    _, _, result = case
    said = replace(result, account=(row("reference", 30.0), row("detour", 4.0)))
    true = (row("reference", 30.2, 0.0), row("wrong_way", 7.0, 0.0))
    errors = charged_errors(said, true)
    assert errors["charged_detour_s"] == pytest.approx(4.0)
    assert errors["charged_wrong_way_s"] == pytest.approx(-7.0)
    assert np.isnan(errors["charged_missed_strip_s"])  # that phase has no reference row: it was not assessed
    claims = {c.figure: c for c in account_claims(said, true)}
    assert set(claims) == {"account.reference", "account.detour", "account.wrong_way"}
    assert claims["account.reference"].holds
    assert not claims["account.detour"].holds
    assert not claims["account.wrong_way"].holds


def test_what_cannot_be_told_apart_is_no_claim(case):
    _, _, result = case
    said = replace(
        result, account=(row("reference", 30.0, phase="fine_search"), row("not_told_apart", 9.0, phase="fine_search"))
    )
    assert account_claims(said, (row("extra_lines", 9.0, phase="fine_search"),)) == ()
