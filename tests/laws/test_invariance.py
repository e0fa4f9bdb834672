"""A drill that is turned or moved as a whole is the same drill: sizes, times and scores do not change."""

import dataclasses
import math

import builders
import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, ReadingSettings, RunSettings, simulate_drill, simulate_run
from analyzer.model.figure import Figure

RULES = default_rules()
CASES = {
    "readings": ({"slope_deg": 28.0}, {}),
    "track only": ({"slope_deg": 28.0}, {"readings": ReadingSettings(kind="none")}),
    "two transmitters": ({"slope_deg": 15.0, "transmitters": 2}, {}),
    "level": ({"slope_deg": 0.0}, {}),
}


def simulated(name, seed=3):
    drill_changes, run_changes = CASES[name]
    drill = simulate_drill(DrillSettings(**drill_changes), seed=seed)
    run = simulate_run(drill, RunSettings(**run_changes), seed=seed)
    # About the transmitters' middle: a turn about a far origin would move the drill as well.
    middle = np.mean([[t.east_m, t.north_m] for t in drill.drill.transmitters], axis=0)
    return builders.turned(drill.drill, run.recording, by=-middle)


def analyzed(drill, recording):
    return analyze_drill(drill, [recording], RULES, draws=16)[0]


def sizes(result):
    """Return name -> (value, half width) of all figures that are no direction."""
    out = {}
    for search in result.searches:
        for group in ("signal", "coarse", "fine", "pinpoint"):
            for name, figure in getattr(search, group):
                if isinstance(figure, Figure):
                    out[f"{search.transmitter}.{group}.{name}"] = (figure.value, 0.5 * (figure.high - figure.low))
    for key, figure in result.scores.by_phase:
        if isinstance(figure, Figure):
            out[f"score.{key}"] = (figure.value, 0.5 * (figure.high - figure.low))
    return out


def compare(one, other, *, tolerance):
    """Same phases, causes and findings; figures the same within `tolerance` and a share of their own uncertainty."""
    assert [(p.phase, p.transmitter) for p in one.phases] == [(p.phase, p.transmitter) for p in other.phases]
    for a, b in zip(one.phases, other.phases, strict=True):
        assert a.start_s == pytest.approx(b.start_s, abs=tolerance)
        assert a.walked_m == pytest.approx(b.walked_m, abs=tolerance)
    first, second = sizes(one), sizes(other)
    assert set(first) == set(second)
    for name, (value, half) in first.items():
        assert value == pytest.approx(second[name][0], abs=tolerance * (1.0 + half)), name


def moved(path, degrees, by):
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    return np.column_stack([path.east_m, path.north_m]) @ turn + by


@pytest.mark.parametrize("name", ["readings", "track only", "two transmitters"])
@pytest.mark.parametrize("degrees", [37.0, 180.0, 283.5])
def test_turning_a_slope_with_all_on_it_changes_nothing(name, degrees):
    """The slope frame turns with the slope, so all that is measured is the same to rounding."""
    drill, recording = simulated(name)
    before, after = analyzed(drill, recording), analyzed(*builders.turned(drill, recording, degrees=degrees))
    compare(before, after, tolerance=1e-3)
    np.testing.assert_allclose(
        np.column_stack([after.path.east_m, after.path.north_m]), moved(before.path, degrees, (0.0, 0.0)), atol=1e-4
    )
    np.testing.assert_allclose(after.path.sigma_m, before.path.sigma_m, rtol=1e-4)
    assert [f.id.split("-")[0] for f in before.findings] == [f.id.split("-")[0] for f in after.findings]
    for a, b in zip(before.transmitters, after.transmitters, strict=True):
        assert (b.axis_bearing_deg - a.axis_bearing_deg - degrees + 180.0) % 360.0 == pytest.approx(180.0, abs=1e-2)
        assert b.axis_tilt_deg == pytest.approx(a.axis_tilt_deg, abs=1e-2)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("by", [(250.0, -400.0), (-3.0, 7.0)])
def test_moving_the_drill_changes_nothing(name, by):
    drill, recording = simulated(name)
    before, after = analyzed(drill, recording), analyzed(*builders.turned(drill, recording, by=by))
    compare(before, after, tolerance=0.02)
    np.testing.assert_allclose(
        np.column_stack([after.path.east_m, after.path.north_m]), moved(before.path, 0.0, by), atol=0.02
    )


@pytest.mark.parametrize("degrees", [20.0, 45.0, 90.0, 200.0])
def test_turning_a_level_drill_changes_little(degrees):
    """On the level the frame stays: searches over grids and draws per axis meet the run at another angle."""
    drill, recording = simulated("level")
    before, after = analyzed(drill, recording), analyzed(*builders.turned(drill, recording, degrees=degrees))
    assert [p.phase for p in before.phases] == [p.phase for p in after.phases]
    for a, b in zip(before.phases[:-1], after.phases[:-1], strict=True):
        assert a.end_s == pytest.approx(b.end_s, abs=1.0 + 2.0 * (a.end_sigma_s or 0.0))
        assert a.walked_m == pytest.approx(b.walked_m, abs=1.0)
    away = np.column_stack([after.path.east_m, after.path.north_m]) - moved(before.path, degrees, (0.0, 0.0))
    assert np.sqrt(np.mean(np.sum(away**2, axis=1))) < 0.1
    np.testing.assert_allclose(after.path.sigma_m, before.path.sigma_m, rtol=0.1)
    first, second = sizes(before), sizes(after)
    for name in set(first) & set(second):
        value, half = first[name]
        assert abs(value - second[name][0]) <= 0.05 * abs(value) + 1.5 * half + 0.1, name


def test_a_later_start_of_the_clock_changes_nothing():
    """Times count from time zero: the day and hour of the run do not matter."""
    drill, recording = simulated("readings")
    later = dataclasses.replace(recording, time_zero=recording.time_zero.replace(year=2031, month=7, hour=3))
    before, after = analyzed(drill, recording), analyzed(drill, later)
    assert before.phases == after.phases
    assert before.searches == after.searches
    assert before.timeline == after.timeline


def test_names_of_transmitters_do_not_matter():
    drill, recording = simulated("two transmitters")
    names = {t.id: f"grave {i}" for i, t in enumerate(drill.transmitters)}
    renamed = dataclasses.replace(
        drill, transmitters=tuple(dataclasses.replace(t, id=names[t.id]) for t in drill.transmitters)
    )
    readings = dataclasses.replace(
        recording.readings, transmitter=tuple(names.get(n) for n in recording.readings.transmitter)
    )
    marks = tuple(dataclasses.replace(m, transmitter=names.get(m.transmitter)) for m in recording.marks)
    before = analyzed(drill, recording)
    after = analyzed(renamed, dataclasses.replace(recording, readings=readings, marks=marks))
    assert [(p.phase, names.get(p.transmitter, ""), p.start_s, p.walked_m) for p in before.phases] == [
        (p.phase, p.transmitter, p.start_s, p.walked_m) for p in after.phases
    ]


def test_the_order_of_the_runs_does_not_matter():
    drill = simulate_drill(seed=8)
    runs = [simulate_run(drill, seed=s, run_id=f"run-{s}").recording for s in (1, 2)]
    there = analyze_drill(drill.drill, runs, RULES, draws=4)
    back = analyze_drill(drill.drill, runs[::-1], RULES, draws=4)[::-1]
    for one, other in zip(there, back, strict=True):
        assert one.run_id == other.run_id
        np.testing.assert_allclose(one.path.east_m, other.path.east_m, atol=0.05)
        np.testing.assert_allclose(one.path.sigma_m, other.path.sigma_m, rtol=0.02)


def test_a_turned_drill_of_the_builders_is_turned():
    """Clockwise: what lay north lies east; the downhill side turns too."""
    drill = builders.a_drill(at=((0.0, 10.0),), slope=(30.0, 180.0), axis=(0.0, 20.0))
    time_s, points = builders.a_search(to=(0.0, 10.0))
    turned, recording = builders.turned(drill, builders.recording_of(builders.track_of(time_s, points)), degrees=90.0)
    spot = turned.transmitters[0]
    assert (spot.east_m, spot.north_m) == pytest.approx((10.0, 0.0), abs=1e-9)
    assert spot.axis_bearing_deg == pytest.approx(90.0)
    assert turned.slope.aspect_deg == pytest.approx(270.0)
    assert recording.track.east_m == pytest.approx(points[:, 1])
    before, after = SlopePlane(drill.slope), SlopePlane(turned.slope)
    np.testing.assert_allclose(after.to_plane([spot.east_m, spot.north_m]), before.to_plane([0.0, 10.0]), atol=1e-9)
    np.testing.assert_allclose(after.axis_vector(90.0, 20.0), before.axis_vector(0.0, 20.0), atol=1e-12)
