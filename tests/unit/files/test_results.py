"""Result files and the summary."""

import csv
import dataclasses
import importlib.util
import io
import itertools
import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.results.result_json import parse_result, result_bytes, write_result
from analyzer.files.results.summary_csv import COLUMNS, summary_bytes
from analyzer.files.results.summary_row import summary_row
from analyzer.model.figure import Figure
from analyzer.model.recording import InputFile
from dashboard.components.evidence_panel import evidence_panel

_spec = importlib.util.spec_from_file_location("result_builder", Path(__file__).with_name("result_builder.py"))
builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(builder)

NUMBER = ("value", "low", "high", "unit")


@pytest.fixture
def result():
    return builder.make_result()


@pytest.fixture
def values(result):
    return json.loads(result_bytes(result))


# Names as the documentation of the result file lists them.
@pytest.mark.parametrize(
    ("path", "keys"),
    [
        ((), "format run inputs evidence path transmitters phases searches timeline account findings scores"),
        (("run",), "id searcher drill time_zero duration_s"),
        (("inputs", 0), "role name sha256 rows used dropped"),
        (("inputs", 0, "dropped", 0), "reason count"),
        (("evidence",), "tier position_sigma_m clock_offset_s reading_scale axis_source notes"),
        (("evidence", "position_sigma_m"), "coarse_search fine_search"),
        (("path",), "time_s east_m north_m sigma_m"),
        (("transmitters", 0), "id east_m north_m sigma_m axis_bearing_deg axis_tilt_deg"),
        (("phases", 0), "phase transmitter start_s end_s start_sigma_s end_sigma_s walked_m"),
        (("searches", 0), "transmitter found signal coarse fine pinpoint"),
        (("searches", 0, "signal"), "covered_fraction overlap_fraction duration_s duration_reference_s luck_s"),
        (("searches", 0, "coarse"), "walked_m field_line_m path_ratio off_line_rms_m wrong_way_m wrong_way_s "
         "wrong_way_events turnaround_s standing_s speed_at_10_m speed_at_3_m"),
        (("searches", 0, "coarse", "wrong_way_events", 0), "from_s to_s metres"),
        (("searches", 0, "fine"), "duration_s legs crossing_angle_deg reach_m overshoot_m lowest_reading_m "
         "ended_on_lowest_m final_offset_m final_offset_physics_m"),
        (("searches", 0, "fine", "legs", 0), "from_s to_s length_m bearing_deg straightness_m"),
        (("searches", 0, "pinpoint"), "duration_s probe_offset_m"),
        (("timeline", 0), "phase transmitter activity from_s to_s seconds metres"),
        (("findings", 0), "id phase transmitter from_s to_s severity text saving_s figures"),
        (("scores",), "overall signal_search coarse_search fine_search pinpoint rules"),
        (("scores", "rules"), "name version sha256 pace signal_pace_mps fine_radius_m bracket_arm_m bracket_pace_mps"),
    ],
)  # fmt: skip
def test_every_documented_key_is_there(values, path, keys):
    node = values
    for step in path:
        node = node[step]
    assert set(keys.split()) <= set(node)


def test_format_line(values):
    assert values["format"] == "searchwake-result/2"


def test_figures_are_numbers_with_interval_or_a_reason(values):
    coarse, fine = values["searches"][0]["coarse"], values["searches"][0]["fine"]
    assert coarse["walked_m"] == {"value": 41.2346, "low": 40.2346, "high": 42.2346, "unit": "m"}
    assert fine["reach_m"] == {"status": "not_assessable", "why": "invented reason"}
    assert coarse["path_ratio"]["status"] == "not_assessable"  # a figure that is not a number does not become one
    assert coarse["path_ratio"]["why"]
    assert fine["extra_m"]["value"] == 1.0


def test_timeline_still_adds_up_after_rounding(result, values):
    """Within 1 ms and 1 mm, and without gaps."""
    rows = values["timeline"]
    assert abs(math.fsum(r["seconds"] for r in rows) - values["run"]["duration_s"]) < 1e-3
    assert abs(math.fsum(r["metres"] for r in rows) - math.fsum(p["walked_m"] for p in values["phases"])) < 1e-3
    assert all(a["to_s"] == b["from_s"] for a, b in itertools.pairwise(rows))
    assert values["phases"][0]["end_s"] == values["phases"][1]["start_s"]
    assert rows[-1]["to_s"] == values["run"]["duration_s"]


def test_what_is_not_finite_is_null(values):
    assert values["path"]["range_m"][:2] == [None, 1.0]
    assert values["phases"][0]["start_sigma_s"] is None
    assert values["transmitters"][0]["axis_bearing_deg"] is None


def test_equal_results_give_equal_bytes_with_the_key_near_the_start(result):
    keyed = dataclasses.replace(result, drill_key="f" * 64, engine="9")
    assert result_bytes(keyed) == result_bytes(
        dataclasses.replace(builder.make_result(), drill_key="f" * 64, engine="9")
    )
    assert b"f" * 64 in result_bytes(keyed)[:300]


@pytest.mark.parametrize("data", [b"{", b"[]", b'{"format": "other/1"}', b"", b"\xff\xfe\x00"])
def test_other_files_are_refused(data):
    with pytest.raises(InputError):
        parse_result(data)


def test_summary_row(result, values):
    row = summary_row("bowl", parse_result(result_bytes(result)))
    assert set(row) == set(COLUMNS)
    assert (row["run"], row["found"], row["transmitters"], row["score"]) == ("mara-1", 1, 1, 80.0)
    assert row["path_ratio"] == pytest.approx(41.2346 / 38.0, abs=1e-3)
    assert row["signal_search_s"] is None
    assert row["coarse_search_s"] == pytest.approx(values["phases"][0]["end_s"], abs=0.05)


@given(st.text(max_size=30), st.sampled_from(["", "=", "+", "-", "@", " =", "\t=", "\r@"]))
def test_no_text_becomes_a_formula(text, lead):
    """A cell that begins with = + - @, tab or return is run by spreadsheets (the known injection list)."""
    rows = list(csv.reader(io.StringIO(summary_bytes([{"searcher": lead + text, "score": -1.5}]).decode())))
    assert len(rows) == 2
    cell = dict(zip(*rows, strict=True))
    assert cell["score"] == "-1.5"  # a number stays one
    assert not cell["searcher"].lstrip().startswith(("=", "+", "-", "@", "\t", "\r"))


def test_json_has_no_nan_words(result):
    text = result_bytes(result).decode()
    assert json.loads(text, parse_constant=lambda word: pytest.fail(word))


@pytest.mark.parametrize(
    ("place", "number"),
    [
        ("slope.angle_deg", None),
        ("slope.aspect_deg", None),
        ("path.time_s.0", float("inf")),
        ("path.east_m.3", float("-inf")),
        ("run.duration_s", float("inf")),
        ("run.duration_s", 10**400),
        ("scores.rules.pace.0.0", None),
    ],
)
def test_a_number_that_is_none_is_refused(place, number):
    values = json.loads(result_bytes(builder.make_result()))
    *steps, last = (int(step) if step.isdigit() else step for step in place.split("."))
    at = values
    for step in steps:
        at = at[step]
    assert isinstance(at[last], float | int)
    at[last] = number
    no_json = isinstance(number, float)  # JSON has no word for it
    with pytest.raises(InputError, match="Infinity is no number" if no_json else place.partition(".")[0]):
        parse_result(json.dumps(values).encode())


def test_a_result_that_no_page_could_show_is_not_written(result, tmp_path):
    """2026-11-27: a figure that is no number was written as null, and every page with the run in it failed."""
    row = dataclasses.replace(result.account[0], seconds=Figure(math.nan, 0.0, 1.0, "s"))
    with pytest.raises(InputError, match=r"mara-1.json, account\[0\].seconds: .* no result was written"):
        write_result(tmp_path / "mara-1.json", dataclasses.replace(result, account=(row, *result.account[1:])))
    assert list(tmp_path.iterdir()) == []


def test_how_a_file_was_read_and_which_files_nobody_read_stand_in_the_result_where_there_are_any(result, values):
    assert "not_read" not in values["evidence"]
    log = InputFile("readings", "readings.csv", "a" * 64, 3, 3, told=("1 h added to its times, as run.toml says",))
    evidence = dataclasses.replace(result.evidence, not_read=("film.mp4", "note.txt"))
    more = dataclasses.replace(result, inputs=(log,), evidence=evidence)
    written = json.loads(result_bytes(more))
    assert written["inputs"][0]["told"] == ["1 h added to its times, as run.toml says"]
    assert written["evidence"]["not_read"] == ["film.mp4", "note.txt"]
    again = parse_result(result_bytes(more))
    assert (again.inputs, again.evidence.not_read) == ((log,), ("film.mp4", "note.txt"))
    shown = str(evidence_panel(more))
    assert "How it was read: 1 h added to its times, as run.toml says." in shown
    assert "read by nobody (2): film.mp4, note.txt." in shown
    assert "read by nobody" not in str(evidence_panel(result))
