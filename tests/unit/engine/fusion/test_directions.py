"""Directions shown: their rows against finite differences, and that they help where the simulator knows the truth."""

import dataclasses

import numpy as np

from analyzer.engine.fusion.fuse import fuse_drill
from analyzer.engine.fusion.rows import direction_rows
from analyzer.engine.fusion.start import FusionSettings, start_run, stated_shared
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, ReadingSettings, RunSettings, simulate_drill, simulate_run

SHOWN = RunSettings(readings=ReadingSettings(directions=True))


def started(seed):
    drill = simulate_drill(DrillSettings(position_error_m=0.0), seed=seed)
    run = simulate_run(drill, SHOWN, seed=seed)
    plane = SlopePlane(drill.drill.slope)
    stated, _ = stated_shared(drill.drill, plane)
    shared = DrillParameters(stated.transmitter_m, stated.axis)
    return start_run(run.recording, drill.drill, plane, shared, FusionSettings()), shared


def test_rows_are_the_slopes_of_the_misfit():
    """Linear rows predict the misfit after a small step of place and of the transmitter."""
    start, shared = started(3)
    rows = direction_rows(start.problem, start.state, shared)
    assert rows is not None
    assert rows.node.size > 5
    rng = np.random.default_rng(1)
    step, nodes = 1e-3 * rng.standard_normal(2), np.array(start.state.nodes)
    nodes[:, 0] += step[0]
    nodes[:, 5] += step[1]
    moved = direction_rows(start.problem, RunState(nodes, start.state.log_scale, start.state.offset_s), shared)
    np.testing.assert_allclose(moved.residual, rows.residual - rows.gradient @ step, atol=2e-5)
    shift = 1e-3 * rng.standard_normal(2)
    away = direction_rows(start.problem, start.state, DrillParameters(shared.transmitter_m + shift, shared.axis))
    np.testing.assert_allclose(away.residual, rows.residual - rows.globals_[:, 2:4] @ shift, atol=2e-5)


def test_without_a_heading_there_are_no_rows():
    start, shared = started(3)
    blank = dataclasses.replace(start.problem.log, shown_rad=None)
    assert direction_rows(dataclasses.replace(start.problem, readings=blank), start.state, shared) is None


def test_directions_tell_the_antenna_axis():
    """The axis withheld, the field's directions along the way in give it away: nearer than readings alone."""
    turned = {True: [], False: []}
    for seed in range(8):
        drill = simulate_drill(DrillSettings(axis_given=False), seed=seed)
        true = drill.true_transmitters[0]
        plane = SlopePlane(drill.drill.slope)
        axis = plane.axis_vector(true.axis_bearing_deg, true.axis_tilt_deg)
        for shown in (True, False):
            settings = RunSettings(readings=ReadingSettings(directions=shown))
            run = simulate_run(drill, settings, seed=seed)
            fused = fuse_drill([run.recording], drill.drill, plane, FusionSettings(draws=1))[0]
            turned[shown].append(np.degrees(np.arccos(min(1.0, abs(float(fused.draws.axis[0, 0] @ axis))))))
    assert np.median(turned[True]) < 0.85 * np.median(turned[False])
