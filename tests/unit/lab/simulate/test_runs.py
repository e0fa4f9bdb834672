"""Whole simulated runs: the same seed, the same run; the truth agrees with itself and with physics."""

import dataclasses
import itertools
import math

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
    simulate_drill,
    simulate_run,
)
from analyzer.lab.simulate.noise_models import WhiteNoise
from analyzer.physics.receiver import offsets, reading_m

EXACT = ReadingSettings(relative_noise=0.0, noise_m=0.0, steps=((0.0, 1e-6),), dropout=0.0, outlier=0.0)
SILENT = RecorderSettings(noise=WhiteNoise(0.0), decimals=9, spikes_per_minute=0.0, gaps_per_minute=0.0)
CLEAN = RunSettings(recorder=SILENT, readings=EXACT)
SEEDS = range(8)


def a_run(seed, settings=None, drill_settings=None, **more):
    drill = simulate_drill(drill_settings, seed=seed)
    return drill, simulate_run(drill, settings, seed=seed, **more)


def test_one_seed_gives_one_run_and_another_gives_another():
    one, two, other = a_run(3)[1], a_run(3)[1], a_run(4)[1]
    assert np.array_equal(one.recording.track.east_m, two.recording.track.east_m)
    assert np.array_equal(one.recording.readings.reading_m, two.recording.readings.reading_m)
    assert one.recording.marks == two.recording.marks
    assert one.truth.phases == two.truth.phases
    assert one.truth.phases != other.truth.phases


def test_another_recorder_of_the_same_seed_records_the_same_walk():
    phone = a_run(3)[1].truth
    survey = a_run(3, RunSettings(recorder=RecorderSettings(kind="survey")))[1].truth
    assert np.array_equal(phone.plane_m, survey.plane_m)
    assert phone.clock_offset_s == survey.clock_offset_s


@pytest.mark.parametrize("seed", SEEDS)
def test_phases_are_in_order_without_gap_and_add_up_to_the_way_walked(seed):
    _, run = a_run(seed)
    phases = run.truth.phases
    assert [p.phase for p in phases] == ["signal_search", "coarse_search", "fine_search", "pinpoint"]
    assert phases[0].start_s == 0.0
    for before, after in itertools.pairwise(phases):
        assert before.end_s == after.start_s
        assert before.start_s < before.end_s
    steps = np.hypot(*np.diff(run.truth.plane_m, axis=0).T)
    until_hit = run.truth.time_s[1:] <= phases[-1].end_s + 1e-6
    assert sum(p.walked_m for p in phases) == pytest.approx(float(np.sum(steps[until_hit])), abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_run_without_fault_has_none(seed):
    _, run = a_run(seed)
    search = run.truth.searches[0]
    assert run.truth.faults == ()
    assert search.wrong_way_m < 1.0
    assert search.standing_s == 0.0
    assert 0.93 < search.path_ratio < 1.15
    assert 78.0 <= search.crossing_angle_deg <= 90.0
    assert search.final_offset_m < 0.8


@pytest.mark.parametrize("antennas", [1, 2, 3])
def test_readings_without_noise_are_those_of_the_field(antennas):
    settings = dataclasses.replace(CLEAN, searcher=SearcherSettings(antennas=antennas))
    _, run = a_run(5, settings)
    truth, readings, source = run.truth, run.recording.readings, run.truth.sources[0]
    at = readings.time_s + truth.clock_offset_s
    rows = np.round(at / 0.05).astype(int)
    offset = offsets(truth.plane_m[rows], truth.height_m[rows], [source.x, source.y], source.depth_m)
    if antennas == 1:
        # One antenna sees a part of the field: never more than all of it, so never a shorter reading.
        whole = reading_m(offset, source.axis, scale=truth.reading_scale, antennas=3)
        assert np.all(readings.reading_m >= whole - 0.05)
        return
    want = reading_m(offset, source.axis, scale=truth.reading_scale, antennas=antennas)
    near = want < 30.0
    assert np.max(np.abs(readings.reading_m - want)[near]) < 0.05
    assert np.all(readings.reading_m <= truth.reception_m * 1.02 + 1e-6)


def test_coarse_search_ends_when_the_true_reading_falls_to_three_metres():
    for seed in SEEDS:
        _, run = a_run(seed, CLEAN)
        truth, source = run.truth, run.truth.sources[0]
        coarse = next(p for p in truth.phases if p.phase == "coarse_search")
        offset = offsets(truth.plane_m, truth.height_m, [source.x, source.y], source.depth_m)
        reading = reading_m(offset, source.axis, scale=truth.reading_scale)
        inside = (truth.time_s > coarse.start_s) & (truth.time_s < coarse.end_s - 0.06)
        assert np.all(reading[inside] > 3.0)
        assert reading[np.searchsorted(truth.time_s, coarse.end_s - 1e-6)] <= 3.0


def test_signal_search_ends_at_the_first_reading():
    _, run = a_run(2, CLEAN)
    first = run.recording.readings.time_s[0] + run.truth.clock_offset_s
    assert run.truth.phases[0].end_s == pytest.approx(first, abs=2e-3)


def test_the_track_without_noise_is_the_truth():
    drill, run = a_run(6, CLEAN)
    track, truth = run.recording.track, run.truth
    assert np.max(np.abs(track.east_m - np.interp(track.time_s, truth.time_s, truth.east_m))) < 1e-3
    assert np.max(np.abs(track.north_m - np.interp(track.time_s, truth.time_s, truth.north_m))) < 1e-3
    back = SlopePlane(drill.drill.slope).to_horizontal(truth.plane_m)
    assert back[:, 0] == pytest.approx(truth.east_m)


@pytest.mark.parametrize("seed", SEEDS)
def test_motion_is_that_of_a_person(seed):
    truth = a_run(seed)[1].truth
    velocity = np.diff(truth.plane_m, axis=0) / 0.05
    assert np.max(np.hypot(*velocity.T)) < 2.0
    assert np.max(np.hypot(*np.diff(velocity, axis=0).T)) / 0.05 < 1.6


def test_the_receiver_is_carried_high_and_searches_low():
    truth = a_run(1)[1].truth
    for phase in truth.phases:
        inside = (truth.time_s > phase.start_s + 1.5) & (truth.time_s < phase.end_s)
        height = np.median(truth.height_m[inside])
        assert height == pytest.approx(1.0 if phase.phase in ("signal_search", "coarse_search") else 0.1, abs=0.06)


def test_hit_is_over_the_transmitter():
    for seed in SEEDS:
        truth = a_run(seed)[1].truth
        hit = np.searchsorted(truth.time_s, truth.searches[0].probe_hit_s - 1e-6)
        assert math.dist(truth.plane_m[hit], (truth.sources[0].x, truth.sources[0].y)) < 0.5


def test_several_transmitters_are_found_one_after_the_other():
    _, run = a_run(1, drill_settings=DrillSettings(transmitters=3))
    assert {s.transmitter for s in run.truth.searches} == {"T1", "T2", "T3"}
    assert [m.mark for m in run.recording.marks] == ["start", *["probe_hit"] * 3, "finish"]
    assert set(run.recording.readings.transmitter) == {"T1", "T2", "T3"}
    pairs = itertools.pairwise(run.truth.phases)
    assert all(a.end_s == b.start_s for a, b in pairs)
    # In range at the hit: the signal search of a further transmitter is left out.
    assert sum(p.phase == "signal_search" for p in run.truth.phases) == 1


def test_recorders_differ_in_rate_and_in_what_they_state():
    phone = a_run(0)[1].recording.track
    survey = a_run(0, RunSettings(recorder=RecorderSettings(kind="survey", gaps_per_minute=0.0)))[1].recording.track
    assert np.median(np.diff(phone.time_s)) == pytest.approx(1.0)
    assert np.diff(survey.time_s) == pytest.approx(0.1)
    assert survey.survey_grade
    assert not phone.survey_grade
    assert np.all(np.isnan(phone.sigma_m))
    assert np.all(survey.sigma_m == 0.02)


def test_watches_are_sometimes_irregular():
    steps = [
        np.diff(
            a_run(s, RunSettings(recorder=RecorderSettings(kind="watch", gaps_per_minute=0.0)))[
                1
            ].recording.track.time_s
        )
        for s in range(10)
    ]
    irregular = [np.ptp(d) > 0.5 for d in steps]
    assert 2 <= sum(irregular) <= 8
    assert all(np.max(d) <= 4.001 for d in steps)


def test_gaps_and_spikes_are_there_and_counted():
    bad = RecorderSettings(noise=WhiteNoise(0.01), spikes_per_minute=6.0, gaps_per_minute=2.0)
    _, run = a_run(4, RunSettings(recorder=bad))
    track, truth = run.recording.track, run.truth
    off = np.hypot(
        track.east_m - np.interp(track.time_s, truth.time_s, truth.east_m),
        track.north_m - np.interp(track.time_s, truth.time_s, truth.north_m),
    )
    told = dict(truth.noise)
    assert 0 < np.sum(off > 4.0) <= told["spikes"]
    assert np.max(np.diff(track.time_s)) > 5.0
    assert told["lost_in_gaps"] > 0


def test_readings_by_hand_are_sparse_and_on_their_own_clock():
    settings = RunSettings(readings=ReadingSettings(kind="by_hand", clock_offset_s=(20.0, 20.0)))
    _, run = a_run(1, settings)
    readings = run.recording.readings
    assert readings.by_hand
    assert run.truth.clock_offset_s == 20.0
    assert readings.time_s[0] + 20.0 == pytest.approx(run.truth.phases[0].end_s, abs=0.8)
    assert np.median(np.diff(readings.time_s)) > 2.0


def test_direction_columns_hold_the_field_relative_to_the_receiver():
    _, run = a_run(7, RunSettings(readings=ReadingSettings(directions=True)))
    readings = run.recording.readings
    far = readings.reading_m > 8.0
    assert np.all(np.abs(readings.steer_deg) <= 90.0)
    # A searcher who follows the line has it straight ahead, but for the turn at acquisition.
    assert np.median(np.abs(readings.steer_deg[far][3:])) <= 15.0
    assert np.all((readings.heading_deg >= 0.0) & (readings.heading_deg <= 360.0))


def test_a_stated_position_is_off_by_what_was_asked_for():
    settings = DrillSettings(position_sigma_m=2.5)
    off = [
        [d.drill.transmitters[0].east_m - d.true_transmitters[0].east_m for d in [simulate_drill(settings, seed=s)]]
        for s in range(200)
    ]
    assert np.std(off) == pytest.approx(2.5, rel=0.2)
    exact = simulate_drill(dataclasses.replace(settings, position_error_m=0.0), seed=1)
    assert exact.drill.transmitters[0].east_m == pytest.approx(exact.true_transmitters[0].east_m, abs=0.006)


def test_axes_can_be_withheld():
    drill = simulate_drill(DrillSettings(axis_given=False), seed=1)
    assert drill.drill.transmitters[0].axis_bearing_deg is None
    assert drill.true_transmitters[0].axis_bearing_deg is not None


def test_a_hold_tells_where_it_was():
    drill, run = a_run(2, RunSettings(searcher=SearcherSettings(hold_s=10.0)))
    begin = next(m for m in run.recording.marks if m.mark == "hold_begin")
    end = next(m for m in run.recording.marks if m.mark == "hold_end")
    east, north = (float(word) for word in begin.note.split())
    assert end.time_s - begin.time_s == pytest.approx(10.0)
    assert np.interp(begin.time_s + 5.0, run.truth.time_s, run.truth.east_m) == pytest.approx(east, abs=0.1)
    assert math.dist((east, north), (drill.true_transmitters[0].east_m, drill.true_transmitters[0].north_m)) < 0.6


@pytest.mark.parametrize(
    ("settings", "word"),
    [
        (RunSettings(recorder=RecorderSettings(kind="sundial")), "sundial"),
        (RunSettings(readings=ReadingSettings(kind="guess")), "guess"),
    ],
)
def test_unknown_kinds_are_refused(settings, word):
    with pytest.raises(InputError, match=word):
        a_run(1, settings)
