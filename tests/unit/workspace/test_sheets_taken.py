"""Spreadsheets and hand-made tables that are dropped: each is one file with one line, and goes in as it came."""

import io
import zipfile
from pathlib import Path

import pytest

from analyzer.files.folder import read_drill_folder, read_run
from analyzer.workspace.intake.import_files import take_in, with_files
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import MARKS, READINGS, TRACK, Basket
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.store import drill_places, put
from analyzer.workspace.intake.upload_session import basket_folder
from tests.support.sheets import clock, ods, xlsx

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
SHEETS = Path(__file__).resolve().parents[2] / "data" / "sheets"
DRILL, RUN_TRACK = SAMPLES / "drill.toml", SAMPLES / "runs/mara-1/track.gpx"
LOG = [["elapsed (s)", "Anzeige (m)", "Pfeil"], [5, 30.5, "links"], [9, 12, ""]]
MARK_ROWS = [["elapsed (s)", "mark"], [0, "Start"], [60, "Probe hit"]]


@pytest.mark.parametrize(
    ("data", "name", "kind", "facts"),
    [
        (xlsx({"a": LOG}), "log.xlsx", READINGS, (".xlsx", True, 2, "1 in 'Pfeil' (column C), which is not read", "")),
        (ods({"a": LOG}), "log.bin", READINGS, (".ods", True, 2, "1 in 'Pfeil' (column C), which is not read", "")),
        (xlsx({"a": MARK_ROWS}), "m.xlsx", MARKS, (".xlsx", True, 2, "", "")),
        (xlsx({"x": MARK_ROWS, "y": LOG[:2]}), "b.xlsx", READINGS,
         (".xlsx", True, 1, "1 in 'Pfeil' (column C), which is not read", "with 2 marks")),
        ((SHEETS / "hand.ods").read_bytes(), "hand.ods", READINGS,
         (".ods", True, 7, "2 no reading in the row, 3 in 'Pfeil' (column C), which is not read, 1 in 'Bemerkung' "
          "(column D), which is not read, 1 above the header", "")),
        (b"Laufzeit;Anzeige\r\n0:05;12,5\r\n", "notes.txt", READINGS, ("", True, 1, "", "")),
        ("Laufzeit\tAnzeige\r\n0:05\t12,5\r\n".encode("utf-16-le"), "notes.txt", READINGS, ("", True, 1, "", "")),
        ("sep=;\nLaufzeit;für Mara;Anzeige\n0:05;;12,5\n".encode("cp1252"), "a.csv", READINGS, ("", True, 1, "", "")),
        (b"Uhrzeit;Anzeige\n9:30:05;12,5\n", "a.csv", READINGS, ("", False, 1, "", "")),
        (b"\xef\xbb\xbfLaufzeit;Ereignis\n0:00;Start\n", "a.csv", MARKS, ("", True, 1, "", "")),
    ],
)  # fmt: skip
def test_logs_are_recognised_by_what_is_in_them(data, name, kind, facts):
    found = recognise(data, name=name)
    assert (found.kind, found.problem) == (kind, "")
    assert (found.ending, found.elapsed, found.rows, found.aside, found.title) == facts
    assert found.begin_s is None
    date, zone = (
        "without a date are of the drill's day",
        "without a zone have that of run.toml, else of the drill's start",
    )
    assert found.told == ("" if found.elapsed else f"times {date} and {zone}")


def test_a_time_of_day_with_its_date_and_zone_is_known_when_it_comes():
    found = recognise(b"Datum;Uhrzeit (UTC);Anzeige\n17.01.2026;09:30:05;12\n17.01.2026;09:30:09;10\n", name="a.csv")
    assert (found.begin_s, found.end_s) == (1768642205.0, 1768642209.0)


@pytest.mark.parametrize(
    ("data", "name", "piece"),
    [
        (xlsx({"people": [["name"], ["Mara"]]}), "a.xlsx", "no sheet ('people') has columns that are read"),
        (xlsx({"a": LOG, "b": LOG}), "a.xlsx", "the sheets 'a' and 'b' each hold readings"),
        (xlsx({"a": LOG})[:300], "a.xlsx", "the spreadsheet is damaged or cut off"),
        (b"PK\x03\x04", "a.ods", "the spreadsheet is damaged or cut off"),
        (xlsx({"a": [["elapsed (s)", "reading"], [5, "far"]]}), "a.xlsx", "sheet 'a', cell B2: reading_m 'far'"),
        (b"time,latitude,longitude,reading_m\n2026-01-17T09:30:00Z,46,7,3\n", "a.csv", "holds positions and a log"),
        (b"elapsed,mark\n0,start\n5,lunch\n", "a.csv", "line 3: the mark 'lunch' is not known"),
        (
            xlsx({"x": [["elapsed (s)", "mark"], [0, "lunch"]], "y": LOG}),
            "a.xlsx",
            "sheet 'x', cell B2: the mark 'lunch'",
        ),
    ],
)
def test_what_cannot_be_used_has_one_line(data, name, piece):
    found = recognise(data, name=name)
    assert found.problem.startswith(name)
    assert piece in found.problem
    assert "\n" not in found.problem


def taken(workspace, files):
    basket, lines = Basket("AAAABBBBCCCC"), []
    for name, data in files.items():
        found, told = take_in(workspace, name, [data])
        basket, lines = with_files(basket, found, told), [*lines, *told]
    assert lines == []
    return basket


def placed(workspace, basket):
    plan = plan_of(basket.files, drill_places(workspace), {})
    assert plan.open == ()
    return plan, put(workspace, plan, scratch=basket_folder(workspace, basket.token))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("readings.xlsx", xlsx({"readings": LOG, "marks": MARK_ROWS})),
        ("readings.ods", ods({"Mara": LOG, "Marken": MARK_ROWS})),
    ],
)
@pytest.mark.parametrize("given", ["", ".bin"])
def test_a_dropped_spreadsheet_goes_into_its_run_as_it_came(tmp_path, name, data, given):
    files = {"bowl/drill.toml": DRILL.read_bytes(), "bowl/mara-1/track.gpx": RUN_TRACK.read_bytes()}
    basket = taken(tmp_path, files | {f"bowl/mara-1/{name}{given}": data})
    assert [f.kind for f in basket.files[1:]] == [TRACK, READINGS]
    plan, done = placed(tmp_path, basket)
    assert (
        plan.companions[0].note == "In one folder with it. Set aside in it: 1 in 'Pfeil' (column C), which is not read."
    )
    assert (done.runs, done.failures) == (("mara-1",), ())
    run = tmp_path / "drills/bowl/runs/mara-1"
    assert (run / name).read_bytes() == data
    drill = read_drill_folder(tmp_path / "drills/bowl").drill
    recording = read_run(run, drill)
    start_s = (drill.start - recording.time_zero).total_seconds()  # elapsed times count from there
    assert (recording.readings.time_s - start_s).tolist() == [5.0, 9.0]
    assert [m.mark for m in recording.marks] == ["start", "probe_hit"]


def test_spreadsheets_in_a_zip_are_files_of_it(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.write(DRILL, "bowl/drill.toml")
        archive.write(RUN_TRACK, "bowl/mara-1/track.gpx")
        archive.writestr("bowl/mara-1/log.xlsx", xlsx({"a": LOG}))
    basket = taken(tmp_path, {"bowl.zip": out.getvalue()})
    assert placed(tmp_path, basket)[1].runs == ("mara-1",)
    assert (tmp_path / "drills/bowl/runs/mara-1/readings.xlsx").is_file()


def test_times_that_a_spreadsheet_took_for_hours_go_in_with_the_track(tmp_path):
    log = xlsx({"a": [["Laufzeit", "Anzeige"], [clock(0, 35), 30], [clock(1, 4), 12]]})
    files = {"drill.toml": DRILL.read_bytes(), "mara-1.gpx": RUN_TRACK.read_bytes(), "mara-1.xlsx": log}
    assert placed(tmp_path, taken(tmp_path, files))[1].failures == ()
    folder = tmp_path / "drills/drill"
    folder = folder if folder.is_dir() else next((tmp_path / "drills").iterdir())
    drill = read_drill_folder(folder).drill
    recording = read_run(folder / "runs/mara-1", drill)
    start_s = (drill.start - recording.time_zero).total_seconds()
    assert (recording.readings.time_s - start_s).tolist() == [35.0, 64.0]


def test_an_ambiguous_log_is_not_put_in_and_says_how_to_write_it(tmp_path):
    log = ods({"a": [["elapsed", "reading"], [0.35, 30], [1.04, 12]]})
    files = {"drill.toml": DRILL.read_bytes(), "mara-1.gpx": RUN_TRACK.read_bytes(), "mara-1.ods": log}
    _, done = placed(tmp_path, taken(tmp_path, files))
    assert done.runs == ()
    assert "1.04 may be 1.04 s or 1 min 4 s; write 0:01:04" in done.failures[0]
