"""Several tracks in one file, and habits of recorders that are no damage."""

import datetime as dt

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.folder import parse_run, run_files
from analyzer.files.tracks.gpx import parse_gpx
from analyzer.files.tracks.habits import forward
from analyzer.workspace.intake.recognise import recognise

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)


def stamp(second):
    return (ZERO + dt.timedelta(seconds=second)).strftime("%Y-%m-%dT%H:%M:%SZ")


def walk_from(second, n=15, latitude=46.0):
    return [(latitude, round(7.0 + i * 1e-5, 7), stamp(second + i), "") for i in range(n)]


@pytest.fixture
def file_of(gpx):
    """Return a function that puts tracks, by title, into one GPX file."""

    def make(**tracks):
        parts = []
        for title, points in tracks.items():
            one = gpx(points).decode()
            parts.append(
                one[one.index("<trk>") : one.index("</trk>") + 6].replace("<trk>", f"<trk><name>{title}</name>")
            )
        return one[: one.index("<trk>")].encode() + "".join(parts).encode() + b"</gpx>"

    return make


def test_each_of_two_tracks_is_a_run_by_its_window(drill, file_of):
    data = file_of(late=walk_from(600, latitude=46.0001), early=walk_from(0))
    for begin, north_m in ((0, 0.0), (600, 11.1)):
        window = f'window = ["{stamp(begin)}", "{stamp(begin + 14)}"]'.encode()
        run = parse_run("r", {"track.gpx": data, "run.toml": window}, drill)
        assert run.time_zero == ZERO + dt.timedelta(seconds=begin)
        assert dict(run.inputs[0].dropped) == {"outside the window": 15}
        np.testing.assert_allclose(run.track.north_m, north_m, atol=0.1)


def test_without_a_choice_the_tracks_are_named_with_their_times(drill, file_of):
    data = file_of(Bo=walk_from(600), Ada=walk_from(0))
    for line in (recognise(data, name="day.gpx").problem, refused({"track.gpx": data}, drill)):
        assert f"2 tracks, one run has one: 'Ada' {stamp(0)} to {stamp(14)}, 'Bo' {stamp(600)} to {stamp(614)}" in line
        assert "window in run.toml" in line
    far = file_of(Bo=walk_from(90_000), Ada=walk_from(0, n=20))
    assert "2 tracks" in refused({"track.gpx": far}, drill)  # the longer one is not taken without a word


def test_marks_with_times_of_day_choose_a_track_far_from_the_others(drill, file_of):
    data = file_of(Bo=walk_from(90_000), Ada=walk_from(0, n=20))
    marks = f"time,mark\n{stamp(90_001)},start\n".encode()
    assert parse_run("r", {"track.gpx": data, "marks.csv": marks}, drill).time_zero.day == 18


def test_tracks_of_the_same_time_cannot_be_told_apart(file_of):
    with pytest.raises(InputError, match="recorded at the same time: 'Ada' "):
        parse_gpx(file_of(Ada=walk_from(0), Bo=walk_from(13)))


def test_a_track_without_times_beside_one_with_times_is_counted(file_of):
    untimed = [(46.0, 7.0, None, "")] * 3
    fixes = parse_gpx(file_of(plan=untimed, walked=walk_from(0)))
    assert (len(fixes.time_s), dict(fixes.dropped)) == (15, {"in a track without times": 3})


def refused(data, drill):
    with pytest.raises(InputError) as caught:
        parse_run("r", data, drill)
    return str(caught.value)


def test_a_pause_written_as_a_place_off_the_earth_is_counted(drill, gpx):
    points = walk_from(0, n=30)
    points[10:12] = [(100, 0, stamp(10), ""), (200, 0, stamp(11), "")]
    assert dict(parse_run("r", {"track.gpx": gpx(points)}, drill).inputs[0].dropped) == {
        "at a pause, without a position": 2
    }
    points[12] = (100, 7, stamp(12), "")  # no pause: its longitude is a place
    assert "is not on Earth" in refused({"track.gpx": gpx(points)}, drill)


@pytest.mark.parametrize("n", [40, 60])
def test_few_stamps_that_run_back_are_counted_and_many_are_refused(drill, gpx, n):
    points = walk_from(0, n=n)
    points[20:22] = [(p[0], p[1], stamp(3), "") for p in points[20:22]]  # 2 of 40 are 5 %, 3 are more
    assert dict(parse_run("r", {"track.gpx": gpx(points)}, drill).inputs[0].dropped) == {"a time that runs back": 2}
    points[22:26] = [(p[0], p[1], stamp(3), "") for p in points[22:26]]
    line = refused({"track.gpx": gpx(points)}, drill)
    assert "point 21: the time runs back by 16 s" in line
    assert f"as 6 of {n} points do" in line


def test_a_single_stamp_far_ahead_does_not_set_aside_all_that_follow():
    assert forward(np.array([0.0, 1.0, 900.0, 2.0, 2.0, 3.0])).tolist() == [True, True, False, True, True, True]


@pytest.mark.parametrize("year", [1901, 1970, 2106])
def test_a_clock_that_was_not_set_is_named_as_such(drill, gpx, year):
    points = [(p[0], p[1], p[2].replace("2026", str(year)), "") for p in walk_from(0)]
    line = refused({"track.gpx": gpx(points)}, drill)
    if year < 1970:
        assert f"point 1 (line 4): the year {year} is not between 1970 and" in line
        assert "the clock of the recorder" in line
    else:
        assert f"point 1: the time lies in the year {year}: the recorder's clock was not set" in line


def test_the_name_of_a_track_may_be_in_capitals(tmp_path):
    (tmp_path / "Track.GPX").write_bytes(b"x")
    assert run_files(tmp_path)["track"].name == "Track.GPX"


def test_a_place_that_is_not_finite_twice_at_one_time_is_set_aside_and_counted(drill):
    rows = [f"$GPGGA,0930{i:02d},4600.0,N,00700.{i:03d},E,1,8,1,0,M,,,," for i in range(30)]
    rows[5] = rows[6] = "$GPGGA,093005,4600.0,N,0071e999,E,1,8,1,0,M,,,,"
    read = parse_run("r", {"track.nmea": "\n".join(rows).encode()}, drill)
    assert dict(read.inputs[0].dropped)["cut off or damaged"] == 2
