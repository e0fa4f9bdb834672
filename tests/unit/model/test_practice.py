"""Probing, marking and digging read off the marks of a run, and the marks that are not counted."""

import dataclasses
import importlib.util
from pathlib import Path

import pytest

from analyzer.engine.result import splits_of
from analyzer.model.figure import HALF_90, Figure, NotAssessable
from analyzer.model.practice import (
    AFTER,
    AT_HIT,
    EARLY,
    NO_HIT_BEFORE,
    SECOND_HIT,
    TWICE,
    after_the_run,
    all_free_s,
    all_hit_s,
    asides_of,
    strikes_of,
)
from analyzer.model.recording import Mark

# The invented run: A is settled on at 272 s and hit at 330 s, B is settled on at 456 s and hit at 598 s.
SETTLED_A, HIT_A, SETTLED_B, HIT_B = 272.0, 330.0, 456.0, 598.0
HITS = (Mark(HIT_A, "probe_hit", "A"), Mark(HIT_B, "probe_hit", "B"))


def _make_result():
    path = Path(__file__).resolve().parents[1] / "dashboard" / "result_builder.py"
    spec = importlib.util.spec_from_file_location("practice_result_builder", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.make_result()


@pytest.fixture(scope="module")
def plain():
    return _make_result()


def marked(result, *marks, hits=HITS):
    """Return a result as if its run had these marks."""
    found = tuple(sorted((*hits, *marks), key=lambda mark: mark.time_s))
    told = tuple((mark.transmitter, mark.time_s) for mark in found if mark.mark == "probe_hit")
    return dataclasses.replace(result, probe_hits_s=told, splits=splits_of(found))


def probes(*times, of=None):
    return [Mark(at, "probe", of) for at in times]


def asides(result):
    return [(aside.mark, aside.transmitter, aside.at_s, aside.why) for aside in asides_of(result)]


def test_probings_before_the_hit_and_the_time_of_each(plain):
    a, b = strikes_of(marked(plain, *probes(280.0, 295.0, 312.0), *probes(470.0)))
    assert (a.probings.value, b.probings.value) == (3, 1)
    assert a.per_probe_s.value == pytest.approx((HIT_A - 280.0) / 3)
    assert b.per_probe_s.value == pytest.approx(HIT_B - 470.0)
    assert a.first_probe_s.value == pytest.approx(280.0 - SETTLED_A)
    assert a.strike_s.value == pytest.approx(HIT_A - SETTLED_A)
    half = HALF_90 * 0.6  # the invented pinpoint begins within 0.6 s
    assert (a.strike_s.low, a.strike_s.high) == pytest.approx((HIT_A - SETTLED_A - half, HIT_A - SETTLED_A + half))
    assert asides(marked(plain, *probes(280.0, 295.0))) == []


def test_without_marks_nothing_is_said_but_what_would_have_shown_it(plain):
    for strike in strikes_of(plain):
        assert isinstance(strike.since_s, Figure)
        assert isinstance(strike.strike_s, Figure)
        for measured, mark in (
            (strike.probings, "probe"),
            (strike.first_probe_s, "probe"),
            (strike.per_probe_s, "probe"),
            (strike.marking_s, "marking_end"),
            (strike.dig_s, "dig_begin"),
            (strike.airway_at_s, "airway_free"),
        ):
            assert isinstance(measured, NotAssessable)
            assert mark in measured.why


def test_a_probing_marked_with_the_hit_is_the_strike_itself(plain):
    result = marked(plain, *probes(HIT_A + 0.4, of="A"))
    a, _ = strikes_of(result)
    assert a.probings.value == 0
    assert a.first_probe_s.value == pytest.approx(HIT_A - SETTLED_A)
    assert a.per_probe_s.why == "the first probing struck"
    assert asides(result) == [("probe", "A", HIT_A + 0.4, AT_HIT)]


def test_what_is_not_counted_is_told(plain):
    result = marked(
        plain,
        *probes(100.0, 280.0, 280.9, 300.0, 340.0, of="A"),
        Mark(200.0, "marking_end", "A"),
        Mark(700.0, "airway_free", "A"),
        Mark(720.0, "airway_free", "A"),
    )
    a, _ = strikes_of(result)
    assert a.probings.value == 2
    assert a.airway_at_s.value == 700.0
    assert asides(result) == [
        ("probe", "A", 100.0, EARLY),
        ("marking_end", "A", 200.0, NO_HIT_BEFORE),
        ("probe", "A", 280.9, TWICE),
        ("probe", "A", 340.0, AFTER),
        ("airway_free", "A", 720.0, TWICE),
    ]


def test_of_two_hits_on_one_transmitter_the_first_counts(plain):
    result = marked(plain, hits=(*HITS, Mark(599.0, "probe_hit", "A")))
    assert strikes_of(result)[0].hit_s == HIT_A
    assert asides(result) == [("probe_hit", "A", 599.0, SECOND_HIT)]


def test_a_probing_without_a_name_belongs_to_the_next_hit_or_to_what_was_never_hit(plain):
    named = marked(plain, *probes(280.0, 500.0))
    assert [split.transmitter for split in named.splits] == ["A", "B"]
    assert [split.since_hit_s for split in named.splits] == [None, None]
    missed = marked(plain, *probes(280.0, 500.0, 520.0), hits=HITS[:1])
    a, b = strikes_of(missed)
    assert (a.probings.value, b.probings.value) == (1, 2)
    assert b.per_probe_s.value == pytest.approx(20.0)
    assert b.hit_s is None
    assert isinstance(b.strike_s, NotAssessable)


def test_the_order_found_is_that_of_the_hits_and_each_counts_from_the_one_before(plain):
    swapped = marked(plain, hits=(Mark(200.0, "probe_hit", "B"), Mark(HIT_A, "probe_hit", "A")))
    assert [(s.transmitter, s.since_s.value) for s in strikes_of(swapped)] == [("B", 200.0), ("A", HIT_A - 200.0)]
    assert all_hit_s(swapped) == HIT_A
    missed = marked(plain, hits=HITS[1:])
    assert [(s.transmitter, s.hit_s) for s in strikes_of(missed)] == [("B", HIT_B), ("A", None)]
    assert all_hit_s(missed) is None


def test_marking_and_digging_count_from_the_hit_and_the_airway_from_the_start_too(plain):
    result = marked(
        plain,
        Mark(HIT_A + 4.0, "marking_end"),
        Mark(HIT_B + 9.0, "dig_begin", "B"),
        Mark(HIT_B + 240.0, "airway_free", "B"),
    )
    a, b = strikes_of(result)
    assert (a.marking_s.value, b.dig_s.value, b.airway_s.value) == (4.0, 9.0, 240.0)
    assert b.airway_at_s.value == HIT_B + 240.0
    assert all_free_s(result) is None  # that of A is not marked
    freed = marked(plain, Mark(700.0, "airway_free", "A"), Mark(HIT_B + 240.0, "airway_free", "B"))
    assert all_free_s(freed) == HIT_B + 240.0


def test_rows_after_the_run_follow_each_other_from_its_end(plain):
    result = marked(plain, Mark(HIT_A + 4.0, "marking_end"), Mark(610.0, "dig_begin", "B"), Mark(640.0, "airway_free"))
    assert [(split.mark, begin) for split, begin in after_the_run(result)] == [
        ("dig_begin", plain.duration_s),
        ("airway_free", 610.0),
    ]


def test_a_start_of_pinpoint_that_is_not_known_gives_no_time(plain):
    phases = tuple(dataclasses.replace(p, start_sigma_s=None) for p in plain.phases)
    a, _ = strikes_of(dataclasses.replace(marked(plain, *probes(280.0)), phases=phases))
    assert isinstance(a.first_probe_s, NotAssessable)
    assert isinstance(a.strike_s, NotAssessable)
    assert a.probings.value == 1


def test_marks_without_any_name_in_a_drill_of_one(plain):
    one = dataclasses.replace(plain, searches=plain.searches[:1], probe_hits_s=(("A", HIT_A),))
    splits = splits_of((Mark(280.0, "probe"), Mark(HIT_A, "probe_hit"), Mark(350.0, "dig_begin")))
    (a,) = strikes_of(dataclasses.replace(one, splits=splits))
    assert (a.probings.value, a.dig_s.value) == (1, 20.0)
