"""Recordings that nobody on the project made are read; the counts are those of their description."""

import os
from pathlib import Path

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.tracks.fit import BEHIND_DAMAGE, parse_fit
from analyzer.files.tracks.gpx import parse_gpx
from analyzer.files.tracks.nmea import parse_nmea
from analyzer.files.tracks.several import of_several
from analyzer.files.tracks.tcx import parse_tcx
from analyzer.files.tracks.track import place, timed, to_track
from analyzer.model.drill import Drill, Origin, Slope, Transmitter

ROOT = Path(__file__).parents[2]
DATA = ROOT / os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata")
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the real recordings are not here")

READERS = {".gpx": parse_gpx, ".tcx": parse_tcx, ".fit": parse_fit, ".log": parse_nmea}


def read(path):
    """Return the fixes of a file by the reader of its ending."""
    return READERS[path.suffix](path.read_bytes(), name=path.name)


# File, points, median step in s, step of the last digit in degrees (None: not stated in the description).
RECORDINGS = [
    ("gpx/togeojson_apple_watch_route.gpx", 44, 1.0),
    ("gpx/togeojson_Friday-Evening-Run.gpx", 17, None),
    ("gpx/togeojson_missing_hr.gpx", 16, None),
    ("gpx/togeojson_run_gpxtpx.gpx", 42, 1.0),
    ("gpx/activereader_testdata.gpx", 46, 3.0),
    ("gpx/phpgpx_endomondo.gpx", 5181, 2.0),
    ("gpx/saf_walking_activity_1.tcx", 660, 6.0),
    ("fit/tormoder_activity-small-fenix2-run.fit", 2809, 1.0),
    ("fit/fitdecode_developer-types-sample.fit", 3424, 1.0),
    ("walk/gpsd_haicom-305N.log", 68, 1.0),
    ("static/gpsd_ublox-zed-f9p_hpg1.11.log", 655, 1.0),
]


@pytest.mark.parametrize(("name", "points", "step_s"), RECORDINGS)
def test_recording_reads_with_the_described_number_of_points(name, points, step_s):
    fixes = read(DATA / name)
    assert len(fixes.time_s) == points
    assert np.all(np.abs(fixes.first) <= 90.0)
    kept, dropped = timed(fixes)
    assert len(kept.time_s) + sum(count for _, count in dropped) == points
    assert np.all(np.diff(kept.time_s) > 0.0)
    if step_s is not None:
        assert np.median(np.diff(kept.time_s)) == step_s


@pytest.mark.parametrize(("name", "points", "step_s"), RECORDINGS)
def test_recording_becomes_a_track_where_it_was_made(name, points, step_s):
    fixes, _ = timed(read(DATA / name))
    origin = Origin(float(np.median(fixes.first)), float(np.median(fixes.second)), 0.0)
    drill = Drill("here", None, origin, Slope(), (Transmitter("A", 0.0, 0.0, 1.0),))
    spread = np.ptp(fixes.first) * 111.2 + np.ptp(fixes.second) * 111.2 * np.cos(np.radians(origin.latitude))
    if spread > 2.0:
        pytest.skip("an outing of kilometres is no drill")
    placed, dropped = place(fixes, drill)
    assert dropped == ()
    track, _ = to_track(placed, time_zero_s=fixes.time_s[0], degrees_step=fixes.step)
    assert len(track.time_s) == len(fixes.time_s)
    speed = np.hypot(np.diff(track.east_m), np.diff(track.north_m)) / np.diff(track.time_s)
    assert np.median(speed) < 6.0  # on foot or at rest


@pytest.mark.parametrize(
    ("name", "tracks", "titled"),
    [
        ("gpx/gpxpy_korita-zbevnica.gpx", 2, "'ACTIVE LOG' 2010-10-03T09:36:30Z to "),
        ("gpx/gpxpy_cerknicko-jezero.gpx", 7, "'ACTIVE LOG #2'"),
        ("more/three_tracks.gpx", 3, "'Tag 1'"),
    ],
)
def test_collections_of_tracks_name_each_with_its_times(name, tracks, titled):
    """Tracks without a point, and those without times, are not counted; the first track's times are its file's."""
    fixes, _ = timed(read(DATA / name))
    line = str(of_several(fixes, chosen=False))
    assert f"the file holds {tracks} tracks" in line
    assert titled in line


def test_accuracy_of_a_phone_is_read():
    fixes = read(DATA / "gpx/togeojson_apple_watch_route.gpx")
    assert np.all(np.isfinite(fixes.sigma_m))
    assert 1.801682 / fixes.sigma_m[0] == pytest.approx(1.5158)  # the first point states hAcc 1.801682


def test_receiver_log_counts_lost_fixes():
    fixes = read(DATA / "walk/gpsd_haicom-305N.log")
    assert dict(fixes.dropped)["no fix"] >= 1
    assert np.nanmax(fixes.hdop) > 10.0  # described: HDOP 21 down to 7 in the first half minute


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
@pytest.mark.parametrize("name", [r[0] for r in RECORDINGS if not r[0].endswith(("log", "fit"))])
def test_cut_recordings_are_told(tmp_path, name, share):
    data = (DATA / name).read_bytes()
    path = tmp_path / Path(name).name
    path.write_bytes(data[: int(share * len(data))])
    with pytest.raises(InputError, match="cut off"):
        read(path)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_cut_activity_gives_what_stands_before_the_cut(share):
    data = (DATA / "fit/fitdecode_developer-types-sample.fit").read_bytes()
    fixes = parse_fit(data[: int(share * len(data))])
    assert abs(len(fixes.time_s) / 3424 - share) < 0.05  # records are of nearly one length
    assert BEHIND_DAMAGE in dict(fixes.dropped)


def test_a_watch_with_fields_of_odd_length_is_read():
    """The issue counted 10 305 positions with the library's tolerant mode."""
    assert len(parse_fit((DATA / "more/watch_misaligned_fields.fit").read_bytes()).time_s) == 10_305
