"""What is open is marked in the CSV, on the printed list and in scored.json alike."""

import csv
import dataclasses
import io
import json

import pytest

from analyzer.errors import InputError
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.files.scored_json import Sampling, Scored, parse_scored, scored_bytes
from analyzer.events.files.standings_csv import standings_csv
from analyzer.events.files.standings_html import standings_html
from analyzer.events.model import OVERALL, Entry, Event, EventClass, EventField, FoundFault, JudgeEntry, RunFacts
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.events.words import shown_lines, shown_rows
from analyzer.model.rules import SheetId

FIELDS = (EventField("north", "North", ("A",)), EventField("south", "South", ("A", "B")))
FAULT = FoundFault("off_lowest", "A", "Beside it.", 90.0, "findings[0]", 0.95)


def scored_of(*, second_field=True, judge=(), problems=None):
    """Return an event of two entries: the first with a proposal and a miss, the second perhaps still waiting."""
    entries, facts = [], {}
    for bib, last in (("1", 100.26), ("2", 100.81)):
        runs = [("north", f"r{bib}"), *([("south", f"r{bib}")] if second_field or bib == "1" else [])]
        entries.append(Entry(bib, f"Entry {bib}", "open", tuple(runs)))
        for drill, run in runs:
            strikes = (("A", last, "probe_hits[0]"),)
            facts[drill, run] = RunFacts(f"{drill}/{run}.json", 300.0, strikes, (FAULT,) if bib == "1" else ())
    facts = {key: value for key, value in facts.items() if key not in (problems or {})}
    event = Event("Cup", None, built_in_rules("fastest"), (EventClass("open", "Open"),), FIELDS, tuple(entries), judge)
    return Scored(
        "Cup", "", "0.2", event.rules, SheetId("house", "2", "c" * 64), Sampling(64, 0), {}, {}, (),
        (("open", "Open"),), tuple((f.drill, f.name) for f in FIELDS),
        all_standings(event, field_scores(event, facts, problems or {}), facts),
    )  # fmt: skip


def rows(scored, scope):
    read = csv.DictReader(io.StringIO(standings_csv(scored, {}).decode("utf-8-sig")))
    return {row["bib"]: row for row in read if (row["field"], row["class"]) == (scope, "")}


@pytest.mark.parametrize(("second_field", "word"), [(True, "final"), (False, "intermediate")])
def test_an_intermediate_ranking_says_so_everywhere(second_field, word):
    scored = scored_of(second_field=second_field)
    assert {row["ranking"] for row in rows(scored, OVERALL).values()} == {word}
    page = standings_html(scored).decode()
    assert ("Overall, intermediate ranking" in page) is (word == "intermediate")
    assert ("of 1 entry a result is still to come" in page) is (word == "intermediate")
    table = next(t for t in json.loads(scored_bytes(scored))["tables"] if (t["scope"], t["class"]) == (OVERALL, ""))
    assert table["waiting"] == (0 if second_field else 1)


def test_the_csv_has_range_fields_penalties_and_open_proposals():
    first, second = rows(scored_of(), OVERALL).values()
    assert (first["place"], first["place_low"], first["place_high"]) == ("1", "1", "2")
    assert first["parts"] == "North 1:40.3; South 6:40.3"
    assert (first["seconds"], first["proposals_open"]) == ("500.6", "2")
    assert first["penalties"] == "South: +300.0 s: B not struck"
    assert (second["seconds"], second["proposals_open"], second["not_clearly_apart_from"]) == ("501.6", "0", "1")


def test_proposals_are_on_the_printed_list_once_a_field():
    page = standings_html(scored_of()).decode()
    assert page.count("<h3>Proposed penalties</h3>") == 2
    assert page.count("2 proposals wait for a judge") == 1
    assert "confirms = &quot;off_lowest&quot;" in page


@pytest.mark.parametrize("second_field", [True, False])
def test_the_file_comes_back_with_proposals_and_ranges(second_field):
    scored = scored_of(second_field=second_field)
    data = scored_bytes(scored)
    back = parse_scored(data)
    assert back.intact
    assert scored_bytes(back) == data
    assert [(t.waiting, t.open) for t in back.standings] == [(t.waiting, t.open) for t in scored.standings]
    assert back.table(OVERALL, "").places[0].score.proposals == scored.table(OVERALL, "").places[0].score.proposals


def test_the_reason_of_a_disqualification_is_on_every_list():
    """The word alone says something hard of a person, and the list that is handed out did not say why or by whom."""
    said = JudgeEntry(
        1, "2", "", "status", 0.0, "excluded", "dug in the next field", "R. Amsel", "2026-02-14T09:10:00Z"
    )
    scored = scored_of(judge=tuple(dataclasses.replace(said, drill=f.drill) for f in FIELDS))
    wanted = "disqualified: dug in the next field (R. Amsel)"
    assert rows(scored, "north")["2"]["why"] == wanted
    assert rows(scored, OVERALL)["2"]["why"] == f"North, South: {wanted}"
    page = standings_html(scored).decode()
    assert page.count(wanted) == len(("north", "south", OVERALL))


def test_who_could_not_be_measured_is_not_called_finished():
    """Where a track was lost, the cell of the field said "finished" of a run that nobody could measure."""
    scored = scored_of(problems={("north", "r2"): "there is no track in the run's folder"})
    assert rows(scored, OVERALL)["2"]["parts"] == "North not measured; South 6:40.8"


def test_a_shared_place_says_in_which_steps_totals_are_compared():
    """100.3 s and 100.8 s are one place in steps of a second; the shorter time stands first."""
    scored = scored_of()
    rules = dataclasses.replace(scored.rules, resolution_s=2.0)
    event = Event(
        "Cup", None, rules, (EventClass("open", "Open"),), FIELDS[:1],
        tuple(Entry(bib, bib, "open", (("north", bib),)) for bib in ("1", "2")), (),
    )  # fmt: skip
    facts = {
        ("north", bib): RunFacts("x.json", 300.0, (("A", last, "probe_hits[0]"),), ())
        for bib, last in (("1", 100.8), ("2", 100.3))
    }
    tables = all_standings(event, field_scores(event, facts, {}), facts)
    shown = shown_rows(tables[0], rules.kind, {"open": "Open"}, step_s=rules.resolution_s)
    assert [(row.place, row.bib, row.remarks[0]) for row in shown] == [
        ("1", "2", "shared place: equal in steps of 2 s"),
        ("1", "1", "shared place: equal in steps of 2 s"),
    ]


def test_the_sum_of_the_fields_has_no_targets_where_the_fastest_leads():
    scored = scored_of()
    place = next(t for t in scored.standings if t.scope == OVERALL).places[0]
    assert [line.adds for line in shown_lines(place.score)] == ["100.3 s", "400.3 s", "500.6 s"]


def test_the_list_says_why_a_debrief_may_show_other_seconds():
    assert "its debrief measures it together with the drill" in " ".join(standings_html(scored_of()).decode().split())


@pytest.mark.parametrize("number", ["1e308", "-1e300", "1e10"])
def test_a_stored_number_beyond_all_bounds_is_refused_where_it_is_read(number):
    """2026-11-27: a list answered 500, for no clock shows 1e308 seconds (found by 10,000 views)."""
    text = scored_bytes(scored_of()).decode()
    assert '"value": 500.6' in text
    with pytest.raises(InputError, match=r"scored\.json, scores\.overall/1: a number is beyond all bounds"):
        parse_scored(text.replace('"value": 500.6', f'"value": {number}').encode())
