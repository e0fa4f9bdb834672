"""A track that was recorded elsewhere, or on another day, is never called clear."""

import dataclasses
import datetime as dt
import math

import pytest

from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run
from analyzer.workspace.intake.doubts import Spot, distance_m, doubts
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import DRILL, NO, TRACK, UNDECIDED, YES, DrillPlace, IncomingFile
from analyzer.workspace.intake.recognise import recognise

BOWL = DrillPlace("bowl", "Bowl", "d" * 64, latitude=46.6, longitude=9.9, day="2026-02-14")
NOON = dt.datetime(2026, 2, 14, 11, 0, tzinfo=dt.UTC)


def track(moment=NOON, latitude=46.6, longitude=9.9, **more):
    begin = moment.timestamp()
    values = {"path": "mara.gpx", "sha256": "m", "size": 1, "kind": TRACK, "ending": ".gpx"} | more
    return IncomingFile(1, begin_s=begin, end_s=begin + 300.0, latitude=latitude, longitude=longitude, **values)


def plan(file, choices=None, places=(BOWL,)):
    return plan_of([file], places, choices or {})


def test_a_track_of_the_place_and_day_is_clear_and_says_how_far_it_is():
    found = plan(track(latitude=46.601))
    assert (found.runs[0].use, found.open) == (YES, ())
    # The radius of the meridian of WGS 84 in closed form: a (1 - e2) / (1 - e2 sin2)^1.5.
    a, e2 = 6_378_137.0, 0.00669437999
    metres = math.radians(0.001) * a * (1.0 - e2) / (1.0 - e2 * math.sin(math.radians(46.6)) ** 2) ** 1.5
    assert found.runs[0].near == f"{metres:.0f} m from the drill"


def test_a_track_far_away_is_to_be_decided():
    found = plan(track(latitude=49.6))
    assert found.runs[0].use == UNDECIDED
    assert found.open == (
        "mara.gpx: It lies 334 km from the drill, and no run is measured beyond 2 km: choose its own drill, or leave "
        "it out.",
    )
    assert plan(track(latitude=49.6), {"use-1": NO}).runs[0].use == NO
    assert plan(track(NOON - dt.timedelta(days=30), latitude=49.6)).open == found.open  # one question is enough
    assert doubts(track(latitude=46.617), Spot(46.6, 9.9)) == ""
    assert "2.1 km" in doubts(track(latitude=46.619), Spot(46.6, 9.9))


@pytest.mark.parametrize("days", [-400, -2, 2, 3650])
def test_a_track_of_another_day_is_to_be_decided(days):
    found = plan(track(NOON + dt.timedelta(days=days)))
    day = (NOON + dt.timedelta(days=days)).date()
    assert found.runs[0].use == UNDECIDED
    assert f"It was recorded on {day}, and the drill is of 2026-02-14: put it in if" in found.open[0]
    assert plan(track(NOON + dt.timedelta(days=days)), {"use-1": YES}).open == ()


@pytest.mark.parametrize("days", [-1, 0, 1])
def test_the_day_before_and_after_are_of_the_drill(days):
    assert plan(track(NOON + dt.timedelta(days=days))).open == ()


def test_the_day_is_that_of_the_place():
    """At 177 degrees east the morning of the 14th is still the 13th in Greenwich."""
    spot = Spot(-38.0, 177.0, "2026-02-14")
    there = {"latitude": -38.0, "longitude": 177.0}
    assert doubts(track(dt.datetime(2026, 2, 12, 13, 0, tzinfo=dt.UTC), **there), spot) == ""
    assert doubts(track(dt.datetime(2026, 2, 12, 11, 0, tzinfo=dt.UTC), **there), spot) != ""


@pytest.mark.parametrize("rollovers", [1, 2])
def test_weeks_counted_anew_are_told_and_nothing_is_repaired(rollovers):
    early = track(NOON - dt.timedelta(weeks=1024 * rollovers))
    found = plan(early)
    assert found.runs[0].use == UNDECIDED
    assert f"{1024 * rollovers} weeks before the drill's day, 2026-02-14, as receivers do" in found.open[0]
    assert found.runs[0].track.begin_s == early.begin_s
    later = plan(track(NOON - dt.timedelta(weeks=1024 * rollovers, days=3)))
    assert "weeks" not in later.open[0]


def test_a_new_drill_is_the_measure_of_its_tracks():
    drill = IncomingFile(2, "drill.toml", "t", 1, DRILL, latitude=40.0, longitude=9.9, day="2026-02-14")
    found = plan_of([track(), drill], (), {})
    assert "from the drill, and no run is measured" in found.open[0]


def test_what_is_not_known_is_no_doubt():
    assert doubts(track(), Spot()) == ""
    metres = dataclasses.replace(track(), latitude=None, longitude=None)
    assert distance_m(metres, Spot(46.6, 9.9)) is None
    assert doubts(dataclasses.replace(metres, begin_s=None), Spot(46.6, 9.9, "2020-01-01")) == ""


def test_a_track_without_a_zone_has_its_day_all_the_same():
    rows = "\n".join(f"2026-02-14 09:00:{i:02d},46.6,9.9{i:03d}" for i in range(20))
    found = recognise(f"time,lat,lon\n{rows}\n".encode(), name="local.csv")
    assert (found.problem, found.begin_s, found.day) == ("", None, "2026-02-14")
    assert found.told == "times without a zone have that of run.toml, else of the drill's start"
    other = dataclasses.replace(track(), begin_s=None, end_s=None, day="2026-02-01")
    assert "It was recorded on 2026-02-01" in doubts(other, Spot(46.6, 9.9, "2026-02-14"))
    assert recognise(f"time,lat,lon\n{rows}\n".replace(",46", "Z,46").encode(), name="z.csv").told == ""


def test_times_without_a_zone_have_that_of_the_drills_start():
    drill = (
        b'[drill]\nname = "B"\ndate = 2026-02-14\norigin = {latitude = 46.6, longitude = 9.9, elevation_m = 0.0}\n'
        b'start = 2026-02-14T09:00:00+01:00\n[[transmitter]]\nid = "A"\neast_m = 5.0\nnorth_m = 5.0\ndepth_m = 1.0\n'
    )
    rows = "\n".join(f"2026-02-14 09:00:{i:02d},46.6,9.9000{i:02d}" for i in range(20))
    run = parse_run("r", {"track.csv": f"time,lat,lon\n{rows}\n".encode()}, parse_drill_toml(drill))
    assert run.time_zero == dt.datetime(2026, 2, 14, 8, 0, tzinfo=dt.UTC)
