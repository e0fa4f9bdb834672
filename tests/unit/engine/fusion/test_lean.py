"""The thinner copy of a run for searching: it keeps what decides, and its answer goes back onto all nodes."""

import itertools
from dataclasses import replace

import builders
import numpy as np

from analyzer.engine.fusion.decimated import decimated_nodes, decimated_problem, filled
from analyzer.engine.fusion.mode_guesses import summed
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, Anchors, F, P
from analyzer.engine.fusion.state import RunState

TIME_S, POINTS = builders.a_search()


def problem_with(readings=True, **changes):
    rows = builders.reading_rows_of(builders.readings_along(builders.a_drill(), TIME_S, POINTS, offset_s=5.0))
    problem = builders.a_problem(
        TIME_S,
        np.arange(TIME_S.size),
        POINTS,
        readings=rows if readings else None,
        intensity=np.linspace(0.01, 0.2, TIME_S.size - 1),
    )
    return replace(problem, **changes)


def test_kept_nodes_rise_from_the_first_to_the_last():
    for problem in (problem_with(), problem_with(readings=False)):
        keep = decimated_nodes(problem, 5.0)
        assert keep[0] == 0
        assert keep[-1] == TIME_S.size - 1
        assert np.all(np.diff(keep) > 0)
        assert keep.size < TIME_S.size


def test_every_node_near_the_transmitter_is_kept():
    problem = problem_with()
    keep = decimated_nodes(problem, 5.0)
    near = np.flatnonzero(np.linalg.norm(POINTS, axis=1) < 4.0)
    assert np.all(np.isin(near, keep))


def test_every_node_around_a_hit_is_kept():
    hit = Anchors(over=np.array([[40.0, 0.0, 0.35]]), at=np.zeros((0, 4)), still=np.zeros(0))
    keep = decimated_nodes(problem_with(readings=False, anchors=hit), 0.0)
    assert np.all(np.isin(np.arange(35, 46), keep))


def test_fixes_of_kept_nodes_stay_with_their_times():
    problem = problem_with()
    decimated = decimated_problem(problem, decimated_nodes(problem, 5.0))
    at = decimated.node_s[decimated.fix_node]
    for axis in (0, 1):
        np.testing.assert_allclose(decimated.fix_m[:, axis], np.interp(at, TIME_S, POINTS[:, axis]), atol=1e-9)
    assert len(decimated.fix_m) == len(decimated.fix_start_weight) == decimated.nodes


def test_change_of_pace_over_a_longer_step_is_that_of_its_parts():
    """The walk's noise adds up: intensity times time is the same over every kept step."""
    problem = problem_with()
    keep = decimated_nodes(problem, 5.0)
    decimated = decimated_problem(problem, keep)
    whole = problem.intensity * np.diff(problem.node_s)
    for i, (a, b) in enumerate(itertools.pairwise(keep)):
        assert np.isclose(
            decimated.intensity[i] * (decimated.node_s[i + 1] - decimated.node_s[i]), np.sum(whole[a:b]), rtol=1e-9
        )


def test_filling_keeps_the_smoothed_fixes_and_takes_the_errors_over():
    problem = problem_with()
    keep = decimated_nodes(problem, 5.0)
    decimated = decimated_problem(problem, keep)
    rng = np.random.default_rng(0)
    first = RunState(rng.standard_normal((problem.nodes, NODE_STATES)), 0.0, 0.0)
    nodes = first.nodes[keep].copy()
    nodes[:, [F, AXIS_STATES + F]] = [1.5, -0.5]
    back = filled(problem, first, decimated, RunState(nodes, 0.2, 3.0))
    np.testing.assert_allclose(summed(back.nodes), summed(first.nodes), atol=1e-12)
    np.testing.assert_allclose(back.nodes[:, F], 1.5)
    assert (back.log_scale, back.offset_s) == (0.2, 3.0)
    whole = filled(problem, first, problem, first)
    np.testing.assert_allclose(whole.nodes, first.nodes, atol=1e-12)
    assert whole.nodes[:, P].shape == (problem.nodes,)
