"""Wrong ways on walks whose rises are known by construction."""

from dataclasses import replace

import numpy as np
import pytest
from builders import exact_path, walk

from analyzer.engine.measures.window import cut
from analyzer.engine.measures.wrong_way import excursions, runs, stray_draws
from analyzer.model.phases import COARSE, PhaseSpan


def window_of(knots, *, pace=1.0, rows=1, noise_m=0.0, seed=0):
    """Return the coarse-search window of a walk along knots, the transmitter at 0, 0."""
    time_s, points = walk(knots, pace=pace)
    fused = exact_path(time_s, points, rows=rows)
    if noise_m:
        fused = noisy(fused, noise_m, seed)
    ends = np.full(len(fused.draws.path_m), float(time_s[-1]))
    span = PhaseSpan(COARSE, "A", 0.0, float(time_s[-1]), 0.0, 0.0, np.zeros_like(ends), ends)
    return cut(fused, span)


def noisy(fused, sigma_m, seed):
    """Return the path with rows 1.. moved by errors that are smooth over 16 s, row 0 left as it is."""
    rng = np.random.default_rng(seed)
    t = fused.time_s
    gap = np.sqrt(3.0) * np.abs(t[:, None] - t[None]) / 16.0
    factor = np.linalg.cholesky((1.0 + gap) * np.exp(-gap) + 1e-9 * np.eye(len(t)))
    error = np.einsum("ij,sjk->sik", factor, rng.standard_normal((len(fused.draws.path_m), len(t), 2)))
    error[0] = 0.0
    path = fused.draws.path_m + sigma_m * error
    draws = replace(fused.draws, path_m=path, velocity_mps=np.gradient(path, t, axis=1))
    return replace(fused, draws=draws)


def test_out_and_back_on_the_way_in_is_one_event_with_its_length():
    # 30 m out, in to 20 m, out to 26 m, in to 4 m: 6 m away, from 10 s to 16 s, regained at 22 s.
    window = window_of([(30, 0), (20, 0), (26, 0), (4, 0)])
    (event,) = (e.event for e in excursions(window))
    assert event.metres == pytest.approx(6.0, abs=0.05)
    assert event.turn_s == pytest.approx(16.0, abs=0.01)
    assert event.from_s == pytest.approx(10.0, abs=0.3)
    assert event.to_s == pytest.approx(22.0, abs=0.3)


def test_turning_away_at_acquisition_counts_from_the_start():
    window = window_of([(20, 0), (25, 0), (4, 0)])
    (event,) = (e.event for e in excursions(window))
    assert event.from_s == pytest.approx(0.0, abs=0.3)
    assert event.metres == pytest.approx(5.0, abs=0.05)


def test_seconds_of_the_way_out_leave_a_stop_out():
    # 6 m out at 1 m/s, 8 s standing there, back: the way out took 6 s.
    window = window_of([(30, 0), (20, 0), (26, 0), (26.001, 0), (4, 0)], pace=[1.0, 1.0, 0.001 / 8.0, 1.0])
    (found,) = excursions(window)
    assert found.out_s[0] == pytest.approx(6.0, abs=1.2)


def test_two_ways_out_are_two_events():
    window = window_of([(40, 0), (30, 0), (36, 0), (20, 0), (25, 0), (4, 0)])
    assert [round(e.event.metres) for e in excursions(window)] == [6, 5]


@pytest.mark.parametrize("knots", [[(30, 0), (4, 0)], [(0, 30), (10, 15), (3, 3)], [(30, 0), (20, 0), (21, 0), (4, 0)]])
def test_walks_towards_the_transmitter_have_no_event(knots):
    assert excursions(window_of(knots)) == ()


def test_a_rise_within_the_noise_of_the_draws_is_no_event():
    # 2.2 m away with range errors of 2 m: some draws hold it, too few to say so.
    assert excursions(window_of([(30, 0), (20, 0), (22.2, 0), (4, 0)], rows=65, noise_m=2.0)) == ()


def test_a_clear_rise_survives_the_noise_and_its_interval_holds_the_length():
    window = window_of([(30, 0), (20, 0), (27, 0), (4, 0)], rows=65, noise_m=0.5)
    (found,) = excursions(window)
    low, high = np.quantile(found.out_m[1:], [0.05, 0.95])
    assert low - 0.3 <= 7.0 <= high + 0.3
    assert np.all(stray_draws(window, (found,))[0] < 5.0)


def test_runs_are_half_open_index_pairs():
    assert runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert runs(np.zeros(3, bool)) == []
