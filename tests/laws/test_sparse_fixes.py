"""Recorders that log rarely: the path stays by its fixes, and claims no more between them than a walker allows."""

import datetime as dt

import numpy as np
import pytest

from analyzer.engine.pipeline import fuse_runs
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.path import FusedPath
from analyzer.model.recording import Mark, Recording, RunInfo, Track

HALF_OF_ALL_2D = 2.45
"""Standard deviations that hold 95 % of a normal distribution over two axes: sqrt(-2 ln 0.05)."""


def walk_around(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return times (n,) and places (n, 2) of 20 minutes at 1.2 m/s, a turn every 40 to 90 m."""
    rng = np.random.default_rng(seed)
    ways = np.cumsum(rng.uniform(-2.0, 2.0, 40))
    lengths = rng.uniform(40.0, 90.0, 40)
    moves = lengths[:, None] * np.column_stack([np.cos(ways), np.sin(ways)])
    corners = np.concatenate([[[0.0, 0.0]], np.cumsum(moves, axis=0)])
    along, time_s = np.concatenate([[0.0], np.cumsum(lengths)]), np.arange(0.0, 1200.0)
    return time_s, np.column_stack([np.interp(1.2 * time_s, along, corners[:, j]) for j in (0, 1)])


def fused(time_s: np.ndarray, place_m: np.ndarray) -> FusedPath:
    blank = np.full(time_s.size, np.nan)
    track = Track(time_s, place_m[:, 0], place_m[:, 1], blank, blank, blank)
    run = Recording("walk", RunInfo(), dt.datetime(2026, 1, 17, tzinfo=dt.UTC), track, None, (Mark(0.0, "start"),))
    drill = Drill("bowl", dt.date(2026, 1, 17), Origin(46.0, 7.0, 1900.0), Slope(), (Transmitter("A", 5.0, 5.0, 1.0),))
    path = fuse_runs(drill, [run], fine_radius_m=3.0, draws=0)[0]
    assert isinstance(path, FusedPath)
    return path


@pytest.mark.parametrize("step_s", [1, 11, 15, 20, 30])
@pytest.mark.parametrize("seed", [5, 6])
def test_the_path_stays_by_fixes_that_are_far_apart(step_s, seed):
    """2026-11-26: a real walk thinned to 15, 20, 30 s ran up to 41, 125, 192 m from its own fixes, in silence."""
    time_s, place_m = walk_around(seed)
    kept, fixes = time_s[::step_s], place_m[::step_s]
    path = fused(kept, fixes)
    near = np.column_stack([np.interp(kept, path.time_s, path.draws.path_m[0][:, j]) for j in (0, 1)])
    off, sigma = np.linalg.norm(near - fixes, axis=1), np.interp(kept, path.time_s, path.sigma_m)
    assert np.mean(off <= HALF_OF_ALL_2D * sigma) >= 0.95
    assert off.max() < 5.0


def test_in_a_hole_the_claim_grows_as_a_walker_could_have_gone():
    time_s, place_m = walk_around(5)
    kept = (time_s < 300.0) | (time_s >= 360.0)
    path = fused(time_s[kept], place_m[kept])
    middle = float(np.interp(330.0, path.time_s, path.sigma_m))
    beside = float(np.interp(290.0, path.time_s, path.sigma_m))
    assert middle > 2.0 * beside
    true = np.array([np.interp(330.0, time_s, place_m[:, j]) for j in (0, 1)])
    found = np.array([np.interp(330.0, path.time_s, path.draws.path_m[0][:, j]) for j in (0, 1)])
    assert np.linalg.norm(found - true) <= HALF_OF_ALL_2D * middle
