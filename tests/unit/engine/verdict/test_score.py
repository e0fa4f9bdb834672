"""Points: every one lost is traced, and they add up."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.verdict import points_of, score
from analyzer.files.rules_toml import default_rules
from analyzer.model.account import LedgerRow, Search
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL, PhaseSpan

RULES = replace(default_rules(), deductions=())


def span(phase, start_s, end_s, *, transmitter="A", sigma_s=0.0):
    return PhaseSpan(phase, transmitter, start_s, end_s, sigma_s, sigma_s, np.array([start_s]), np.array([end_s]))


SPANS = (span(SIGNAL, 0, 20), span(COARSE, 20, 60), span(FINE, 60, 100), span(PINPOINT, 100, 120))


def search(name="A", *, found=True, coarse=(), fine=(), pinpoint=()):
    return Search(name, found, (), tuple(coarse), (), tuple(fine), (), tuple(pinpoint))


def row(cause, seconds, *, phase=COARSE, transmitter="A"):
    return LedgerRow(phase, transmitter, cause, 20.0, 20.0 + seconds, float(seconds), float(seconds))


def by_phase(scores):
    return dict(scores.by_phase)


def lost(scores, phase):
    return sum(one.points for one in scores.losses if one.phase == phase)


def test_a_run_on_the_reference_has_all_points():
    scores = score([search()], [row("on_reference", 40)], SPANS, RULES)
    assert {f.value for f in by_phase(scores).values()} == {100.0}
    assert scores.losses == ()


def test_seconds_cost_what_the_sheet_says():
    per_s = dict(RULES.seconds_points)[COARSE]
    scores = score([search()], [row("wrong_way", 12), row("on_reference", 28)], SPANS, RULES)
    assert by_phase(scores)[COARSE].value == pytest.approx(100.0 - 12.0 * per_s)
    (loss,) = scores.losses
    assert (loss.measure, loss.ledger_rows) == ("ledger.wrong_way", (0,))


def test_the_overall_score_is_the_weighted_mean():
    scores = by_phase(score([search()], [row("standing", 10), row("probing", 20, phase=PINPOINT)], SPANS, RULES))
    expected = sum(w * scores[p].value for p, w in RULES.weights)
    assert scores["overall"].value == pytest.approx(expected)


def test_unexplained_time_costs_nothing():
    assert score([search()], [row("unexplained", 30)], SPANS, RULES).losses == ()


def test_losses_add_up_to_what_is_missing_even_where_they_are_more_than_all():
    rows = [row("standing", 150), row("wrong_way", 150)]
    scores = score([search()], rows, SPANS, RULES)
    assert by_phase(scores)[COARSE].value == 0.0
    assert lost(scores, COARSE) == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("free", "per_unit", "value", "points"),
    [(0.2, 25.0, 0.6, 10.0), (0.2, 25.0, 0.1, 0.0), (60.0, -0.5, 40.0, 10.0), (0.2, 25.0, 9.0, 15.0)],
)
def test_deductions_count_beyond_what_is_free_and_up_to_the_most(free, per_unit, value, points):
    rule = replace(
        default_rules().deductions[0],
        phase=FINE,
        measure="fine.ended_on_lowest_m",
        free=free,
        points_per_unit=per_unit,
        at_most=15.0,
    )
    rules = replace(RULES, deductions=(rule,))
    figure = Figure(value, value, value, "m")
    scores = score([search(fine=[("ended_on_lowest_m", figure)])], [], SPANS, rules)
    assert by_phase(scores)[FINE].value == pytest.approx(100.0 - points)
    assert points_of(scores.losses, "fine.ended_on_lowest_m") == pytest.approx(points)


def test_what_is_not_assessable_costs_nothing():
    rule = replace(default_rules().deductions[0], phase=FINE, measure="fine.ended_on_lowest_m")
    scores = score(
        [search(fine=[("ended_on_lowest_m", NotAssessable("no readings"))])],
        [],
        SPANS,
        replace(RULES, deductions=(rule,)),
    )
    assert by_phase(scores)[FINE].value == 100.0


def test_a_transmitter_not_found_loses_the_phases_it_never_reached():
    scores = score([search("A"), search("B", found=False)], [], SPANS, RULES)
    assert by_phase(scores)[PINPOINT].value == pytest.approx(50.0)
    assert by_phase(scores)[SIGNAL].value == 100.0
    assert points_of(scores.losses, "found") == pytest.approx(150.0)


def test_without_a_known_first_signal_its_phase_is_not_scored():
    spans = (span(SIGNAL, 0, 20, sigma_s=np.nan), *SPANS[1:])
    scores = by_phase(score([search()], [row("off_line", 8, phase=SIGNAL)], spans, RULES))
    assert isinstance(scores[SIGNAL], NotAssessable)
    assert scores["overall"].value == pytest.approx(100.0)


def test_a_figure_known_less_well_gives_a_wider_score():
    def width(half):
        figure = Figure(0.6, 0.6 - half, 0.6 + half, "m")
        rule = replace(
            default_rules().deductions[0],
            phase=FINE,
            measure="fine.ended_on_lowest_m",
            free=0.2,
            points_per_unit=25.0,
            at_most=25.0,
        )
        found = score([search(fine=[("ended_on_lowest_m", figure)])], [], SPANS, replace(RULES, deductions=(rule,)))
        return by_phase(found)[FINE].high - by_phase(found)[FINE].low

    assert width(0.2) > width(0.05) > 0.0


def test_all_phases_and_the_whole_are_always_listed():
    assert set(by_phase(score([search()], [], SPANS, RULES))) == {"overall", *PHASES}
