"""Marks: those on the readings' clock in the engine, and those that bound no phase as splits of a result."""

from dataclasses import replace

import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.result import splits_of
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import DrillSettings, RunSettings, simulate_drill, simulate_run
from analyzer.model.recording import Mark
from analyzer.model.result import Split
from dashboard.components.practice_table import noted_list

LATE_S = 20.0


@pytest.fixture(scope="module")
def simulated():
    made = simulate_drill(DrillSettings(), seed=990_411)
    return made.drill, simulate_run(made, RunSettings(), seed=990_411).recording


def measured(drill, recording):
    (result,) = analyze_drill(drill, [recording], default_rules(), draws=8)
    return result


@pytest.fixture(scope="module")
def plain(simulated):
    return measured(*simulated)


def hit_of(recording):
    return next(m for m in recording.marks if m.mark == "probe_hit")


def test_a_hit_out_of_the_log_gets_the_clock_offset_of_the_readings(simulated, plain):
    """The log runs 20 s early, and so does the hit that was noted in it: the run ends where it truly did."""
    drill, recording = simulated
    readings = replace(recording.readings, time_s=recording.readings.time_s - LATE_S)
    marks = [
        replace(m, time_s=m.time_s - LATE_S, on_readings_clock=True) if m.mark == "probe_hit" else m
        for m in recording.marks
    ]
    assert plain.duration_s == pytest.approx(hit_of(recording).time_s)
    noted = measured(drill, replace(recording, readings=readings, marks=tuple(marks)))
    assert noted.duration_s == pytest.approx(plain.duration_s, abs=1.0)
    off = [replace(m, on_readings_clock=False) for m in marks]
    taken = measured(drill, replace(recording, readings=readings, marks=tuple(off)))
    assert abs(taken.duration_s - plain.duration_s) > 15.0  # what would come of it without


def test_without_a_usable_log_such_a_hit_is_not_used(simulated):
    drill, recording = simulated
    marks = tuple(replace(m, on_readings_clock=True) if m.mark == "probe_hit" else m for m in recording.marks)
    result = measured(drill, replace(recording, readings=None, marks=marks))
    assert result.probe_hits_s == ()
    assert result.duration_s != hit_of(recording).time_s


def test_moments_that_bound_no_phase_change_nothing_but_the_splits(simulated, plain):
    drill, recording = simulated
    hit = hit_of(recording)
    moments = (
        Mark(hit.time_s - 12.0, "probe"),
        Mark(hit.time_s + 3.0, "marking_end"),
        Mark(hit.time_s + 9.0, "dig_begin", hit.transmitter),
        Mark(hit.time_s + 300.0, "airway_free"),
    )
    result = measured(drill, replace(recording, marks=(*recording.marks, *moments)))
    assert result_bytes(replace(result, splits=())) == result_bytes(plain)
    back = parse_result(result_bytes(result)).splits
    assert [(s.mark, None if s.since_hit_s is None else round(s.since_hit_s, 3)) for s in back] == [
        ("probe", None), ("marking_end", 3.0), ("dig_begin", 9.0), ("airway_free", 300.0),
    ]  # fmt: skip
    assert b"splits" not in result_bytes(plain)
    words = str(noted_list(result))
    assert "Airway free" in words
    assert "5:00 after the hit" in words
    assert noted_list(plain) is None


def test_a_split_follows_the_hit_on_its_transmitter():
    marks = (Mark(10.0, "probe_hit", "A"), Mark(50.0, "probe_hit", "B"), Mark(60.0, "dig_begin", "A"),
             Mark(70.0, "airway_free"), Mark(80.0, "dig_begin", "C"))  # fmt: skip
    assert splits_of(marks) == (
        Split("dig_begin", "A", 60.0, 50.0), Split("airway_free", "B", 70.0, 20.0), Split("dig_begin", "C", 80.0, None),
    )  # fmt: skip
