"""Stops of known length, with sharp and with rounded edges."""

from dataclasses import replace

import numpy as np
import pytest
from builders import exact_path

from analyzer.engine.measures.standing import BRAKING_MPS2, stops, unseen_s
from analyzer.engine.measures.window import cut
from analyzer.model.phases import COARSE, PhaseSpan


def window_of(speed_mps, step_s=0.1):
    """Return the window of a straight walk with speeds (n,) at steps of `step_s`, taken once a second."""
    at = np.concatenate([[0.0], np.cumsum((speed_mps[1:] + speed_mps[:-1]) / 2.0 * step_s)])
    time_s = np.arange(len(at)) * step_s
    every = round(1.0 / step_s)
    t, x, v = time_s[::every], 60.0 - at[::every], speed_mps[::every]
    fused = exact_path(t, np.column_stack([x, np.zeros_like(x)]))
    draws = replace(fused.draws, velocity_mps=np.stack([np.column_stack([-v, 0.0 * v])]))
    span = PhaseSpan(COARSE, "A", 0.0, float(t[-1]), 0.0, 0.0, np.zeros(1), t[-1:])
    return cut(replace(fused, draws=draws), span)


def with_stop(seconds, pace=1.2):
    """Return speeds of a walk that brakes at the rate a walker does, stands for `seconds`, and sets off again."""
    ramp = np.arange(pace, 0.0, -BRAKING_MPS2 * 0.1)
    return np.concatenate([np.full(150, pace), ramp, np.zeros(round(seconds * 10)), ramp[::-1], np.full(150, pace)])


@pytest.mark.parametrize("seconds", [2.0, 4.0, 9.0, 20.0])
def test_a_stop_is_as_long_as_it_was(seconds):
    (stop,) = stops(window_of(with_stop(seconds)))
    assert stop.seconds[0] == pytest.approx(seconds, abs=0.5)  # design aim for survey-grade positions: 0.5 s


def test_a_steady_walk_has_no_stop():
    assert stops(window_of(np.full(400, 1.1))) == ()


def test_slowing_to_a_careful_step_is_no_stop():
    slow = np.concatenate([np.full(150, 1.2), np.full(100, 0.45), np.full(50, 1.2)])
    assert stops(window_of(slow)) == ()


def test_two_stops_are_told_apart():
    found = stops(window_of(np.concatenate([with_stop(5.0), with_stop(3.0)])))
    assert [round(float(s.seconds[0])) for s in found] == [5, 3]
    assert found[0].to_s <= found[1].from_s


def test_a_dip_of_the_speed_may_hide_a_stop_and_is_none():
    """A stop of 1.2 s that a path has smoothed over four seconds: slower than half the pace, never still."""
    dip = 1.2 * (1.0 - 0.6 * np.exp(-0.5 * (np.arange(-40, 41) / 14.0) ** 2))
    window = window_of(np.concatenate([np.full(150, 1.2), dip, np.full(150, 1.2)]))
    assert stops(window) == ()
    # What was lost: 0.6 of the pace over a bell of 1.4 s, 0.6 x 1.4 x sqrt(2 pi) = 2.1 s; some of it lies in the flanks
    # by which the pace is judged.
    assert unseen_s(window, ()) == pytest.approx(2.1, abs=0.6)


def test_a_steady_walk_and_a_stop_that_is_seen_hide_nothing():
    assert unseen_s(window_of(np.full(400, 1.1)), ()) == 0.0
    window = window_of(with_stop(9.0))
    assert unseen_s(window, stops(window)) == 0.0
