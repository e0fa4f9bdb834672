"""A day's recording on Load: cut into runs by a form, logs dealt out, taken whole again, and what is refused."""

import datetime as dt
import time
from urllib.parse import parse_qsl, urlsplit

import numpy as np
import pytest

from analyzer.files.folder import read_drill_folder, read_run
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.writers import write_drill_toml, write_gpx, write_marks_csv, write_readings_csv
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.lab.simulate import simulate_drill
from analyzer.lab.simulate.whole_day import DaySettings, simulate_day
from analyzer.model.recording import Mark, Readings, Track
from analyzer.workspace.intake.cut import checked_cuts
from analyzer.workspace.intake.model import Cut
from dashboard.view_models.cuts import CutRow, posix_of_clock, typed_cuts

OWN = {"Host": "localhost", "Origin": "http://localhost"}
TOKEN = "a-day-in-one-file"


@pytest.fixture(scope="module")
def day():
    """Return a drill and a day of three runs, as the files that a coach has."""
    drill = simulate_drill(seed=41)
    made = simulate_day(drill, DaySettings(runs=3, pause_share=0.0, halt_share=0.0), seed=41)
    n = made.time_s.size
    track = Track(
        made.time_s - made.time_s[0],
        *made.place_m.T,
        np.full(n, 2000.0),
        np.full(n, np.nan),
        np.full(n, np.nan),
        resolution_m=0.0,
        survey_grade=False,
    )
    zero = dt.datetime.fromtimestamp(made.time_s[0], tz=dt.UTC)
    gpx = write_gpx(track, LocalFrame(drill.drill.origin), time_zero=zero, name="day")
    return drill.drill, made, gpx, zero


def joined_readings(made, zero_s, *, since):
    """Return the readings of all runs in one log; `since`: what its elapsed times count from."""
    parts = [(begin - since, run.recording.readings) for (begin, _, _), run in zip(made.spans, made.runs, strict=True)]
    return Readings(
        np.concatenate([at + r.time_s for at, r in parts]),
        np.concatenate([r.reading_m for _, r in parts]),
        tuple(name for _, r in parts for name in r.transmitter),
        np.concatenate([r.steer_deg for _, r in parts]),
        np.concatenate([r.heading_deg for _, r in parts]),
    )


@pytest.fixture
def opened(tmp_path, day):
    """Return a client of a dashboard over a workspace with the drill, and the workspace."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    workspace = tmp_path / "club"
    folder = workspace / "drills" / "slope"
    folder.mkdir(parents=True)
    (folder / "drill.toml").write_bytes(write_drill_toml(day[0]))
    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(workspace / "results", workspace=workspace))
    yield app.server, workspace
    _pages.PAGE_REGISTRY.clear()


def intake_of(server):
    return server.config["SEARCHWAKE_INTAKE"]


def cuts_of(server):
    return server.config["SEARCHWAKE_CUTS"]


def taken(server, **files):
    for name, data in files.items():
        intake_of(server).take(TOKEN, name.replace("__", "."), len(data), [data])
    return next(f for f in intake_of(server).basket(TOKEN).files if f.kind == "track")


def form_of(view, **changes):
    form = {"seen": view.seen}
    for number, row in enumerate(view.rows):
        form |= {f"begin-{number}": row.begin, f"end-{number}": row.end, f"title-{number}": row.title}
        form[f"take-{number}"] = "yes" if row.take else "no"
    return form | changes


def send(server, track, form):
    answer = server.test_client().post(f"/cut-recording?batch={TOKEN}&track={track}", data=form, headers=OWN)
    assert answer.status_code == 303, answer.data
    place = answer.headers["Location"]
    if place.startswith("/cut?"):
        token = place.rpartition("said=")[2]
        return " ".join(server.config["SEARCHWAKE_RUNS"].said(token).faults)
    return ""


def put_in(server, **form):
    intake_of(server).settle(TOKEN, form)
    for _ in range(600):
        basket = intake_of(server).basket(TOKEN)
        if basket.state == "done":
            return basket.outcome
        time.sleep(0.1)
    raise AssertionError("the work does not end")


def test_a_day_becomes_three_runs_of_the_same_bytes(opened, day):
    server, workspace = opened
    _, made, gpx, _ = day
    track = taken(server, day__gpx=gpx)
    view = cuts_of(server).view(TOKEN, str(track.id))
    assert sum(row.take for row in view.rows) == 3
    assert send(server, track.id, form_of(view)) == ""
    outcome = put_in(server)
    assert outcome.failures == ()
    assert sorted(outcome.runs) == ["day-1", "day-2", "day-3"]
    drill = read_drill_folder(workspace / "drills" / "slope").drill
    for name, (begin, hit, _) in zip(sorted(outcome.runs), made.spans, strict=True):
        folder = workspace / "drills" / "slope" / "runs" / name
        assert (folder / "track.gpx").read_bytes() == gpx
        recording = read_run(folder, drill)
        assert recording.time_zero.timestamp() == pytest.approx(begin, abs=15.0)
        assert recording.time_zero.timestamp() + recording.track.time_s[-1] >= hit - 1.0


def test_a_log_of_the_day_goes_with_each_run_and_each_uses_its_own_part(opened, day):
    server, workspace = opened
    _, made, gpx, zero = day
    readings = joined_readings(made, zero, since=made.time_s[0])
    track = taken(server, day__gpx=gpx, log__csv=write_readings_csv(readings, time_zero=zero))
    view = cuts_of(server).view(TOKEN, str(track.id))
    assert send(server, track.id, form_of(view)) == ""
    outcome = put_in(server)
    assert outcome.failures == ()
    drill = read_drill_folder(workspace / "drills" / "slope").drill
    for name, run in zip(sorted(outcome.runs), made.runs, strict=True):
        own = read_run(workspace / "drills" / "slope" / "runs" / name, drill).readings
        assert own.time_s.size == run.recording.readings.time_s.size
        assert own.reading_m == pytest.approx(run.recording.readings.reading_m)


def test_a_film_of_the_day_is_cut_by_its_start_marks(opened, day):
    """Readings and marks count from the first start; the clock of the second and third run is that of their starts."""
    server, workspace = opened
    _, made, gpx, _ = day
    first = made.spans[0][0]
    readings = joined_readings(made, None, since=first)
    log = "elapsed,reading_m\n" + "".join(
        f"{t:.2f},{r:.1f}\n" for t, r in zip(readings.time_s, readings.reading_m, strict=True) if t >= 0.0
    )
    marks = "elapsed,mark\n" + "".join(
        f"{begin - first:.2f},start\n{hit - first:.2f},probe_hit\n" for begin, hit, _ in made.spans
    )
    track = taken(server, day__gpx=gpx, log__csv=log.encode(), marks__csv=marks.encode())
    assert any("a second 'start' mark" in f.problem for f in intake_of(server).basket(TOKEN).files)
    view = cuts_of(server).view(TOKEN, str(track.id))
    form = form_of(view)
    assert send(server, track.id, form) == ""
    assert [f.problem for f in intake_of(server).basket(TOKEN).files if f.problem and not f.cut] == []
    outcome = put_in(server)
    assert outcome.failures == ()
    drill = read_drill_folder(workspace / "drills" / "slope").drill
    for name, (begin, hit, _), run in zip(sorted(outcome.runs), made.spans, made.runs, strict=True):
        recording = read_run(workspace / "drills" / "slope" / "runs" / name, drill)
        zero = recording.time_zero.timestamp()
        own = run.recording.readings.time_s
        assert recording.readings.time_s == pytest.approx(own[own >= 0.0], abs=0.02)
        (found,) = [m for m in recording.marks if m.mark == "probe_hit"]
        assert found.time_s == pytest.approx(hit - begin, abs=0.02)
        assert zero == pytest.approx(begin, abs=15.0)


def test_marks_of_the_day_propose_the_runs(opened, day):
    server, workspace = opened
    _, made, gpx, zero = day
    marks = [Mark(begin - made.time_s[0], "start") for begin, _, _ in made.spans]
    marks += [Mark(hit - made.time_s[0], "probe_hit") for _, hit, _ in made.spans]
    data = write_marks_csv(sorted(marks, key=lambda m: m.time_s), time_zero=zero)
    track = taken(server, day__gpx=gpx, marks__csv=data)
    view = cuts_of(server).view(TOKEN, str(track.id))
    assert view.starts_s == pytest.approx([begin - made.time_s[0] for begin, _, _ in made.spans], abs=0.01)
    assert send(server, track.id, form_of(view)) == ""
    outcome = put_in(server)
    assert outcome.failures == ()
    drill = read_drill_folder(workspace / "drills" / "slope").drill
    for name, (begin, _, _) in zip(sorted(outcome.runs), made.spans, strict=True):
        recording = read_run(workspace / "drills" / "slope" / "runs" / name, drill)
        assert recording.time_zero.timestamp() == pytest.approx(begin, abs=0.6)


def test_the_same_recording_with_another_window_is_another_run(opened, day):
    server, _ = opened
    _, _, gpx, _ = day
    track = taken(server, day__gpx=gpx)
    view = cuts_of(server).view(TOKEN, str(track.id))
    own = [number for number, row in enumerate(view.rows) if row.take]
    first = form_of(view, **{f"take-{n}": "no" for n in own[1:]})
    assert send(server, track.id, first) == ""
    assert put_in(server).runs == ("day-1",)
    again = "the-same-day-again"
    intake_of(server).take(again, "day.gpx", len(gpx), [gpx])
    (file,) = [f for f in intake_of(server).basket(again).files if f.kind == "track"]
    (row,) = intake_of(server).plan(intake_of(server).basket(again)).runs
    assert "already the run day-1" in row.note  # as a whole it holds that run
    server.test_client().post(
        f"/cut-recording?batch={again}&track={file.id}",
        data=form_of(cuts_of(server).view(again, str(file.id))),
        headers=OWN,
    )
    rows = intake_of(server).plan(intake_of(server).basket(again)).runs
    assert [row.use for row in rows] == ["no", "yes", "yes"]
    assert "This part of these bytes is already the run day-1" in rows[0].note


def test_taken_whole_again_nothing_of_the_cut_is_left(opened, day):
    server, _ = opened
    _, made, gpx, zero = day
    log = write_readings_csv(joined_readings(made, zero, since=made.time_s[0]), time_zero=zero)
    track = taken(server, day__gpx=gpx, log__csv=log)
    before = intake_of(server).basket(TOKEN)
    view = cuts_of(server).view(TOKEN, str(track.id))
    assert send(server, track.id, form_of(view)) == ""
    part = next(f for f in intake_of(server).basket(TOKEN).files if f.window_s is not None)
    assert cuts_of(server).view(TOKEN, str(part.id)).track == track.id  # from a part one comes to the recording
    server.test_client().post(f"/cut-recording/whole?batch={TOKEN}&track={track.id}", headers=OWN)
    after = intake_of(server).basket(TOKEN)
    assert after.files == before.files
    assert after.choices == before.choices


def test_of_two_windows_the_second_is_told(opened, day):
    server, _ = opened
    track = taken(server, day__gpx=day[2])
    form = form_of(cuts_of(server).view(TOKEN, str(track.id)))
    assert send(server, track.id, form) == ""
    before = intake_of(server).basket(TOKEN)
    assert "somebody else cut this recording" in send(server, track.id, form)
    assert intake_of(server).basket(TOKEN) == before


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"begin-1": "noon"}, "'noon' is no time of day"),
        ({"begin-1": "25:00"}, "no time of day"),
        ({"end-1": "", "begin-1": "9:00"}, "'' is no time of day"),
        ({f"take-{n}": "no" for n in range(9)}, "no run is taken"),
        ({"end-1": "23:59:00"}, "reaches beyond the recording"),
    ],
)
def test_a_wrong_row_is_told_and_nothing_is_cut(opened, day, changes, words):
    server, _ = opened
    track = taken(server, day__gpx=day[2])
    before = intake_of(server).basket(TOKEN)
    form = form_of(cuts_of(server).view(TOKEN, str(track.id)))
    assert words in send(server, track.id, form | {k: v for k, v in changes.items() if k in form})
    assert intake_of(server).basket(TOKEN) == before


@pytest.mark.parametrize(
    ("cuts", "words"),
    [
        ([(0, 10), (5, 20)], "begins before"),
        ([(5, 5)], "ends before it begins"),
        ([(9, 5)], "ends before it begins"),
        ([(-5, 20)], "beyond"),
        ([(50, 120)], "beyond"),
        ([], "no run"),
        ([(k, k + 0.5) for k in range(90)], "more than 60"),
    ],
)
def test_cuts_that_cannot_be(cuts, words):
    from analyzer.errors import InputError

    with pytest.raises(InputError, match=words):
        checked_cuts([Cut(a, b, "a") for a, b in cuts], 0.0, 100.0)


def test_a_track_without_times_of_day_cannot_be_cut(opened):
    server, _ = opened
    table = b"elapsed,latitude,longitude\n" + b"".join(b"%d,47.0,11.%06d\n" % (t, t) for t in range(60))
    file = taken(server, track__csv=table)
    answer = server.test_client().get(f"/cut?batch={TOKEN}&track={file.id}", headers=OWN)
    assert answer.status_code == 200
    from analyzer.errors import InputError

    with pytest.raises(InputError, match="no recording with times of day"):
        cuts_of(server).view(TOKEN, str(file.id))


@pytest.mark.parametrize(("batch", "track"), [("gone-for-ever", "1"), (TOKEN, "99"), (TOKEN, "x"), ("", "")])
def test_what_is_not_there_is_one_line(opened, day, batch, track):
    from analyzer.errors import InputError

    server, _ = opened
    taken(server, day__gpx=day[2])
    with pytest.raises(InputError):
        cuts_of(server).view(batch, track)


def test_times_of_day_are_those_of_the_zone_and_may_pass_midnight():
    zone = dt.timezone(dt.timedelta(hours=1))
    begin = dt.datetime(2026, 2, 14, 23, 50, tzinfo=zone).timestamp()
    assert posix_of_clock("23:55", begin, zone, where="") == begin + 300
    assert posix_of_clock("0.10.30", begin, zone, where="") == begin + 1230
    assert posix_of_clock("23:50:00", begin, zone, where="") == begin


def test_rows_of_the_form_are_bounded():
    form = {f"begin-{n}": "9:00" for n in range(3)} | {"end-0": "9:10", "title-0": " Mara \n x" + "y" * 500}
    rows = typed_cuts(form | {"begin-99999": "9:00", "begin-x": "1"})
    assert len(rows) == 3
    assert rows[0] == CutRow("9:00", "9:10", ("Mara x" + "y" * 500)[:80], take=True)


def test_a_run_toml_that_came_keeps_what_it_says(opened, day):
    server, workspace = opened
    track = taken(server, day__gpx=day[2], run__toml=b'# my words\nrecorder = "phone"\n')
    view = cuts_of(server).view(TOKEN, str(track.id))
    assert send(server, track.id, form_of(view)) == ""
    basket = intake_of(server).basket(TOKEN)
    (settings,) = [f for f in basket.files if f.kind == "run"]
    parts = [f for f in basket.files if f.window_s is not None]
    assert put_in(server, **{f"of-{settings.id}": str(parts[0].id)}).failures == ()
    data = (workspace / "drills" / "slope" / "runs" / "day-1" / "run.toml").read_bytes()
    assert data.startswith(b"# my words\n")
    assert parse_run_toml(data).window is not None


def test_a_run_of_the_second_day_stays_there(opened):
    """A recorder left on from Saturday to Sunday: the same time of day comes twice."""
    server, _ = opened
    begin = dt.datetime(2026, 2, 14, 8, 0, tzinfo=dt.UTC)
    table = "time,latitude,longitude\n" + "".join(
        f"{(begin + dt.timedelta(seconds=t)).isoformat()},{47.0 + t % 3600 * 1e-7:.7f},11.0\n"
        for t in range(0, 30 * 3600, 20)
    )
    file = taken(server, weekend__csv=table.encode())
    view = cuts_of(server).view(TOKEN, str(file.id))
    form = {"seen": view.seen, "begin-0": "9:00:00", "end-0": "9:10:00", "take-0": "yes", "title-0": "Saturday"}
    form |= {"begin-1": "09:00:00 +1", "end-1": "9:10 +1", "take-1": "yes", "title-1": "Sunday"}
    assert send(server, file.id, form) == ""
    parts = [f for f in intake_of(server).basket(TOKEN).files if f.window_s is not None]
    assert [f.window_s[0] - begin.timestamp() for f in parts] == [3600.0, 25 * 3600.0]
    again = cuts_of(server).view(TOKEN, str(file.id))
    assert [row.begin for row in again.rows] == ["09:00:00", "09:00:00 +1"]
    assert send(server, file.id, form_of(again)) == ""
    parts = [f for f in intake_of(server).basket(TOKEN).files if f.window_s is not None]
    assert [f.window_s[0] - begin.timestamp() for f in parts] == [3600.0, 25 * 3600.0]


def test_a_run_of_a_drill_is_cut_again(opened, day):
    """A day was put in as one run; later its recording is cut, and the run stays."""
    server, workspace = opened
    _, made, gpx, zero = day
    log = write_readings_csv(joined_readings(made, zero, since=made.time_s[0]), time_zero=zero)
    folder = workspace / "drills" / "slope" / "runs" / "day"
    folder.mkdir(parents=True)
    (folder / "track.gpx").write_bytes(gpx)
    (folder / "readings.csv").write_bytes(log)
    begin, end = (dt.datetime.fromtimestamp(t, tz=dt.UTC) for t in (made.spans[0][0] - 1.0, made.spans[0][2]))
    (folder / "run.toml").write_text(f"window = [{begin.isoformat()}, {end.isoformat()}]\n")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    answer = server.test_client().post("/change-run/cut?drill=slope&run=day", headers=OWN)
    asked = dict(parse_qsl(urlsplit(answer.headers["Location"]).query))
    assert urlsplit(answer.headers["Location"]).path == "/cut"
    view = cuts_of(server).view(asked["batch"], asked["track"], drill=asked["drill"])
    assert sum(row.take for row in view.rows) == 3
    form = form_of(view)
    client = server.test_client()
    client.post(f"/cut-recording?batch={asked['batch']}&track={asked['track']}&drill=slope", data=form, headers=OWN)
    plan = intake_of(server).plan(intake_of(server).basket(asked["batch"]), "slope")
    assert [row.use for row in plan.runs] == ["no", "yes", "yes"]  # the first is the run that there is
    assert [len(plan.parts_of(row)) for row in plan.runs] == [2, 2, 2]
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_run_that_is_gone_cannot_be_cut(opened):
    server, _ = opened
    answer = server.test_client().post("/change-run/cut?drill=slope&run=gone", headers=OWN)
    assert answer.headers["Location"].startswith("/particulars/slope/gone")
