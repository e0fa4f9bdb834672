"""Gauss-Newton and what is left unknown: against dense information, by its own cost, and by samples."""

from dataclasses import replace

import builders
import numpy as np
import pytest

from analyzer.engine.fusion import solve as solve_module
from analyzer.engine.fusion.banded import block_product
from analyzer.engine.fusion.draws import globals_covariance, mixed_worlds, path_sigma, spread_sigma
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, OWN, Anchors, P, V
from analyzer.engine.fusion.rows import all_rows, robust_weight
from analyzer.engine.fusion.shared_prior import SharedPrior, apply_shared
from analyzer.engine.fusion.solve import own_cost, own_prior, solve, solve_each, total_cost
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.engine.fusion.system import (
    cost,
    fix_residuals,
    fix_weights,
    fixes_only,
    linearise,
    prior_of,
    stacked_priors,
)
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.noise_models import TwoPartNoise, errors_at
from analyzer.model.drill import Slope
from analyzer.physics.recorder_noise import FixNoise

PLANE = SlopePlane(Slope())
NOISE = FixNoise(white_m=0.1, fast_m=0.9, fast_s=16.0, slow_m=2.0, slow_s=900.0)
STEP_S = 3.0  # coarse steps keep the dense matrices small


def stated(*, axis_sigma_rad=0.07, sigma_m=0.2, axis=(40.0, 10.0)):
    return SharedPrior(
        np.zeros((1, 2)), np.array([sigma_m]), PLANE.axis_vector(*axis)[None], np.array([axis_sigma_rad])
    )


def a_run(seed, *, with_readings=True, with_hit=True, step_s=STEP_S):
    """Return problem and true path of a search with smooth errors on its fixes and noise on its readings."""
    rng = np.random.default_rng(seed)
    time_s, points = builders.a_search(step_s=step_s)
    fixes = points + errors_at(TwoPartNoise(), time_s, rng)
    rows, anchors = None, builders.no_anchors()
    if with_readings:
        each_s, each = builders.a_search()
        readings = builders.readings_along(builders.a_drill(), each_s, each, offset_s=1.0, scale=1.1)
        noisy = readings.reading_m * np.exp(0.04 * rng.standard_normal(readings.reading_m.size))
        begin = float(readings.time_s[np.argmax(readings.reading_m <= 3.0)])
        rows = builders.reading_rows_of(replace(readings, reading_m=noisy), low_spans=[(begin, np.inf)])
    if with_hit:
        anchors = Anchors(over=np.array([[time_s[-1] - 0.5, 0.0, 0.35]]), at=np.zeros((0, 4)), still=np.zeros(0))
    problem = builders.a_problem(
        time_s, np.arange(time_s.size), fixes, noise=NOISE, intensity=0.03, readings=rows, anchors=anchors
    )
    return problem, points


def started(problem, world):
    return fixes_only(problem, world)


def solved(seed, *, prior=None, **changes):
    problem, points = a_run(seed, **changes)
    prior = prior or stated()
    world = DrillParameters(prior.transmitter_m, prior.axis)
    found = solve((problem,), (prior_of(problem),), (started(problem, world),), world, prior, tolerance=1e-9)
    return problem, points, prior, found


@pytest.mark.parametrize("seed", range(4))
def test_no_round_ever_raises_the_cost(seed):
    problem, _ = a_run(seed)
    prior = stated(axis_sigma_rad=10.0)
    world = DrillParameters(prior.transmitter_m, PLANE.axis_vector(100.0, -40.0)[None])  # a wrong axis to start from
    start = started(problem, world)
    costs = [total_cost((problem,), (prior_of(problem),), (start,), world, prior)]
    for rounds in range(1, 8):
        found = solve((problem,), (prior_of(problem),), (start,), world, prior, rounds=rounds)
        again = total_cost((problem,), (prior_of(problem),), found.states, found.shared, prior)
        assert found.cost == pytest.approx(again, rel=1e-9)
        costs.append(found.cost)
    assert np.all(np.diff(costs) <= 1e-9)
    assert costs[-1] < costs[0]


def test_the_mode_is_a_minimum():
    """No step of any single unknown lowers the cost."""
    problem, _, prior, found = solved(0)
    run_prior, state, world = (prior_of(problem),), found.states[0], found.shared

    def at(nodes=None, unit=None, h=0.0):
        unit = np.zeros(OWN + 4) if unit is None else unit
        moved = RunState(
            state.nodes if nodes is None else nodes, state.log_scale + h * unit[0], state.offset_s + h * unit[1]
        )
        return total_cost((problem,), run_prior, (moved,), apply_shared(world, h * unit[OWN:]), prior)

    base = at()
    for unit in np.eye(OWN + 4):
        for h in (-0.03, 0.03):
            assert at(unit=unit, h=h) > base
    rng = np.random.default_rng(1)
    for _ in range(60):
        nodes = state.nodes.copy()
        nodes[rng.integers(len(nodes)), rng.integers(NODE_STATES)] += rng.choice([-0.1, 0.1])
        assert at(nodes=nodes) > base


def worlds(found, count, *, seed=0):
    """Return draws of a solution with one answer."""
    return mixed_worlds([(1.0, found)], [globals_covariance(found, 0)], np.random.default_rng(seed), count)


def dense_covariance(problem, prior, found):
    """Return the posterior covariance of [all nodes, ln scale, offset, globals] from the whole information at once.

    The rows' derivatives are taken by differences here; fixes and rows have the weights of the last round.
    """
    n, q = problem.nodes * NODE_STATES, OWN + 4
    state, world = found.states[0], found.shared
    info = np.zeros((n + q, n + q))
    run_prior = prior_of(problem)
    for axis in (0, 1):
        for i in range(problem.nodes):
            at = NODE_STATES * i + AXIS_STATES * axis
            cut = slice(at, at + AXIS_STATES)
            info[cut, cut] += run_prior.diagonal[i]
            if i + 1 < problem.nodes:
                below = slice(at + NODE_STATES, at + NODE_STATES + AXIS_STATES)
                info[below, cut] += run_prior.lower[i]
                info[cut, below] += run_prior.lower[i].T
    weight = fix_weights(problem, state.nodes) / problem.noise.white_m**2
    for node, w in zip(problem.fix_node, weight, strict=True):
        for axis in (0, 1):
            seen = np.zeros(n + q)
            at = NODE_STATES * node + AXIS_STATES * axis
            seen[[at, at + 2, at + 4]] = 1.0
            info += w * np.outer(seen, seen)
    rows = all_rows(problem, state, world)

    def residual(x):
        nodes = state.nodes + x[:n].reshape(state.nodes.shape)
        moved = RunState(nodes, state.log_scale + x[n], state.offset_s + x[n + 1])
        return all_rows(problem, moved, apply_shared(world, x[n + OWN :])).residual

    slope = np.zeros((rows.residual.size, n + q))
    for column in range(n + q):
        if column < n and column % AXIS_STATES > V:
            continue  # errors of fixes: no row sees them
        unit = np.zeros(n + q)
        unit[column] = 1e-5
        slope[:, column] = (residual(unit) - residual(-unit)) / 2e-5
    w = rows.information * robust_weight(rows.residual, rows.information, rows.robust)
    info += slope.T @ (w[:, None] * slope)
    info[n : n + OWN, n : n + OWN] += own_prior(problem, state)[0]
    info[n + OWN :, n + OWN :] += prior.information(world)[0]
    return np.linalg.inv(info)


@pytest.mark.parametrize("changes", [{}, {"with_readings": False}, {"with_hit": False}])
def test_stated_uncertainty_is_that_of_the_whole_information_matrix(changes):
    problem, _, prior, found = solved(1, **changes)
    covariance = dense_covariance(problem, prior, found)
    ours = globals_covariance(found, 0)
    n = problem.nodes * NODE_STATES
    dense = covariance[n:, n:]
    scale = np.sqrt(np.outer(np.diag(dense), np.diag(dense)))
    assert np.max(np.abs(ours - dense) / scale) < 0.02  # the engine's last system is one small step older
    place = np.diag(covariance)[:n].reshape(-1, NODE_STATES)[:, [P, AXIS_STATES + P]]
    np.testing.assert_allclose(path_sigma(found, 0, ours), np.sqrt(np.mean(place, axis=1)), rtol=0.01)


def test_samples_have_the_covariance_that_is_stated():
    problem, _, prior, found = solved(2)
    covariance = globals_covariance(found, 0)
    count = 4000
    draws = worlds(found, count)
    sigma = path_sigma(found, 0, covariance)
    spread = np.sqrt(np.mean(np.var(draws.path_m[1:], axis=0), axis=1))
    # Two axes, `count` samples: the relative error of a standard deviation is 1 / sqrt(4 count) = 0.8 %.
    np.testing.assert_allclose(spread, sigma, rtol=0.04)
    assert np.std(np.log(draws.reading_scale[1:])) == pytest.approx(np.sqrt(covariance[0, 0]), rel=0.05)
    assert np.std(draws.clock_offset_s[1:]) == pytest.approx(np.sqrt(covariance[1, 1]), rel=0.05)
    whole = dense_covariance(problem, prior, found)
    one, other = problem.nodes // 3, problem.nodes // 3 + 2
    apart = draws.path_m[1:, other] - draws.path_m[1:, one]
    for axis in (0, 1):
        pick = np.array([NODE_STATES * one + AXIS_STATES * axis, NODE_STATES * other + AXIS_STATES * axis])
        block = whole[np.ix_(pick, pick)]
        expected = block[0, 0] + block[1, 1] - 2.0 * block[0, 1]
        assert np.var(apart[:, axis]) == pytest.approx(expected, rel=0.12)
    at = draws.path_m[1:, -1] - draws.transmitter_m[1:, 0]
    pick = np.array([NODE_STATES * (problem.nodes - 1), problem.nodes * NODE_STATES + OWN])
    block = whole[np.ix_(pick, pick)]
    assert np.var(at[:, 0]) == pytest.approx(block[0, 0] + block[1, 1] - 2.0 * block[0, 1], rel=0.12)


def test_draws_begin_with_the_mode_and_have_unit_axes():
    _, _, _, found = solved(2)
    draws = worlds(found, 30)
    np.testing.assert_array_equal(draws.path_m[0], found.states[0].nodes[:, [P, AXIS_STATES + P]])
    np.testing.assert_array_equal(draws.velocity_mps[0], found.states[0].nodes[:, [V, AXIS_STATES + V]])
    np.testing.assert_array_equal(draws.transmitter_m[0], found.shared.transmitter_m)
    np.testing.assert_allclose(np.linalg.norm(draws.axis, axis=-1), 1.0, rtol=1e-12)
    assert len(draws.path_m) == 31


def test_no_draws_are_only_the_mode():
    _, _, _, found = solved(2)
    draws = worlds(found, 0)
    assert draws.path_m.shape[0] == 1
    assert draws.reading_scale[0] == np.exp(found.states[0].log_scale)


def test_two_answers_share_the_draws_and_their_spread():
    """The mixture's mean square around the first mode is that of its draws."""
    _, _, _, found = solved(2)
    nodes = found.states[0].nodes.copy()
    nodes[:, P] += 2.0
    other = replace(found, states=(replace(found.states[0], nodes=nodes),))
    found_modes, covariance = [(0.75, found), (0.25, other)], globals_covariance(found, 0)
    draws = mixed_worlds(found_modes, [covariance, covariance], np.random.default_rng(0), 4000)
    assert len(draws.path_m) == 4001
    np.testing.assert_array_equal(draws.path_m[0], found.states[0].nodes[:, [P, AXIS_STATES + P]])
    away = draws.path_m[1:] - draws.path_m[0]
    sigma = path_sigma(found, 0, covariance)
    stated_sigma = spread_sigma(found_modes, [sigma, sigma])
    np.testing.assert_allclose(np.sqrt(np.mean(away**2, axis=(0, 2))), stated_sigma, rtol=0.05)
    np.testing.assert_allclose(stated_sigma**2, sigma**2 + 0.25 * 0.5 * 2.0**2, rtol=1e-9)
    np.testing.assert_allclose(spread_sigma([(1.0, found)], [sigma]), sigma, rtol=1e-12)


@pytest.mark.parametrize("count", [0, 1, 3, 10])
def test_few_draws_may_leave_an_unlikely_answer_out(count):
    _, _, _, found = solved(2)
    covariance = globals_covariance(found, 0)
    draws = mixed_worlds([(0.95, found), (0.05, found)], [covariance, covariance], np.random.default_rng(0), count)
    assert len(draws.path_m) == len(draws.axis) == len(draws.reading_scale) == count + 1


def test_velocity_of_every_draw_is_the_rate_of_its_path():
    _, _, _, found = solved(2, step_s=1.0)
    draws = worlds(found, 20)
    middle = 0.5 * (draws.velocity_mps[:, 1:] + draws.velocity_mps[:, :-1])
    # Under white acceleration q the mean velocity differs from the mean of its ends by q dt / 12 (variance).
    gap = np.diff(draws.path_m, axis=1) - middle
    assert np.sqrt(np.mean(gap**2)) < 4.0 * np.sqrt(0.03 / 12.0)


def test_axis_and_its_opposite_cost_the_same():
    problem, _, prior, found = solved(3)
    turned = DrillParameters(found.shared.transmitter_m, -found.shared.axis)
    costs = [total_cost((problem,), (prior_of(problem),), found.states, w, prior) for w in (found.shared, turned)]
    assert costs[0] == pytest.approx(costs[1], rel=1e-12)


def test_prior_of_globals_pulls_towards_what_is_stated():
    """The information vector is minus the gradient of the prior's cost."""
    prior = stated(axis_sigma_rad=0.5)
    world = apply_shared(DrillParameters(prior.transmitter_m, prior.axis), np.array([0.1, -0.2, 0.02, -0.03]))
    _, vector = prior.information(world)
    for i, unit in enumerate(np.eye(4)):
        rise = prior.cost(apply_shared(world, 1e-5 * unit)) - prior.cost(apply_shared(world, -1e-5 * unit))
        assert vector[i] == pytest.approx(-rise / 2e-5, rel=2e-2, abs=1e-6)


def test_own_prior_is_the_gradient_of_its_cost():
    problem, _ = a_run(0)
    state = RunState(np.zeros((problem.nodes, NODE_STATES)), 0.3, 12.0)
    _, vector = own_prior(problem, state)
    for i, (h, k) in enumerate(((1e-5, 0.0), (0.0, 1e-3))):
        up = RunState(state.nodes, state.log_scale + h, state.offset_s + k)
        down = RunState(state.nodes, state.log_scale - h, state.offset_s - k)
        slope = (own_cost(problem, up) - own_cost(problem, down)) / (2.0 * (h + k))
        assert vector[i] == pytest.approx(-slope, rel=1e-6)


def test_runs_share_the_transmitter():
    """Two runs know the transmitter better than one; each alone agrees with its own solve when nothing is shared."""
    prior = stated(sigma_m=2.5)
    world = DrillParameters(prior.transmitter_m, prior.axis)
    problems = tuple(a_run(seed)[0] for seed in (4, 5))
    priors = tuple(prior_of(p) for p in problems)
    states = tuple(started(p, world) for p in problems)
    both = solve(problems, priors, states, world, prior)
    alone = [solve((p,), (q,), (s,), world, prior) for p, q, s in zip(problems, priors, states, strict=True)]
    one = np.diag(globals_covariance(alone[0], 0))[OWN : OWN + 2]
    two = np.diag(globals_covariance(both, 0))[OWN : OWN + 2]
    assert np.all(two < one)
    assert both.cost <= total_cost(problems, priors, tuple(a.states[0] for a in alone), alone[0].shared, prior) + 1e-6
    known = stated(sigma_m=1e-6, axis_sigma_rad=1e-6)
    far = {"rounds": 100, "tolerance": 1e-9}  # robust losses are flat: twenty rounds stop 3 cm from the mode here
    together = solve(problems, priors, states, world, known, **far)
    for i, (p, q, s) in enumerate(zip(problems, priors, states, strict=True)):
        single = solve((p,), (q,), (s,), world, known, **far)
        np.testing.assert_allclose(together.states[i].nodes[:, P], single.states[0].nodes[:, P], atol=1e-3)


def test_readings_bring_the_path_to_the_transmitter():
    raw, fused = [], []
    for seed in range(6):
        problem, points, _, found = solved(seed, step_s=1.0)
        near = np.linalg.norm(points, axis=1) < 3.0
        raw.append(np.sqrt(np.mean((problem.fix_m - points)[near] ** 2)))
        fused.append(np.sqrt(np.mean((found.states[0].nodes[:, [P, AXIS_STATES + P]] - points)[near] ** 2)))
    assert np.median(fused) < 0.4 * np.median(raw)


def test_system_at_the_mode_leads_nowhere():
    problem, _, _, found = solved(0)
    system = linearise(problem, prior_of(problem), found.states[0], found.shared)
    assert np.max(np.abs(system.nodes_at(np.zeros(system.vector.size)) - found.states[0].nodes)) < 0.5


def test_the_weights_of_fixes_are_those_of_the_cost():
    """The gradient of the cost in the nodes is that of weighted squares."""
    problem, _ = a_run(1, with_readings=False, with_hit=False)
    prior, world = prior_of(problem), DrillParameters(stated().transmitter_m, stated().axis)
    nodes = np.random.default_rng(4).standard_normal((problem.nodes, NODE_STATES))
    pull = fix_weights(problem, nodes)[:, None] * fix_residuals(problem, nodes) / problem.noise.white_m**2
    expected = np.zeros_like(nodes)
    for axis in (0, 1):
        cut = slice(AXIS_STATES * axis, AXIS_STATES * (axis + 1))
        expected[:, cut] = block_product(prior.diagonal, prior.lower, nodes[:, cut])
        for i, node in enumerate(problem.fix_node):
            expected[node, cut] -= pull[i, axis] * np.array([1.0, 0.0, 1.0, 0.0, 1.0])
    for node in range(0, problem.nodes, 3):
        for column in range(NODE_STATES):
            ends = []
            for h in (1e-6, -1e-6):
                moved = nodes.copy()
                moved[node, column] += h
                ends.append(cost(problem, prior, RunState(moved, 0.0, 0.0), world))
            assert (ends[0] - ends[1]) / 2e-6 == pytest.approx(expected[node, column], rel=1e-3, abs=1e-1)


@pytest.mark.parametrize("stack_nodes", [1, 10**6])
def test_a_stack_of_starts_ends_where_each_ends_alone(stack_nodes, monkeypatch):
    """Copies share the work and nothing else: starts, clocks, axes and noise levels of their own, some done early."""
    monkeypatch.setattr(solve_module, "STACK_NODES", stack_nodes)
    problem, _ = a_run(3)
    prior = stated(axis_sigma_rad=10.0)
    first = started(problem, DrillParameters(prior.transmitter_m, prior.axis))
    starts, levels = [], []
    for bearing, offset_s, level in ((40.0, 0.0, 1.0), (100.0, 3.0, 1.5), (160.0, -2.0, 0.6)):
        world = DrillParameters(prior.transmitter_m, PLANE.axis_vector(bearing, -10.0)[None])
        starts.append(((replace(first, offset_s=offset_s),), world))
        levels.append(prior_of(problem, level))
    alone = [
        solve((problem,), (level,), states, world, prior, rounds=12)
        for level, (states, world) in zip(levels, starts, strict=True)
    ]
    together = solve_each((problem,), (stacked_priors(levels),), starts, prior, rounds=12)
    assert len({a.rounds for a in alone}) > 1
    for one, other in zip(alone, together, strict=True):
        assert other.rounds == one.rounds
        assert other.cost == pytest.approx(one.cost, rel=1e-9)
        np.testing.assert_allclose(other.states[0].nodes, one.states[0].nodes, atol=1e-6)
        np.testing.assert_allclose(other.shared.axis, one.shared.axis, atol=1e-8)
        np.testing.assert_allclose(other.shared_information, one.shared_information, rtol=1e-6, atol=1e-6)
        np.testing.assert_allclose(globals_covariance(other, 0), globals_covariance(one, 0), rtol=1e-5, atol=1e-9)
        np.testing.assert_allclose(
            path_sigma(other, 0, globals_covariance(other, 0)),
            path_sigma(one, 0, globals_covariance(one, 0)),
            rtol=1e-6,
        )
