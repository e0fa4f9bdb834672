"""Phases of built and of simulated runs: in order, without gap or overlap, whatever is missing."""

import itertools
from dataclasses import replace

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.fuse import FusionSettings, fuse_drill
from analyzer.engine.phases.split import run_end_s, split_run
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    simulate_drill,
    simulate_run,
)
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL
from analyzer.model.recording import Mark

RADIUS_M, GUESS_M = 3.0, 20.0


def split(fused, marks=()):
    return split_run(fused, tuple(marks), fine_radius_m=RADIUS_M, guess_m=GUESS_M)


def check(spans, end_s, rows):
    """The laws of every split: from 0 to the end, joined, phases of a transmitter in order and once, draws finite."""
    assert spans[0].start_s == 0.0
    assert spans[-1].end_s == pytest.approx(end_s, abs=1e-6)
    for before, after in itertools.pairwise(spans):
        assert before.end_s == pytest.approx(after.start_s, abs=1e-9)
        # A phase without length in the best row is left out; in other rows it may have had some.
        assert np.all(before.end_draws_s <= after.start_draws_s + 1e-9)
        if before.transmitter == after.transmitter and PHASES.index(after.phase) == PHASES.index(before.phase) + 1:
            np.testing.assert_allclose(before.end_draws_s, after.start_draws_s)
    for span in spans:
        assert span.end_s > span.start_s
        assert span.phase in PHASES
        assert len(span.start_draws_s) == len(span.end_draws_s) == rows
        assert span.start_draws_s[0] == span.start_s
        assert span.end_draws_s[0] == span.end_s
        assert np.all(np.isfinite(span.start_draws_s))
        assert np.all(span.end_draws_s >= span.start_draws_s - 1e-9)
        assert np.all((span.start_draws_s >= 0.0) & (span.end_draws_s <= end_s + 1e-6))
    seen = []
    for name, group in itertools.groupby(spans, key=lambda s: s.transmitter):
        assert name not in seen
        seen.append(name)
        order = [PHASES.index(s.phase) for s in group]
        assert order == sorted(set(order))


def phases_of(spans):
    return [s.phase for s in spans]


TIME_S, POINTS = builders.a_search()
HIT = builders.probe_hit(TIME_S[-1])


def heard(time_s=TIME_S, points=POINTS, *, from_s=5.0, at=(0.0, 0.0), which=0):
    """Return (times, readings, index) of plain ranges from `from_s` on."""
    late = time_s >= from_s
    ranges = np.hypot(np.linalg.norm(points - np.asarray(at), axis=1), 1.1)
    return time_s[late], ranges[late], np.full(int(late.sum()), which)


@pytest.mark.parametrize("rows", [1, 40])
def test_a_whole_search_has_four_phases(rows):
    fused = builders.exact_path(TIME_S, POINTS, readings=heard(), rows=rows, spread_m=0.1 if rows > 1 else 0.0)
    spans = split(fused, [HIT])
    check(spans, TIME_S[-1], rows)
    assert phases_of(spans) == [SIGNAL, COARSE, FINE, PINPOINT]
    assert spans[1].start_s == pytest.approx(5.0)
    ranges = np.linalg.norm(POINTS, axis=1)
    entered = float(np.interp(-RADIUS_M, -ranges[: np.argmin(ranges)], TIME_S[: np.argmin(ranges)]))
    assert spans[2].start_s == pytest.approx(entered, abs=3.0)


def test_track_only_without_a_mark_does_not_know_the_start_of_the_coarse_search():
    spans = split(builders.exact_path(TIME_S, POINTS, rows=20, spread_m=0.5), [HIT])
    check(spans, TIME_S[-1], 20)
    coarse = next(s for s in spans if s.phase == COARSE)
    assert np.isnan(coarse.start_sigma_s)
    assert "guess" in coarse.note
    before = [s for s in spans if s.phase == SIGNAL]
    assert all(np.isnan(s.end_sigma_s) for s in before)


def test_a_first_reading_mark_is_the_start_of_the_coarse_search():
    spans = split(builders.exact_path(TIME_S, POINTS), [Mark(7.3, "first_reading"), HIT])
    check(spans, TIME_S[-1], 1)
    coarse = next(s for s in spans if s.phase == COARSE)
    assert coarse.start_s == 7.3
    assert np.isfinite(coarse.start_sigma_s)


def test_readings_come_before_the_mark():
    spans = split(builders.exact_path(TIME_S, POINTS, readings=heard(from_s=5.0)), [Mark(9.0, "first_reading"), HIT])
    assert next(s for s in spans if s.phase == COARSE).start_s == pytest.approx(5.0)


def test_one_lone_reading_is_not_the_first_of_two():
    times, values, which = heard(from_s=9.0)
    readings = np.append(3.0, times), np.append(28.0, values), np.append(0, which)
    spans = split(builders.exact_path(TIME_S, POINTS, readings=readings), [HIT])
    assert next(s for s in spans if s.phase == COARSE).start_s == pytest.approx(9.0)


def test_without_a_hit_the_run_ends_with_the_finish_mark_else_with_the_track():
    fused = builders.exact_path(TIME_S, POINTS, readings=heard())
    assert run_end_s(fused, ()) == TIME_S[-1]
    finish = Mark(TIME_S[-1] - 7.5, "finish")
    assert run_end_s(fused, (finish,)) == finish.time_s
    for marks in ((), (finish,)):
        spans = split(fused, marks)
        check(spans, run_end_s(fused, marks), 1)
        assert {COARSE, FINE} <= set(phases_of(spans))


def test_a_hit_ends_the_run_although_the_track_goes_on():
    fused = builders.exact_path(TIME_S, POINTS, readings=heard())
    hit = builders.probe_hit(TIME_S[-1] - 6.0)
    spans = split(fused, [hit])
    check(spans, hit.time_s, 1)
    assert spans[-1].phase == PINPOINT


def test_a_hit_after_the_track_ends_the_run_with_the_track():
    fused = builders.exact_path(TIME_S, POINTS, readings=heard())
    check(split(fused, [builders.probe_hit(TIME_S[-1] + 30.0)]), TIME_S[-1], 1)


def test_a_run_that_never_gets_near_has_no_fine_search():
    time_s, points = builders.walk([(40.0, 40.0), (15.0, 30.0), (10.0, 12.0), (20.0, 8.0)], pace=1.2)
    for readings in (None, heard(time_s, points)):
        spans = split(builders.exact_path(time_s, points, readings=readings))
        check(spans, time_s[-1], 1)
        assert not {FINE, PINPOINT} & set(phases_of(spans))


def test_a_run_that_hears_nothing_and_stays_far_away_is_one_phase_or_a_guess():
    time_s, points = builders.walk([(90.0, 0.0), (90.0, 60.0)], pace=1.2)
    spans = split(builders.exact_path(time_s, points))
    check(spans, time_s[-1], 1)
    assert not {FINE, PINPOINT} & set(phases_of(spans))


def test_running_through_the_circle_is_a_fine_search_that_began():
    time_s, points = builders.walk([(30.0, 1.0), (-30.0, 1.0)], pace=1.5)
    fused = builders.exact_path(time_s, points, readings=heard(time_s, points))
    spans = split(fused)
    check(spans, time_s[-1], 1)
    fine = next(s for s in spans if s.phase == FINE)
    inside = time_s[np.linalg.norm(points, axis=1) <= RADIUS_M]
    assert fine.start_s == pytest.approx(inside[0], abs=1.5)


def test_a_run_that_begins_inside_the_circle():
    inside = TIME_S[np.argmin(np.linalg.norm(POINTS, axis=1))] - 8.0 < TIME_S
    time_s, points = TIME_S[inside] - TIME_S[inside][0], POINTS[inside]
    fused = builders.exact_path(time_s, points, readings=heard(time_s, points, from_s=0.0))
    spans = split(fused, [builders.probe_hit(time_s[-1])])
    check(spans, time_s[-1], 1)
    assert FINE in phases_of(spans)


@pytest.mark.parametrize("hit_s", [0.0, 0.5, 3.0, 12.0])
def test_a_hit_that_comes_too_early_breaks_no_law(hit_s):
    fused = builders.exact_path(TIME_S, POINTS, readings=heard(from_s=20.0), rows=8, spread_m=0.3)
    marks = [builders.probe_hit(hit_s)]
    spans = split(fused, marks)
    if run_end_s(fused, tuple(marks)) > 0.0:
        check(spans, run_end_s(fused, tuple(marks)), 8)
    assert all(s.end_s > s.start_s for s in spans)


def two(gap=(22.0, 5.0)):
    """Return times and points of two searches, one after the other, and when the first is hit."""
    _, more = builders.a_search(to=gap)
    _, bridge = builders.walk([POINTS[-1], more[18]], pace=1.2)
    points = np.concatenate([POINTS, bridge[1:], more[19:]])
    return np.arange(float(len(points))), points, float(TIME_S[-1])


@pytest.mark.parametrize("labelled_late", [False, True])
def test_two_transmitters_one_after_the_other(labelled_late):
    time_s, points, first_hit_s = two()
    a, b = heard(time_s, points, from_s=4.0), heard(time_s, points, from_s=first_hit_s, at=(22.0, 5.0), which=1)
    a = tuple(column[a[0] <= first_hit_s] for column in a)
    if labelled_late:
        b = tuple(column[6:] for column in b)
    order = np.argsort(np.concatenate([a[0], b[0]]), kind="stable")
    readings = tuple(np.concatenate([one, other])[order] for one, other in zip(a, b, strict=True))
    fused = builders.exact_path(
        time_s, points, transmitter_m=[(0.0, 0.0), (22.0, 5.0)], axis=[[1.0, 0, 0]] * 2, readings=readings
    )
    marks = [builders.probe_hit(first_hit_s, "A"), builders.probe_hit(time_s[-1], "B")]
    spans = split(fused, marks)
    check(spans, time_s[-1], 1)
    mine = {name: [s.phase for s in spans if s.transmitter == name] for name in "AB"}
    assert mine["A"] == [SIGNAL, COARSE, FINE, PINPOINT]
    assert mine["B"] == ([SIGNAL] if labelled_late else []) + [COARSE, FINE, PINPOINT]


def marked(*, stay_s=40.0, b_from_s=None, rows=1, gap=(22.0, 5.0)):
    """Return a run of two transmitters that stands still for `stay_s` after the first hit, its path and its hits."""
    time_s, points, hit_s = two(gap)
    here = int(hit_s)
    points = np.concatenate(
        [points[: here + 1], np.repeat(points[here : here + 1], int(stay_s), axis=0), points[here + 1 :]]
    )
    time_s = np.arange(float(len(points)))
    a = heard(time_s, points, from_s=4.0)
    a = tuple(column[a[0] <= hit_s] for column in a)
    b = heard(time_s, points, from_s=hit_s + stay_s if b_from_s is None else hit_s + b_from_s, at=gap, which=1)
    readings = tuple(np.concatenate(pair) for pair in zip(a, b, strict=True))
    spots = [(0.0, 0.0), gap]
    fused = builders.exact_path(
        time_s, points, transmitter_m=spots, axis=[[1.0, 0, 0]] * 2, readings=readings, rows=rows
    )
    return fused, points, hit_s, [builders.probe_hit(hit_s, "A"), builders.probe_hit(time_s[-1], "B")]


@pytest.mark.parametrize("b_from_s", [1.0, 25.0, 40.0, 44.0])
def test_a_pinpoint_lasts_until_the_spot_is_left_by_two_metres(b_from_s):
    """The searcher stands for 40 s and walks off at 1.2 m/s; heard during that or 4 s after it, B needs no search."""
    fused, points, hit_s, marks = marked(b_from_s=b_from_s)
    spans = split(fused, marks)
    check(spans, fused.time_s[-1], 1)
    away = np.linalg.norm(points - points[int(hit_s)], axis=1)
    late = fused.time_s >= hit_s
    left = float(np.interp(2.0, away[late][:45], fused.time_s[late][:45]))
    assert left == pytest.approx(hit_s + 40.0 + 2.0 / 1.2, abs=0.3)
    pinpoint = next(s for s in spans if s.phase == PINPOINT and s.transmitter == "A")
    assert (pinpoint.end_s, pinpoint.hit_s) == (pytest.approx(left, abs=0.02), hit_s)
    assert [s.phase for s in spans if s.transmitter == "B"] == [COARSE, FINE, PINPOINT]
    assert (pinpoint.probing.end_s, pinpoint.marking.start_s) == (hit_s, hit_s)
    assert spans[-1].marking is None


def test_heard_later_than_the_spot_was_left_the_next_transmitter_has_a_signal_search():
    fused, _, _, marks = marked(b_from_s=48.0)
    assert [s.phase for s in split(fused, marks) if s.transmitter == "B"] == [SIGNAL, COARSE, FINE, PINPOINT]


def test_each_draw_leaves_the_spot_at_its_own_time():
    fused, points, hit_s, marks = marked(rows=3)
    here = points[int(hit_s)]
    factor = np.array([1.0, 0.5, 1.5])[:, None, None]
    fused = replace(fused, draws=replace(fused.draws, path_m=here + factor * (fused.draws.path_m - here)))
    spans = split(fused, marks)
    check(spans, fused.time_s[-1], 3)
    pinpoint = next(s for s in spans if s.phase == PINPOINT and s.transmitter == "A")
    stood_s = pinpoint.end_draws_s - hit_s - 40.0
    assert stood_s == pytest.approx(np.array([2.0, 4.0, 4.0 / 3.0]) / 1.2, abs=0.3)


def test_a_second_hit_from_the_same_spot_ends_the_first_search_with_its_hit():
    """Two transmitters 1.5 m apart: the spot of the first is not left before the second is hit."""
    time_s, points = builders.a_search()
    more = np.repeat(points[-1:], 30, axis=0) + np.linspace(0.0, 1.5, 30)[:, None] * np.array([1.0, 0.0])
    points = np.concatenate([points, more])
    time_s, hit_s = np.arange(float(len(points))), float(time_s[-1])
    spots = [(0.0, 0.0), (1.5, 0.0)]
    both = [heard(time_s, points, at=spot, which=i) for i, spot in enumerate(spots)]
    readings = tuple(np.concatenate(pair) for pair in zip(*both, strict=True))
    fused = builders.exact_path(time_s, points, transmitter_m=spots, axis=[[1.0, 0, 0]] * 2, readings=readings)
    spans = split(fused, [builders.probe_hit(hit_s, "A"), builders.probe_hit(time_s[-1], "B")])
    check(spans, time_s[-1], 1)
    assert [s.end_s for s in spans if s.phase == PINPOINT] == [hit_s, time_s[-1]]


def test_a_transmitter_that_was_never_searched_has_no_phases():
    fused = builders.exact_path(
        TIME_S, POINTS, transmitter_m=[(0.0, 0.0), (60.0, 60.0)], axis=[[1.0, 0, 0]] * 2, readings=heard()
    )
    spans = split(fused, [builders.probe_hit(TIME_S[-1] - 4.0, "A")])
    check(spans, TIME_S[-1], 1)
    assert {s.phase for s in spans if s.transmitter == "B"} <= {SIGNAL}


@pytest.mark.parametrize("late_s", [-1.3, -0.8, -0.5, -0.2, 0.0, 0.3, 0.7, 1.5])
@pytest.mark.parametrize("rows", [1, 20])
def test_a_first_reading_at_the_edge_of_the_circle(late_s, rows):
    """The first reading comes just before or after the range falls to the radius, between two fixes: no overlap."""
    shown = np.hypot(np.linalg.norm(POINTS, axis=1), 1.1)
    first = int(np.argmax(shown <= RADIUS_M))
    times = np.arange(first + late_s, TIME_S[-1], 1.0)
    readings = times, np.interp(times, TIME_S, shown), np.zeros(times.size)
    fused = builders.exact_path(TIME_S, POINTS, readings=readings, rows=rows, spread_m=0.2 if rows > 1 else 0.0)
    check(split(fused, [HIT]), TIME_S[-1], rows)


SIMULATED = [
    (k, kind, marks)
    for k in (1, 3)
    for kind in ("logged", "by_hand", "none")
    for marks in (("start", "probe_hit", "finish"), ("start",))
]


@pytest.mark.parametrize(("transmitters", "kind", "marks"), SIMULATED)
@pytest.mark.parametrize("seed", [1, 2])
def test_simulated_runs_obey_the_laws(transmitters, kind, marks, seed):
    drill = simulate_drill(DrillSettings(transmitters=transmitters), seed=seed)
    settings = RunSettings(readings=ReadingSettings(kind=kind), recorder=RecorderSettings(marks=marks))
    run = simulate_run(drill, settings, seed=seed)
    plane = SlopePlane(drill.drill.slope)
    (fused,) = fuse_drill([run.recording], drill.drill, plane, FusionSettings(draws=8))
    assert not isinstance(fused, AnalyzerError)
    spans = split(fused, run.recording.marks)
    check(spans, run_end_s(fused, run.recording.marks), 9)
    if kind != "none" and "probe_hit" in marks:
        found = {s.transmitter for s in spans if s.phase == PINPOINT}
        assert found == {s.transmitter for s in run.truth.searches}


@pytest.mark.parametrize("seed", range(4))
def test_bounds_of_simulated_runs_are_near_the_true_ones(seed):
    drill = simulate_drill(seed=seed)
    run = simulate_run(drill, RunSettings(recorder=RecorderSettings(kind="survey")), seed=seed)
    (fused,) = fuse_drill([run.recording], drill.drill, SlopePlane(drill.drill.slope), FusionSettings(draws=8))
    spans = {s.phase: s for s in split(fused, run.recording.marks)}
    truth = {p.phase: p for p in run.truth.phases}
    assert spans[COARSE].start_s == pytest.approx(truth[COARSE].start_s, abs=2.5)
    assert spans[FINE].start_s == pytest.approx(truth[FINE].start_s, abs=2.5)
    assert spans[PINPOINT].start_s == pytest.approx(truth[PINPOINT].start_s, abs=12.0)
