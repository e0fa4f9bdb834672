"""What makes a stretch of misfits, what it is called, and what becomes of its readings."""

import dataclasses

import numpy as np
import pytest

from analyzer.engine.fusion.reading_doubts import (
    FIRST,
    doubts_again,
    doubts_of,
    expected_readings,
    grown_doubts,
    stretches,
    with_doubted,
)
from analyzer.engine.fusion.rows import STUDENT_DOF
from analyzer.model.path import ERRATIC, FARTHER, NEARER, OTHER, Draws, FusedPath, UsedReadings
from analyzer.physics.dipole import dipole_field

N = 61
TIME_S = np.arange(float(N))
PLACES = np.array([[0.0, 0.0], [25.0, 5.0]])
AXES = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
DEPTH_M = np.array([1.0, 0.8])


def path_with(reading_m, weight=None, which=0, antennas=3):
    """Return a walk past two transmitters with these readings, a second apart, well trusted where not said."""
    walk = np.column_stack([np.linspace(-20.0, 40.0, N), np.full(N, 4.0)])
    one = np.ones(N)
    readings = UsedReadings(TIME_S, reading_m, which * one, one if weight is None else weight)
    draws = Draws(
        path_m=walk[None],
        velocity_mps=np.ones((1, N, 2)),
        transmitter_m=PLACES[None],
        axis=AXES[None],
        reading_scale=[1.1],
        clock_offset_s=[0.0],
    )
    return FusedPath(TIME_S, one, one, draws, readings, ("T1", "T2"), DEPTH_M, np.zeros(2), "given", antennas, False)


def weight_of(sigmas):
    """Return the weight that a Student-t fit gives a residual of so many standard deviations."""
    return (STUDENT_DOF + 1.0) / (STUDENT_DOF + sigmas**2)


EXPECTED = expected_readings(path_with(np.ones(N)), path_with(np.ones(N)).readings)


def test_expected_readings_are_those_of_the_dipole():
    """The field itself is held against magpylib in tests/reference."""
    path = path_with(np.ones(N))
    for k in (0, 1):
        offset = np.column_stack([path.draws.path_m[0] - PLACES[k], np.full(N, 1.0 + DEPTH_M[k])])
        field = np.linalg.norm(dipole_field(offset, AXES[k]), axis=1)
        ratio = EXPECTED[:, k] * field ** (1.0 / 3.0)
        near = np.linalg.norm(offset, axis=1) < 20.0  # beyond, the field is not the near one alone
        assert ratio[near] == pytest.approx(np.full(near.sum(), ratio[near][0]), rel=0.02)


@pytest.mark.parametrize(
    ("factor", "kind"), [(np.full(8, 0.4), NEARER), (np.full(8, 2.5), FARTHER), (np.tile([0.4, 2.5], 4), ERRATIC)]
)
def test_a_stretch_is_found_and_called_what_it_is(factor, kind):
    shown, weight = EXPECTED[:, 0].copy(), np.ones(N)
    shown[10:18] *= factor
    weight[10:18] = weight_of(9.0)
    (doubt,), doubted = doubts_of(path_with(shown, weight))
    assert (doubt.kind, doubt.transmitter, doubt.count, doubt.named) == (kind, "T1", 8, "")
    assert (doubt.start_s, doubt.end_s) == (10.0, 17.0)
    assert np.flatnonzero(doubted).tolist() == list(range(10, 18))


def test_readings_of_the_other_transmitter_are_named():
    shown, weight = EXPECTED[:, 0].copy(), np.ones(N)
    shown[40:50] = EXPECTED[40:50, 1]
    weight[40:50] = weight_of(9.0)
    (doubt,), _ = doubts_of(path_with(shown, weight))
    assert (doubt.kind, doubt.transmitter, doubt.named) == (OTHER, "T1", "T2")


@pytest.mark.parametrize("antennas", [1, 2, 3])
def test_nothing_is_said_of_one_antenna(antennas):
    weight = np.ones(N)
    weight[10:18] = weight_of(9.0)
    assert len(doubts_of(path_with(0.4 * EXPECTED[:, 0], weight, antennas=antennas))[0]) == (antennas > 1)


def test_a_log_that_fits_nowhere_is_left_to_the_other_words():
    weight = np.full(N, weight_of(9.0))
    weight[:20] = 1.0
    assert doubts_of(path_with(0.4 * EXPECTED[:, 0], weight))[0] == ()


@pytest.mark.parametrize(
    ("sigmas", "parts"),
    [
        ([0, 9, 9, 9, 9, 0], [(1, 5)]),
        ([0, 9, 9, 9, 0, 0], []),  # three are too few
        ([9, 0, 0, 9, 9, 0, 9, 9], [(0, 8)]),
        ([9, 0, 0, 0, 9, 9, 9, 9], [(4, 8)]),
        ([4, 4, 4, 4, 4, 4], []),  # none is far off
        ([4, 4, 7, 4, 4, 4], [(0, 6)]),
        ([3, 3, 3, 3, 9, 9, 3], []),
    ],
)
def test_what_makes_a_stretch(sigmas, parts):
    found = stretches(np.arange(float(len(sigmas))), np.array(sigmas, float), FIRST)
    assert [(part.start, part.stop) for part in found] == parts


def test_a_long_silence_ends_a_stretch():
    time_s = np.array([0.0, 1.0, 2.0, 3.0, 20.0, 21.0, 22.0, 23.0])
    assert len(stretches(time_s, np.full(8, 9.0), FIRST)) == 2
    assert len(stretches(np.arange(8.0), np.full(8, 9.0), FIRST)) == 1


def test_readings_are_put_back_without_weight():
    shown, weight = EXPECTED[:, 0].copy(), np.ones(N)
    shown[10:18] *= 0.4
    weight[10:18] = weight_of(9.0)
    before = path_with(shown, weight)
    doubts, doubted = doubts_of(before)
    rest = UsedReadings(TIME_S[~doubted], shown[~doubted], np.zeros(N - 8), np.ones(N - 8))
    again = with_doubted(dataclasses.replace(before, readings=rest), before, doubts, doubted)
    assert again.readings.weight[doubted].tolist() == [0.0] * 8
    assert np.all(again.readings.weight[~doubted] == 1.0)
    assert again.dropped == (("readings that do not fit the track", 8),)


def test_the_second_look_asks_all_readings_on_the_better_path():
    """A first fit that was pulled doubts the wrong readings; on the path found without any near them it is seen."""
    shown, weight = EXPECTED[:, 0].copy(), np.ones(N)
    shown[42:50] *= 0.4
    weight[48:56] = weight_of(9.0)  # the first fit was pulled: half of what it doubts is right
    shown[50:56] *= 0.999
    first = path_with(shown, weight)
    found, doubted = doubts_of(first)
    assert np.flatnonzero(doubted).tolist() == list(range(48, 56))
    ((_, wide),) = grown_doubts([(found, doubted)], [first])
    assert np.flatnonzero(wide).tolist() == list(range(33, N))
    aside = dataclasses.replace(first.draws, path_m=first.draws.path_m + np.array([0.0, 12.0]))
    worse = dataclasses.replace(first, draws=aside)
    (doubt,), again = doubts_again([worse, first], first)
    assert np.flatnonzero(again).tolist() == list(range(42, 50))
    assert doubt.kind == NEARER
    assert doubts_again([], first)[0] == ()


def test_a_log_is_not_left_out_whole():
    doubted = np.zeros(N, bool)
    doubted[30:34] = True
    first = path_with(EXPECTED[:, 0])
    many = dataclasses.replace(first, readings=dataclasses.replace(first.readings, time_s=TIME_S / 3.0))
    found = doubts_of(path_with(0.4 * EXPECTED[:, 0], np.where(doubted, weight_of(9.0), 1.0)))[0]
    ((_, wide),) = grown_doubts([(found, doubted)], [many])
    assert wide.tolist() == doubted.tolist()
    assert grown_doubts([((), doubted)], [first])[0][0] == ()
