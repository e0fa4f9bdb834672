"""Logs beside a track: which files are read, what a workbook holds, and what elapsed times mean where a track tells."""

import dataclasses
import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run, read_drill_folder, read_run, run_files, run_folder_faults
from analyzer.files.writers import write_drill_toml
from analyzer.workspace.drill_key import drill_key
from tests.support.sheets import clock, ods, open_clock, xlsx

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)
SHEETS = Path(__file__).parents[2] / "data" / "sheets"


def track(seconds):
    """Return a walk of that length with a fix every two seconds."""
    rows = [f"{(ZERO + dt.timedelta(seconds=s)).isoformat()},{s * 0.05:.2f},0.0" for s in range(0, seconds + 1, 2)]
    return ("time,east_m,north_m\n" + "\n".join(rows)).encode()


def refused(drill, *pieces, seconds=600, **files):
    with pytest.raises(InputError) as caught:
        parse_run("r", {"track.csv": track(seconds), **{k.replace("_", "."): v for k, v in files.items()}}, drill)
    for piece in pieces:
        assert piece in str(caught.value)


def times(drill, seconds=600, **files):
    run = parse_run("r", {"track.csv": track(seconds), **{k.replace("_", "."): v for k, v in files.items()}}, drill)
    return run.readings.time_s.tolist(), [(m.mark, m.time_s) for m in run.marks]


@pytest.mark.parametrize(("make", "at", "name"), [(xlsx, clock, "readings_xlsx"), (ods, open_clock, "readings_ods")])
def test_minutes_and_seconds_that_a_spreadsheet_took_for_hours(drill, make, at, name):
    log = make({"a": [["elapsed", "reading"], [at(0, 35), 30], [at(1, 4), 20], [at(6, 4), 3]]})
    assert times(drill, **{name: log})[0] == [35, 64, 364]


@pytest.mark.parametrize("file", ["long.ods", "long.xlsx"])
def test_minutes_above_24_that_a_spreadsheet_took_for_a_day_and_more(drill, file):
    """0:35, 6:04 and 25:10 as a person typed them; the last one has another form in the file, see tests/data/sheets."""
    assert times(drill, 1800, **{f"readings_{Path(file).suffix[1:]}": (SHEETS / file).read_bytes()})[0] == [
        35,
        364,
        1510,
    ]


def test_hours_and_minutes_that_both_lie_within_the_track_are_asked(drill):
    log = xlsx({"a": [["elapsed", "reading"], [clock(0, 35), 30], [clock(1, 4), 20]]})
    refused(
        drill, "readings.xlsx, sheet 'a', row 3", "1:04:00 may be 1 h 4 min or 1 min 4 s", "write 0:01:04",
        "elapsed (mm:ss)", seconds=4000, readings_xlsx=log,
    )  # fmt: skip
    told = xlsx({"a": [["elapsed (mm:ss)", "reading"], [clock(0, 35), 30], [clock(1, 4), 20]]})
    assert times(drill, 4000, readings_xlsx=told)[0] == [35, 64]
    told = xlsx({"a": [["elapsed (h:mm:ss)", "reading"], [clock(0, 35), 30], [clock(1, 4), 20]]})
    assert times(drill, 4000, readings_xlsx=told)[0] == [2100, 3840]


def test_neither_meaning_within_the_track_is_told(drill):
    log = b"elapsed,reading\n00:35:00,30\n14:04:00,3\n"
    refused(drill, "14 h 4 min or 14 min 4 s, and the track ends after 10 min 0 s", readings_csv=log)


def test_seconds_that_may_be_minutes_and_seconds_are_asked(drill):
    log = "elapsed,reading\n0.35,30\n1.04,20\n6.04,3\n"
    refused(
        drill, "line 4", "6.04 may be 6.04 s or 6 min 4 s", "write 0:06:04", "elapsed (s)", readings_csv=log.encode()
    )
    assert times(drill, readings_csv=log.replace("elapsed", "elapsed (s)").encode())[0] == [0.35, 1.04, 6.04]
    assert times(drill, readings_csv=log.replace("elapsed", "Zeit (mm:ss)").encode())[0] == [35, 64, 364]
    assert times(drill, seconds=200, readings_csv=log.encode())[0] == [0.35, 1.04, 6.04]  # there are no six minutes
    assert times(drill, readings_csv=log.replace("0.35", "0.75").encode())[0] == [0.75, 1.04, 6.04]
    assert times(drill, readings_csv=log.replace("6.04", "75.5").encode())[0] == [0.35, 1.04, 75.5]
    sheet = xlsx({"a": [["elapsed", "reading"], [0.35, 30], [1.1, 20], [6.04, 3]]})
    refused(drill, "sheet 'a', row 4", "6.04 may be 6.04 s", readings_xlsx=sheet)


def test_marks_are_asked_in_the_same_way(drill):
    refused(
        drill, "marks.csv, line 3", "6.04 may be 6.04 s or 6 min 4 s", marks_csv=b"elapsed,mark\n0,start\n6.04,finish\n"
    )
    marks = xlsx({"a": [["elapsed", "mark"], [clock(0, 0), "Start"], [clock(6, 4), "Probe hit"]]})
    run = parse_run("r", {"track.csv": track(600), "marks.xlsx": marks}, drill)
    assert [(m.mark, m.time_s) for m in run.marks] == [("start", 0.0), ("probe_hit", 364.0)]


def test_times_of_day_are_of_the_drill(drill):
    """The date is the drill's; the zone is that of run.toml, else the offset that the drill's start is written with."""
    log = {"track.csv": track(600), "readings.csv": b"Uhrzeit;Anzeige\n10:30:05;30\n"}
    with pytest.raises(InputError, match=r"no offset from UTC; add Z for UTC .* or write zone in run.toml"):
        parse_run("r", log, drill)
    in_zone = parse_run("r", {**log, "run.toml": b'zone = "Europe/Vienna"'}, drill)
    assert in_zone.readings.time_s.tolist() == [5.0]
    start = ZERO.astimezone(dt.timezone(dt.timedelta(hours=1)))
    written = write_drill_toml(dataclasses.replace(drill, start=start))
    assert b"10:30:00+01:00" in written
    assert parse_run("r", log, parse_drill_toml(written)).readings.time_s.tolist() == [5.0]
    with pytest.raises(InputError, match="no offset from UTC"):  # Z says nothing of the clocks there
        parse_run("r", log, dataclasses.replace(drill, start=ZERO))


@pytest.mark.parametrize("file", ["both.ods", "both.xlsx"])
def test_readings_and_marks_of_one_workbook(drill, file):
    """Both sheets are used, and the third is counted; for where the files are from see tests/data/sheets."""
    data = (SHEETS / file).read_bytes()
    run = parse_run("r", {"track.csv": track(60), f"readings{Path(file).suffix}": data}, drill)
    assert run.readings.time_s.tolist() == [5.0, 9.0]
    assert [(m.mark, m.time_s) for m in run.marks] == [("start", 0.0), ("probe_hit", 12.5)]
    _, readings, marks = run.inputs
    assert (readings.role, readings.name, readings.rows, readings.used) == (
        "readings",
        f"readings{Path(file).suffix}",
        2,
        2,
    )
    assert dict(readings.dropped) == {"in the sheet 'participants', which is not read": 1}
    assert (marks.role, marks.name, marks.sha256, marks.used) == ("marks", readings.name, readings.sha256, 2)


@pytest.mark.parametrize("file", ["hand.ods", "hand.xlsx", "hand.csv"])
def test_a_log_that_a_spreadsheet_program_wrote(drill, file):
    data = (SHEETS / file).read_bytes()
    run = parse_run("r", {"track.csv": track(600), f"readings{Path(file).suffix}": data}, drill)
    assert run.readings.time_s.tolist() == [35, 64, 280, 364, 390]
    assert run.readings.reading_m.tolist() == [38, 31.5, 12.4, 3.1, 0.9]
    assert dict(run.inputs[1].dropped) == {
        "no reading in the row": 2, "in 'Pfeil' (column C), which is not read": 3,
        "in 'Bemerkung' (column D), which is not read": 1, "above the header": 1,
    }  # fmt: skip


@pytest.mark.parametrize("file", ["day.ods", "day.xlsx"])
def test_dates_and_times_of_day_that_a_spreadsheet_program_wrote(drill, file):
    data = {"track.csv": track(600), f"readings{Path(file).suffix}": (SHEETS / file).read_bytes()}
    run = parse_run("r", {**data, "run.toml": b'zone = "UTC"'}, drill)
    assert run.readings.time_s.tolist() == [35, 64, 390]


def test_a_sample_log_kept_in_spreadsheets_is_the_same_run(tmp_path):
    """The logs of a sample run as they are, and as a German user keeps them; see tests/data/sheets."""
    sample = SHEETS.parents[2] / "sample_tracks" / "lower_bowl"
    run = sample / "runs" / "mara-1"
    for name in ("track.gpx", "run.toml"):
        (tmp_path / name).write_bytes((run / name).read_bytes())
    with (tmp_path / "run.toml").open("a") as out:
        out.write('\nzone = "+01:00"\n')
    (tmp_path / "readings.ods").write_bytes((SHEETS / "mara_readings.ods").read_bytes())
    (tmp_path / "marks.xlsx").write_bytes((SHEETS / "mara_marks.xlsx").read_bytes())
    placed = read_drill_folder(sample).drill
    given, kept = read_run(run, placed), read_run(tmp_path, placed)
    np.testing.assert_allclose(kept.readings.time_s, given.readings.time_s, atol=1e-6)
    np.testing.assert_array_equal(kept.readings.reading_m, given.readings.reading_m)
    assert [(m.mark, m.time_s, m.transmitter) for m in kept.marks] == [
        (m.mark, pytest.approx(m.time_s, abs=1e-6), m.transmitter) for m in given.marks
    ]
    assert (kept.time_zero, kept.inputs[1].rows) == (given.time_zero, given.inputs[1].rows)


def test_two_logs_of_one_kind_are_refused_with_both_names(drill):
    log, marks = b"elapsed,reading\n5,3\n", b"elapsed,mark\n0,start\n"
    both = xlsx({"readings": [["elapsed (s)", "reading"], [5, 3]], "marks": [["elapsed (s)", "mark"], [0, "start"]]})
    refused(drill, "both readings.csv and readings.xlsx hold readings", readings_csv=log, readings_xlsx=both)
    refused(
        drill, "both readings.xlsx and marks.csv hold marks", "one of the files", readings_xlsx=both, marks_csv=marks
    )


@pytest.mark.parametrize(
    ("files", "pieces"),
    [
        (["readings.csv", "readings.xlsx"], ["two reading logs, readings.csv and readings.xlsx", "keep one"]),
        (["marks.ods", "marks.txt"], ["two files of marks, marks.ods and marks.txt"]),
        (["Readings Mara.xlsx"], ["run/Readings Mara.xlsx", "name it readings.xlsx"]),
        (["readings.xls"], ["run/readings.xls", "save it as readings.xlsx, .ods or .csv"]),
        (["Marks.ods"], ["run/Marks.ods", "name it marks.ods"]),
    ],
)
def test_logs_under_other_names_are_told(tmp_path, files, pieces):
    run = tmp_path / "run"
    run.mkdir()
    for name in ("track.csv", *files):
        (run / name).write_text("x")
    told = " | ".join(map(str, run_folder_faults(run)))
    for piece in pieces:
        assert piece in told


@pytest.mark.parametrize("name", ["readings.xlsx", "marks.ods", "readings.txt"])
def test_results_are_out_of_date_when_a_log_changes(tmp_path, name):
    run = tmp_path / "runs" / "a"
    run.mkdir(parents=True)
    (run / "track.csv").write_bytes(track(60))
    before = drill_key(tmp_path, settings=())
    (run / name).write_bytes(b"1")
    between = drill_key(tmp_path, settings=())
    (run / name).write_bytes(b"2")
    assert len({before, between, drill_key(tmp_path, settings=())}) == 3


def test_every_kind_of_log_is_read_from_the_folder(tmp_path, drill):
    rows = [["elapsed (s)", "reading"], [5, 3]]
    (tmp_path / "track.csv").write_bytes(track(60))
    for name, data in (
        ("readings.txt", "elapsed (s)\treading\n5\t3\n".encode("utf-16")), ("readings.xlsx", xlsx({"a": rows})),
        ("readings.ods", ods({"a": rows})), ("readings.tsv", b"elapsed (s)\treading\n5\t3\n"),
    ):  # fmt: skip
        (tmp_path / name).write_bytes(data)
        assert run_files(tmp_path)["readings"].name == name
        assert read_run(tmp_path, drill).readings.reading_m.tolist() == [3.0]
        (tmp_path / name).unlink()


def test_a_workbook_with_a_sheet_for_each_run_is_read_by_the_sheet_that_is_named(drill):
    book = xlsx({"Mara": [["elapsed", "reading"], [10, 30], [20, 20]], "Ilo": [["elapsed", "reading"], [15, 25]]})
    refused(drill, "readings.xlsx: the sheets 'Mara' and 'Ilo' each hold readings", readings_xlsx=book)
    run = parse_run("r", {"track.csv": track(600), "readings.xlsx": book, "run.toml": b'readings_sheet = "Ilo"'}, drill)
    assert run.readings.time_s.tolist() == [15.0]
    log = next(item for item in run.inputs if item.role == "readings")
    assert log.dropped == (("in the sheet 'Mara', which is not read", 3),)
    with pytest.raises(InputError, match=r"no sheet 'Ida', which run\.toml names; name one .*'Mara', 'Ilo'"):
        parse_run("r", {"track.csv": track(600), "readings.xlsx": book, "run.toml": b'readings_sheet = "Ida"'}, drill)


def test_files_that_nobody_reads_are_told_with_the_run(drill, tmp_path):
    folder = tmp_path / "mara-1"
    folder.mkdir()
    for name in ("film.mp4", "note.txt", "track.csv", ".hidden", "truth.json"):
        (folder / name).write_bytes(track(60))
    assert read_run(folder, drill).not_read == ("film.mp4", "note.txt")


def test_in_one_table_a_row_with_a_remark_alone_is_neither(drill):
    log = b"elapsed,reading,mark,note\n1,20,,\n2,,first_reading,\n3,,,turned round\n4,18,finish,\n"
    run = parse_run("r", {"track.csv": track(600), "readings.csv": log}, drill)
    assert run.readings.reading_m.tolist() == [20.0, 18.0]
    assert [m.mark for m in run.marks] == ["first_reading", "finish"]
    counted = {one.role: (one.used, dict(one.dropped)) for one in run.inputs}
    assert counted["readings"] == (2, {"no reading in the row": 1})
