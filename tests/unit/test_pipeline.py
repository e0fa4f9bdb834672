"""The whole engine on built and simulated drills: what must hold for every result, whatever the evidence."""

import dataclasses
import hashlib
import itertools
import json
import math

import builders
import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import AnalyzerError, EstimationError
from analyzer.files.results.result_json import result_bytes
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import (
    FAULTS,
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
    simulate_drill,
    simulate_run,
)
from analyzer.model.account import ACTIVITIES, PHASE_KEYS
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.phases import PHASES
from analyzer.model.recording import InputFile, Mark
from analyzer.model.result import files_sha256

RULES = default_rules()
DRAWS = 12

CASES = {
    "readings": {},
    "by hand": {"readings": ReadingSettings(kind="by_hand")},
    "track only": {"readings": ReadingSettings(kind="none")},
    "survey": {"recorder": RecorderSettings(kind="survey")},
    "watch": {"recorder": RecorderSettings(kind="watch")},
    "no marks": {"recorder": RecorderSettings(marks=())},
    "bare track": {"readings": ReadingSettings(kind="none"), "recorder": RecorderSettings(marks=())},
    "two antennas": {"searcher": SearcherSettings(antennas=2)},
    "one antenna": {"searcher": SearcherSettings(antennas=1)},
    "three transmitters": {"drill": DrillSettings(transmitters=3)},
    "axis withheld": {"drill": DrillSettings(axis_given=False)},
    "placed by phone": {"drill": DrillSettings(position_sigma_m=2.5)},
    "level": {"drill": DrillSettings(slope_deg=0.0)},
}


def simulated(name, seed=4):
    changes = dict(CASES[name])
    drill = simulate_drill(changes.pop("drill", None), seed=seed)
    return drill.drill, simulate_run(drill, RunSettings(**changes), seed=seed).recording


@pytest.fixture(scope="module", params=CASES)
def run(request):
    """Return drill, recording and result of one kind of run."""
    drill, recording = simulated(request.param)
    (result,) = analyze_drill(drill, [recording], RULES, draws=DRAWS)
    assert not isinstance(result, AnalyzerError)
    return drill, recording, result


def every_figure(value, at=""):
    """Yield (where, figure) of every measured figure anywhere inside a value."""
    if isinstance(value, Figure | NotAssessable):
        yield at, value
    elif dataclasses.is_dataclass(value):
        for f in dataclasses.fields(value):
            yield from every_figure(getattr(value, f.name), f"{at}.{f.name}")
    elif isinstance(value, tuple | list):
        for i, item in enumerate(value):
            yield from every_figure(item, f"{at}[{i}]")


def every_number(value, at=""):
    """Yield (where, number) of every float anywhere inside a value but arrays."""
    if isinstance(value, bool | str) or value is None:
        return
    if isinstance(value, int | float):
        yield at, float(value)
    elif dataclasses.is_dataclass(value):
        for f in dataclasses.fields(value):
            yield from every_number(getattr(value, f.name), f"{at}.{f.name}")
    elif isinstance(value, tuple | list):
        for i, item in enumerate(value):
            yield from every_number(item, f"{at}[{i}]")


def test_every_interval_holds_its_value(run):
    figures = list(every_figure(run[2]))
    assert len(figures) > 15
    for where, figure in figures:
        if isinstance(figure, Figure):
            assert figure.low <= figure.value <= figure.high, where
            assert figure.unit, where
        else:
            assert len(figure.why) > 5, where


def test_no_number_is_missing(run):
    result = run[2]
    for where, number in every_number(result):
        assert math.isfinite(number), where
    for name in ("time_s", "east_m", "north_m", "sigma_m"):
        assert np.all(np.isfinite(getattr(result.path, name)))
    assert np.all(result.path.sigma_m > 0.0)
    if result.readings is not None:
        assert np.all(np.isfinite(result.readings))
    for line in result.lines:
        assert np.all(np.isfinite(line.points_m))


def walked_m(result, drill):
    """Return metres walked in the slope plane up to the end of the run, from the path of the result."""
    a, b = math.radians(drill.slope.angle_deg), math.radians(drill.slope.aspect_deg)
    step = np.column_stack([np.diff(result.path.east_m), np.diff(result.path.north_m)])
    fall = step @ np.array([math.sin(b), math.cos(b)])
    length = np.sqrt(np.sum(step**2, axis=1) + (fall * math.tan(a)) ** 2)  # the surface rises with the fall line
    along = np.concatenate([[0.0], np.cumsum(length)])
    return float(np.interp(result.duration_s, result.path.time_s, along) - np.interp(0.0, result.path.time_s, along))


def test_timeline_accounts_for_every_second_and_metre(run):
    drill, _, result = run
    rows = result.timeline
    assert rows[0].from_s == pytest.approx(0.0, abs=1e-9)
    assert rows[-1].to_s == pytest.approx(result.duration_s, abs=1e-9)
    for before, after in itertools.pairwise(rows):
        assert before.to_s == pytest.approx(after.from_s, abs=1e-9)
    assert all(r.seconds > 0.0 and r.metres >= -1e-12 for r in rows)
    assert all(r.seconds == pytest.approx(r.to_s - r.from_s, abs=1e-9) for r in rows)
    assert sum(r.seconds for r in rows) == pytest.approx(result.duration_s, abs=1e-3)
    assert sum(r.metres for r in rows) == pytest.approx(walked_m(result, drill), abs=1e-3)
    assert {r.activity for r in rows} <= set(ACTIVITIES)


def test_timeline_and_phases_agree(run):
    result = run[2]
    for phase in result.phases:
        mine = [r for r in result.timeline if (r.phase, r.transmitter) == (phase.phase, phase.transmitter)]
        assert sum(r.seconds for r in mine) == pytest.approx(phase.end_s - phase.start_s, abs=1e-3)
        assert sum(r.metres for r in mine) == pytest.approx(phase.walked_m, abs=1e-3)


def test_phases_cover_the_run(run):
    result = run[2]
    assert result.phases[0].start_s == 0.0
    assert result.phases[-1].end_s == pytest.approx(result.duration_s)
    for before, after in itertools.pairwise(result.phases):
        assert before.end_s == pytest.approx(after.start_s, abs=1e-9)
    assert {p.phase for p in result.phases} <= set(PHASES)
    for phase in result.phases:
        assert phase.walked_m >= 0.0


def test_episodes_of_findings_lie_inside_the_run(run):
    result = run[2]
    for finding in result.findings:
        assert -1e-6 <= finding.from_s <= finding.to_s <= result.duration_s + 1e-6
        assert finding.text
        assert finding.severity in ("note", "costly", "severe")
    assert len({f.id for f in result.findings}) == len(result.findings)


def test_scores_run_from_nought_to_a_hundred(run):
    scores = dict(run[2].scores.by_phase)
    assert set(scores) == set(PHASE_KEYS)
    for figure in scores.values():
        if isinstance(figure, Figure):
            assert 0.0 <= figure.low <= figure.value <= figure.high <= 100.0


def test_result_survives_being_written(run):
    _, recording, result = run
    text = result_bytes(result)
    values = json.loads(text)
    assert json.loads(text) == values
    assert result_bytes(result) == text
    assert values["format"] == "searchwake-result/2"
    assert values["run"]["id"] == recording.run_id
    assert values["run"]["duration_s"] == pytest.approx(result.duration_s, abs=1e-6)
    assert values["path"]["east_m"] == pytest.approx(result.path.east_m, abs=1e-3)
    assert sum(r["seconds"] for r in values["timeline"]) == pytest.approx(values["run"]["duration_s"], abs=1e-3)
    assert sum(r["metres"] for r in values["timeline"]) == pytest.approx(
        sum(p["walked_m"] for p in values["phases"]), abs=1e-3
    )
    assert len(values["searches"]) == len(result.searches)
    for search, own in zip(values["searches"], result.searches, strict=True):
        for group in ("signal", "coarse", "fine", "pinpoint"):
            for name, figure in getattr(own, group):
                stated = search[group][name]
                if isinstance(figure, Figure):
                    assert stated["value"] == pytest.approx(figure.value, abs=1e-4)
                    assert stated["low"] <= stated["value"] <= stated["high"]
                else:
                    assert stated == {"status": "not_assessable", "why": figure.why}
    if recording.readings is not None:
        assert values["readings"]["reading_m"] == pytest.approx(recording.readings.reading_m, abs=1e-3)


def test_evidence_names_what_there_is(run):
    _, recording, result = run
    tier = result.evidence.tier
    assert tier.endswith("+readings") == (recording.readings is not None)
    assert tier.startswith("survey") == recording.track.survey_grade
    assert isinstance(result.evidence.clock_offset_s, Figure) == (recording.readings is not None)
    assert result.evidence.axis_source in ("given", "estimated", "unknown")


def test_track_only_does_not_pretend_to_know_the_first_reading():
    """Its coarse search begins at a guess: the bound has no sigma, and what rests on it is not assessable."""
    drill, recording = simulated("track only")
    (result,) = analyze_drill(drill, [recording], RULES, draws=DRAWS)
    coarse = next(p for p in result.phases if p.phase == "coarse_search")
    assert coarse.start_sigma_s is None
    assert coarse.note
    (search,) = result.searches
    assert isinstance(search.figure("fine", "crossing_angle_deg"), NotAssessable)
    for name in ("lowest_reading_m", "ended_on_lowest_m", "overshoot_m"):
        assert isinstance(search.figure("fine", name), NotAssessable)
    assert isinstance(search.figure("signal", "covered_fraction"), NotAssessable)


def test_same_seed_same_bytes_and_another_seed_other_intervals():
    drill, recording = simulated("readings")
    one, same, other = (analyze_drill(drill, [recording], RULES, draws=DRAWS, seed=s)[0] for s in (0, 0, 1))
    assert result_bytes(one) == result_bytes(same)
    assert result_bytes(one) != result_bytes(other)
    np.testing.assert_array_equal(one.path.east_m, other.path.east_m)  # the best estimate does not hang on the seed


def test_inputs_are_left_as_they_were():
    drill, recording = simulated("readings")
    before = recording.track.east_m.copy(), recording.readings.time_s.copy()
    analyze_drill(drill, [recording], RULES, draws=4)
    np.testing.assert_array_equal(recording.track.east_m, before[0])
    np.testing.assert_array_equal(recording.readings.time_s, before[1])


def test_no_draws_give_figures_without_width():
    drill, recording = simulated("readings")
    (result,) = analyze_drill(drill, [recording], RULES, draws=0)
    for where, number in every_number(result.searches):
        assert math.isfinite(number), where
    assert sum(r.seconds for r in result.timeline) == pytest.approx(result.duration_s, abs=1e-3)


@pytest.mark.parametrize("fault", sorted(set(FAULTS) - {"missed_strip"}))
def test_runs_with_every_fault_obey_the_same_laws(fault):
    drill = simulate_drill(seed=6)
    recording = simulate_run(drill, fault=fault, seed=6).recording
    (result,) = analyze_drill(drill.drill, [recording], RULES, draws=8)
    assert not isinstance(result, AnalyzerError)
    for where, figure in every_figure(result):
        if isinstance(figure, Figure):
            assert figure.low <= figure.value <= figure.high, where
    assert sum(r.seconds for r in result.timeline) == pytest.approx(result.duration_s, abs=1e-3)
    assert sum(r.metres for r in result.timeline) == pytest.approx(walked_m(result, drill.drill), abs=1e-3)
    for _, number in every_number(result):
        assert math.isfinite(number)


def built(**changes):
    """Return a drill and the recording of a plain search in it."""
    time_s, points = builders.a_search()
    drill = builders.a_drill()
    settings = {"readings": builders.readings_along(drill, time_s, points), "marks": [builders.probe_hit(time_s[-1])]}
    return drill, builders.recording_of(builders.track_of(time_s, points), **(settings | changes))


def test_a_run_that_cannot_be_used_leaves_the_others_unharmed():
    drill, good = built()
    short = builders.recording_of(builders.track_of(np.arange(5.0), np.zeros((5, 2))), run_id="short")
    results = analyze_drill(drill, [short, good, short], RULES, draws=DRAWS)
    assert isinstance(results[0], EstimationError)
    assert isinstance(results[2], EstimationError)
    assert "short" in str(results[0])
    (alone,) = analyze_drill(drill, [good], RULES, draws=DRAWS)
    np.testing.assert_allclose(results[1].path.east_m, alone.path.east_m, atol=1e-9)
    assert results[1].phases == alone.phases
    assert results[1].timeline == alone.timeline


def test_results_come_in_the_order_of_the_recordings():
    drill, first = built(run_id="b-1")
    _, second = built(run_id="a-1")
    assert [r.run_id for r in analyze_drill(drill, [first, second], RULES, draws=2)] == ["b-1", "a-1"]


def test_a_run_alone_shares_nothing_and_two_share_places_and_axes():
    drill, first = built(run_id="b-1")
    _, second = built(run_id="a-1")
    short = builders.recording_of(builders.track_of(np.arange(5.0), np.zeros((5, 2))), run_id="short")
    (alone,) = analyze_drill(drill, [first], RULES, draws=2)
    assert alone.shared is None
    assert analyze_drill(drill, [first, short], RULES, draws=2)[0].shared is None  # what is not fitted tells nothing
    one, other = analyze_drill(drill, [first, second], RULES, draws=2)
    assert one.shared == other.shared
    assert [run.run for run in one.shared.runs] == ["b-1", "a-1"]
    assert one.shared.estimated == ("transmitter_places",)  # the drill states the axis
    (unstated,) = (dataclasses.replace(t, axis_bearing_deg=None, axis_tilt_deg=None) for t in drill.transmitters)
    unknown = dataclasses.replace(drill, transmitters=(unstated,))
    found = analyze_drill(unknown, [first, second], RULES, draws=2)[0]
    assert found.shared.estimated == ("transmitter_places", "antenna_axes")
    silent = [dataclasses.replace(run, readings=None) for run in (first, second)]
    assert analyze_drill(unknown, silent, RULES, draws=2)[0].shared.estimated == ("transmitter_places",)


def test_the_hash_of_a_run_is_of_its_own_files_in_any_order():
    own = (InputFile("track", "track.gpx", "a" * 64, 1, 1), InputFile("marks", "marks.csv", "b" * 64, 1, 1))
    common = InputFile("drill", "drill.toml", "c" * 64, 1, 1)
    lines = ("b" * 64 + "\n" + "a" * 64 + "\n").encode()  # marks.csv stands before track.gpx
    assert files_sha256((common, *own)) == files_sha256(own[::-1]) == hashlib.sha256(lines).hexdigest()


def test_no_recordings_no_results():
    assert analyze_drill(builders.a_drill(), [], RULES) == []


STRANGE = {
    "the hit before the first fix": {"marks": [builders.probe_hit(-5.0)]},
    "the hit at the start": {"marks": [builders.probe_hit(0.0)]},
    "the hit half a second in": {"marks": [builders.probe_hit(0.5)]},
    "the finish at the start": {"marks": [Mark(0.0, "finish")]},
    "the finish before the start": {"marks": [Mark(-30.0, "finish")]},
    "a hold without length": {"marks": [Mark(5.0, "hold_begin"), Mark(5.0, "hold_end")]},
    "two hits of one transmitter": {"marks": [builders.probe_hit(60.0), builders.probe_hit(90.0)]},
    "first_reading after the hit": {"readings": None, "marks": [builders.probe_hit(50.0), Mark(70.0, "first_reading")]},
}


@pytest.mark.parametrize("marks", STRANGE)
def test_strange_marks_give_a_result_or_one_clear_error_and_harm_no_other_run(marks):
    drill, strange = built(run_id="strange", **STRANGE[marks])
    _, good = built(run_id="good")
    first, second = analyze_drill(drill, [strange, good], RULES, draws=4)
    assert second.run_id == "good"
    if isinstance(first, AnalyzerError):
        assert first.where.startswith("strange")
        assert first.do
    else:
        assert first.duration_s > 0.0
        assert sum(r.seconds for r in first.timeline) == pytest.approx(first.duration_s, abs=1e-3)


def cut(readings, rows):
    return dataclasses.replace(
        readings,
        time_s=readings.time_s[rows],
        reading_m=readings.reading_m[rows],
        transmitter=tuple(np.array(readings.transmitter)[rows]),
        steer_deg=readings.steer_deg[rows],
        heading_deg=readings.heading_deg[rows],
    )


@pytest.mark.parametrize("rows", [slice(0, 0), slice(0, 1), slice(0, 2), slice(10, 13), slice(-1, None)])
def test_logs_of_a_few_readings_are_no_harm(rows):
    drill, recording = built()
    few = dataclasses.replace(recording, readings=cut(recording.readings, rows))
    (result,) = analyze_drill(drill, [few], RULES, draws=DRAWS)
    assert not isinstance(result, AnalyzerError)
    assert all(math.isfinite(n) for _, n in every_number(result))


def test_a_log_from_another_hour_is_not_used():
    """Readings that no clock offset brings onto the track are not used, and the result says what it rests on."""
    drill, recording = built()
    away = dataclasses.replace(
        recording, readings=dataclasses.replace(recording.readings, time_s=recording.readings.time_s + 550.0)
    )
    (result,) = analyze_drill(drill, [away], RULES, draws=DRAWS)
    assert result.readings is None
    assert result.evidence.tier == "track"
    assert isinstance(result.searches[0].figure("fine", "lowest_reading_m"), NotAssessable)


@pytest.mark.parametrize("path", ["still", "still over the transmitter", "straight away", "ten fixes"])
def test_strange_tracks_are_no_harm(path):
    time_s = np.arange(120.0)
    points = {
        "still": np.full((120, 2), 8.0),
        "still over the transmitter": np.zeros((120, 2)),
        "straight away": np.column_stack([2.0 + time_s, time_s]),
        "ten fixes": np.zeros((10, 2)),
    }[path]
    track = builders.track_of(time_s[: len(points)], points)
    (result,) = analyze_drill(builders.a_drill(), [builders.recording_of(track)], RULES, draws=8)
    assert not isinstance(result, AnalyzerError)
    assert all(math.isfinite(n) for _, n in every_number(result))
    assert sum(r.seconds for r in result.timeline) == pytest.approx(result.duration_s, abs=1e-3)
