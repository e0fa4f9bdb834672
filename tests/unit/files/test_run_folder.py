"""A run from its files: time zero, what is set aside, and what does not belong."""

import dataclasses
import datetime as dt

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.folder import parse_run, read_drill_folder, read_run, run_files
from analyzer.model.drill import Transmitter

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)


def csv_track(rows) -> bytes:
    return ("time,east_m,north_m,sigma_m\n" + "\n".join(rows)).encode()


def stamp(second: float) -> str:
    return (ZERO + dt.timedelta(seconds=second)).isoformat()


def walk_rows(n=30, sigma=""):
    return [f"{stamp(i)},{i * 0.5:.2f},0.0,{sigma}" for i in range(n)]


def test_time_zero_is_the_first_fix_without_a_start_mark(drill):
    run = parse_run("r", {"track.csv": csv_track(walk_rows())}, drill)
    assert run.time_zero == ZERO
    np.testing.assert_array_equal(run.track.time_s, np.arange(30.0))
    assert run.readings is None
    assert run.marks == ()


def test_fixes_before_the_start_mark_are_set_aside_and_counted(drill):
    marks = f"time,mark\n{stamp(10.5)},start\n{stamp(25)},finish\n".encode()
    run = parse_run("r", {"track.csv": csv_track(walk_rows()), "marks.csv": marks}, drill)
    assert run.time_zero == ZERO + dt.timedelta(seconds=10.5)
    assert run.track.time_s[0] == 0.5
    (track, _) = run.inputs
    assert (track.rows, track.used, dict(track.dropped)) == (30, 19, {"before the start": 11})
    assert [(m.mark, m.time_s) for m in run.marks] == [("start", 0.0), ("finish", 14.5)]


def test_elapsed_counts_from_the_start_mark(drill):
    data = {
        "track.csv": csv_track(walk_rows()),
        "marks.csv": f"time,elapsed,mark\n{stamp(10)},,start\n,0:12,probe_hit\n".encode(),
        "readings.csv": b"elapsed,reading_m\n1,30\n0:02.5,29\n",
    }
    run = parse_run("r", data, drill)
    np.testing.assert_array_equal(run.readings.time_s, [1.0, 2.5])
    assert run.readings.by_hand
    assert run.marks[-1].time_s == 12.0


@pytest.mark.parametrize(("start_s", "expected"), [(5.0, 6.0), (-3600.0, 1.0), (None, 1.0)])
def test_elapsed_without_start_mark(drill, start_s, expected):
    """From the drill's start where the track covers it, else from the first fix; time zero stays the first fix."""
    start = None if start_s is None else ZERO + dt.timedelta(seconds=start_s)
    data = {"track.csv": csv_track(walk_rows()), "readings.csv": b"elapsed,reading_m\n1,30\n"}
    run = parse_run("r", data, dataclasses.replace(drill, start=start))
    assert run.time_zero == ZERO
    assert run.readings.time_s[0] == expected


def test_readings_with_time_of_day_keep_their_own_clock(drill):
    data = {
        "track.csv": csv_track(walk_rows()),
        "readings.csv": f"time,reading_m,transmitter\n{stamp(-95)},30,A\n{stamp(3)},20,\n".encode(),
    }
    run = parse_run("r", data, drill)
    np.testing.assert_array_equal(run.readings.time_s, [-95.0, 3.0])
    assert run.readings.transmitter == ("A", None)
    assert not run.readings.by_hand


def test_degrees_are_placed_in_the_drill(drill, gpx, walk):
    """1e-5 degree of longitude at 46 degrees is 0.7746 m and of latitude 1.1115 m (exact radii of WGS 84)."""
    run = parse_run("r", {"track.gpx": gpx(walk())}, drill)
    np.testing.assert_allclose(np.diff(run.track.east_m), 0.7746, atol=1e-4)
    np.testing.assert_allclose(run.track.north_m, 0.0, atol=1e-3)
    assert run.track.resolution_m == pytest.approx(1.1115, rel=2e-3)


@pytest.mark.parametrize(("sigma", "survey"), [("0.02", True), ("0.3", True), ("0.5", False), ("", False)])
def test_survey_grade(drill, sigma, survey):
    assert parse_run("r", {"track.csv": csv_track(walk_rows(sigma=sigma))}, drill).track.survey_grade is survey


def test_survey_grade_needs_most_fixes(drill):
    rows = walk_rows(10, "0.02") + walk_rows(30)[10:]
    assert parse_run("r", {"track.csv": csv_track(rows)}, drill).track.survey_grade is False


def test_gaps_and_outliers_are_not_errors(drill):
    rows = walk_rows()
    del rows[5:20]
    rows[3] = f"{stamp(3)},700,0,"
    assert len(parse_run("r", {"track.csv": csv_track(rows)}, drill).track.time_s) == 15


def test_doubled_rows_and_points_without_time_are_counted(drill):
    rows = walk_rows(50)
    rows[7:7] = [rows[7]]  # the same row twice
    rows[21:21] = [f"{stamp(19)},300,300,"]  # one second place at second 19
    rows.append(",1,1,")
    run = parse_run("r", {"track.csv": csv_track(rows)}, drill)
    assert dict(run.inputs[0].dropped) == {
        "no time": 1, "the same point again": 1, "a second place at the same time": 1}  # fmt: skip
    assert len(run.track.time_s) == 50
    assert run.track.east_m[19] == 9.5  # the first one is kept


def test_a_few_fixes_far_away_are_counted(drill, gpx, walk):
    points = walk(30)
    points[3] = (0.0, 0.0, points[3][2], "")
    points[4] = (-46.0, -173.0, points[4][2], "")  # the far side of the Earth, where a tangent plane folds over
    run = parse_run("r", {"track.gpx": gpx(points)}, drill)
    assert dict(run.inputs[0].dropped) == {"no fix (0, 0)": 1, "far from the drill": 1}
    assert len(run.track.time_s) == 28


@pytest.mark.parametrize(
    ("change", "pieces"),
    [
        (lambda r: [x.replace("+00:00", "") for x in r], ["line 2", "no offset from UTC"]),
        (lambda r: ["," + x.partition(",")[2] for x in r], ["no time stamps"]),
        (lambda r: r[:20] + ["," + x.partition(",")[2] for x in r[20:]], ["line 22", "10 of 30 points have no time"]),
        (lambda r: r[:10] + r[5:], ["line 12", "runs back by 4 s"]),
        (lambda r: r[:9], ["only 9 usable fixes", "10 are needed"]),
        (lambda r: [x.replace(",0.0,", ",2500.0,") for x in r], ["2.5 km from the drill"]),
        (
            lambda r: r[:20] + [x.replace(",0.0,", ",9000.0,") for x in r[20:]],
            ["10 of 30 points are over 2 km", "line 22"],
        ),
        (lambda r: [y for i, x in enumerate(r) for y in (x, f"{stamp(i)},99,99,")], ["second place at the same time"]),
    ],
)
def test_unusable_tracks_say_why(drill, change, pieces):
    with pytest.raises(InputError) as caught:
        parse_run("r", {"track.csv": csv_track(change(walk_rows()))}, drill)
    for piece in pieces:
        assert piece in str(caught.value)


@pytest.mark.parametrize(
    ("points", "pieces"),
    [
        (lambda p: [(lon, lat, t, x) for lat, lon, t, x in p], ["latitude and longitude are swapped"]),
        (lambda p: [*p[:4], (95.0, 7.0, p[4][2], ""), *p[5:]], ["point 5", "latitude 95, longitude 7 is not on Earth"]),
        (lambda p: [(47.0, lon, t, x) for _, lon, t, x in p], ["111 km from the drill"]),
        (lambda p: [(0.0, 0.0, t, x) for _, _, t, x in p], ["no point has a position", "wait for a fix"]),
    ],
)
def test_tracks_elsewhere_say_so(drill, gpx, walk, points, pieces):
    with pytest.raises(InputError) as caught:
        parse_run("r", {"track.gpx": gpx(points(walk()))}, drill)
    for piece in pieces:
        assert piece in str(caught.value)


@pytest.mark.parametrize(
    ("name", "data", "pieces"),
    [
        ("readings.csv", f"time,reading_m\n{stamp(3600)},12\n", ["readings.csv", "min from the track"]),
        ("readings.csv", f"time,reading_m\n{stamp(-86400)},12\n", ["1440 min from the track"]),
        (
            "readings.csv",
            "elapsed,reading_m,transmitter\n1,12,B\n",
            ["line 2", "'B' is not in drill.toml", "use one of A"],
        ),
        ("marks.csv", "elapsed,mark,transmitter\n1,probe_hit,Q\n", ["'Q' is not in drill.toml"]),
        ("marks.csv", f"time,mark\n{stamp(100)},start\n", ["line 2", "71 s after the last fix"]),
        ("marks.csv", f"time,mark\n{stamp(-5000)},start\n", ["5000 s before the first fix"]),
        ("marks.csv", f"time,mark\n{stamp(25)},start\n", ["only 5 usable fixes"]),
        ("marks.csv", f"time,mark\n{stamp(5000)},finish\n", ["'finish' lies 83 min from the track"]),
        ("marks.csv", f"time,mark\n{stamp(5000)},airway_free\n", ["'airway_free' lies 83 min from the track"]),
        ("marks.csv", f"time,mark\n{stamp(1200)},probe\n", ["'probe' lies 20 min from the track"]),
        ("marks.csv", "elapsed,mark\n1,hold_begin\n", ["the hold does not end"]),
        ("marks.csv", "elapsed,mark\n1,hold_end\n", ["a hold ends that did not begin"]),
        ("marks.csv", "elapsed,mark\n1,hold_begin\n2,hold_begin\n", ["line 3", "before the last one ended"]),
        ("run.toml", "antennas = 0\n", ["run.toml, antennas"]),
    ],
)
def test_what_does_not_fit_the_run_says_so(drill, name, data, pieces):
    with pytest.raises(InputError) as caught:
        parse_run("r", {"track.csv": csv_track(walk_rows()), name: data.encode()}, drill)
    for piece in pieces:
        assert piece in str(caught.value)


def test_clocks_ten_minutes_apart_are_accepted(drill):
    data = {"track.csv": csv_track(walk_rows()), "readings.csv": f"time,reading_m\n{stamp(600)},12\n".encode()}
    assert parse_run("r", data, drill).readings.time_s[0] == 600.0


def test_digging_goes_on_when_the_recorder_has_been_put_away(drill):
    data = f"time,mark\n{stamp(700)},dig_begin\n{stamp(1500)},airway_free\n".encode()
    marks = parse_run("r", {"track.csv": csv_track(walk_rows()), "marks.csv": data}, drill).marks
    assert [(mark.mark, mark.time_s) for mark in marks] == [("dig_begin", 700.0), ("airway_free", 1500.0)]


@pytest.fixture
def folder(tmp_path):
    """Return a drill folder with two runs."""
    (tmp_path / "drill.toml").write_text(
        '[drill]\nname = "x"\norigin = {latitude = 46.0, longitude = 7.0}\n'
        '[[transmitter]]\nid = "A"\neast_m = 20\nnorth_m = 0\ndepth_m = 1\n'
    )
    for name in ("zoe-1", "mara-1"):
        run = tmp_path / "runs" / name
        run.mkdir(parents=True)
        (run / "track.csv").write_bytes(csv_track(walk_rows()))
    (tmp_path / "runs" / ".hidden").mkdir()
    return tmp_path


def test_drill_folder_lists_runs_by_name(folder):
    read = read_drill_folder(folder)
    assert [p.name for p in read.runs] == ["mara-1", "zoe-1"]
    assert [i.role for i in read.inputs] == ["drill"]
    run = read_run(read.runs[0], read.drill)
    assert (run.run_id, len(run.track.time_s)) == ("mara-1", 30)


def test_waypoint_file_is_an_input(folder):
    text = (folder / "drill.toml").read_text().replace("east_m = 20\nnorth_m = 0\n", "")
    (folder / "drill.toml").write_text('waypoints = "site.gpx"\n' + text)
    (folder / "site.gpx").write_text('<gpx><wpt lat="46.0001" lon="7"><name>A</name></wpt></gpx>')
    read = read_drill_folder(folder)
    assert read.drill.transmitters[0].north_m == pytest.approx(11.1151, abs=1e-3)
    assert [i.role for i in read.inputs] == ["drill", "waypoints"]
    assert isinstance(read.drill.transmitters[0], Transmitter)


@pytest.mark.parametrize(
    ("files", "pieces"),
    [
        ([], ["there is no track"]),
        (["track.csv", "track.gpx"], ["two tracks, track.csv and track.gpx"]),
        (["activity.gpx"], ["run/activity.gpx", "name it track.gpx"]),
        (["track.csv", "reading.csv"], ["run/reading.csv", "name it readings.csv"]),
        (["track.csv", "Marks.csv"], ["name it marks.csv"]),
        (["track.csv", "other.gpx"], ["run/other.gpx", "remove it"]),
    ],
)
def test_misnamed_files_are_told(tmp_path, files, pieces):
    run = tmp_path / "run"
    run.mkdir()
    for name in files:
        (run / name).write_text("x")
    with pytest.raises(InputError) as caught:
        run_files(run)
    for piece in pieces:
        assert piece in str(caught.value)


def test_other_kinds_of_files_may_lie_beside(tmp_path):
    for name in ("track.fit", "readings.csv", "helmet.mp4", "notes.txt", "._track.gpx"):
        (tmp_path / name).write_text("x")
    assert {role: p.name for role, p in run_files(tmp_path).items()} == {
        "track": "track.fit", "readings": "readings.csv"}  # fmt: skip


def test_a_folder_above_or_below_a_drill_is_led_to_the_drill(tmp_path):
    drill = tmp_path / "club/drills/bowl"
    (drill / "runs/mara-1").mkdir(parents=True)
    assert "write one" in not_a_drill(tmp_path / "club")
    (drill / "drill.toml").write_text("")
    for above in (tmp_path / "club", tmp_path / "club/drills"):
        assert not_a_drill(above).endswith(f"; give the folder of a drill, such as {drill}")
    assert not_a_drill(drill / "runs/mara-1").endswith("; this is a run; give the folder of its drill, bowl")
    assert "write one" in not_a_drill(drill / "runs")


def not_a_drill(folder):
    with pytest.raises(InputError) as caught:
        read_drill_folder(folder)
    assert "there is no drill.toml in the folder" in str(caught.value)
    return str(caught.value)
