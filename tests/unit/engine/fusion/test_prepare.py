"""From recordings to estimation problems: nodes, spikes, steps of the display, when the receiver was low."""

import builders
import numpy as np
import pytest

from analyzer.engine.fusion.prepare import (
    MotionSettings,
    anchors_of,
    around_hits,
    associate,
    crossing_s,
    first_problem,
    heights,
    intensity_of,
    low_spans,
    reading_sigma,
    reading_step_m,
    with_readings,
)
from analyzer.engine.fusion.problem import gap_damping, node_times, spike_weights, with_gaps
from analyzer.errors import EstimationError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.drill import Slope
from analyzer.model.recording import Mark, Readings

LEVEL = SlopePlane(Slope())


def test_even_fixes_are_the_nodes():
    fix_s = np.arange(20.0)
    assert np.array_equal(node_times(fix_s), fix_s)


@pytest.mark.parametrize("gap", [3.5, 10.0, 120.0])
def test_gaps_get_filler_nodes_and_keep_every_fix(gap):
    fix_s = np.concatenate([np.arange(5.0), 4.0 + gap + np.arange(5.0)])
    nodes = node_times(fix_s)
    assert np.all(np.isin(fix_s, nodes))
    assert np.all(np.diff(nodes) > 0.0)
    assert np.max(np.diff(nodes)) <= 2.0 + 1e-9
    assert nodes[0] == fix_s[0]
    assert nodes[-1] == fix_s[-1]


def test_a_gap_of_hours_does_not_get_thousands_of_nodes():
    nodes = node_times(np.array([0.0, 1.0, 10_801.0, 10_802.0]))
    assert len(nodes) < 400
    assert np.all(np.diff(nodes) > 0.0)


def test_a_spike_loses_its_first_weight_and_its_neighbours_keep_theirs():
    time_s, points = builders.a_search()
    points[17] += [15.0, 0.0]
    weights = spike_weights(time_s, points, reach_m=4.0)
    assert weights[17] < 0.01
    assert np.all(np.delete(weights, 17) == 1.0)
    assert len(weights) == len(time_s)


@pytest.mark.parametrize("n", [1, 2, 3, 6])
def test_spike_weights_of_very_short_tracks(n):
    assert np.all(spike_weights(np.arange(float(n)), np.zeros((n, 2)), reach_m=4.0) == 1.0)


def test_corners_of_a_walk_logged_every_20_s_are_no_spikes_and_a_fix_150_m_away_is_one():
    """2026-11-26: a walk thinned to 20 s lost its corners as spikes, and the path ran up to 125 m beside its fixes."""
    time_s = 20.0 * np.arange(40.0)
    corners = np.array([[0.0, 0.0], [104.0, 0.0], [104.0, 104.0], [0.0, 104.0]])
    points = np.concatenate(
        [np.linspace(a, b, 10, endpoint=False) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )
    assert np.all(spike_weights(time_s, points, reach_m=4.0) == 1.0)
    points[17] += [150.0, 0.0]
    assert np.flatnonzero(spike_weights(time_s, points, reach_m=4.0) < 0.01).tolist() == [17]


def test_a_gap_is_one_by_the_rhythm_of_the_file():
    every_20_s = np.concatenate([20.0 * np.arange(12.0), [520.0]])
    node_s = node_times(every_20_s)
    damped = gap_damping(every_20_s, node_s) > 0
    assert np.all(damped == (node_s[:-1] >= 220.0))
    once_a_second = np.concatenate([np.arange(30.0), [50.0, 51.0]])
    node_s = node_times(once_a_second)
    assert np.all((gap_damping(once_a_second, node_s) > 0) == ((node_s[:-1] >= 29.0) & (node_s[:-1] < 50.0)))


def test_in_a_gap_the_pace_is_that_of_a_walker():
    """The variance of an Ornstein-Uhlenbeck velocity is intensity / (2 damping): Uhlenbeck and Ornstein 1930."""
    assert with_gaps(np.array([0.01, 0.01]), np.array([0.0, 0.2]))[0] == 0.01
    per_axis = with_gaps(np.array([0.01]), np.array([0.2]))[0] / (2 * 0.2)
    assert 2 * per_axis == pytest.approx(1.3**2)


def test_step_of_the_display_is_found_per_range():
    shown = np.array([0.3, 2.7, 9.9, 10.0, 12.5, 19.5, 20.0, 34.0])
    assert reading_step_m(shown).tolist() == [0.1, 0.1, 0.1, 0.5, 0.5, 0.5, 1.0, 1.0]
    assert np.all(reading_step_m(np.array([1.234, 15.02, 33.33])) == 0.01)
    assert np.all(reading_step_m(np.array([3.0, 7.0, 18.0])) == 1.0)


def test_a_coarser_display_is_trusted_less():
    fine, coarse = reading_sigma(np.array([2.1, 4.2, 3.7])), reading_sigma(np.array([2.0, 4.0, 4.0]))
    assert np.all(coarse > fine)
    far, near = reading_sigma(np.array([30.0])), reading_sigma(np.array([0.5]))
    assert near > far  # as a share of the reading


def test_crossing_lies_between_the_readings_around_the_radius():
    time_s = np.arange(6.0)
    assert crossing_s(time_s, np.array([6.0, 5.0, 4.0, 2.0, 1.5, 1.0]), 3.0) == pytest.approx(2.5)


def test_one_odd_low_reading_is_no_crossing():
    time_s = np.arange(8.0)
    shown = np.array([9.0, 8.0, 2.0, 7.0, 6.0, 4.0, 2.0, 1.0])
    assert crossing_s(time_s, shown, 3.0) == pytest.approx(5.5)


def test_a_first_line_that_leads_out_of_the_radius_again_is_a_crossing():
    """2026-11-26: over a deep transmitter two antennas showed 3.0 once, then 3.4 to 3.9, and nobody was low."""
    shown = np.array([6.0, 5.4, 4.8, 3.0, 3.3, 3.4, 3.7, 3.9, 3.3])
    assert crossing_s(np.arange(9.0), shown, 3.0) == pytest.approx(3.0)


def test_a_single_high_reading_does_not_lift_the_receiver():
    spans = spans_of([6.0, 4.0, 2.5, 2.2, 7.9, 2.0, 2.1, 1.9, 2.0, 2.2, 2.1, 2.0])
    assert len(spans) == 1
    assert np.isinf(spans[0, 1])


def test_readings_that_never_fall_do_not_cross():
    assert crossing_s(np.arange(4.0), np.array([9.0, 8.0, 7.0, 3.5]), 3.0) is None
    assert crossing_s(np.array([]), np.array([]), 3.0) is None


def test_readings_that_begin_inside_cross_at_once():
    assert crossing_s(np.array([4.0, 5.0, 6.0]), np.array([2.0, 1.5, 1.0]), 3.0) == 4.0


def spans_of(shown, which=None, *, radius=3.0, count=1):
    shown = np.asarray(shown, float)
    which = np.zeros(shown.size, int) if which is None else np.asarray(which)
    return low_spans(np.arange(float(shown.size)), shown, which, count, radius)


def test_low_from_the_radius_to_the_end():
    spans = spans_of([10, 8, 6, 4, 2, 1, 1.5, 1, 2, 1, 1])
    assert spans.shape == (1, 2)
    assert spans[0, 0] == pytest.approx(3.5)
    assert spans[0, 1] == np.inf


def test_high_again_after_leaving_and_low_again_after_the_second_fall():
    shown = [10, 6, 2, 1.5, 1.2, 1.5, 2.0, 2.5, 4.0, 8, 12, 9, 6, 2, 1, 1, 1, 1, 1, 1]
    spans = spans_of(shown)
    assert len(spans) == 2
    assert 1.0 < spans[0, 0] < 2.0
    assert 7.0 <= spans[0, 1] < 9.5  # before the reading of 8 m, far outside the circle
    assert 12.0 < spans[1, 0] < 13.0
    assert spans[1, 1] == np.inf


def test_running_through_the_circle_is_not_holding_low():
    assert spans_of([12, 8, 4, 2, 2, 6, 10, 14]).shape == (0, 2)


def test_low_for_one_transmitter_ends_with_the_search_for_the_next():
    shown = [8, 5, 2, 1, 1, 1, 1, 1, 15, 12, 9, 6, 2, 1, 1, 1, 1, 1]
    which = [0] * 8 + [1] * 10
    spans = spans_of(shown, which, count=2)
    assert len(spans) == 2
    first, second = spans[np.argsort(spans[:, 0])]
    assert 7.0 <= first[1] <= 8.0
    assert 11.0 < second[0] < 12.0


def test_spans_do_not_overlap_on_random_readings():
    rng = np.random.default_rng(3)
    for _ in range(200):
        shown = np.exp(np.cumsum(0.4 * rng.standard_normal(80)) + 1.0)
        spans = spans_of(shown)
        assert np.all(spans[:, 1] > spans[:, 0])
        assert np.all(spans[1:, 0] >= spans[:-1, 1])


def test_unlabelled_readings_go_to_the_transmitter_whose_range_fits():
    drill = builders.a_drill(at=((0.0, 0.0), (20.0, 0.0)))
    place = np.array([[1.0, 0.0], [18.0, 0.0], [12.0, 0.0]])
    blank = np.full(3, np.nan)
    readings = Readings(np.arange(3.0), np.array([2.3, 2.9, 8.2]), (None, None, "A"), blank, blank)
    which = associate(readings, drill, place, np.array([[0.0, 0.0], [20.0, 0.0]]), 1.0)
    assert which.tolist() == [0, 1, 0]  # the last by its label, against its range


def problem_of(marks=(), readings=None, **changes):
    time_s, points = builders.a_search()
    recording = builders.recording_of(builders.track_of(time_s, points), marks=marks, readings=readings)
    drill = builders.a_drill(**changes)
    return recording, drill, first_problem(recording, drill, SlopePlane(drill.slope))


def test_first_problem_holds_the_fixes_in_the_slope_plane():
    recording, drill, problem = problem_of(slope=(30.0, 180.0))
    along = np.column_stack([recording.track.east_m, recording.track.north_m])
    assert problem.fix_m == pytest.approx(along / [1.0, np.cos(np.radians(30.0))])
    assert np.array_equal(problem.node_s[problem.fix_node], recording.track.time_s)
    assert problem.readings is None
    assert drill.transmitters[0].depth_m == problem.depth_m[0]


def test_too_few_fixes_are_told():
    track = builders.track_of(np.arange(9.0), np.zeros((9, 2)))
    drill = builders.a_drill()
    with pytest.raises(EstimationError, match="only 9 usable fixes"):
        first_problem(builders.recording_of(track), drill, SlopePlane(drill.slope))


def test_a_hit_without_a_name_is_that_of_the_only_transmitter():
    node_s = np.arange(100.0)
    hit = Mark(50.0, "probe_hit")
    one = anchors_of(builders.recording_of(None, marks=[hit]), builders.a_drill(), LEVEL, node_s)
    assert one.over[:, :2].tolist() == [[50.0, 0.0]]
    two = builders.a_drill(at=((0.0, 0.0), (9.0, 9.0)))
    assert anchors_of(builders.recording_of(None, marks=[hit]), two, LEVEL, node_s).over.shape == (0, 3)
    named = Mark(50.0, "probe_hit", "B")
    assert anchors_of(builders.recording_of(None, marks=[named]), two, LEVEL, node_s).over[0, 1] == 1.0


def test_marks_outside_the_track_say_nothing():
    marks = [Mark(-5.0, "probe_hit"), Mark(200.0, "probe_hit")]
    anchors = anchors_of(builders.recording_of(None, marks=marks), builders.a_drill(), LEVEL, np.arange(100.0))
    assert anchors.over.shape == (0, 3)


def test_a_hold_stands_still_and_a_surveyed_one_knows_where():
    marks = [
        Mark(10.0, "hold_begin", note="3.0, 4.0"),
        Mark(20.0, "hold_end"),
        Mark(30.0, "hold_begin", note="by the hut"),
        Mark(40.0, "hold_end"),
    ]
    anchors = anchors_of(builders.recording_of(None, marks=marks), builders.a_drill(), LEVEL, np.arange(100.0))
    assert np.all(((anchors.still > 10.0) & (anchors.still < 20.0)) | ((anchors.still > 30.0) & (anchors.still < 40.0)))
    assert anchors.still.size >= 16
    assert len(anchors.at) >= 1
    assert np.all(anchors.at[:, 0] < 20.0)
    np.testing.assert_allclose(anchors.at[:, 1:3], [[3.0, 4.0]] * len(anchors.at), atol=1e-9)


def test_readings_join_the_problem():
    time_s, points = builders.a_search()
    drill = builders.a_drill()
    readings = builders.readings_along(drill, time_s, points)
    recording, drill, problem = problem_of(readings=readings)
    place = points[-readings.time_s.size :]
    rows = with_readings(problem, recording, drill, place, np.zeros((1, 2)), 3.0).readings
    np.testing.assert_allclose(np.exp(rows.log_reading), readings.reading_m)
    assert np.all(rows.transmitter == 0)
    assert len(rows.low_spans_s) == 1


def test_turns_and_stops_are_allowed_more_change_of_pace():
    time_s, points = builders.walk([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0)], pace=1.0)
    velocity = np.gradient(points, time_s, axis=0)
    found = intensity_of(time_s, velocity, MotionSettings())
    assert found.shape == (time_s.size - 1,)
    assert np.all(found > 0.0)
    assert int(np.argmax(found)) in range(17, 23)
    assert found[19] > 3.0 * found[5]


def test_receiver_is_low_inside_the_spans_and_its_height_in_doubt_at_their_ends():
    time_s = np.arange(40.0)
    height, doubt = heights(time_s, np.array([[10.0, 20.0], [30.0, np.inf]]), 1.0, 0.1)
    low = ((time_s >= 10.0) & (time_s <= 20.0)) | (time_s >= 30.0)
    np.testing.assert_array_equal(height, np.where(low, 0.1, 1.0))
    assert np.all((doubt >= 0.0) & (doubt <= 1.0))
    assert doubt[10] > 0.5
    assert np.all(doubt[[0, 5, 15, 25, 39]] == 0.0)
    bare, sure = heights(time_s, np.zeros((0, 2)), 1.0, 0.1)
    assert np.all(bare == 1.0)
    assert np.all(sure == 0.0)


def test_slow_pace_before_a_hit_is_around_that_transmitter():
    time_s, points = builders.a_search()
    track = builders.track_of(time_s, points)
    hit = builders.probe_hit(time_s[-1])
    drill = builders.a_drill()
    problem = first_problem(builders.recording_of(track, marks=[hit]), drill, SlopePlane(drill.slope))
    rows = around_hits(problem, np.gradient(points, time_s, axis=0)).anchors.over
    assert rows[0].tolist() == problem.anchors.over[0].tolist()
    assert len(rows) > 2
    soft = rows[1:]
    assert np.all(soft[:, 2] > rows[0, 2])  # softer than the hit itself
    assert np.all((soft[:, 0] < hit.time_s) & (soft[:, 0] > 25.0))  # never while walking in at full pace
    quick = around_hits(problem, np.full_like(points, 1.2)).anchors.over
    assert len(quick) == 1
