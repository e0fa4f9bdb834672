"""Scores of a finished result under another sheet: what measuring again would give, and laws of the weights."""

from dataclasses import replace

import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.verdict.rescore import rescore
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import RunSettings, simulate_drill, simulate_run
from analyzer.model.phases import PHASES
from analyzer.model.rules import Deduction

RULES = default_rules()


@pytest.fixture(scope="module")
def measured():
    drill = simulate_drill(None, seed=4)
    recording = simulate_run(drill, RunSettings(), seed=4).recording
    return lambda rules: analyze_drill(drill.drill, [recording], rules, draws=8)[0]


def test_the_same_sheet_gives_the_same_scores(measured):
    result = measured(RULES)
    assert rescore(result, RULES) == result.scores


def test_other_points_give_what_measuring_again_gives(measured):
    other = replace(
        RULES,
        missed_s=10.0,
        deductions=(Deduction("pinpoint", "pinpoint.duration_s", 0.0, 1.0, 30.0), *RULES.deductions[:2]),
    )
    assert rescore(measured(RULES), other) == measured(other).scores
    assert rescore(measured(RULES), other) != measured(RULES).scores


def test_a_sheet_that_takes_nothing_leaves_the_seconds(measured):
    """Without deductions each phase scores 100 x reference / (reference + losses), to be counted from the account."""
    result = measured(RULES)
    scores = dict(rescore(result, replace(RULES, deductions=())).by_phase)
    assert not any(row.cause in ("not_recorded", "not_told_apart", "not_assessed") for row in result.account)
    for phase in PHASES:
        rows = [row for row in result.account if row.phase == phase]
        reference = sum(row.seconds.value for row in rows if row.cause == "reference")
        lost = sum(max(row.seconds.value, 0.0) for row in rows if row.cause != "reference")
        assert scores[phase].value == pytest.approx(100.0 * reference / (reference + lost))
