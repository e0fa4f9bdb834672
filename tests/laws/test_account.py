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
from analyzer.model.phases import PHASES
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
