"""Measurement rows: the Hermite basis on cubics, and derivatives against differences of the whole residual."""

from dataclasses import replace

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, OWN, Anchors, P, Pointing, V
from analyzer.engine.fusion.rows import all_rows, anchor_rows, reading_rows, robust_weight, rows_cost
from analyzer.engine.fusion.shared_prior import apply_shared
from analyzer.engine.fusion.state import DrillParameters, RunState, at_times, hermite, tangents
from analyzer.model.recording import Readings

EPS = 1e-5


def test_basis_is_exact_for_cubics():
    rng = np.random.default_rng(0)
    node_s = builders.irregular(rng, 12)
    time_s = np.sort(rng.uniform(node_s[0], node_s[-1], 50))
    cubic = [np.polynomial.Polynomial(rng.standard_normal(4) / [1, 10, 100, 1000]) for _ in (0, 1)]
    nodes = np.zeros((12, NODE_STATES))
    for axis, curve in enumerate(cubic):
        nodes[:, AXIS_STATES * axis + P] = curve(node_s)
        nodes[:, AXIS_STATES * axis + V] = curve.deriv()(node_s)
    first, basis, rate = hermite(node_s, time_s)
    place, velocity = at_times(nodes, first, basis), at_times(nodes, first, rate)
    for axis, curve in enumerate(cubic):
        np.testing.assert_allclose(place[:, axis], curve(time_s), atol=1e-9)
        np.testing.assert_allclose(velocity[:, axis], curve.deriv()(time_s), atol=1e-9)


def test_basis_at_a_node_is_the_node():
    node_s = np.array([0.0, 1.0, 3.0, 3.5])
    first, basis, _ = hermite(node_s, node_s)
    nodes = np.arange(4.0 * NODE_STATES).reshape(4, NODE_STATES)
    np.testing.assert_allclose(at_times(nodes, first, basis)[:, 0], nodes[:, P], atol=1e-12)
    assert first.max() == 2


def test_tangents_are_an_orthonormal_frame():
    axis = np.random.default_rng(1).standard_normal((20, 3))
    axis[0], axis[1] = [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]
    axis /= np.linalg.norm(axis, axis=1, keepdims=True)
    t = tangents(axis)
    for a, (one, two) in zip(axis, t, strict=True):
        frame = np.stack([a, one, two])
        np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)


def case(antennas):
    """Return a problem with two transmitters, readings, a hit and holds, and a state off the answer."""
    rng = np.random.default_rng(antennas)
    time_s, points = builders.a_search()
    keep = np.sort(rng.permutation(time_s.size)[: int(0.7 * time_s.size)])
    node_s = time_s[keep]
    times = np.sort(rng.uniform(node_s[1], node_s[-2], 30))
    blank = np.full(30, np.nan)
    readings = builders.reading_rows_of(
        Readings(times - 1.3, rng.uniform(1.0, 20.0, 30), (None,) * 30, blank, blank),
        low_spans=[(30.0, 200.0)],
        which=rng.integers(0, 2, 30),
    )
    anchors = Anchors(
        over=np.array([[node_s[-3] + 0.2, 1.0, 0.35]]),
        at=np.array([[10.3, 1.0, 2.0, 0.1]]),
        still=np.array([20.4, 21.4]),
    )
    problem = builders.a_problem(
        node_s,
        np.arange(node_s.size),
        points[keep],
        readings=readings,
        anchors=anchors,
        antennas=antennas,
        depth_m=(1.0, 0.7),
    )
    nodes = 0.1 * rng.standard_normal((node_s.size, NODE_STATES))
    nodes[:, [P, AXIS_STATES + P]] += points[keep] + [0.4, -0.3]
    nodes[:, [V, AXIS_STATES + V]] += np.gradient(points[keep], node_s, axis=0)
    axis = rng.standard_normal((2, 3))
    world = DrillParameters(np.array([[0.3, 0.2], [6.0, -4.0]]), axis / np.linalg.norm(axis, axis=1, keepdims=True))
    return problem, RunState(nodes, 0.07, 1.31), world


def jacobian(rows, problem):
    """Return the dense derivative of the predictions to all nodes, and to the globals."""
    nodes = np.zeros((rows.node.size, problem.nodes * NODE_STATES))
    for row, first in enumerate(rows.node.astype(int)):
        for axis in (0, 1):
            here = NODE_STATES * first + AXIS_STATES * axis
            columns = [here + P, here + V, here + NODE_STATES + P, here + NODE_STATES + V]
            nodes[row, columns] = rows.basis[row] * rows.gradient[row, axis]
    return nodes, rows.globals_


def difference(residual, step=EPS):
    return (residual(step) - residual(-step)) / (2.0 * step)


@pytest.mark.parametrize("antennas", [2, 3])
def test_derivatives_to_nodes_are_differences_of_the_residual(antennas):
    problem, state, world = case(antennas)
    stated, _ = jacobian(all_rows(problem, state, world), problem)
    for column in np.random.default_rng(2).permutation(stated.shape[1])[:120]:
        unit = np.zeros(stated.shape[1])
        unit[column] = 1.0

        def residual(h, unit=unit):
            moved = replace(state, nodes=state.nodes + h * unit.reshape(state.nodes.shape))
            return all_rows(problem, moved, world).residual

        np.testing.assert_allclose(stated[:, column], -difference(residual), rtol=1e-4, atol=1e-6)


@pytest.mark.parametrize("antennas", [2, 3])
def test_derivatives_to_globals_are_differences_of_the_residual(antennas):
    problem, state, world = case(antennas)
    _, stated = jacobian(all_rows(problem, state, world), problem)
    q = OWN + world.size
    assert stated.shape[1] == q

    def residual(unit):
        def at(h):
            moved = replace(state, log_scale=state.log_scale + h * unit[0], offset_s=state.offset_s + h * unit[1])
            return all_rows(problem, moved, apply_shared(world, h * unit[OWN:])).residual

        return at

    for column, unit in enumerate(np.eye(q)):
        # The clock moves along the cubic between nodes; all others are smooth over metres.
        np.testing.assert_allclose(stated[:, column], -difference(residual(unit)), rtol=1e-4, atol=2e-6)


def test_with_one_antenna_the_heading_is_held():
    """At a held heading scale, transmitters and axes derive as for the others."""
    problem, state, world = case(1)
    ways = at_times(state.nodes, *hermite(problem.node_s, problem.node_s)[::2])
    ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    problem = replace(problem, pointing=Pointing(problem.node_s, ways, np.full(problem.nodes, 0.3)))
    rows = reading_rows(problem, state, world)
    for column in (0, *range(OWN, OWN + world.size)):
        unit = np.zeros(OWN + world.size)
        unit[column] = 1.0

        def residual(h, unit=unit):
            moved = replace(state, log_scale=state.log_scale + h * unit[0])
            return reading_rows(problem, moved, apply_shared(world, h * unit[OWN:])).residual

        np.testing.assert_allclose(rows.globals_[:, column], -difference(residual), rtol=1e-4, atol=1e-6)


def test_rows_of_another_transmitter_do_not_touch_this_one():
    problem, state, world = case(3)
    rows = reading_rows(problem, state, world)
    of_first = problem.readings.transmitter == 0
    second = [OWN + 2, OWN + 3, OWN + 6, OWN + 7]
    assert np.all(rows.globals_[np.ix_(of_first, second)] == 0.0)
    assert np.any(rows.globals_[np.ix_(~of_first, second)] != 0.0)


def test_readings_far_outside_the_track_have_no_say():
    problem, state, world = case(3)
    late = replace(problem.readings, time_s=problem.readings.time_s + 500.0)
    rows = reading_rows(replace(problem, readings=late), state, world)
    assert np.all(rows.information == 0.0)
    assert np.all(np.isfinite(rows.residual))


def test_a_run_without_readings_and_marks_has_no_rows():
    problem, state, world = case(3)
    bare = replace(problem, readings=None, anchors=builders.no_anchors())
    assert all_rows(bare, state, world) is None
    assert anchor_rows(bare, state, world) is None


def test_the_robust_weights_are_those_of_the_cost():
    """The gradient of the cost is that of weighted squares: cost, weights and derivatives belong to one density."""
    problem, state, world = case(3)
    rows = all_rows(problem, state, world)
    weight = robust_weight(rows.residual, rows.information, rows.robust)
    assert np.min(weight) < 0.2  # some are far off
    pull = weight * rows.information * rows.residual
    nodes, jac = jacobian(rows, problem)

    def cost(x):
        moved = replace(
            state,
            nodes=state.nodes + x[: -OWN - world.size].reshape(state.nodes.shape),
            log_scale=state.log_scale + x[-OWN - world.size],
            offset_s=state.offset_s + x[1 - OWN - world.size],
        )
        return rows_cost(problem, moved, apply_shared(world, x[-world.size :]))

    stated = -np.concatenate([pull @ nodes, pull @ jac])
    n = nodes.shape[1]
    columns = [*np.random.default_rng(3).permutation(n)[:60], *range(n, stated.size)]
    for column in columns:
        unit = np.zeros(stated.size)
        unit[column] = 1e-6
        found = (cost(unit) - cost(-unit)) / 2e-6
        assert found == pytest.approx(stated[column], rel=1e-3, abs=1e-2)


def test_a_receiver_being_lowered_is_trusted_less_where_height_matters():
    problem, state, world = case(3)
    doubtful = replace(problem, readings=replace(problem.readings, doubt=np.ones(30)))
    sure, unsure = (reading_rows(p, state, world).information for p in (problem, doubtful))
    assert np.all(unsure < sure)
    loss = unsure / sure
    place = np.array(
        [
            np.interp(problem.readings.time_s + state.offset_s, problem.node_s, state.nodes[:, c])
            for c in (P, AXIS_STATES + P)
        ]
    ).T
    away = np.linalg.norm(place - world.transmitter_m[problem.readings.transmitter], axis=1)
    assert np.median(loss[away < 3.0]) < np.median(loss[away > 10.0])
