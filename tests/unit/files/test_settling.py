"""Fixes from before the receiver had settled, and places that are held."""

import dataclasses

import numpy as np
import pytest

from analyzer.files.tracks.settling import BEFORE_SETTLED, held_s
from analyzer.files.tracks.track import timed
from analyzer.files.tracks.track_csv import parse_track_csv
from analyzer.workspace.intake.recognise import recognise

STEP = 1e-5  # degrees of latitude: 1.1 m, a second's walk


def walk(latitudes, seconds=None):
    times = range(len(latitudes)) if seconds is None else seconds
    rows = [f"{1_700_000_000 + t},{value:.6f},7.0" for t, value in zip(times, latitudes, strict=True)]
    return parse_track_csv("\n".join(["time,lat,lon", *rows]).encode())


def ahead(n, begin=46.0):
    return [begin + i * STEP for i in range(n)]


def set_aside(fixes):
    kept, counts = timed(fixes)
    return len(kept.time_s), dict(counts).get(BEFORE_SETTLED, 0)


def test_fixes_before_a_jump_at_the_beginning_are_set_aside():
    assert set_aside(walk(ahead(8, 46.02) + ahead(92))) == (92, 8)
    assert set_aside(walk(ahead(4, 46.5) + ahead(4, 46.02) + ahead(92))) == (92, 8)


def test_a_single_fix_elsewhere_is_left_to_be_weighed():
    places = ahead(100)
    places[5] += 0.02
    assert set_aside(walk(places)) == (100, 0)


@pytest.mark.parametrize(
    "places",
    [
        ahead(100),
        ahead(30, 46.02) + ahead(70),  # too many for a beginning
        ahead(8, 46.0005) + ahead(92),  # 47 m
        [*ahead(8, 46.0007), 46.02, *ahead(91)],  # 78 m over two seconds, with a leap between
        [40.0 + i * 108 * STEP for i in range(1000)],  # 120 m/s all the way: a vehicle
        [46.5, 46.0],
    ],
)
def test_nothing_else_is(places):
    assert set_aside(walk(places)) == (len(places), 0)


def test_a_jump_after_the_first_two_minutes_or_over_a_pause_is_none():
    late = walk(ahead(130) + ahead(870, 46.02))
    assert set_aside(late) == (1000, 0)
    pause = walk(ahead(8, 46.002) + ahead(92), [*range(8), *range(50, 142)])
    assert set_aside(pause) == (100, 0)


def test_tracks_in_metres_as_well():
    fixes = walk(ahead(8, 46.02) + ahead(92))
    metres = dataclasses.replace(fixes, geographic=False, first=(fixes.first - 46.0) * 111_195.0, second=fixes.second)
    assert set_aside(metres) == (92, 8)


def test_a_place_that_stays_the_same_is_told():
    places = ahead(50) + [46.0005] * 80 + ahead(50, 46.0006)
    assert held_s(walk(places)) == 79.0
    assert held_s(walk([46.0] * 100)) == 0.0
    assert held_s(walk([46.0, 46.0, 46.1], [0, 300, 600])) == 0.0
    rows = "\n".join(f"{1_700_000_000 + i},{value:.6f},7.0" for i, value in enumerate(places))
    found = recognise(f"time,lat,lon\n{rows}\n".encode(), name="t.csv")
    assert found.told == "its place stays the same to the last digit for 79 s on end"
    assert np.isclose(found.latitude, 46.0005)
