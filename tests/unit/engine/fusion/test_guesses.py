"""First guesses: the clock, the axes, and the side of a reading's ring, each planted and found."""

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.clock import axis_misfits, distinct, guess_offset, misfit
from analyzer.engine.fusion.error_courses import error_courses, spread_per_s
from analyzer.engine.fusion.mode_guesses import near_distance, near_parts, shifted, summed
from analyzer.engine.fusion.problem import AXIS_STATES, NODE_STATES, F, P, V
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.drill import Slope
from analyzer.physics.field_lines import even_axes
from analyzer.physics.holding import Held
from analyzer.physics.receiver import offsets, reading_m
from analyzer.physics.recorder_noise import FixNoise

PLANE = SlopePlane(Slope())
TIME_S, POINTS = builders.a_search()
ORIGIN, DEPTH = np.zeros((1, 2)), np.array([1.0])


def rows_of(offset_s=0.0, axis=(40.0, 10.0), antennas=3):
    drill = builders.a_drill(axis=axis)
    readings = builders.readings_along(drill, TIME_S, POINTS, offset_s=offset_s, scale=1.1, antennas=antennas)
    begin = float(readings.time_s[np.argmax(readings.reading_m <= 3.0)])
    return builders.reading_rows_of(readings, low_spans=[(begin, np.inf)])


def test_candidate_axes_are_even_over_a_half_sphere_of_unit_vectors():
    axes = even_axes(72)
    np.testing.assert_allclose(np.linalg.norm(axes, axis=1), 1.0, rtol=1e-12)
    assert np.all(axes[:, 2] > 0.0)
    rng = np.random.default_rng(0)
    anywhere = rng.standard_normal((2000, 3))
    anywhere /= np.linalg.norm(anywhere, axis=1, keepdims=True)
    nearest = np.max(np.abs(anywhere @ axes.T), axis=1)
    # 72 caps over half the sphere have a radius of 9.6 deg; a good covering leaves no hole of twice that.
    assert np.degrees(np.arccos(np.min(nearest))) < 19.0


@pytest.mark.parametrize("planted", [-75.0, -20.3, 0.0, 7.8, 60.0])
def test_clock_offset_is_guessed(planted):
    found = guess_offset(rows_of(planted), TIME_S, POINTS, ORIGIN, DEPTH, reach_s=90.0)
    assert found == pytest.approx(planted, abs=4.0)


def test_clock_offset_is_guessed_from_a_path_that_is_metres_off():
    found = guess_offset(rows_of(12.0), TIME_S, POINTS + np.array([1.5, -1.5]), ORIGIN, DEPTH, reach_s=90.0)
    assert found == pytest.approx(12.0, abs=6.0)


def test_clock_is_not_moved_to_make_up_for_a_path_that_lies_aside():
    """A path 5 m farther on passes seconds too late: a shift of the path explains it, no clock need."""
    way = POINTS[60] - POINTS[40]
    aside = POINTS - 5.0 * way / np.linalg.norm(way)
    rigid, free = (
        guess_offset(rows_of(12.0), TIME_S, aside, ORIGIN, DEPTH, reach_s=90.0, shift_sigma_m=sigma)
        for sigma in (0.0, 2.6)
    )
    assert abs(free - 12.0) < abs(rigid - 12.0)


def test_misfit_does_not_feel_the_scale_of_the_readings():
    rng = np.random.default_rng(1)
    shown, sigma = rng.uniform(0.5, 3.0, 40), np.full(40, 0.1)
    wrong = shown + 0.3 * rng.standard_normal(40)
    assert misfit(shown + 0.2, shown, sigma) == pytest.approx(0.0, abs=1e-12)
    assert misfit(wrong + 0.1, shown, sigma) == pytest.approx(misfit(wrong, shown, sigma), rel=1e-9)
    assert misfit(wrong, shown, sigma) > 1.0


@pytest.mark.parametrize("antennas", [2, 3])
@pytest.mark.parametrize("axis", [(40.0, 10.0), (130.0, -35.0), (0.0, 80.0)])
def test_true_axis_is_among_the_first_guesses(axis, antennas):
    true = PLANE.axis_vector(*axis)
    axes, held = even_axes(72), lambda _: Held(antennas)
    value = axis_misfits(
        rows_of(axis=axis, antennas=antennas), 0, 0.0, TIME_S, POINTS, ORIGIN, DEPTH, axes, held, place_doubt_m=0.1
    )
    picks = distinct(axes, value, 3)
    apart = np.degrees(np.arccos(np.clip(np.abs(axes[picks] @ true), 0.0, 1.0)))
    assert np.min(apart) < 25.0
    at_truth = axis_misfits(
        rows_of(axis=axis, antennas=antennas),
        0,
        0.0,
        TIME_S,
        POINTS,
        ORIGIN,
        DEPTH,
        true[None],
        held,
        place_doubt_m=0.1,
    )
    assert at_truth[0] <= np.min(value)


def test_an_axis_without_readings_has_no_misfit():
    axes = even_axes(72)
    assert np.all(
        axis_misfits(rows_of(), 1, 0.0, TIME_S, POINTS, np.zeros((2, 2)), np.ones(2), axes, lambda _: Held(3)) == 0.0
    )


def test_distinct_picks_are_apart_and_best_first():
    axes, rng = even_axes(72), np.random.default_rng(2)
    value = rng.uniform(size=len(axes))
    picks = distinct(axes, value, 4, apart_deg=40.0)
    assert picks[0] == int(np.argmin(value))
    for i, a in enumerate(picks):
        for b in picks[:i]:
            assert abs(axes[a] @ axes[b]) < np.cos(np.radians(40.0))
    assert np.all(np.diff(value[picks]) > 0.0)


def planted(shift):
    """Return problem, state, world: fixes are off by `shift`, and the state still takes them for the place."""
    shift = np.asarray(shift, float)
    rows = rows_of()
    problem = builders.a_problem(TIME_S, np.arange(TIME_S.size), POINTS + shift, readings=rows)
    nodes = np.zeros((TIME_S.size, NODE_STATES))
    nodes[:, [P, AXIS_STATES + P]] = POINTS + shift
    nodes[:, [V, AXIS_STATES + V]] = np.gradient(POINTS, TIME_S, axis=0)
    return problem, RunState(nodes, np.log(1.1), 0.0), DrillParameters(ORIGIN, PLANE.axis_vector(40.0, 10.0)[None])


def rms_of(course, error_at):
    return np.sqrt(np.mean(np.sum((course.error_m - error_at(course.time_s)) ** 2, axis=1)))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (1.4, 0.7), (-2.1, 2.8), (3.0, -3.0)])
def test_planted_shift_is_found(shift):
    problem, state, world = planted(shift)
    (part,) = near_parts(problem)
    found = error_courses(problem, state, world, part, 6)
    assert 1 <= len(found) <= 6
    assert (
        min(rms_of(c, lambda t: np.tile(shift, (t.size, 1))) for c in found) < 0.6
    )  # half a diagonal of a cell: 0.3 m
    assert sum(c.share for c in found) <= 1.0 + 1e-12


def test_an_error_that_moves_within_the_fine_search_is_found():
    """A rigid shift cannot find this: the fixes drift by 1.6 m in the 20 s around the nearest pass."""
    middle = float(TIME_S[np.argmin(np.linalg.norm(POINTS, axis=1))])

    def error_at(t):
        return np.column_stack([1.6 * np.clip((t - middle + 10.0) / 20.0, 0.0, 1.0) - 0.8, np.full(t.size, 0.6)])

    rows = rows_of()
    fixes = POINTS + error_at(TIME_S)
    problem = builders.a_problem(TIME_S, np.arange(TIME_S.size), fixes, readings=rows)
    nodes = np.zeros((TIME_S.size, NODE_STATES))
    nodes[:, [P, AXIS_STATES + P]] = fixes
    state = RunState(nodes, np.log(1.1), 0.0)
    world = DrillParameters(ORIGIN, PLANE.axis_vector(40.0, 10.0)[None])
    (part,) = near_parts(problem)
    found = error_courses(problem, state, world, part, 6)
    rigid = rms_of(found[0], lambda t: np.tile(error_at(t).mean(axis=0), (t.size, 1)))
    best = min(rms_of(c, error_at) for c in found)
    assert best < 0.5
    assert rigid > 0.2  # the first course is no constant


def test_the_error_may_wander_as_far_as_the_noise_does():
    """Against the variogram of Matern 3/2 and of a Gauss-Markov process, written out (Rasmussen and Williams, 4.17)."""
    noise = FixNoise(white_m=0.0, fast_m=0.9, fast_s=16.0, slow_m=2.0, slow_s=900.0)
    u = 10.0 / 16.0
    wanted = 2 * 0.81 * (1 - (1 + u) * np.exp(-u)) + 2 * 4.0 * (1 - np.exp(-10.0 / 900.0))
    assert 10.0 * spread_per_s(noise) == pytest.approx(wanted, rel=1e-12)


def moved_by(problem, state, part, shift):
    t = problem.readings.time_s[part.readings]
    return shifted(problem, state, t, np.tile(shift, (t.size, 1)))


def test_shifted_state_keeps_the_fixes_and_moves_the_near_part():
    problem, state, _ = planted((2.1, -1.4))
    (part,) = near_parts(problem)
    moved = moved_by(problem, state, part, (2.1, -1.4))
    np.testing.assert_allclose(summed(moved.nodes), summed(state.nodes), atol=1e-12)
    near = problem.readings.time_s[part.readings]
    inside = (near[0] <= TIME_S) & (near[-1] >= TIME_S)
    place = moved.nodes[:, [P, AXIS_STATES + P]]
    np.testing.assert_allclose(place[inside], POINTS[inside], atol=1e-9)
    np.testing.assert_allclose(moved.nodes[inside][:, [F, AXIS_STATES + F]], [[2.1, -1.4]] * int(inside.sum()))


def test_shift_blends_into_the_rest_of_the_run():
    problem, state, _ = planted((2.1, -1.4))
    (part,) = near_parts(problem)
    moved = moved_by(problem, state, part, (2.1, -1.4))
    first = problem.readings.time_s[part.readings][0]
    away = np.linalg.norm((moved.nodes - state.nodes)[:, [P, AXIS_STATES + P]], axis=1)
    assert np.all(np.diff(away[first >= TIME_S]) >= -1e-9)
    assert np.all(np.abs(np.diff(away)) < 0.5)


def test_near_parts_need_near_readings():
    problem, _, _ = planted((0.0, 0.0))
    assert len(near_parts(problem)) == 1
    far = builders.readings_along(builders.a_drill(), TIME_S[:12], POINTS[:12], from_m=60.0)
    assert (
        near_parts(builders.a_problem(TIME_S, np.arange(TIME_S.size), POINTS, readings=builders.reading_rows_of(far)))
        == []
    )
    assert near_parts(builders.a_problem(TIME_S, np.arange(TIME_S.size), POINTS)) == []


def test_distance_of_states_is_that_of_their_near_parts():
    problem, state, _ = planted((0.0, 0.0))
    (part,) = near_parts(problem)
    moved = moved_by(problem, state, part, (0.3, 0.4))
    assert near_distance(problem, state, state) == 0.0
    assert near_distance(problem, state, moved) == pytest.approx(0.5, abs=1e-9)


def test_builders_show_what_the_receiver_reads():
    drill = builders.a_drill()
    readings = builders.readings_along(drill, TIME_S, POINTS, height_m=1.0, from_m=1e9)
    d = offsets(POINTS, 1.0, np.zeros(2), 1.0)
    np.testing.assert_allclose(readings.reading_m, reading_m(d, PLANE.axis_vector(40.0, 10.0)))
