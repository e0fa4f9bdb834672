"""The ideal coarse path from draws."""

import numpy as np
import pytest

from analyzer.engine.ideal.coarse import coarse_ideal, coarse_ideal_of, positions_at
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.path import Draws, FusedPath, UsedReadings
from analyzer.physics.field_lines import trace_lines

FLAT = [1.0, 0.0, 0.0]


def ideal(start, axis=FLAT, **changed):
    settings = {"transmitter": "T1", "depth_m": 1.0, "height_m": 1.0, "fine_radius_m": 3.0, "stop_on": "ground"}
    start = np.atleast_2d(start)
    return coarse_ideal(start, np.zeros_like(start), np.broadcast_to(axis, (len(start), 3)), **(settings | changed))


def fused(*, axis_source="given", with_readings=True, draws=3):
    time_s = np.arange(5.0)
    path = np.stack([np.column_stack([np.full(5, 2.0 + i), 40.0 - 5.0 * time_s]) for i in range(draws)])
    readings = UsedReadings([1.0], [30.0], [0.0], [1.0]) if with_readings else None
    return FusedPath(
        time_s=time_s,
        sigma_m=np.ones(5),
        height_m=np.full(5, 1.0),
        draws=Draws(
            path,
            np.zeros_like(path),
            np.zeros((draws, 2, 2)),
            np.broadcast_to([[0.0, 0.0, 1.0], FLAT], (draws, 2, 3)),
            np.full(draws, 1.1),
            np.zeros(draws),
        ),
        readings=readings,
        transmitter_ids=("A", "B"),
        depth_m=[2.0, 1.0],
        transmitter_sigma_m=[0.2, 0.2],
        axis_source=axis_source,
        antennas=3,
        survey_grade=False,
    )


def test_positions_are_each_draws_own():
    path = np.array([[[0, 0], [10, 0], [10, 10.0]], [[0, 1], [10, 1], [10, 11.0]]])
    got = positions_at([0.0, 1.0, 3.0], path, [0.5, 2.0])
    assert got == pytest.approx(np.array([[5, 0], [10, 6.0]]))
    assert positions_at([0.0, 1.0, 3.0], path, [-5.0, 99.0]) == pytest.approx(np.array([[0, 0], [10, 11.0]]))
    assert np.isnan(positions_at([0.0, 1.0, 3.0], path, [np.nan, 1.0])[0]).all()


def test_length_and_straight_way_of_one_draw():
    # upright antenna: straight in
    got = ideal([0.0, 30.0], axis=[0.0, 0.0, 1.0])
    assert got.length_m.value == pytest.approx(27.0, abs=1e-6)
    assert got.straight_m == pytest.approx(27.0, abs=1e-6)
    assert (got.length_m.low, got.length_m.high) == (got.length_m.value, got.length_m.value)
    assert got.line_m[0] == pytest.approx([0.0, 30.0])


def test_interval_comes_from_the_draws():
    start = np.column_stack([np.zeros(101), 30.0 + np.concatenate([[0.0], np.linspace(-2, 2, 100)])])
    got = ideal(start, axis=[0.0, 0.0, 1.0])
    assert got.length_draws_m == pytest.approx(start[:, 1] - 3.0, abs=1e-6)
    # 5 % and 95 % of 100 even values from 25 to 29 by the k / (S + 1) rule: ranks 5.05 and 95.95
    ends = 25.0 + 4.0 / 99.0 * np.array([4.05, 94.95])
    assert (got.length_m.low, got.length_m.high) == pytest.approx(tuple(ends), abs=1e-6)


def test_unknown_axis_gives_a_range_over_all_axes():
    known, unknown = ideal([0.0, 30.0]), ideal([0.0, 30.0], axis_known=False)
    assert known.length_m.high - known.length_m.low == 0.0
    # from straight in (27 m) to the equator of a flat antenna
    assert unknown.length_m.low == pytest.approx(27.2, abs=0.5)
    assert unknown.length_m.value < unknown.length_m.high <= known.length_m.value + 0.5
    many = ideal(np.tile([0.0, 30.0], (65, 1)), axis_known=False)
    assert many.length_m.value == unknown.length_m.value
    assert many.length_m.high == pytest.approx(unknown.length_m.high, rel=0.03)


def test_acquisition_not_known_is_not_assessable():
    got = ideal([[np.nan, np.nan], [0.0, 30.0]])
    assert isinstance(got.length_m, NotAssessable)
    assert got.line_m.shape == (0, 2)
    assert np.isnan(got.length_draws_m).all()


@pytest.mark.parametrize("with_readings", [True, False])
def test_from_a_fused_path(with_readings):
    path = fused(with_readings=with_readings)
    got = coarse_ideal_of(path, transmitter="B", acquired_s=[1.0, 1.0, 2.0], fine_radius_m=3.0)
    expected = trace_lines(
        [[2.0, 35.0], [3.0, 35.0], [4.0, 30.0]],
        [0.0, 0.0],
        FLAT,
        depth_m=1.0,
        height_m=1.0,
        stop_m=3.0,
        scale=1.1,
        stop_on="reading" if with_readings else "ground",
    )
    assert got.length_draws_m == pytest.approx(expected.length_m, abs=1e-9)
    assert isinstance(got.length_m, Figure)
    assert got.transmitter == "B"


def test_from_a_fused_path_without_axes():
    path = fused(axis_source="unknown")
    got = coarse_ideal_of(path, transmitter="B", acquired_s=[1.0, 1.0, 1.0], fine_radius_m=3.0)
    known = coarse_ideal_of(fused(), transmitter="B", acquired_s=[1.0, 1.0, 1.0], fine_radius_m=3.0)
    assert got.length_m.value < known.length_m.value
