"""Optional keys of run.toml: zone, window, the clock of marks, and words that no result depends on."""

import datetime as dt
import math

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.folder import parse_run
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.times import parse_utc, zone_of
from analyzer.files.writers import write_run_toml
from analyzer.model.recording import Bound, RunInfo, on_track_clock
from analyzer.workspace.drill_key import drill_key

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)


def stamp(second: float, offset: str = "+00:00") -> str:
    return (ZERO + dt.timedelta(seconds=second)).replace(tzinfo=None).isoformat() + offset


def track(n=60, offset="+00:00") -> bytes:
    rows = [f"{stamp(i, offset)},{i * 0.5:.2f},0.0" for i in range(n)]
    return ("time,east_m,north_m\n" + "\n".join(rows)).encode()


@pytest.mark.parametrize(("zone", "hours"), [("Europe/Vienna", 1), ("+05:30", 5.5), ("-0300", -3), ("Z", 0)])
def test_times_without_offset_are_those_of_the_zone(drill, zone, hours):
    data = {
        "track.csv": track(offset=""),
        "readings.csv": f"time,reading_m\n{stamp(3, '')},30\n{stamp(4)},29\n".encode(),
        "marks.csv": f"time,mark\n{stamp(2, '')},start\n".encode(),
        "run.toml": f'zone = "{zone}"\n'.encode(),
    }
    if hours:  # the second reading bears its offset: it stays what it says
        data["readings.csv"] = f"time,reading_m\n{stamp(3, '')},30\n".encode()
    run = parse_run("r", data, drill)
    assert run.time_zero == ZERO + dt.timedelta(seconds=2) - dt.timedelta(hours=hours)
    assert run.readings.time_s[0] == 1.0


def test_gpx_and_tcx_times_without_offset_are_those_of_the_zone(drill, gpx):
    points = [(46.0, 7.0 + i * 1e-6, stamp(i, ""), "") for i in range(12)]
    run = parse_run("r", {"track.gpx": gpx(points), "run.toml": b'zone = "+02:00"'}, drill)
    assert run.time_zero == ZERO - dt.timedelta(hours=2)
    body = "".join(
        f"<Trackpoint><Time>{t}</Time><Position><LatitudeDegrees>{a}</LatitudeDegrees>"
        f"<LongitudeDegrees>{o}</LongitudeDegrees></Position></Trackpoint>"
        for a, o, t, _ in points
    )
    tcx = f"<TrainingCenterDatabase><Activities><Activity><Lap><Track>{body}</Track></Lap></Activity></Activities>"
    files = {"track.tcx": f"{tcx}</TrainingCenterDatabase>".encode(), "run.toml": b'zone = "+02:00"'}
    assert parse_run("r", files, drill).time_zero == ZERO - dt.timedelta(hours=2)


@pytest.mark.parametrize("name", ["track.csv", "readings.csv", "marks.csv"])
def test_times_without_offset_are_refused_without_a_zone(drill, name):
    data = {"track.csv": track()} | {
        "track.csv": {"track.csv": track(offset="")},
        "readings.csv": {"readings.csv": f"time,reading_m\n{stamp(3, '')},30\n".encode()},
        "marks.csv": {"marks.csv": f"time,mark\n{stamp(3, '')},start\n".encode()},
    }[name]
    with pytest.raises(InputError, match=rf"{name}, line 2.*no offset from UTC.*zone in run\.toml"):
        parse_run("r", data, drill)


@pytest.mark.parametrize(
    ("text", "what"), [("2026-03-29T02:30:00", "is never shown"), ("2026-10-25T02:30:00", "is shown twice")]
)
def test_a_time_that_the_clocks_show_never_or_twice_is_refused(text, what):
    zone = zone_of("Europe/Vienna")
    with pytest.raises(InputError, match=what):
        parse_utc(text, where="marks.csv, line 2", zone=zone)
    assert parse_utc(f"{text}+01:00", where="t", zone=zone) == parse_utc(f"{text}+01:00", where="t")


@pytest.mark.parametrize(
    ("window", "first", "count"),
    [
        ("[20, 40]", 20, 21),
        ('["0:20", "0:40"]', 20, 21),
        (f"[{stamp(20)}, {stamp(40)}]", 20, 21),
        (f'["{stamp(20)}", 45.5]', 20, 26),
    ],
)
def test_the_run_is_the_window_and_the_rest_is_counted(drill, window, first, count):
    marks = f"time,mark\n{stamp(5)},first_reading\n{stamp(30)},fine_start\n{stamp(55)},probe_hit\n"
    log = f"time,reading_m\n{stamp(-200)},40\n{stamp(-30)},38\n{stamp(25)},20\n{stamp(58)},1\n"
    data = {"track.csv": track(), "marks.csv": marks.encode(), "readings.csv": log.encode()}
    run = parse_run("r", data | {"run.toml": f"window = {window}".encode()}, drill)
    assert run.time_zero == ZERO + dt.timedelta(seconds=first)
    assert run.track.time_s[0] == 0.0
    assert run.track.time_s.size == count
    assert [(m.mark, m.time_s) for m in run.marks] == [("fine_start", 10.0)]
    np.testing.assert_array_equal(run.readings.time_s, [-50.0, 5.0, 38.0])
    counted = {i.role: (i.rows, i.used, dict(i.dropped)) for i in run.inputs}
    assert counted["track"] == (60, count, {"outside the window": 60 - count})
    assert counted["marks"] == (3, 1, {"outside the window": 2})
    assert counted["readings"] == (4, 3, {"outside the window": 1})


def test_elapsed_counts_from_a_start_mark_that_lies_before_the_window(drill):
    data = {
        "track.csv": track(),
        "marks.csv": f"time,elapsed,mark\n{stamp(10)},,start\n,25,fine_start\n".encode(),
        "readings.csv": b"elapsed,reading_m\n12,30\n",
    }
    run = parse_run("r", data | {"run.toml": b"window = [20, 50]"}, drill)
    assert run.time_zero == ZERO + dt.timedelta(seconds=20)
    assert [(m.mark, m.time_s) for m in run.marks] == [("fine_start", 15.0)]
    assert run.readings.time_s[0] == 2.0
    without = {**data, "marks.csv": b"elapsed,mark\n25,fine_start\n", "run.toml": b"window = [20, 50]"}
    assert parse_run("r", without, drill).marks[0].time_s == 25.0


def test_marks_out_of_the_log_of_the_readings_share_its_clock(drill):
    data = {
        "track.csv": track(),
        "readings.csv": b"elapsed,reading_m\n12,30\n",
        "marks.csv": b"elapsed,mark,clock\n0,start,\n20,fine_start,\n30,probe_hit,track\n",
        "run.toml": b'clock = "readings"',
    }
    run = parse_run("r", data, drill)
    assert [m.on_readings_clock for m in run.marks] == [False, True, False]
    moved = on_track_clock(run, 12.5)
    assert [(m.mark, m.time_s) for m in moved.marks] == [("start", 0.0), ("probe_hit", 30.0), ("fine_start", 32.5)]
    assert [m.mark for m in on_track_clock(run, None).marks] == ["start", "probe_hit"]


@pytest.mark.parametrize(
    ("files", "what"),
    [
        ({"marks.csv": b"elapsed,mark\n5,finish\n", "run.toml": b'clock = "readings"'}, "there are no readings"),
        (
            {
                "marks.csv": b"elapsed,mark,clock\n5,finish,readings\n",
                "readings.csv": f"time,reading_m\n{stamp(3)},30\n".encode(),
            },
            "readings.csv has times of day",
        ),
        ({"marks.csv": f"time,mark,clock\n{stamp(5)},finish,readings\n".encode()}, "line 2: a mark with a time of day"),
        ({"marks.csv": b"elapsed,mark,clock\n5,finish,sun\n"}, "line 2: the clock 'sun' is not known"),
        ({"run.toml": b'clock = "sun"'}, "run.toml, clock: the clock 'sun' is not known"),
        ({"run.toml": b'zone = "Europe/Nowhere"'}, "the zone 'Europe/Nowhere' is not known; write a name like"),
        ({"run.toml": b'zone = "+25:00"'}, "is not known"),
        ({"run.toml": b"window = [40, 20]"}, "run.toml, window: the window ends before it begins"),
        ({"run.toml": b"window = [40]"}, "is not a pair of times"),
        ({"run.toml": b'window = ["soon", 20]'}, "'soon' is neither seconds nor"),
        ({"run.toml": b"window = [true, 20]"}, "is no time"),
        ({"run.toml": b"window = [2026-01-17T09:30:00, 20]"}, "no offset from UTC"),
        ({"run.toml": b"window = [100, 200]"}, "only 0 of the 60 fixes of track.csv lie in the window"),
        ({"run.toml": f"window = [50, {stamp(20)}]".encode()}, "the window ends before it begins"),
        (
            {"run.toml": b"window = [0, 20]", "readings.csv": f"time,reading_m\n{stamp(400)},30\n".encode()},
            "no reading lies in the window",
        ),
        ({"run.toml": b"note = 5"}, "run.toml, note: 5 is not a text"),
        ({"run.toml": b"praised = [1]"}, "is no decision; write true, false, a text"),
        ({"run.toml": b"weeks = 1000"}, "1000 weeks; write 1024, 2048 or 3072"),
        ({"run.toml": b"track_hours = 0.3"}, "0.3 hours; write whole hours"),
        ({"run.toml": b"track_hours = 15"}, "track_hours"),
        (
            {"readings.csv": b"elapsed,reading_m\n1,2\n", "run.toml": b"readings_hours = 1"},
            "run.toml, readings_hours: readings.csv has nothing to add to: its times count from the start",
        ),
        (
            {"marks.csv": b"elapsed,mark\n1,finish\n", "run.toml": b"marks_hours = 1"},
            "run.toml, marks_hours: marks.csv has nothing to add to: its times count from the start",
        ),
    ],
)
def test_what_is_wrong_with_a_key_is_told(drill, files, what):
    with pytest.raises(InputError) as caught:
        parse_run("r", {"track.csv": track()} | files, drill)
    assert what in str(caught.value)
    assert "\n" not in str(caught.value)


def test_all_keys_are_read_back_as_written():
    window = (Bound(1768642230.0, elapsed=False), Bound(90.5, elapsed=True))
    info = RunInfo("Mara", zone="Europe/Vienna", window=window, clock="readings", note='said "late"', praised=True)
    more = {"weeks": 2048, "track_hours": -1.5, "readings_hours": 2.0, "marks_hours": 0.25}
    more |= {"readings_sheet": "Mara", "marks_sheet": 'of "her"', "set_aside": ("standing", "late")}
    info = RunInfo(**{f: getattr(info, f) for f in info.__slots__} | more)
    assert parse_run_toml(write_run_toml(info)) == info
    assert math.isclose(parse_run_toml(write_run_toml(info)).window[0].at_s, 1768642230.0)


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ('searcher = "Mara"\nnote = "tired"\n', True),
        ('# a comment\nsearcher = "Mara"\npraised = true\nset_aside = ["standing"]\n', True),
        ('searcher = "Mara"\nzone = "Z"\n', False),
        ('searcher = "Mara"\nantennas = 2\n', False),
        ('searcher = "Mara"\nnote = 5\n', False),
        ('searcher = "Mara"\nnote = "broken', False),
    ],
)
def test_only_the_coachs_words_leave_the_key_as_it_is(tmp_path, text, same):
    folder = tmp_path / "bowl"
    (folder / "runs" / "a").mkdir(parents=True)
    run = folder / "runs" / "a" / "run.toml"
    run.write_text('searcher = "Mara"\n')
    before = drill_key(folder, settings=())
    run.write_text(text)
    assert (drill_key(folder, settings=()) == before) is same


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ('title = "Second try"\nnote = "tired"\n', True),
        ("[run]\npraised = true\n", True),
        ("", True),
        ("bib = 7\n", False),
    ],
)
def test_a_run_toml_of_words_alone_is_as_none(tmp_path, text, same):
    folder = tmp_path / "bowl"
    (folder / "runs" / "a").mkdir(parents=True)
    before = drill_key(folder, settings=())
    (folder / "runs" / "a" / "run.toml").write_text(text)
    assert (drill_key(folder, settings=()) == before) is same


def test_weeks_and_hours_are_added_to_the_track_and_told(drill):
    """1024 weeks are 7168 days; a clock in a zone an hour east of what is written shows an hour more."""
    plain = parse_run("r", {"track.csv": track()}, drill)
    moved = parse_run("r", {"track.csv": track(), "run.toml": b"weeks = 1024\ntrack_hours = -1.5"}, drill)
    assert moved.time_zero - plain.time_zero == dt.timedelta(days=7168, hours=-1.5)
    assert moved.inputs[0].told == (
        "1024 weeks added to its dates, as run.toml says",
        "1.5 h taken off its times, as run.toml says",
    )
    assert (plain.inputs[0].told, moved.inputs[0].sha256) == ((), plain.inputs[0].sha256)


def test_hours_are_added_to_a_log_alone(drill):
    """A log in UTC that was kept by a watch two hours ahead of it."""
    late = stamp(7200 + 12.0)
    logs = {
        "readings.csv": f"time,reading_m\n{late},20\n".encode(),
        "marks.csv": f"time,elapsed,mark\n{late},,first_reading\n,30,finish\n".encode(),
    }
    files = {"track.csv": track(), "run.toml": b"readings_hours = -2\nmarks_hours = -2"} | logs
    run = parse_run("r", files, drill)
    assert run.readings.time_s.tolist() == [12.0]
    assert [(mark.mark, mark.time_s) for mark in run.marks] == [("first_reading", 12.0), ("finish", 30.0)]
    told = ("2 h taken off its times, as run.toml says",)
    assert [item.told for item in run.inputs] == [(), told, told, ()]
    with pytest.raises(InputError, match="from the track"):
        parse_run("r", files | {"run.toml": b"antennas = 3"}, drill)
