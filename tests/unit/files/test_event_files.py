"""event.toml and its workspace: what is read, and one clear error with its place for everything that is wrong."""

import csv
import hashlib
import importlib.util
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer.engine.verdict.findings import POSSIBLY, REMARKS
from analyzer.errors import FileError, InputError
from analyzer.events.decisions_log import append_log, last_log, log_faults, log_head, shown_head
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.folder import read_event_folder
from analyzer.events.files.rules_toml import BUILT_IN, built_in_rules, parse_event_rules
from analyzer.events.files.run_facts import facts_of
from analyzer.events.files.scored_json import Sampling, Scored, parse_scored, scored_bytes, scored_values
from analyzer.events.files.standings_csv import standings_csv
from analyzer.events.files.standings_html import standings_html
from analyzer.events.model import OVERALL, EventRules, FaultPenalty, FieldScore, Place, ScoreLine, Standings, Unclear
from analyzer.files.rules_toml import default_rules_bytes
from analyzer.model.account import FINDINGS
from analyzer.model.figure import Figure
from analyzer.model.result import Phase
from analyzer.model.rules import SheetId

_spec = importlib.util.spec_from_file_location("result_builder", Path(__file__).with_name("result_builder.py"))
_builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_builder)
make_result = _builder.make_result

EVENT = """[event]
name = "Invented cup"
date = 2026-02-14
rules = "fastest"

[[class]]
id = "open"
name = "Open"

[[class]]
id = "young"

[[field]]
drill = "north"

[[field]]
drill = "south"
name = "South side"
time_limit_s = 600

[[entry]]
bib = 1
name = "Mara"
class = "open"
runs = {north = "mara-1"}

[[entry]]
bib = "2"
name = "Ilo"
class = "young"
status = {south = "absent"}

[[judge]]
bib = 1
field = "north"
penalty_s = 10
reason = "left the area"
by = "A judge"
at = 2026-02-14T10:12:00+01:00
"""
DRILL = """[drill]
name = "Bowl"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
east_m = 12
north_m = 0
depth_m = 1
"""


def track(seconds):
    return "time,east_m,north_m\n" + "".join(f"2026-01-17T09:30:{i:02d}Z,{i},{seconds}\n" for i in range(9))


def add_run(workspace, drill, run, *, bib="", content=None):
    folder = workspace / "drills" / drill / "runs" / run
    folder.mkdir(parents=True)
    (folder / "track.csv").write_text(content or track(len(list(folder.parent.parent.parent.rglob("track.csv")))))
    if bib:
        (folder / "run.toml").write_text(f'bib = "{bib}"\n')
    return folder


@pytest.fixture
def workspace(tmp_path):
    """Return a workspace with two drills, three runs and an event; the run of bib 2 is found by its bib."""
    for drill in ("north", "south"):
        (tmp_path / "drills" / drill / "runs").mkdir(parents=True)
        (tmp_path / "drills" / drill / "drill.toml").write_text(DRILL)
    add_run(tmp_path, "north", "mara-1")
    add_run(tmp_path, "north", "ilo-1", bib=2)
    add_run(tmp_path, "north", "nobody")
    (tmp_path / "events" / "cup").mkdir(parents=True)
    (tmp_path / "events" / "cup" / "event.toml").write_text(EVENT)
    return tmp_path


def read(workspace, text=EVENT):
    (workspace / "events" / "cup" / "event.toml").write_text(text)
    return read_event_folder(workspace / "events" / "cup")


def test_runs_are_matched_by_name_and_by_bib(workspace):
    folder = read(workspace)
    assert [(e.bib, e.name, e.class_id, e.runs) for e in folder.event.entries] == [
        ("1", "Mara", "open", (("north", "mara-1"),)),
        ("2", "Ilo", "young", (("north", "ilo-1"),)),
    ]
    assert folder.event.set_aside == ("north: 1 run of no entry set aside: nobody; enter them, or leave it",)
    assert [(f.drill, f.name, f.transmitters, f.time_limit_s) for f in folder.event.fields] == [
        ("north", "north", ("A",), None),
        ("south", "South side", ("A",), 600.0),
    ]
    decision = folder.event.judge[0]
    assert (decision.kind, decision.amount, decision.at) == ("penalty_s", 10.0, "2026-02-14T10:12:00+01:00")
    assert folder.workspace == workspace
    assert {
        "events/cup/event.toml",
        "drills/north/drill.toml",
        "drills/north/runs/mara-1/track.csv",
        "drills/north/runs/nobody/track.csv",
        "drills/north/runs/ilo-1/run.toml",
    } <= set(folder.inputs)
    assert read_event_folder(workspace / "events" / "cup" / "event.toml") == folder


@pytest.mark.parametrize(
    ("old", "new", "where", "what"),
    [
        (
            'bib = "2"',
            "bib = 1",
            "[[entry]] 2, bib",
            "bib 1 is in two classes, 'open' and 'young' (first in [[entry]] 1)",
        ),
        (
            'bib = "2"\nname = "Ilo"\nclass = "young"',
            'bib = "1"\nname = "Ilo"\nclass = "open"',
            "[[entry]] 2, bib",
            "bib 1 is there twice (first in [[entry]] 1)",
        ),
        ('class = "young"', 'class = ["young", "open"]', "[[entry]] 2, class", "two classes"),
        (
            'class = "young"',
            'class = "yuong"',
            "[[entry]] 2, class",
            "class 'yuong' is not known; did you mean 'young'?",
        ),
        ("[[judge]]\nbib = 1", "[[judge]]\nbib = 3", "[[judge]] 1, bib", "no entry has the bib 3"),
        ("penalty_s = 10", "penalty_s = -10", "[[judge]] 1, penalty_s", "a penalty of -10 is negative"),
        ("penalty_s = 10", "penalty_s = 0", "[[judge]] 1, penalty_s", "a penalty of 0 is nothing"),
        ("penalty_s = 10", "bonus_s = -1", "[[judge]] 1, bonus_s", "a bonus of -1 is negative"),
        ("penalty_s = 10", "penalty_points = 1", "[[judge]] 1, penalty_points", "counts seconds, not points"),
        ("penalty_s = 10", "", "[[judge]] 1", "decides nothing"),
        (
            "penalty_s = 10",
            'penalty_s = 10\nstatus = "excluded"',
            "[[judge]] 1",
            "penalty_s and status in one decision",
        ),
        ("penalty_s = 10", 'status = "banned"', "[[judge]] 1, status", "status 'banned' is not known"),
        ('reason = "left the area"', "", "[[judge]] 1", "reason is missing"),
        ('reason = "left the area"', 'reason = " "', "[[judge]] 1, reason", "it is empty"),
        ('by = "A judge"', "", "[[judge]] 1", "by is missing"),
        ("at = 2026-02-14T10:12:00+01:00", "", "[[judge]] 1", "at is missing"),
        ("at = 2026-02-14T10:12:00+01:00", "at = 2026-02-14T10:12:00", "[[judge]] 1, at", "not a time with an offset"),
        (
            'field = "north"',
            'field = "nort"',
            "[[judge]] 1, field",
            "'nort' is no field of the event; did you mean 'north'?",
        ),
        ('field = "north"', "", "[[judge]] 1", "field is missing"),
        (
            'status = {south = "absent"}',
            '[[field]]\ndrill = "sout"',
            "[[field]] 3, drill",
            "no drill 'sout' in drills/; did you mean 'south'?",
        ),
        ('drill = "south"', 'drill = "north"', "[[field]] 2, drill", "'north' is a field twice"),
        ('drill = "south"', 'drill = "../north"', "[[field]] 2, drill", "no name of a drill folder"),
        ('drill = "south"', 'drill = "overall"', "[[field]] 2, drill", "no name of a drill folder"),
        (
            'runs = {north = "mara-1"}',
            'runs = {east = "mara-1"}',
            "[[entry]] 1, runs",
            "'east' is no field of the event",
        ),
        (
            'runs = {north = "mara-1"}',
            'runs = {north = "ilo-1"}',
            "[[entry]] 1, runs",
            "states the bib 2 in its run.toml",
        ),
        (
            'status = {south = "absent"}',
            'runs = {north = "mara-1"}',
            "[[entry]] 2, runs",
            "the run 'mara-1' of north is bib 1's already",
        ),
        ('status = {south = "absent"}', 'status = {south = "abset"}', "[[entry]] 2, status", "did you mean 'absent'?"),
        ('status = {south = "absent"}', 'status = {south = "excluded"}', "[[entry]] 2, status", "needs a reason"),
        ('status = {south = "absent"}', 'status = {south = "finished"}', "[[entry]] 2, status", "without a run there"),
        ('name = "Ilo"', 'nam = "Ilo"', "[[entry]] 2", "the key 'nam' is not known; did you mean 'name'?"),
        ('name = "Ilo"', "", "[[entry]] 2", "name is missing"),
        (
            '[[class]]\nid = "young"',
            '[[class]]\nid = "old"\n[[class]]\nid = "young"',
            "[[class]] 2, id",
            "the class 'old' has no entries",
        ),
        ('[[class]]\nid = "young"', '[[class]]\nid = "open"', "[[class]] 2, id", "the class 'open' is there twice"),
        ('rules = "fastest"', 'rules = "fastes"', "[event], rules", "the rule sheet 'fastes' is not known"),
        ('rules = "fastest"', "", "[event], rules", "there is no rule sheet"),
        (
            'rules = "fastest"',
            'rules = "own.toml"',
            "[event], rules",
            "no file 'own.toml' beside event.toml or in rules/",
        ),
        ('rules = "fastest"', 'rules = "../own.toml"', "[event], rules", "no plain name"),
        (
            'rules = "fastest"',
            'rules = "fastest"\nmeasuring_rules = "x.toml"',
            "[event], measuring_rules",
            "no file 'x.toml'",
        ),
        ('rules = "fastest"', 'rules = "targets_3_in_7_min"', "[[field]] 1, drill", "wants 3 targets, north has 1"),
        ("date = 2026-02-14", 'date = "soon"', "[event], date", "'soon' is not a date"),
    ],
)
def test_bad_event_files_are_named_with_their_place(workspace, old, new, where, what):
    assert old in EVENT
    with pytest.raises(InputError) as caught:
        read(workspace, EVENT.replace(old, new))
    assert caught.value.where == f"event.toml, {where}"
    assert what in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_run_that_is_not_there_is_told_and_stops_nobody(workspace):
    """2026-11-27: it stopped the whole event."""
    event = read(workspace, EVENT.replace('runs = {north = "mara-1"}', 'runs = {north = "mara-2"}')).event
    (told,) = [line for line in event.set_aside if "mara-2" in line]
    assert told.startswith(
        "event.toml, [[entry]] 1, runs: there is no run 'mara-2' in north, so bib 1 has no result there"
    )
    assert "did you mean 'mara-1'?" in told
    assert "north" not in dict(event.entries[0].runs)


def test_a_recording_used_twice(workspace):
    add_run(workspace, "south", "copied", content=(workspace / "drills/north/runs/mara-1/track.csv").read_text())
    text = EVENT.replace('status = {south = "absent"}', 'runs = {south = "copied"}')
    with pytest.raises(
        InputError,
        match=re.escape(
            "one recording is used twice: track.csv of south/copied of bib 2 is that of north/mara-1 of bib 1"
        ),
    ):
        read(workspace, text)


def test_bibs_of_runs_that_fit_no_entry_or_two(workspace):
    add_run(workspace, "north", "later", bib=9)
    (line, rest) = read(workspace).event.set_aside  # the rest is scored
    assert line == (
        "north/runs/later/run.toml, bib: no entry has the bib 9: the run is set aside; mend the bib or enter it"
    )
    assert rest.startswith("north: 1 run of no entry set aside: nobody")
    (workspace / "drills/north/runs/later/run.toml").write_text("bib = 2")
    with pytest.raises(InputError, match="'ilo-1' and 'later' both state the bib 2"):
        read(workspace)
    named = read(workspace, EVENT.replace('status = {south = "absent"}', 'runs = {north = "later"}'))
    assert dict(named.event.entries[1].runs) == {"north": "later"}
    assert "ilo-1, nobody" in named.event.set_aside[0]


def test_a_run_that_cannot_be_read_stops_nobody_else(workspace):
    add_run(workspace, "north", "torn").joinpath("run.toml").write_text("bib = [")
    first, *_ = read(workspace).event.set_aside
    assert first.startswith("north/runs/torn/run.toml: this is not TOML")
    assert dict(read(workspace).event.entries[1].runs) == {"north": "ilo-1"}


def test_two_spellings_of_one_number_are_one_bib(workspace):
    with pytest.raises(InputError, match=re.escape("[[entry]] 2, bib: bib 01 is in two classes")):
        read(workspace, EVENT.replace('bib = "2"', 'bib = "01"'))
    with pytest.raises(InputError, match=re.escape("bib 01 is the same number as bib 1 (first in [[entry]] 1)")):
        read(workspace, EVENT.replace('bib = "2"', 'bib = "01"').replace('class = "young"', 'class = "open"'))
    (workspace / "drills/north/runs/ilo-1/run.toml").write_text('bib = "02"')
    assert dict(read(workspace).event.entries[1].runs) == {"north": "ilo-1"}


def test_one_name_under_two_bibs_of_a_class_is_told(workspace):
    text = EVENT.replace('name = "Ilo"', 'name = " MARA"')
    assert not [line for line in read(workspace, text).event.set_aside if "MARA" in line]  # in two classes: it may be
    (line,) = [t for t in read(workspace, text + ENTRY_3).event.set_aside if "Mara" in t]
    assert line.startswith("event.toml, [[entry]] 3, name: 'Mara' is bib 1 as well, in the same class 'open'; take one")


ENTRY_3 = '[[entry]]\nbib = 3\nname = "Mara"\nclass = "open"\n'


def test_who_is_absent_and_has_a_run_is_told(workspace):
    text = EVENT.replace('south = "absent"', 'north = "absent"')
    (line,) = [t for t in read(workspace, text).event.set_aside if "absent" in t]
    assert line.startswith(
        "event.toml, [[entry]] 2, status: bib 2 is absent on north and has the run 'ilo-1' there, which does not count"
    )
    by_a_judge = (
        '[[judge]]\nbib = 1\nfield = "north"\nstatus = "absent"\nreason = "x"\nby = "y"\nat = 2026-02-14T10:13:00Z\n'
    )
    (line,) = [t for t in read(workspace, EVENT + by_a_judge).event.set_aside if "absent" in t]
    assert line.startswith("event.toml, [[judge]] 2, status: bib 1 is absent on north and has the run 'mara-1'")


@pytest.mark.parametrize("amount", ["9999", "1e300", "inf", "3600.5"])
@pytest.mark.parametrize("kind", ["bonus_s", "penalty_s", "penalty_points"])
def test_amounts_that_cannot_be_meant_are_refused(workspace, kind, amount):
    with pytest.raises(InputError, match=re.escape(f"event.toml, [[judge]] 1, {kind}: ")):
        read(workspace, EVENT.replace("penalty_s = 10", f"{kind} = {amount}"))


def test_an_event_outside_a_workspace(tmp_path):
    (tmp_path / "event.toml").write_text(EVENT)
    with pytest.raises(InputError, match="no parent folder holds drills/"):
        read_event_folder(tmp_path)
    with pytest.raises(InputError, match=re.escape("there is no event.toml")):
        read_event_folder(tmp_path / "elsewhere")


def test_rule_sheets_of_their_own(workspace):
    sheet = '[event_rules]\nname = "Own"\nversion = "2"\nkind = "targets"\ntargets = 1\ntime_limit_s = 300\n'
    (workspace / "rules").mkdir()
    (workspace / "rules" / "own.toml").write_text(sheet)
    folder = read(workspace, EVENT.replace('rules = "fastest"', 'rules = "own.toml"'))
    assert (folder.event.rules.name, folder.event.rules.time_limit_s) == ("Own", 300.0)
    assert "rules/own.toml" in folder.inputs
    (workspace / "events/cup/club.toml").write_bytes(default_rules_bytes() + b"# ours\n")
    measured = read(workspace, EVENT.replace('rules = "fastest"', 'rules = "own.toml"\nmeasuring_rules = "club.toml"'))
    assert measured.measuring.sha256 == measured.inputs["events/cup/club.toml"]
    inside = parse_event_toml(EVENT.replace('rules = "fastest"', "").encode() + sheet.encode())
    assert inside.rules.targets == 1
    with pytest.raises(InputError, match="keep one of the two"):
        parse_event_toml(EVENT.encode() + sheet.encode())


@pytest.mark.parametrize("name", BUILT_IN)
def test_built_in_sheets_are_read_and_say_where_they_come_from(name):
    rules = built_in_rules(name)
    assert rules.source
    assert len(rules.sha256) == 64


def test_the_findings_that_a_penalty_may_name_are_those_of_the_engine():
    assert [look.__name__ for look in REMARKS] == list(FINDINGS) == list(POSSIBLY)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('kind = "slowest"', "the kind 'slowest' is not known"),
        ('kind = "fastest"', "missed_transmitter_s is missing"),
        ('kind = "fastest"\nmissed_transmitter_s = -1', "-1 is out of range"),
        ('kind = "fastest"\nmissed_transmitter_s = 1\ntargets = 2', "a sheet of the kind fastest has no targets"),
        ('kind = "targets"\nmissed_transmitter_s = 1', "a sheet of the kind targets has no missed_transmitter_s"),
        ('kind = "targets"\ntargets = 1.5', "1.5 is no whole number"),
        ('kind = "targets"\nspeed = 1', "the key 'speed' is not known"),
        ('kind = "fastest"\nmissed_transmitter_s = 1\npenalty = [{seconds = 1}]', "for a finding or for a measure"),
        (
            'kind = "fastest"\nmissed_transmitter_s = 1\npenalty = [{finding = "wrongway", seconds = 1}]',
            "the finding 'wrongway' is not known; did you mean 'wrong_way'?",
        ),
        (
            'kind = "fastest"\nmissed_transmitter_s = 1\npenalty = [{finding = "wrong_way", seconds = -1}]',
            "-1 is out of range",
        ),
        (
            'kind = "fastest"\nmissed_transmitter_s = 1\npenalty = [{measure = "fine.reach", seconds_per_unit = 1}]',
            "did you mean 'fine.reach_m'?",
        ),
    ],
)
def test_bad_rule_sheets(text, what):
    with pytest.raises(InputError) as caught:
        parse_event_rules(f'[event_rules]\nname = "x"\nversion = "1"\n{text}\n'.encode(), name="own.toml")
    assert what in str(caught.value)


def test_a_strike_belongs_to_the_pinpointing_that_it_ends():
    phases = tuple(Phase("pinpoint", who, 0.0, end, None, None, 0.0) for who, end in (("A", 90.0), ("B", 200.4)))
    hits = (("A", 90.0), ("A", 200.0), ("A", 250.0))
    result = replace(make_result(), duration_s=300.0, phases=phases, probe_hits_s=hits)
    facts = facts_of(result, source="x.json", marks=("start", "probe_hit"))
    assert facts.strikes == (("A", 90.0, "probe_hits[0]"), ("B", 200.0, "probe_hits[1]"))


def a_scored(name="Mara", bib="1", why=""):
    line = ScoreLine(
        "time",
        "time",
        "to the last probe hit",
        100.25,
        0.0,
        "north/a.json",
        "probe_hits[0]",
        Figure(100.25, 99.0, 101.5, "s"),
        3,
    )
    score = FieldScore(bib, OVERALL, "", "finished", 1.0, 1.0, 1.0, Figure(-3.5, -4.0, -3.0, "s"), (line,), why)
    table = Standings(OVERALL, "", (Place(1, score, name, "open", (Unclear("2", 1.0, -0.5, 2.5, "time"),)),))
    penalty = FaultPenalty("wrong_way", "", 10.0)
    rules = EventRules("s", "1", "a" * 64, "fastest", 0.1, 0.5, penalties=(penalty,), time_limit_s=420.0)
    return Scored(
        "Cup",
        "2026-02-14",
        "0.1",
        rules,
        SheetId("house", "2", "c" * 64),
        Sampling(64, 0),
        {"events/cup/event.toml": "b" * 64},
        {},
        ("a note",),
        (("open", "Open"),),
        (("north", "North"),),
        (table,),
    )


def test_scored_files_come_back_as_they_were():
    data = scored_bytes(a_scored())
    scored = parse_scored(data)
    assert replace(scored, integrity="") == a_scored()
    assert scored_bytes(scored) == data
    changed = scored_values(a_scored("Mora"))
    assert changed["integrity"] != scored.integrity
    assert not parse_scored(data.replace(b'"Mara"', b'"Mora"')).intact


@pytest.mark.parametrize("data", [b"{", b"[]", b'{"format": "searchwake-event/3"}', b'{"format": "other"}'])
def test_damaged_scored_files_are_one_clear_error(data):
    with pytest.raises(InputError, match="--again scores anew"):
        parse_scored(data)


@pytest.mark.parametrize(
    ("change", "where", "what"),
    [
        (lambda v: v["rules"].update(speed=1), "scored.json, rules", "the key 'speed' is not known"),
        (lambda v: v["entries"][0].pop("class"), "scored.json, entries[0]", "this part has no 'class'"),
        (lambda v: v["scores"]["overall/1"].update(seconds=5), "scored.json, scores.overall/1.seconds", "an object is"),
        (lambda v: v["tables"][0].update(scope="south"), "scored.json, tables", "nothing stands under 'south/1'"),
        (lambda v: v["tables"][0]["places"][0].update(bib="9"), "scored.json, tables", "nothing stands under"),
        (lambda v: v.pop("integrity"), "scored.json", "the file has no 'integrity'"),
        (lambda v: v.update(fields=[["north"]]), "scored.json, fields[0]", "the file is damaged"),
    ],
)
def test_a_damaged_part_of_a_scored_file_is_named_with_its_place(change, where, what):
    values = json.loads(scored_bytes(a_scored()))
    change(values)
    with pytest.raises(InputError) as caught:
        parse_scored(json.dumps(values).encode())
    assert caught.value.where == where
    assert what in caught.value.what


@pytest.mark.parametrize("risky", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", " =1", "\uff1d1"])
def test_no_text_of_the_csv_runs_as_a_formula(risky):
    """What a spreadsheet takes for a formula begins with one of = + - @ tab and carriage return."""
    data = standings_csv(a_scored(risky, bib=risky, why=risky), {risky: [risky]})
    row = next(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert [row[k] for k in ("name", "bib", "why", "changed_since")] == [f"'{risky}"] * 4
    assert float(row["seconds"]) == -3.5  # a number keeps its minus
    assert row["place"] == "1"
    plain = next(csv.DictReader(io.StringIO(standings_csv(a_scored(), {}).decode("utf-8-sig"))))
    assert (plain["name"], plain["bib"], plain["not_clearly_apart_from"]) == ("Mara", "1", "2")


def test_the_printed_list_needs_nothing_from_elsewhere_and_shows_texts_as_they_are():
    page = standings_html(a_scored("<script>x</script>"), ("a file was <b>replaced</b>",)).decode()
    assert "&lt;script&gt;x" in page
    assert "<script" not in page
    assert "was &lt;b&gt;replaced" in page
    assert "not clearly ahead of bib 2" in page
    assert "Never for a real rescue" in page
    assert not re.search(r"(src|href|url)\s*[=(]", page)


CHANGED = "it was changed after it was written (its own hash differs)"


def test_the_log_is_a_chain(tmp_path):
    heads = [append_log(tmp_path, action="scored", integrity=str(number)) for number in range(3)]
    assert log_faults(tmp_path) == []
    assert last_log(tmp_path)["integrity"] == "2"
    assert log_head(tmp_path) == heads[-1]
    log = tmp_path / "log.jsonl"
    written = log.read_text()
    assert [json.loads(line)["before"] for line in written.splitlines()] == ["", *heads[:2]]
    log.write_text(written.replace('"integrity": "0"', '"integrity": "9"'))
    assert log_faults(tmp_path) == [f"log.jsonl, line 1: {CHANGED}"]
    log.write_text(written.replace('"integrity": "2"', '"integrity": "9"'))  # the last line, none after it
    assert log_faults(tmp_path) == [f"log.jsonl, line 3: {CHANGED}"]
    log.write_text("".join(written.splitlines(keepends=True)[::2]))
    assert log_faults(tmp_path) == ["log.jsonl, line 2: it follows another line than the one before it"]
    log.write_text("x\n" + written)
    assert "log.jsonl, line 1: it cannot be read" in log_faults(tmp_path)
    log.unlink()
    assert log_faults(tmp_path) == ["log.jsonl: it is missing"]


def test_spelling_and_end_of_the_log_are_watched(tmp_path):
    append_log(tmp_path, action="scored")
    log = tmp_path / "log.jsonl"
    written = log.read_bytes()
    log.write_bytes(written.replace(b": ", b":\t", 1))
    assert log_faults(tmp_path) == ["log.jsonl, line 1: equal values, but the bytes differ from how they are written"]
    log.write_bytes(written[:-1])
    assert log_faults(tmp_path) == ["log.jsonl, line 1: its end is missing"]
    append_log(tmp_path, action="scored again")  # a line of its own all the same
    assert log_faults(tmp_path) == []


def test_a_log_of_the_version_before_goes_on(tmp_path):
    """Its lines hold the SHA-256 of the bytes of the line before and no hash of their own."""
    first = b'{"at": "2026-02-14T10:12:00Z", "action": "scored", "integrity": "a", "before": ""}'
    second = f'{{"action": "scored again", "before": "{hashlib.sha256(first).hexdigest()}"}}'.encode()
    log = tmp_path / "log.jsonl"
    log.write_bytes(first + b"\n" + second + b"\n")
    assert log_faults(tmp_path) == []
    head = append_log(tmp_path, action="scored again")
    assert log_faults(tmp_path) == []
    assert last_log(tmp_path)["before"] == hashlib.sha256(second).hexdigest()
    third = json.dumps({"action": "scored again", "before": head}).encode()
    log.write_bytes(log.read_bytes() + third + b"\n")  # nobody writes such a line any more
    assert log_faults(tmp_path) == [f"log.jsonl, line 4: {CHANGED}"]


def test_what_is_shown_of_a_head_can_be_noted_by_hand():
    assert shown_head("3f9a1c2207deb5c1" + "0" * 48) == "3f9a 1c22 07de b5c1"
    assert shown_head("") == ""


def test_all_that_is_wrong_with_an_event_file_is_told_at_once():
    text = """
[event]
name = 5
rules = "fastst"
[[class]]
id = "open"
[[class]]
id = ""
[[field]]
drill = "bowl"
time_limit_s = -1
[[entry]]
bib = 1
name = ""
class = "opn"
[[entry]]
bib = 1
name = "Runa"
class = "open"
runs = {bowl = ""}
mood = "good"
[[entry]]
name = "Mara"
class = "open"
status = "asleep"
[[judge]]
bib = 9
field = "bowl"
penalty_s = -10
reason = ""
by = "R. Amsel"
"""
    with pytest.raises(FileError) as caught:
        parse_event_toml(text.encode())
    told = {p.place: p.what for p in caught.value.problems}
    assert told == {
        "event.name": "5 is not a text",
        "event.rules": "the rule sheet 'fastst' is not known",
        "class[2].id": "it is empty",
        "field[1].time_limit_s": "-1 is out of range",
        "entry[1].name": "it is empty",
        "entry[2].mood": "the key 'mood' is not known",
        "entry[2].bib": "bib 1 is in two classes, 'opn' and 'open' (first in [[entry]] 1)",
        "entry[2].runs.bowl": "it is empty",
        "entry[3].bib": "bib is missing",
        "entry[3].status": "the status 'asleep' is not known",
        "judge[1].bib": "no entry has the bib 9",
        "judge[1].penalty_s": "a penalty of -10 is negative",
        "judge[1].reason": "it is empty",
        "judge[1].at": "at is missing",
    }


def test_all_that_is_wrong_with_an_event_sheet_is_told_at_once():
    text = (
        '[event_rules]\nname = "x"\nversion = 1\nkind = "targets"\ntargets = 2.5\npenalty = [{seconds = 3}]\nmood = 1\n'
    )
    with pytest.raises(FileError) as caught:
        parse_event_rules(text.encode(), name="x.toml")
    assert {p.place for p in caught.value.problems} == {
        "event_rules.mood", "event_rules.version", "event_rules.penalty", "event_rules.targets",
        "event_rules.penalty[1]",
    }  # fmt: skip
