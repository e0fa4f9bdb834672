"""Strips in order, and strips left out."""

import numpy as np
import pytest
from builders import exact_path, walk

from analyzer.engine.measures.strips_walked import left_out
from analyzer.engine.measures.window import cut
from analyzer.model.phases import SIGNAL, PhaseSpan

WIDTH_M = 40.0


def window_of(strips, last_m=60.0):
    """Return the signal search along strips 100 m long at the given places aside, the last one walked for `last_m`."""
    knots, up = [], True
    for i, x in enumerate(strips):
        ends = (0.0, 100.0) if up else (100.0, 0.0)
        far = ends[1] if i < len(strips) - 1 else ends[0] + (last_m if up else -last_m)
        knots += [(x, ends[0]), (x, far)]
        up = not up
    time_s, points = walk(knots, pace=1.4)
    fused = exact_path(time_s, points)
    end = float(time_s[-1])
    return cut(fused, PhaseSpan(SIGNAL, "A", 0.0, end, 0.0, 0.0, np.zeros(1), np.array([end])))


@pytest.mark.parametrize("strips", [[20.0], [20.0, 60.0], [20.0, 60.0, 100.0], [100.0, 60.0, 20.0]])
def test_strips_side_by_side_leave_nothing_out(strips):
    assert left_out(window_of(strips), WIDTH_M) is None


def test_the_strip_between_taken_last_was_left_out():
    window = window_of([20.0, 100.0, 60.0])
    from_s, to_s = left_out(window, WIDTH_M)
    # Off it from the end of the first strip to the end of the second: 80 m across and 100 m along at 1.4 m/s.
    assert to_s - from_s == pytest.approx(180.0 / 1.4, abs=3.0)


def test_the_edge_strip_taken_last_was_left_out():
    window = window_of([60.0, 100.0, 20.0])
    assert left_out(window, WIDTH_M) is not None


def test_a_signal_on_the_way_back_to_the_strip_between_tells_that_it_was_left_out():
    """2026-11-25: the signal may come a few metres after the searcher left the far strip for the one between."""
    time_s, points = walk([(20.0, 0.0), (20.0, 100.0), (100.0, 100.0), (100.0, 0.0), (89.0, 0.0)], pace=1.4)
    end = float(time_s[-1])
    span = PhaseSpan(SIGNAL, "A", 0.0, end, 0.0, 0.0, np.zeros(1), np.array([end]))
    from_s, to_s = left_out(cut(exact_path(time_s, points), span), WIDTH_M)
    assert to_s - from_s == pytest.approx(180.0 / 1.4, abs=3.0)


def test_a_signal_on_the_far_strip_itself_leaves_nothing_to_come_back_to():
    assert left_out(window_of([20.0, 100.0]), WIDTH_M) is None
