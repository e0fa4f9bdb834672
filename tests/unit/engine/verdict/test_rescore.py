"""Scores of a finished result under another sheet: what measuring again would give, and laws of the weights."""

from dataclasses import replace

import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.verdict.rescore import rescore
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import RunSettings, simulate_drill, simulate_run
from analyzer.model.figure import Figure

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
        weights=(("signal_search", 0.0), ("coarse_search", 0.2), ("fine_search", 0.5), ("pinpoint", 0.3)),
        seconds_points=(("coarse_search", 1.5), ("pinpoint", 2.0)),
        deductions=RULES.deductions[:2],
    )
    assert rescore(measured(RULES), other) == measured(other).scores
    assert rescore(measured(RULES), other) != measured(RULES).scores


def test_all_weight_on_one_phase_is_its_score(measured):
    scores = dict(rescore(measured(RULES), replace(RULES, weights=(("fine_search", 1.0),))).by_phase)
    assert isinstance(scores["overall"], Figure)
    assert scores["overall"].value == pytest.approx(scores["fine_search"].value)


def test_a_sheet_that_takes_nothing_gives_full_points(measured):
    generous = rescore(measured(RULES), replace(RULES, seconds_points=(), deductions=()))
    assert {f.value for _, f in generous.by_phase if isinstance(f, Figure)} == {100.0}
    assert generous.losses == ()
