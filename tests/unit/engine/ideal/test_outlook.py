"""How hard a drill is before it is dug: against closed forms, and against what a debrief finds afterwards."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from analyzer.engine.ideal.difficulty import CARRY_HEIGHT_M, drill_difficulty
from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, RecorderSettings, RunSettings, simulate_drill, simulate_run
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.figure import Figure
from analyzer.physics.receiver import offsets, reading_m

REFERENCE = Path(__file__).parents[3] / "reference" / "dipole_lines.csv"
RULES = default_rules()
SQUARE = [[0.0, 0.0], [80.0, 0.0], [80.0, 100.0], [0.0, 100.0]]
FLAT = Transmitter("T1", 0.0, 0.0, 1.0, axis_bearing_deg=90.0, axis_tilt_deg=0.0)


def laid_out(*transmitters, corners=None, slope=None, strip_width_m=40.0):
    return Drill(
        "made",
        None,
        Origin(46.0, 8.0, 2000.0),
        slope or Slope(),
        transmitters or (FLAT,),
        corners_m=corners,
        strip_width_m=strip_width_m,
    )


@pytest.mark.parametrize("row", np.loadtxt(REFERENCE, delimiter=",")[:3], ids=lambda r: f"{r[0]:g} m")
def test_a_start_on_the_equator_has_the_published_length(row):
    radius, stop, theta_deg, arc, _ = row
    theta = math.radians(theta_deg)
    # The table's line lies in the plane of the dipole; here the receiver is 1 m above it, which takes 2 cm. It ends
    # where the reading is that of the table's end: |B| = sqrt(1 + 3 c^2) / r^3, c the cosine to the axis (Griffiths).
    r = math.hypot(stop, 1.0)
    reading = r * (1.0 + 3.0 * (stop * math.cos(theta) / r) ** 2) ** (-1.0 / 6.0)
    seen = drill_difficulty(
        laid_out(dataclasses.replace(FLAT, depth_m=0.0)),
        [0.0, radius],
        dataclasses.replace(RULES, fine_radius_m=reading),
        reach_m=radius,
        reading_scale=1.0,
    )
    (search,) = seen.searches
    assert search.field_line_length_m.value == pytest.approx(arc, abs=0.08)
    assert search.straight_length_m == pytest.approx(radius - stop, abs=0.01)
    assert search.ratio.value == pytest.approx(arc / (radius - stop), abs=0.005)
    assert seen.around[0].ratio_high == pytest.approx(search.ratio.value, abs=0.01)
    assert seen.around[0].ratio_low == pytest.approx(1.0, abs=1e-3)


def test_an_upright_antenna_leads_straight_in_from_all_sides():
    seen = drill_difficulty(laid_out(dataclasses.replace(FLAT, axis_tilt_deg=90.0)), [12.0, 16.0], RULES)
    (search,), (around,) = seen.searches, seen.around
    assert search.ratio.value == pytest.approx(1.0, abs=1e-9)
    assert (around.ratio_low, around.ratio_high) == pytest.approx((1.0, 1.0), abs=1e-9)
    assert around.lowest_away_m == pytest.approx(0.0, abs=1e-9)
    for line in around.lines_m:
        assert line[:, 0] * line[0, 1] == pytest.approx(line[:, 1] * line[0, 0], abs=1e-6)


def test_drawn_lines_follow_the_field_on_a_slope():
    item = Transmitter("T1", 5.0, -7.0, 1.2, axis_bearing_deg=30.0, axis_tilt_deg=20.0)
    drill = laid_out(item, slope=Slope(30.0, 140.0))
    plane = SlopePlane(drill.slope)
    lines = drill_difficulty(drill, [20.0, 0.0], RULES).around[0].lines_m
    axis = plane.axis_vector(30.0, 20.0)
    assert len(lines) == 16
    off = []
    for line in lines:
        flat = plane.to_plane(line)
        flat = flat[: np.argmin(np.hypot(*np.diff(flat, axis=0).T))] if (flat[-1] == flat[-2]).all() else flat
        middle, step = 0.5 * (flat[1:] + flat[:-1]), np.diff(flat, axis=0)
        far = np.hypot(*(middle - plane.to_plane([5.0, -7.0])).T) > 4.0
        d = offsets(middle, CARRY_HEIGHT_M, plane.to_plane([5.0, -7.0]), 1.2)
        field = (3 * (d @ axis)[:, None] * d / np.sum(d * d, axis=1)[:, None] - axis)[:, :2]
        sine = (step[:, 0] * field[:, 1] - step[:, 1] * field[:, 0]) / (
            np.linalg.norm(step, axis=1) * np.linalg.norm(field, axis=1)
        )
        off.append(np.abs(sine[far]))
    assert np.median(np.concatenate(off)) < 1e-3


def test_the_grid_holds_what_a_receiver_reads_of_the_nearest():
    drill = laid_out(FLAT, Transmitter("T2", 30.0, 10.0, 0.7, axis_bearing_deg=0.0, axis_tilt_deg=40.0))
    grid = drill_difficulty(drill, [0.0, 25.0], RULES, reading_scale=1.1).grid
    row, column = 20, 30
    spot = np.array([grid.east_m[column], grid.north_m[row]])
    each = [
        reading_m(
            offsets(spot, 1.0, [t.east_m, t.north_m], t.depth_m),
            SlopePlane(Slope()).axis_vector(t.axis_bearing_deg, t.axis_tilt_deg),
            scale=1.1,
        )
        for t in drill.transmitters
    ]
    assert grid.reading_m[row, column] == pytest.approx(min(each), rel=1e-12)
    assert grid.east_m[0] < 0.0 < 30.0 < grid.east_m[-1]


def test_a_start_beyond_the_reach_walks_the_strips_first():
    item = dataclasses.replace(FLAT, east_m=60.0, north_m=80.0)
    seen = drill_difficulty(laid_out(item, corners=SQUARE), [0.0, 0.0], RULES)
    (search,) = seen.searches
    assert seen.reach_m == 20.0
    assert math.dist(search.walk_m[-1], (60.0, 80.0)) == pytest.approx(20.0, abs=0.3)
    assert search.heard
    steps = np.hypot(*np.diff(search.walk_m, axis=0).T).sum()
    assert search.walk_length_m == pytest.approx(steps)
    assert search.reference.signal_s == pytest.approx(steps / RULES.signal_pace_mps)
    assert search.field_line_m[0] == pytest.approx(search.walk_m[-1])
    assert seen.seconds == pytest.approx(sum(dataclasses.astuple(search.reference)[1:]))


def test_a_start_within_the_reach_hears_the_signal_at_once():
    (search,) = drill_difficulty(laid_out(corners=SQUARE), [9.0, 12.0], RULES).searches
    assert search.reference.signal_s is None
    assert search.walk_m == pytest.approx(np.array([[9.0, 12.0]]))


def test_several_transmitters_are_searched_one_after_the_other_the_nearest_first():
    others = [
        dataclasses.replace(FLAT, id=name, east_m=e, north_m=n)
        for name, e, n in (("far", 60.0, 90.0), ("near", 10.0, 10.0), ("next", 22.0, 10.0))
    ]
    seen = drill_difficulty(laid_out(*others, corners=SQUARE), [0.0, 0.0], RULES)
    assert [s.transmitter for s in seen.searches] == ["near", "next", "far"]
    assert [s.reference.signal_s is None for s in seen.searches] == [True, True, False]
    assert seen.searches[1].from_m == pytest.approx([10.0, 10.0])


def test_a_transmitter_that_the_strips_do_not_reach_is_told():
    item = dataclasses.replace(FLAT, east_m=180.0, north_m=50.0)
    seen = drill_difficulty(laid_out(item, corners=SQUARE), [0.0, 0.0], RULES)
    assert not seen.searches[0].heard
    assert seen.around[0].outside_m == pytest.approx(100.0)


def test_without_an_axis_there_is_a_range_and_no_lines():
    seen = drill_difficulty(
        laid_out(dataclasses.replace(FLAT, axis_bearing_deg=None, axis_tilt_deg=None)), [12.0, 16.0], RULES
    )
    (search,), (around,) = seen.searches, seen.around
    # No way is shorter than the straight one, whatever the axis.
    assert 1.0 <= search.ratio.low < 1.05 < search.ratio.value < 1.25 < search.ratio.high < 1.45
    assert around.lines_m == ()
    assert not around.axis_known
    assert np.isinf(seen.grid.reading_m).all()


def test_a_start_over_the_transmitter_is_no_division_by_zero():
    (search,) = drill_difficulty(laid_out(), [0.0, 0.0], RULES).searches
    assert search.ratio.value == 1.0
    assert search.reference.coarse_s == 0.0


@pytest.mark.parametrize("seed", [4, 11])
def test_a_debrief_finds_the_line_and_the_times_that_the_outlook_told(seed):
    made = simulate_drill(DrillSettings(), seed=seed)
    recording = simulate_run(made, RunSettings(recorder=RecorderSettings(kind="survey")), seed=seed).recording
    (result,) = analyze_drill(made.drill, [recording], RULES, draws=12)
    assert result.phases[0].phase == "signal_search"
    path, coarse = result.path, next(p for p in result.phases if p.phase == "coarse_search")
    at = [float(np.interp(coarse.start_s, path.time_s, values)) for values in (path.east_m, path.north_m)]
    placed = result.transmitters[0]
    drill = dataclasses.replace(
        made.drill,
        transmitters=(
            dataclasses.replace(
                made.drill.transmitters[0],
                east_m=placed.east_m,
                north_m=placed.north_m,
                axis_bearing_deg=placed.axis_bearing_deg,
                axis_tilt_deg=placed.axis_tilt_deg,
            ),
        ),
    )
    scale = result.evidence.reading_scale.value
    plane = SlopePlane(drill.slope)
    away = float(np.linalg.norm(plane.to_plane(at) - plane.to_plane([placed.east_m, placed.north_m])))
    (told,) = drill_difficulty(drill, at, RULES, reach_m=away + 0.1, reading_scale=scale).searches
    found = dict(result.searches[0].coarse)["field_line_m"]
    assert isinstance(found, Figure)
    assert told.field_line_length_m.value == pytest.approx(found.value, rel=0.005)
    drawn = next(line.points_m for line in result.lines if line.kind == "field_line")
    assert told.field_line_m[-1] == pytest.approx(drawn[-1], abs=0.05)
    # The signal search of the reference: the same strips from where the run began, as far as this searcher heard.
    first = [path.east_m[0], path.north_m[0]]
    whole = drill_difficulty(drill, first, RULES, reach_m=away, reading_scale=scale)
    asked = dict(result.searches[0].signal)["duration_reference_s"]
    assert whole.searches[0].reference.signal_s == pytest.approx(asked.value, abs=2.0)
    strips = next(line.points_m for line in result.lines if line.kind == "strips")
    assert whole.strips_m == pytest.approx(strips, abs=0.05)
