"""Many transmitters: each is looked for in its own time, and the work grows with their number, not with its cube."""

from dataclasses import replace

import builders
import numpy as np
import pytest

from analyzer.engine.fusion import fuse, solve
from analyzer.engine.fusion.fuse import fits
from analyzer.engine.fusion.own_window import (
    AROUND_S,
    FADE_S,
    KNOWN_AXIS_RAD,
    NEIGHBOURS,
    begun_with,
    exchanged,
    known_of,
    own_window,
    with_own,
)
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, Anchors, P
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.start import FusionSettings, start_run, stated_shared
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, RunSettings, simulate_drill, simulate_run


@pytest.fixture(scope="module")
def runs():
    """Runs over 4 and over 8 transmitters of unknown axes, before the fit."""
    out = {}
    for count in (4, 8):
        settings = DrillSettings(transmitters=count, area_width_m=90.0, area_length_m=130.0, axis_given=False)
        drill = simulate_drill(settings, seed=5)
        recording = simulate_run(drill, RunSettings(), seed=5).recording
        plane = SlopePlane(drill.drill.slope)
        stated, given = stated_shared(drill.drill, plane)
        world = DrillParameters(stated.transmitter_m, stated.axis)
        out[count] = start_run(recording, drill.drill, plane, world, FusionSettings()), world, stated, given
    return out


@pytest.fixture(scope="module")
def work(runs):
    """The linear systems that fits of the runs take: (copies, nodes, transmitters) each, per number of transmitters."""
    out, linearise = {}, solve.linearise
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fuse, "MANY", 4)  # fewer are quicker to simulate and show the same
        for count, (start, world, stated, given) in runs.items():
            done = out.setdefault(count, [])

            def counted(problem, prior, state, shared, done=done):
                done.append((len(state.nodes), problem.nodes, len(problem.depth_m)))
                return linearise(problem, prior, state, shared)

            patch.setattr(solve, "linearise", counted)
            fits([start], world, stated, given)
    return out


def test_work_of_the_single_searches_grows_with_their_number(work):
    nodes = {count: sum(copies * n for copies, n, k in done if k <= 1 + NEIGHBOURS) for count, done in work.items()}
    assert 0 < nodes[8] < 2.6 * nodes[4]  # twice as many searches, some of them longer


def test_fits_of_the_whole_run_do_not_become_more_with_the_transmitters(work):
    whole = {count: sum(copies for copies, _, k in done if k == count) for count, done in work.items()}
    assert whole[8] < 1.5 * whole[4]
    assert {k for _, _, k in work[8]} <= {*range(1, 2 + NEIGHBOURS), 8}


def a_problem():
    """Return a problem with readings and hits of two transmitters one after the other, and its state."""
    time_s = np.arange(0.0, 200.0)
    fixes = np.column_stack([time_s, np.zeros(time_s.size)])
    shown = np.concatenate([np.arange(20.0, 60.0), np.arange(120.0, 160.0)])
    which = np.repeat([0, 1], 40)
    rows = replace(
        builders.reading_rows_of(builders.readings_along(builders.a_drill(), *builders.a_search())),
        time_s=shown - 3.0,
        log_reading=np.linspace(3.0, 1.0, 80),
        transmitter=which,
        sigma=np.full(80, 0.05),
        height_m=np.linspace(1.0, 0.1, 80),
        doubt=np.zeros(80),
        low_spans_s=np.array([[37.0, 57.0], [137.0, 157.0]]),
        shown_rad=np.linspace(0.0, 1.0, 80),
    )
    over = np.array([[70.0, 0.0, 0.3], [170.0, 1.0, 0.4]])
    anchors = Anchors(
        over=over, at=np.array([[10.0, 1.0, 2.0, 0.1], [150.0, 3.0, 4.0, 0.1]]), still=np.array([9.0, 155.0])
    )
    problem = builders.a_problem(
        time_s, np.arange(time_s.size), fixes, intensity=np.arange(199.0), readings=rows, anchors=anchors
    )
    problem = replace(problem, depth_m=np.array([1.0, 1.5]))
    nodes = np.zeros((time_s.size, NODE_STATES))
    nodes[:, P] = time_s
    return problem, RunState(nodes, 0.1, 3.0)


def test_a_window_holds_what_is_of_its_transmitter_and_of_its_neighbours_in_its_time():
    problem, state = a_problem()
    window = own_window(problem, state, 1)
    own = window.problem
    begin = 120 - int(AROUND_S)
    np.testing.assert_array_equal(own.node_s, np.arange(float(begin), 200.0))
    np.testing.assert_array_equal(own.fix_m[own.fix_node == 5], problem.fix_m[[begin + 5]])
    np.testing.assert_array_equal(own.intensity, problem.intensity[begin:])
    inside = slice(begin - 20, 80)  # of the other transmitter what was shown in time
    np.testing.assert_array_equal(own.log.time_s, problem.log.time_s[inside] + 3.0)  # on the track's clock
    np.testing.assert_array_equal(own.log.log_reading, problem.log.log_reading[inside])
    np.testing.assert_array_equal(own.log.shown_rad, problem.log.shown_rad[inside])
    np.testing.assert_array_equal(own.log.low_spans_s, problem.log.low_spans_s + 3.0)
    np.testing.assert_array_equal(own.log.transmitter, 1 - problem.log.transmitter[inside])  # its own comes first
    np.testing.assert_array_equal(own.anchors.over, [[70.0, 1.0, 0.3], [170.0, 0.0, 0.4]])
    np.testing.assert_array_equal(own.anchors.at[:, 0], [150.0])
    np.testing.assert_array_equal(own.anchors.still, [155.0])
    np.testing.assert_array_equal(own.depth_m, [1.5, 1.0])
    np.testing.assert_array_equal(window.state.nodes[:, P], own.node_s)
    assert (window.transmitter, window.state.log_scale, window.state.offset_s) == (1, 0.1, 0.0)


def test_a_window_holds_no_more_neighbours_than_two():
    problem, state = a_problem()
    mixed = np.concatenate([np.ones(5), np.tile([0, 2, 2, 3, 3, 3, 4, 4, 4, 4], 7), np.zeros(5)]).astype(int)
    problem = replace(problem, readings=replace(problem.log, transmitter=mixed), depth_m=np.arange(5.0))
    window = own_window(problem, state, 1)
    np.testing.assert_array_equal(window.held, [1, 4, 3])
    assert window.problem.log.time_s.size == np.count_nonzero(np.isin(mixed, [1, 3, 4]))


def test_without_readings_of_it_a_transmitter_has_no_window():
    problem, state = a_problem()
    only = replace(problem.log, transmitter=np.zeros(80, int))
    assert own_window(replace(problem, readings=only), state, 1) is None
    assert own_window(replace(problem, readings=None), state, 0) is None
    late = replace(problem.log, time_s=problem.log.time_s + 1e4)
    assert own_window(replace(problem, readings=late, anchors=builders.no_anchors()), state, 1) is None


def test_neighbours_are_known_as_found_and_what_is_searched_as_stated():
    problem, state = a_problem()
    window = own_window(problem, state, 1)
    stated = SharedPrior(
        np.array([[0.0, 0.0], [9.0, 9.0]]), np.array([0.2, 0.4]), np.eye(3)[:2], np.array([10.0, 10.0])
    )
    found = DrillParameters(stated.transmitter_m + 1.0, np.eye(3)[[2, 2]])
    known = known_of(stated, found, window)
    np.testing.assert_array_equal(known.transmitter_m, [[9.0, 9.0], [1.0, 1.0]])
    np.testing.assert_array_equal(known.axis, np.eye(3)[[1, 2]])
    np.testing.assert_array_equal(known.axis_sigma_rad, [10.0, KNOWN_AXIS_RAD])
    begun = begun_with(stated, found, window, np.array([0.6, 0.8, 0.0]))
    np.testing.assert_array_equal(begun.transmitter_m, known.transmitter_m)
    np.testing.assert_array_equal(begun.axis, [[0.6, 0.8, 0.0], [0.0, 0.0, 1.0]])
    put = with_own(found, 1, begun)
    np.testing.assert_array_equal(put.transmitter_m, [[1.0, 1.0], [9.0, 9.0]])
    np.testing.assert_array_equal(put.axis, [[0.0, 0.0, 1.0], [0.6, 0.8, 0.0]])


def moved_by(window, metres):
    nodes = np.array(window.state.nodes)
    nodes[:, P] += metres
    return RunState(nodes, window.state.log_scale, 0.0)


def test_a_run_follows_a_fit_in_the_time_of_its_transmitter_and_less_and_less_beside_it():
    problem, state = a_problem()
    window = own_window(problem, state, 1)
    other = exchanged(state, window, now=moved_by(window, 1.0), then=moved_by(window, 4.0))
    off = other.nodes[:, P] - state.nodes[:, P]
    np.testing.assert_allclose(off[[60, 120, 140, 170]], [0.0, 3.0, 3.0, 3.0])
    assert off[110] == pytest.approx(3.0 * (1.0 - 10.0 / FADE_S))
    assert np.all(other.nodes[:, AXIS_STATES + P] == 0.0)
    assert other.offset_s == state.offset_s
