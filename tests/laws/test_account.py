"""What must hold of the account and the timeline of every run, whatever was done, on simulated runs."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.scenario import simulate_drill, simulate_run
from analyzer.lab.simulate.settings import DrillSettings, RunSettings
from analyzer.model.account import ACTIVITIES, FAULT_CAUSES, OTHER_CAUSES
from analyzer.model.drill import Slope
from analyzer.model.figure import NotAssessable
from analyzer.model.phases import PHASES, PINPOINT, SIGNAL
from analyzer.model.result import RunResult

RULES = default_rules()
KINDS = [
    ("plain", (), 1, True),
    ("wrong way and a stop", ("wrong_way", "standing"), 1, True),
    ("extra brackets", ("extra_lines",), 1, True),
    ("three transmitters", (), 3, True),
    ("track only", ("wrong_way",), 1, False),
]


@pytest.fixture(scope="module", params=KINDS, ids=lambda kind: kind[0])
def result(request) -> RunResult:
    _, faults, transmitters, readings = request.param
    drill = simulate_drill(DrillSettings(transmitters=transmitters), seed=4711)
    recording = simulate_run(drill, RunSettings(), fault=faults, seed=4712).recording
    if not readings:
        recording = replace(recording, readings=None)
    found = analyze_drill(drill.drill, [recording], RULES)[0]
    assert isinstance(found, RunResult)
    return found


def test_the_account_adds_up_to_the_run(result):
    assert sum(row.seconds.value for row in result.account) == pytest.approx(result.duration_s, abs=1e-3)
    for row in result.account:
        assert row.seconds.low <= row.seconds.value <= row.seconds.high
        assert row.cause in (*FAULT_CAUSES, *OTHER_CAUSES)
        assert row.phase in PHASES
        assert all(0.0 <= a <= b <= result.duration_s + 1e-6 for a, b in row.windows)


def test_a_cause_stands_once_in_a_phase(result):
    names = [(row.phase, row.transmitter, row.cause) for row in result.account]
    assert len(names) == len(set(names))


def test_the_timeline_covers_the_run_once(result):
    rows = result.timeline
    assert rows[0].from_s == 0.0
    assert rows[-1].to_s == pytest.approx(result.duration_s)
    assert all(a.to_s == b.from_s for a, b in itertools.pairwise(rows))
    assert sum(row.seconds for row in rows) == pytest.approx(result.duration_s, abs=1e-3)
    assert {row.activity for row in rows} <= set(ACTIVITIES)


def test_the_metres_of_the_timeline_are_those_of_the_path(result):
    plane = SlopePlane(Slope(*result.slope))
    path = plane.to_plane(np.column_stack([result.path.east_m, result.path.north_m]))
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    whole = np.interp(result.duration_s, result.path.time_s, along) - np.interp(0.0, result.path.time_s, along)
    assert sum(row.metres for row in result.timeline) == pytest.approx(whole, abs=1e-3)


def test_both_are_read_back_as_they_were_written(result):
    data = result_bytes(result)
    read = parse_result(data, name="run.json")
    assert [r.activity for r in read.timeline] == [r.activity for r in result.timeline]
    assert [(r.cause, r.windows) for r in read.account] == [
        (r.cause, tuple((round(a, 6), round(b, 6)) for a, b in r.windows)) for r in result.account
    ]
    assert sum(r.seconds.value for r in read.account) == pytest.approx(result.duration_s, abs=1e-3)


def test_a_pinpoint_lasts_from_settling_until_the_spot_is_left(result):
    """Probing ends with the hit, marking with the spot left by 2 m; the last hit of all ends the run."""
    plane = SlopePlane(Slope(*result.slope))
    path = plane.to_plane(np.column_stack([result.path.east_m, result.path.north_m]))

    def at(seconds):
        return np.array([np.interp(seconds, result.path.time_s, path[:, j]) for j in (0, 1)])

    hits = dict(result.probe_hits_s)
    assert {p.transmitter for p in result.phases if p.phase == PINPOINT} == set(hits)
    for phase in (p for p in result.phases if p.phase == PINPOINT):
        hit_s, who = hits[phase.transmitter], phase.transmitter
        rows = {r.activity: r for r in result.timeline if (r.phase, r.transmitter) == (PINPOINT, who)}
        assert rows["probing"].to_s == pytest.approx(hit_s, abs=1e-6)
        search = next(s for s in result.searches if s.transmitter == who)
        assert search.figure("pinpoint", "duration_s").value == pytest.approx(hit_s - phase.start_s, abs=1e-6)
        if hit_s == max(hits.values()):
            assert "marking" not in rows
            continue
        assert (rows["marking"].from_s, rows["marking"].to_s) == pytest.approx((hit_s, phase.end_s), abs=1e-6)
        assert np.hypot(*(at(phase.end_s) - at(hit_s))) == pytest.approx(2.0, abs=0.05)


def test_luck_is_the_reference_less_what_zigzags_take_on_average(result):
    """Walked here step by step over the area's long side, from the best estimate alone."""
    search = result.searches[0]
    luck = search.figure("signal", "luck_s")
    phase = next((p for p in result.phases if p.phase == SIGNAL and p.transmitter == search.transmitter), None)
    if phase is None or phase.end_sigma_s is None:
        assert isinstance(luck, NotAssessable)
        return
    plane = SlopePlane(Slope(*result.slope))
    reference = next(
        r for r in result.account if (r.phase, r.transmitter, r.cause) == (SIGNAL, search.transmitter, "reference")
    )
    path = plane.to_plane(np.column_stack([result.path.east_m, result.path.north_m]))
    heard = np.array([np.interp(phase.end_s, result.path.time_s, path[:, j]) for j in (0, 1)])
    placed = next(t for t in result.transmitters if t.id == search.transmitter)
    place = plane.to_plane([placed.east_m, placed.north_m])
    corners = plane.to_plane(result.corners_m)
    metres = [_until(walk, place, np.hypot(*(heard - place))) for walk in _zigzags(corners, 40.0)]
    expected = reference.seconds.value - np.mean(metres) / RULES.signal_pace_mps
    assert luck.value == pytest.approx(expected, abs=0.1)


def _zigzags(corners, width_m):
    """Return the four zigzags over a rectangle along the side that needs fewer strips."""
    sides = sorted((corners[1] - corners[0], corners[2] - corners[1]), key=lambda side: -np.hypot(*side))
    (along, across), corner = sides, corners.mean(axis=0) - (corners[1] - corners[0] + corners[2] - corners[1]) / 2.0
    count = int(np.ceil(np.hypot(*across) / width_m))
    assert count < np.ceil(np.hypot(*along) / width_m)
    strips = [(corner + across * (i + 0.5) / count, corner + across * (i + 0.5) / count + along) for i in range(count)]
    for order in (strips, strips[::-1]):
        for first in (0, 1):
            yield np.array([strip[(i + first + j) % 2] for i, strip in enumerate(order) for j in (0, 1)])


def _until(walk_m, place_m, range_m):
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(walk_m, axis=0).T))])
    at = np.arange(0.0, along[-1], 0.05)
    away = np.hypot(*(np.column_stack([np.interp(at, along, walk_m[:, j]) for j in (0, 1)]) - place_m).T)
    return at[np.argmax(away <= range_m)] if np.any(away <= range_m) else np.inf
