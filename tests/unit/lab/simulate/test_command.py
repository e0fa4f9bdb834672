"""The command writes drill folders that read back as what was simulated."""

import itertools
import json
import xml.etree.ElementTree as ET

import gpxpy
import numpy as np
import pytest

from analyzer.cli import main
from analyzer.files.folder import read_drill_folder, read_run
from analyzer.lab.simulate import ReadingSettings, RecorderSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.sample_day import sample_day
from analyzer.lab.simulate.write import run_files, write_drill, write_run

GPX = "{http://www.topografix.com/GPX/1/1}"


@pytest.mark.parametrize(
    "settings",
    [
        RunSettings(),
        RunSettings(recorder=RecorderSettings(kind="watch", decimals=6), readings=ReadingSettings(kind="by_hand")),
        RunSettings(recorder=RecorderSettings(kind="survey"), readings=ReadingSettings(directions=True)),
        RunSettings(readings=ReadingSettings(kind="none")),
    ],
)
def test_written_runs_read_back_as_the_recording_in_memory(tmp_path, settings):
    drill = simulate_drill(seed=9)
    run = simulate_run(drill, settings, seed=9, run_id="aila-1", searcher="Aila")
    write_drill(tmp_path / "d", drill)
    write_run(tmp_path / "d", drill, run)
    folder = read_drill_folder(tmp_path / "d")
    got, want = read_run(folder.runs[0], folder.drill), run.recording
    assert folder.drill.transmitters == drill.drill.transmitters
    assert got.info == want.info
    assert got.time_zero == want.time_zero
    assert [(m.mark, m.transmitter) for m in got.marks] == [(m.mark, m.transmitter) for m in want.marks]
    assert [m.time_s for m in got.marks] == pytest.approx([m.time_s for m in want.marks], abs=2e-3)
    for name in ("time_s", "east_m", "north_m", "elevation_m", "sigma_m"):
        assert getattr(got.track, name) == pytest.approx(getattr(want.track, name), abs=1e-5, nan_ok=True)
    assert got.track.survey_grade == want.track.survey_grade
    assert got.track.resolution_m == pytest.approx(want.track.resolution_m)
    assert (got.readings is None) == (want.readings is None)
    if want.readings is not None:
        assert got.readings.by_hand == want.readings.by_hand
        assert got.readings.transmitter == want.readings.transmitter
        for name in ("time_s", "reading_m", "steer_deg", "heading_deg"):
            assert getattr(got.readings, name) == pytest.approx(getattr(want.readings, name), abs=6e-3, nan_ok=True)


def test_gpx_follows_the_schema():
    drill = simulate_drill(seed=1)
    data = run_files(drill, simulate_run(drill, seed=1))["track.gpx"]
    root = ET.fromstring(data)
    assert root.tag == f"{GPX}gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator")
    points = root.findall(f"{GPX}trk/{GPX}trkseg/{GPX}trkpt")
    for point in points:
        # gpx.xsd, wptType: a sequence, ele before time.
        assert [child.tag for child in point] == [f"{GPX}ele", f"{GPX}time"]
        assert len(point.get("lat").split(".")[1]) == 7
    times = [p.time for p in gpxpy.parse(data.decode()).tracks[0].segments[0].points]
    assert len(times) == len(points)
    assert all(a < b for a, b in itertools.pairwise(times))
    assert all(t.tzinfo is not None for t in times)


def test_truth_file_holds_the_truth(tmp_path):
    assert main(["simulate", str(tmp_path / "d"), "--runs", "2", "--fault", "none", "wrong_way", "--seed", "5"]) == 0
    plain, wrong = (json.loads((tmp_path / f"d/runs/run-{i}/truth.json").read_text()) for i in (1, 2))
    assert plain["format"] == "searchwake-truth/1"
    assert plain["faults"] == []
    assert [f["name"] for f in wrong["faults"]] == ["wrong_way"]
    assert wrong["searches"][0]["coarse"]["wrong_way_events"]
    assert np.diff(plain["time_s"]) == pytest.approx(0.2)
    assert len(plain["time_s"]) == len(plain["east_m"]) == len(plain["height_m"])


def test_the_same_seed_writes_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        assert main(["simulate", str(tmp_path / name / "d"), "--transmitters", "2", "--slope", "30"]) == 0
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*") if p.is_file())
    assert len(files) == 6
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


def test_noise_can_come_from_a_file(tmp_path):
    (tmp_path / "noise.csv").write_text("time_s,east_m,north_m\n0,7,-7\n500,7,-7\n")
    arguments = [str(tmp_path / "d"), "--noise", str(tmp_path / "noise.csv"), "--recorder", "survey"]
    assert main(["simulate", *arguments]) == 0
    truth = json.loads((tmp_path / "d/runs/run-1/truth.json").read_text())
    folder = read_drill_folder(tmp_path / "d")
    track = read_run(folder.runs[0], folder.drill).track
    off = track.east_m - np.interp(track.time_s, truth["time_s"], truth["east_m"])
    assert np.median(off) == pytest.approx(7.0, abs=0.05)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--fault", "sleeping"], "sleeping"),
        (["--runs", "0"], "no whole number"),
        (["--noise", "nowhere.csv"], "nowhere.csv"),
    ],
)
def test_bad_arguments_are_refused_in_one_line(tmp_path, capsys, arguments, words):
    assert main(["simulate", str(tmp_path / "d"), *arguments]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert len(error.strip().splitlines()) == 1


def test_a_drill_is_never_overwritten(tmp_path, capsys):
    assert main(["simulate", str(tmp_path / "d")]) == 0
    before = (tmp_path / "d/drill.toml").read_bytes()
    assert main(["simulate", str(tmp_path / "d"), "--seed", "1"]) == 2
    assert "already" in capsys.readouterr().err
    assert (tmp_path / "d/drill.toml").read_bytes() == before


def test_help_shows_units_and_an_example(capsys):
    assert main(["simulate", "--help"]) == 0
    text = capsys.readouterr().out
    assert "Units:" in text
    assert "Example:" in text


def test_sample_day_is_what_its_page_says():
    bowl, gully = sample_day()
    assert (len(bowl.drill.drill.transmitters), len(gully.drill.drill.transmitters)) == (1, 3)
    assert len(bowl.runs) >= 8
    assert gully.drill.drill.slope.angle_deg == 25.0
    recordings = [r.recording for r in bowl.runs]
    assert sum(r.readings is None for r in recordings) == 1
    assert sum(r.track.survey_grade for r in recordings) == 1
    by_hand = [r for r in bowl.runs if r.recording.readings is not None and r.recording.readings.by_hand]
    assert len(by_hand) == 1
    assert abs(by_hand[0].truth.clock_offset_s) > 10.0
    faults = {f.name for r in bowl.runs for f in r.truth.faults}
    assert len(faults) >= 8
