"""Recordings that nobody on the project made go through the whole engine.

None of them is a search: a drill is invented around each, with a transmitter where the track ends and an area about
it. What is checked is honesty: a result without gaps and without made-up figures, and counts of what was set aside.
Outings of hours are cut to their last minutes, by time, with the readers' own functions; what was cut off is counted.
"""

import csv
import dataclasses
import datetime as dt
import io
import math
import os
from pathlib import Path

import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import InputError
from analyzer.files.folder import parse_run
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.rules_toml import default_rules
from analyzer.files.run_times import assemble
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.formats import format_named
from analyzer.files.tracks.track import subset, timed
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.recording import InputFile, Mark, Recording, RunInfo

ROOT = Path(__file__).parents[2]
DATA = ROOT / os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata")
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the real recordings are not here")

RULES = default_rules()
LAST_S = 420.0
FEWEST = 30
GPS_EPOCH = dt.datetime(1980, 1, 6, tzinfo=dt.UTC)
LEAP_S = 18  # GPS time minus UTC since 2017


def as_csv(rows, columns):
    """Return the bytes of a track.csv."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue().encode()


def iso(seconds):
    return dt.datetime.fromtimestamp(float(seconds), tz=dt.UTC).isoformat()


def from_navsat(text):
    """Return a track.csv of a table of satellite fixes with covariances."""
    rows = []
    for row in csv.DictReader(io.StringIO(text)):
        sigma = math.sqrt(float(row["field.position_covariance0"]))
        rows.append((iso(int(row["field.header.stamp"]) / 1e9), row["field.latitude"], row["field.longitude"], sigma))
    return as_csv(rows, ("time", "latitude", "longitude", "sigma_m"))


def from_phone_table(text, run, latitude, longitude):
    """Return a track.csv of one run of the table of phones on foot; 0.0 stands for a missing place there."""
    rows = [
        (f"2025-03-25T{row['timestamp'].replace('.', ':')}Z", row[latitude], row[longitude])
        for row in csv.DictReader(io.StringIO(text))
        if row["test_run"] == run and float(row[latitude]) != 0.0
    ]
    return as_csv(rows, ("time", "latitude", "longitude"))


def from_raw_log(text, provider):
    """Return a track.csv of one provider's fixes in a raw log; its accuracy is a radius that holds 68 %."""
    rows = []
    for line in text.splitlines():
        cells = line.split(",")
        if cells[0] == "Fix" and cells[1] == provider:
            rows.append((iso(int(cells[8]) / 1e3), cells[2], cells[3], float(cells[6]) / 1.5158))
    return as_csv(rows, ("time", "latitude", "longitude", "sigma_m"))


def from_week_table(text):
    """Return a track.csv of a table of GPS weeks and seconds of the week."""
    rows = []
    for row in csv.reader(io.StringIO(text)):
        when = GPS_EPOCH + dt.timedelta(weeks=int(row[1]), seconds=float(row[2]) - LEAP_S)
        rows.append((when.isoformat(), row[4], row[3]))
    return as_csv(rows, ("time", "latitude", "longitude"))


def source(name, suffix=None, convert=None, **options):
    """Return a function that gives track file name and bytes of one recording."""

    def load():
        data = (DATA / name).read_bytes()
        if convert is not None:
            return "track.csv", convert(data.decode(), **options)
        return f"track{suffix or Path(name).suffix}", data

    return load


PHONES = "truth/ucalgary_tdcp_uwb_all_data.csv"
SINGLE = {"latitude": "raw_psr_lat_degrees_uut1", "longitude": "raw_psr_lon_degrees_uut1"}
CARRIER = {"latitude": "adr_latitude_approx_degrees_uut1", "longitude": "adr_longitude_approx_degrees_uut1"}
REFERENCE = {"latitude": "rtk_reference_lat_degrees_uut1", "longitude": "rtk_reference_lon_degrees_uut1"}
RECORDINGS = {
    "gpx apple watch": source("gpx/togeojson_apple_watch_route.gpx"),
    "gpx evening run": source("gpx/togeojson_Friday-Evening-Run.gpx"),
    "gpx missing hr": source("gpx/togeojson_missing_hr.gpx"),
    "gpx run": source("gpx/togeojson_run_gpxtpx.gpx"),
    "gpx watch": source("gpx/activereader_testdata.gpx"),
    "gpx hike": source("gpx/phpgpx_endomondo.gpx"),
    "tcx walk": source("gpx/saf_walking_activity_1.tcx"),
    "fit run": source("fit/tormoder_activity-small-fenix2-run.fit"),
    "fit other run": source("fit/fitdecode_developer-types-sample.fit"),
    "nmea walk": source("walk/gpsd_haicom-305N.log", ".nmea"),
    "nmea still": source("static/gpsd_ublox-zed-f9p_hpg1.11.log", ".nmea"),
    "table still": source("static/ntu_2022-10-08_roof_ublox.csv", convert=from_week_table),
    "phone log gps": source("walk/stanford_pixel6_GnssLogger.txt", convert=from_raw_log, provider="GPS"),
    "phone log fused": source("walk/stanford_pixel6_GnssLogger.txt", convert=from_raw_log, provider="FLP"),
    "rtk": source("truth/hanyang_LOS_A_case1_gnss.csv", convert=from_navsat),
    "rtk under trees": source("truth/hanyang_NLOS_B_case4_gnss.csv", convert=from_navsat),
    **{
        f"phone {kind} {run}": source(PHONES, convert=from_phone_table, run=run, **columns)
        for kind, columns in (("single", SINGLE), ("carrier", CARRIER), ("reference", REFERENCE))
        for run in "1234"
    },
}
SURVEY = {"rtk", "rtk under trees"}
# Told by the description of the recordings: the first half minute is some 40 m wrong.
POOR = {"nmea walk"}


def laid_around(fixes: Fixes) -> Drill:
    """Return an invented level drill: a transmitter 2 m from the last fix, in an area of 120 m about it."""
    ends = Origin(float(fixes.first[-1]), float(fixes.second[-1]), 0.0)
    corners = np.array([[-60.0, -60.0], [60.0, -60.0], [60.0, 60.0], [-60.0, 60.0]])
    return Drill("invented", None, ends, Slope(), (Transmitter("A", 1.6, 1.2, 1.0),), corners)


@dataclasses.dataclass(frozen=True)
class Case:
    """One recording, its drill and its result."""

    name: str
    drill: Drill
    recording: Recording
    result: object


def case_of(name) -> Case:
    file, data = RECORDINGS[name]()
    fixes = format_named(file).read(data, name=file)
    kept, untimed = timed(fixes)
    recent = kept.time_s >= kept.time_s[-1] - LAST_S
    if np.sum(recent) < FEWEST:  # a handful of fixes before a long gap: nothing to cut
        recent[:] = True
    drill = laid_around(kept)
    parts = assemble(subset(kept, recent), None, (), drill)
    dropped = (*fixes.dropped, *untimed, *parts.dropped, ("before the last minutes", int(np.sum(~recent))))
    inputs = (InputFile("track", file, "0" * 64, fixes.rows, len(parts.track.time_s), dropped),)
    start = dt.datetime.fromtimestamp(parts.time_zero_s, tz=dt.UTC)
    recording = Recording("real", RunInfo(), start, parts.track, None, (), inputs)
    (result,) = analyze_drill(drill, [recording], RULES, draws=12)
    return Case(name, drill, recording, result)


@pytest.fixture(scope="module", params=RECORDINGS)
def case(request):
    """Return one recording with its result."""
    return case_of(request.param)


def figures(result):
    """Yield all figures of the searches and the scores."""
    for search in result.searches:
        for group in ("signal", "coarse", "fine", "pinpoint"):
            yield from getattr(search, group)
    yield from result.scores.by_phase


def test_real_recording_gives_a_whole_result(case):
    result, track = case.result, case.recording.track
    assert not isinstance(result, Exception), str(result)
    assert result.duration_s == pytest.approx(track.time_s[-1])
    assert result.phases[0].start_s == 0.0
    assert result.phases[-1].end_s == pytest.approx(result.duration_s)
    assert sum(r.seconds for r in result.timeline) == pytest.approx(result.duration_s, abs=1e-3)
    assert sum(r.metres for r in result.timeline) == pytest.approx(sum(p.walked_m for p in result.phases), abs=1e-3)
    for name, figure in figures(result):
        if isinstance(figure, Figure):
            assert figure.low <= figure.value <= figure.high, name
            assert math.isfinite(figure.low), name
            assert math.isfinite(figure.high), name
    for column in ("time_s", "east_m", "north_m", "sigma_m"):
        assert np.all(np.isfinite(getattr(result.path, column)))
    assert parse_result(result_bytes(result)).run_id == "real"


def test_every_row_of_the_file_is_accounted_for(case):
    (item,) = case.result.inputs
    assert item.rows == item.used + sum(count for _, count in item.dropped)
    assert item.used == len(case.recording.track.time_s) >= 10


def test_a_track_alone_is_not_made_to_say_what_it_cannot(case):
    result = case.result
    assert result.evidence.tier == ("survey" if case.name in SURVEY else "track")
    assert isinstance(result.evidence.clock_offset_s, NotAssessable)
    assert isinstance(result.evidence.reading_scale, NotAssessable)
    assert result.evidence.axis_source == "unknown"
    assert result.transmitters[0].axis_bearing_deg is None
    for phase in result.phases:
        if phase.phase == "coarse_search":
            assert phase.start_sigma_s is None
            assert "guess" in phase.note
    for search in result.searches:
        for group, name in [
            ("fine", "lowest_reading_m"),
            ("fine", "overshoot_m"),
            ("fine", "ended_on_lowest_m"),
            ("signal", "covered_fraction"),
            ("signal", "overlap_fraction"),
        ]:
            assert isinstance(search.figure(group, name), NotAssessable | None), name
        if case.name not in SURVEY:
            assert isinstance(search.figure("fine", "crossing_angle_deg"), NotAssessable | None)


def test_the_path_stays_with_the_fixes(case):
    result, track = case.result, case.recording.track
    at = np.column_stack(
        [np.interp(track.time_s, result.path.time_s, c) for c in (result.path.east_m, result.path.north_m)]
    )
    fixes = np.column_stack([track.east_m, track.north_m])
    away = np.linalg.norm(at - fixes, axis=1)
    limit = 0.3 if case.name in SURVEY else 15.0 if case.name in POOR else 4.0
    # The middle of the run: a fix alone does not tell its smooth error, so the path as a whole may be apart.
    assert np.median(away) < limit
    # Without readings nobody knows the place better than the recorder's smooth error.
    beside = np.interp(track.time_s, result.path.time_s, result.path.sigma_m)
    assert np.median(beside) < (0.6 if case.name in SURVEY else 12.0)
    assert np.min(result.path.sigma_m) > (0.002 if case.name in SURVEY else 0.3)


def test_the_path_is_no_longer_than_the_track(case):
    """Where fixes follow each other; through a gap of a minute a smooth path may swing wide, and says so."""
    track, path = case.recording.track, case.result.path
    near = np.diff(track.time_s) <= 10.0
    steps = np.hypot(np.diff(path.east_m), np.diff(path.north_m))
    along = np.interp(track.time_s, path.time_s, np.concatenate([[0.0], np.cumsum(steps)]))
    raw = float(np.sum(np.hypot(np.diff(track.east_m), np.diff(track.north_m))[near]))
    # Fixes seconds apart cut corners that a smooth path goes round: a little longer is right.
    assert np.sum(np.diff(along)[near]) <= 1.06 * raw + 1.0


def test_gaps_are_known_badly(case):
    """In the middle of a long gap the place is known worse than at the fixes beside it."""
    track, path = case.recording.track, case.result.path
    for begin, end in zip(track.time_s[:-1], track.time_s[1:], strict=True):
        if end - begin > 20.0:
            edge, middle = np.interp([begin, 0.5 * (begin + end)], path.time_s, path.sigma_m)
            assert middle > edge


@pytest.mark.parametrize("name", ["nmea still", "table still"])
def test_a_receiver_at_rest_walks_next_to_nothing(name):
    case = case_of(name)
    walked = sum(p.walked_m for p in case.result.phases)
    assert walked / case.result.duration_s < 0.06  # m/s; nobody searches that slowly


@pytest.mark.parametrize("run", "1234")
def test_phones_on_foot_against_their_survey_grade_reference(run):
    """The table's author took the mean error out of the fixes, so the mean of the difference is free here."""
    case, reference = case_of(f"phone single {run}"), case_of(f"phone reference {run}")
    assert case.drill.origin != reference.drill.origin
    track, path = case.recording.track, case.result.path
    zero = (reference.recording.time_zero - case.recording.time_zero).total_seconds()
    frame = LocalFrame(reference.drill.origin)
    shift = frame.to_metres(case.drill.origin.latitude, case.drill.origin.longitude)[0]
    true = reference.recording.track
    # Only times with a reference fix within a second on either side.
    gap = np.min(np.abs(track.time_s[:, None] - zero - true.time_s[None, :]), axis=1)
    t = track.time_s[gap < 0.6]
    truth = np.column_stack([np.interp(t - zero, true.time_s, c) for c in (true.east_m, true.north_m)])

    def rms(time_s, east, north):
        off = np.column_stack([np.interp(t, time_s, c) for c in (east, north)]) + shift - truth
        return float(np.sqrt(np.mean((off - np.mean(off, axis=0)) ** 2)))

    raw, fused = rms(track.time_s, track.east_m, track.north_m), rms(path.time_s, path.east_m, path.north_m)
    assert len(t) > 100
    assert fused <= 1.02 * raw


FAR = ["gpx hike", "tcx walk", "fit run", "fit other run"]


@pytest.mark.parametrize("name", sorted(set(RECORDINGS) - set(FAR)))
def test_uncut_recordings_of_a_few_minutes_go_through_as_run_folders_do(name):
    file, data = RECORDINGS[name]()
    kept, _ = timed(format_named(file).read(data, name=file))
    recording = parse_run("real", {file: data}, laid_around(kept))
    (item,) = recording.inputs
    assert item.rows == item.used + sum(count for _, count in item.dropped)
    hit = Mark(float(recording.track.time_s[-1]), "probe_hit")
    marked = dataclasses.replace(recording, marks=(hit,))
    (result,) = analyze_drill(laid_around(kept), [marked], RULES, draws=4)
    assert not isinstance(result, Exception), str(result)
    assert result.duration_s == pytest.approx(hit.time_s)
    assert sum(r.seconds for r in result.timeline) == pytest.approx(result.duration_s, abs=1e-3)


@pytest.mark.parametrize("name", FAR)
def test_uncut_outings_are_read_or_told_in_one_line(name):
    file, data = RECORDINGS[name]()
    kept, _ = timed(format_named(file).read(data, name=file))
    drill = laid_around(kept)
    frame = LocalFrame(drill.origin)
    far = np.linalg.norm(frame.to_metres(kept.first, kept.second), axis=1) > 2000.0
    if np.mean(far) < 0.2:
        assert len(parse_run("real", {file: data}, drill).track.time_s) == np.sum(~far)
        return
    with pytest.raises(InputError, match=r"(from|of) the drill") as told:
        parse_run("real", {file: data}, drill)
    assert "\n" not in str(told.value)
