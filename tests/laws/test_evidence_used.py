"""Nothing is called used that had no weight: logs that do not belong to their track."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.result import AFTER_END
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate.scenario import simulate_drill, simulate_run
from analyzer.model.account import FAULT_CAUSES
from analyzer.model.figure import NotAssessable
from analyzer.model.path import USABLE_WEIGHT
from analyzer.model.recording import InputFile
from analyzer.model.result import RunResult

RULES = default_rules()


def measured(change, seed=78):
    """Return the result of a simulated run whose reading times (m,) were changed."""
    drill = simulate_drill(seed=77)
    recording = simulate_run(drill, seed=seed).recording
    readings = replace(recording.readings, time_s=change(recording.readings.time_s))
    count = len(readings.time_s)
    inputs = (InputFile("readings", "readings.csv", "0" * 64, count, count),)
    found = analyze_drill(drill.drill, [replace(recording, readings=readings, inputs=inputs)], RULES)[0]
    assert isinstance(found, RunResult)
    return found, count


def test_a_log_that_fits_is_used():
    result, count = measured(lambda t: t)
    assert result.evidence.tier == "track+readings"
    (item,) = result.inputs
    assert item.used >= 0.9 * count
    assert item.used + sum(n for _, n in item.dropped) == count


@pytest.mark.parametrize("seed", [76, 78, 82, 87])
@pytest.mark.parametrize("change", [lambda t: t + 900.0, lambda t: 10.0 + 0.6 * np.linspace(0.0, 1.0, len(t))])
def test_a_log_of_another_hour_or_with_garbled_times_is_not(change, seed):
    """2026-11-26: a log 900 s off ended with every weight 0, tier "track+readings" and a clock "-8.7 (-56 to 187)"."""
    result, count = measured(change, seed)
    (item,) = result.inputs
    assert item.used == 0
    assert sum(n for _, n in item.dropped) == count
    assert result.evidence.tier == "track"
    assert isinstance(result.evidence.clock_offset_s, NotAssessable)
    assert result.readings is None


def with_fixes(change):
    """Return the result of a simulated run whose fixes were moved by `change` (n, 2) at times (n,)."""
    drill = simulate_drill(seed=77)
    recording = simulate_run(drill, seed=78).recording
    track = recording.track
    by = change(track.time_s)
    count = len(track.time_s)
    moved = replace(track, east_m=track.east_m + by[:, 0], north_m=track.north_m + by[:, 1])
    inputs = (InputFile("track", "track.gpx", "0" * 64, count, count),)
    found = analyze_drill(drill.drill, [replace(recording, track=moved, inputs=inputs)], RULES)[0]
    assert isinstance(found, RunResult)
    return found, count


def jump(time_s, seconds, metres=40.0):
    middle = float(np.median(time_s))
    return metres * ((time_s > middle) & (time_s <= middle + seconds))[:, None] * np.array([0.8, 0.6])


def test_fixes_without_weight_are_not_called_used():
    plain, count = with_fixes(lambda t: jump(t, 0.0))
    thrown, _ = with_fixes(lambda t: jump(t, 3.0))  # three single fixes 40 m off
    lost = [sum(n for _, n in result.inputs[0].dropped) for result in (plain, thrown)]
    assert lost[1] >= lost[0] + 3
    for result in (plain, thrown):
        (item,) = result.inputs
        assert item.used + sum(n for _, n in item.dropped) == count


def test_what_lies_after_the_last_hit_is_set_aside_and_counted():
    """2026-11-26: fixes and readings after the end of a run were called used."""
    drill = simulate_drill(seed=77)
    recording = simulate_run(drill, seed=78).recording
    (hit,) = [m.time_s for m in recording.marks if m.mark == "probe_hit"]
    early = tuple(replace(m, time_s=m.time_s - 5.5) if m.mark == "probe_hit" else m for m in recording.marks)
    counts = {"track": recording.track.time_s.size, "readings": recording.readings.time_s.size}
    inputs = tuple(InputFile(role, f"{role}.csv", "0" * 64, n, n) for role, n in counts.items())
    found = analyze_drill(drill.drill, [replace(recording, marks=early, inputs=inputs)], RULES)[0]
    assert isinstance(found, RunResult)
    late = {item.role: dict(item.dropped).get(AFTER_END, 0) for item in found.inputs}
    assert found.duration_s == pytest.approx(hit - 5.5)
    assert late["track"] == np.sum(recording.track.time_s > hit - 5.5) > 5
    used = found.readings[found.readings[:, 2] > USABLE_WEIGHT, 0]
    assert late["readings"] == np.sum(used > found.duration_s)
    for item in found.inputs:
        assert item.used + sum(n for _, n in item.dropped) == item.rows


def test_a_recorder_that_lost_its_place_is_told_of():
    plain, count = with_fixes(lambda t: jump(t, 0.0))
    lost, _ = with_fixes(lambda t: jump(t, 0.12 * np.ptp(t)))
    assert plain.evidence.notes == ()
    (note,) = lost.evidence.notes
    far = int(note.split(" of ")[0])
    assert 0.05 * count < far < 0.3 * count
    assert note.endswith("the recorder lost its place at times; look at the plan before you judge.")


@pytest.mark.parametrize("pause_s", [120.0, 3600.0])
def test_unrecorded_time_is_nobodys_fault(pause_s):
    """2026-11-26: a pause of two minutes was "you stood still 117 s", one of an hour a strip left out, severe."""
    drill = simulate_drill(seed=77)
    recording = simulate_run(drill, seed=78).recording
    middle = float(np.median(recording.track.time_s))
    track = recording.track
    paused = replace(
        recording,
        track=replace(track, time_s=track.time_s + np.where(track.time_s > middle, pause_s, 0.0)),
        readings=replace(
            recording.readings,
            time_s=recording.readings.time_s + np.where(recording.readings.time_s > middle, pause_s, 0.0),
        ),
        marks=tuple(replace(m, time_s=m.time_s + (pause_s if m.time_s > middle else 0.0)) for m in recording.marks),
    )
    found = analyze_drill(drill.drill, [paused], RULES)[0]
    assert isinstance(found, RunResult)
    lost = sum(row.seconds.value for row in found.account if row.cause == "not_recorded")
    assert lost == pytest.approx(pause_s, abs=3.0)
    assert not [f.text for f in found.findings if f.to_s - f.from_s > 0.5 * pause_s]
    blamed = sum(max(r.seconds.value, 0.0) for r in found.account if r.cause in FAULT_CAUSES)
    assert blamed < 0.3 * pause_s
