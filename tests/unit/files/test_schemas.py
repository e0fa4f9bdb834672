"""The JSON Schemas against what is written and read; `jsonschema` is the judge."""

import copy
import dataclasses
import datetime as dt
import importlib.util
import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from analyzer.api import analyze
from analyzer.errors import AnalyzerError
from analyzer.events.files.event_toml import ON_PROPOSALS, parse_event_toml
from analyzer.events.files.rules_toml import BUILT_IN, KEYS, built_in_rules_bytes, parse_event_rules
from analyzer.events.model import STATUSES
from analyzer.files import drill_toml, marks_csv, readings_csv, rules_toml, run_toml
from analyzer.files.checks_toml import parse_checks_toml
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.rules_toml import MEASURES, default_rules_bytes, parse_rules_toml
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.schemas import NAMES, schema
from analyzer.files.schemas.of_codec import schema_of
from analyzer.files.schemas.result_schema import CODEC, result_schema, schema_bytes
from analyzer.files.table import parse_table
from analyzer.files.tracks.track_csv import parse_track_csv
from analyzer.model.account import FINDINGS
from analyzer.model.recording import MARKS
from analyzer.model.result import AXES, PLACES, RunResult, SharedFit, SharedRun
from analyzer.workspace.people.people_toml import parse_people

_spec = importlib.util.spec_from_file_location("result_builder", Path(__file__).with_name("result_builder.py"))
builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(builder)

ROOT = Path(__file__).resolve().parents[3]
SAMPLES = ROOT / "sample_tracks"
RUNS = sorted(SAMPLES.glob("*/runs/*"))
NUMBERS = {
    "reading_m",
    "steer_deg",
    "heading_deg",
    "east_m",
    "north_m",
    "latitude",
    "longitude",
    "elevation_m",
    "sigma_m",
    "hdop",
}


def validator(name):
    return Draft202012Validator(schema(name), format_checker=Draft202012Validator.FORMAT_CHECKER)


def errors(name, values):
    """Return what a file's schema has against its values, in words."""
    return [error.message for error in validator(name).iter_errors(values)]


def toml_values(data):
    """Return the values of a TOML file as a schema takes them: dates and times as texts."""

    def plain(value):
        if isinstance(value, dict):
            return {key: plain(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [plain(inner) for inner in value]
        return value.isoformat() if isinstance(value, dt.date | dt.datetime) else value

    return plain(tomllib.loads(data.decode()))


def csv_values(data):
    """Return the rows of a table as a schema takes them: numbers as numbers, empty cells left out."""
    rows = parse_table(data, name="table.csv").rows
    return [{k: float(v) if k in NUMBERS else v for k, v in row.cells.items() if v} for row in rows]


@pytest.mark.parametrize("name", NAMES)
def test_every_schema_is_one(name):
    assert schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema(name))


def test_every_file_of_the_folder_is_listed():
    with pytest.raises(KeyError):
        schema("weather")
    assert {p.stem for p in (ROOT / "analyzer/files/schemas").glob("*.json")} == set(NAMES)


def test_the_result_schema_is_what_the_codec_writes():
    """Written anew by python -m analyzer.files.schemas.result_schema."""
    assert schema("result") == result_schema()
    assert (ROOT / "analyzer/files/schemas/result.json").read_bytes() == schema_bytes()


def test_a_field_that_is_written_in_a_way_of_its_own_has_to_be_told():
    with pytest.raises(TypeError, match="is written in a way of its own"):
        schema_of(CODEC, RunResult, {})


@pytest.mark.parametrize("drill", ["lower_bowl", "long_gully"])
def test_sample_results_fit(drill):
    found = [result for result in analyze(SAMPLES / drill, draws=4) if isinstance(result, RunResult)]
    assert found
    assert any(result.shared for result in found)
    for result in found:
        assert errors("result", json.loads(result_bytes(result))) == []


@pytest.fixture
def values():
    """Return the values of an invented result's file that name two runs of one fit."""
    runs = (SharedRun("a", "0" * 64), SharedRun("b", "1" * 64))
    return json.loads(result_bytes(dataclasses.replace(builder.make_result(), shared=SharedFit((PLACES, AXES), runs))))


def test_an_invented_result_fits_alone_and_with_others(values):
    assert errors("result", values) == []
    assert errors("result", values | {"shared": "none"}) == []


def changed(values, path, value):
    """Return values with another value at a path; None takes the key out."""
    made = copy.deepcopy(values)
    node = made
    for step in path[:-1]:
        node = node[step]
    if value is None:
        del node[path[-1]]
    else:
        node[path[-1]] = value
    return made


@pytest.mark.parametrize(("path", "value"), [
    (("format",), "searchwake-result/1"), (("run", "id"), 3), (("run", "duration_s"), "60"), (("shared",), "nobody"),
    (("shared", "runs", 0, "sha256"), "abc"), (("shared", "estimated", 0), "moods"), (("extra",), 1),
    (("phases", 0, "phase"), "apres_ski"), (("timeline", 0, "activity"), "singing"),
    (("account", 0, "cause"), "weather"),
    (("account", 0, "seconds"), 4.0), (("searches", 0, "fine", "reach_m"), {"status": "unknown", "why": "x"}),
    (("searches", 0, "coarse", "walked_m", "unit"), None), (("path", "east_m"), None), (("scores", "rules"), None),
    (("evidence", "tier"), "hearsay"), (("readings", "weight", 0), "much"), (("probe_hits", 0), {"transmitter": "A"}),
    (("inputs", 0, "dropped", 0, "count"), 1.5),
])  # fmt: skip
def test_a_wrong_result_is_refused_by_schema_and_reader(values, path, value):
    wrong = changed(values, path, value)
    assert errors("result", wrong) != []
    if path not in {("shared", "runs", 0, "sha256"), ("shared", "estimated", 0), ("evidence", "tier")}:  # words, to it
        with pytest.raises(AnalyzerError):
            parse_result(json.dumps(wrong).encode())


@pytest.mark.parametrize("run", RUNS, ids=lambda p: f"{p.parent.parent.name}/{p.name}")
def test_sample_inputs_fit(run):
    for name in ("run.toml", "drill.toml"):
        place = run if name == "run.toml" else run.parents[1]
        if (place / name).is_file():
            assert errors(Path(name).stem, toml_values((place / name).read_bytes())) == []
    for name in ("readings.csv", "marks.csv", "track.csv"):
        if (run / name).is_file():
            assert errors(Path(name).stem, csv_values((run / name).read_bytes())) == []


def test_sheets_that_come_with_the_program_fit():
    assert errors("rules", toml_values(default_rules_bytes())) == []
    for name in BUILT_IN:
        assert errors("event_rules", toml_values(built_in_rules_bytes(name))) == []


def test_the_event_of_the_docs_fits():
    text = (ROOT / "docs/file_formats.md").read_text()
    example = text.partition("```toml\n")[2].partition("```")[0].encode()
    parse_event_toml(example)
    assert errors("event", toml_values(example)) == []


def keys_of(part):
    return set(part["properties"])


def test_the_hand_written_schemas_have_the_keys_of_the_readers():
    drill, rules, event = schema("drill")["properties"], schema("rules")["properties"], schema("event")["properties"]
    assert keys_of(drill["drill"]) == set(drill_toml.DRILL_KEYS)
    assert keys_of(drill["transmitter"]["items"]) == set(drill_toml.TRANSMITTER_KEYS)
    assert keys_of(schema("run")) == {"run", *run_toml.KEYS}
    assert keys_of(schema("readings")["items"]) == set(readings_csv.COLUMNS)
    assert keys_of(schema("marks")["items"]) == set(marks_csv.COLUMNS)
    assert schema("marks")["items"]["properties"]["mark"]["enum"] == list(MARKS)
    assert keys_of(rules["reference"]) == set(rules_toml.REFERENCE_KEYS)
    assert rules["deduction"]["items"]["properties"]["measure"]["enum"] == list(rules_toml.MEASURES)
    fastest, targets = event["event_rules"]["oneOf"]
    assert keys_of(fastest) | keys_of(targets) == set(KEYS)
    by_finding, by_measure = fastest["properties"]["penalty"]["items"]["oneOf"]
    assert by_finding["properties"]["finding"]["enum"] == list(FINDINGS)
    assert by_measure["properties"]["measure"]["enum"] == list(rules_toml.MEASURES)
    assert event["judge"]["items"]["properties"]["status"]["enum"] == list(STATUSES)
    assert event["event_rules"] == schema("event_rules")["properties"]["event_rules"]
    for key in ON_PROPOSALS:
        assert event["judge"]["items"]["properties"][key]["enum"] == [*FINDINGS, *MEASURES]


DRILL = (SAMPLES / "lower_bowl/drill.toml").read_text()
EVENT = """[event]
name = "Cup"
rules = "fastest"
[[class]]
id = "open"
[[field]]
drill = "bowl"
[[entry]]
bib = 1
name = "Mara"
class = "open"
[[judge]]
bib = 1
field = "bowl"
penalty_s = 10
reason = "left the area"
by = "R"
at = 2026-02-14T10:12:00+01:00
"""
RULES = default_rules_bytes().decode()
TARGETS = built_in_rules_bytes("targets_3_in_7_min").decode()
CHECK = '[[check]]\nwho = "Mara"\nbattery_percent = 80\ngroup_check = "passed"\n'
PERSON = '[[person]]\nname = "Mara"\nconsent = true\nconsent_date = 2026-01-17\nspellings = ["mk"]\n'
TOML_CASES = [
    ("drill", parse_drill_toml, DRILL, "[drill]\n", "[drill]\nnme = 1\n"),
    ("drill", parse_drill_toml, DRILL, "[[transmitter]]\n", "[[transmitter]]\ndepth = 1\n"),
    ("drill", parse_drill_toml, DRILL, "depth_m = ", "depth_m = 1"),
    ("drill", parse_drill_toml, DRILL, "east_m = ", "latitude = "),
    ("drill", parse_drill_toml, DRILL, "latitude = ", "latitude = 1"),
    ("drill", parse_drill_toml, DRILL, "[drill]\n", "[drill]\nteam = 1\n"),
    ("drill", parse_drill_toml, DRILL, "[[transmitter]]\n", '[[receiver]]\nname = "x"\nscale = 1\n[[transmitter]]\n'),
    ("run", parse_run_toml, "antennas = 3\n", "3", "4"),
    ("run", parse_run_toml, "carry_height_m = 1.0\n", "1.0", '"1.0"'),
    ("run", parse_run_toml, 'searcher = "Mara"\n', "searcher", "seacher"),
    ("run", parse_run_toml, 'zone = "Europe/Vienna"\n', "Europe/Vienna", "noon"),
    ("run", parse_run_toml, 'window = [60, "5:00"]\n', '60, "5:00"', "60"),
    ("run", parse_run_toml, 'clock = "readings"\n', "readings", "sun"),
    ("run", parse_run_toml, 'praised = ["lines"]\n', '"lines"', "1"),
    ("rules", parse_rules_toml, RULES, "fine_radius_m = 3.0", "fine_radius_m = 0.0"),
    ("rules", parse_rules_toml, RULES, "missed_s = 300.0", ""),
    ("rules", parse_rules_toml, RULES, 'measure = "fine.reach_m"', 'measure = "fine.reech_m"'),
    ("rules", parse_rules_toml, RULES, "points_per_unit = 20.0", "points_per_unit = 0.0"),
    ("rules", parse_rules_toml, RULES, "[rules]", "[weights]\nfine_search = 1\n[rules]"),
    ("people", parse_people, '[[person]]\nname = "Mara"\n', "name", "nam"),
    ("people", parse_people, '[[person]]\nname = "Mara"\n', '"Mara"', '" "'),
    ("people", parse_people, PERSON, "consent_date = 2026-01-17\n", ""),
    ("people", parse_people, PERSON, '["mk"]', '"mk"'),
    ("checks", parse_checks_toml, CHECK, "who", "whom"),
    ("checks", parse_checks_toml, CHECK, '"Mara"', '" "'),
    ("checks", parse_checks_toml, CHECK, "80", "101"),
    ("checks", parse_checks_toml, CHECK, '"passed"', '"yes"'),
    ("event_rules", lambda d: parse_event_rules(d, name="x.toml"), TARGETS, '"targets"', '"fastest"'),
    ("event", parse_event_toml, EVENT, "penalty_s = 10", "penalty_s = -10"),
    ("event", parse_event_toml, EVENT, "penalty_s = 10", "penalty_s = 10\nbonus_s = 3"),
    ("event", parse_event_toml, EVENT, "penalty_s = 10", 'penalty_s = 10\nconfirms = "off_lowest"'),
    ("event", parse_event_toml, EVENT, "penalty_s = 10", 'penalty_s = 10\ntransmitter = "A"'),
    ("event", parse_event_toml, EVENT, "penalty_s = 10", 'confirms = "off_minimum_probing"'),
    ("event", parse_event_toml, EVENT, 'field = "bowl"', ""),
    ("event", parse_event_toml, EVENT, 'drill = "bowl"', 'drill = "../bowl"'),
    ("event", parse_event_toml, EVENT, 'rules = "fastest"', ""),
    ("event", parse_event_toml, EVENT, "bib = 1\nname", 'bib = 1\nstatus = "excluded"\nname'),
]


@pytest.mark.parametrize(("name", "parse", "good", "old", "new"), TOML_CASES)
def test_a_wrong_toml_file_is_refused_by_schema_and_reader(name, parse, good, old, new):
    assert old in good
    parse(good.encode())
    assert errors(name, toml_values(good.encode())) == []
    wrong = good.replace(old, new).encode()
    with pytest.raises(AnalyzerError):
        parse(wrong)
    assert errors(name, toml_values(wrong)) != []


@pytest.mark.parametrize(("name", "parse", "good", "wrong"), [
    ("readings", parse_readings_csv, "elapsed,reading_m\n1:23.5,30\n", "elapsed,reading_m\n1:23.5,300\n"),
    ("readings", parse_readings_csv, "elapsed,reading_m\n83,30\n", "elapsed,reading_m\nsoon,30\n"),
    ("readings", parse_readings_csv, "time,reading_m\n2026-01-17T09:30:00Z,30\n",
     "time,elapsed,reading_m\n2026-01-17T09:30:00Z,1,30\n"),
    ("readings", parse_readings_csv, "time,reading_m\n2026-01-17T09:30:00+01:00,30\n",
     "time,reading_m\n2026-01-17T09:30:00,30\n"),
    ("marks", parse_marks_csv, "elapsed,mark\n0,start\n", "elapsed,mark\n0,begin\n"),
    ("marks", parse_marks_csv, "elapsed,mark\n0,start\n", "note,mark\nx,start\n"),
    ("track", parse_track_csv, "time,east_m,north_m\n2026-01-17T09:30:00Z,1,2\n",
     "time,east_m\n2026-01-17T09:30:00Z,1\n"),
    ("track", parse_track_csv, "time,east_m,north_m,sigma_m\n2026-01-17T09:30:00Z,1,2,1\n",
     "time,east_m,north_m,sigma_m\n2026-01-17T09:30:00Z,1,2,0\n"),
])  # fmt: skip
def test_a_wrong_table_is_refused_by_schema_and_reader(name, parse, good, wrong):
    parse(good.encode())
    assert errors(name, csv_values(good.encode())) == []
    with pytest.raises(AnalyzerError):
        parse(wrong.encode())
    assert errors(name, csv_values(wrong.encode())) != []
