"""Ranks against scipy, order, classes, statuses, penalties and sums, on values made up for the purpose."""

import dataclasses

import numpy as np
import pytest
from scipy.stats import rankdata

from analyzer.events.bonuses import too_large
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.model import (
    OVERALL,
    Entry,
    Event,
    EventClass,
    EventField,
    FaultPenalty,
    FieldScore,
    FoundFault,
    JudgeEntry,
    RunFacts,
)
from analyzer.events.proposals import decided, proposed
from analyzer.events.rank import all_standings, bib_order, places
from analyzer.events.score import field_scores, score_field
from analyzer.events.words import clock, shown_lines, shown_rows
from analyzer.model.figure import Figure, NotAssessable

FASTEST = built_in_rules("fastest")
THREE = built_in_rules("targets_3_in_7_min")
NORTH = EventField("north", "North", ("A", "B"))


def timed(bib, seconds, targets=0.0):
    return FieldScore(bib, "north", "", "finished", targets, targets, targets, Figure(seconds, seconds, seconds, "s"))


def ran(*strikes, faults=(), measures=()):
    struck = tuple((w, t, f"probe_hits[{i}]") for i, (w, t) in enumerate(strikes))
    return RunFacts("north/r.json", 500.0, struck, faults, measures, (100.0, 200.0, 500.0))


def judged(kind, amount=0.0, status="", number=1, drill="north", about=""):
    at = "2026-02-14T09:12:00Z"
    return JudgeEntry(number, "7", drill, kind, amount, status, "invented reason", "a judge", at, about)


SEVEN = Entry("7", "Mara", "open", (("north", "r"),))


@pytest.mark.parametrize("rules", [FASTEST, THREE], ids=lambda rules: rules.kind)
def test_a_run_without_any_mark_waits_and_did_not_stop(rules):
    """No marks are no evidence of not finishing; the organiser's word, or a mark of anything but a hit, is."""
    silent = dataclasses.replace(ran(), marked=False)
    waits = score_field(SEVEN, NORTH, rules, silent)
    assert (waits.status, waits.pending, waits.seconds) == ("finished", True, None)
    assert waits.why.startswith("nothing marked: whether it ended with a hit is not known")
    written = dataclasses.replace(SEVEN, statuses=(("north", "stopped"),))
    for entry, facts in ((written, silent), (SEVEN, ran())):
        stopped = score_field(entry, NORTH, rules, facts)
        assert (stopped.status, stopped.pending) == ("stopped", False)
    hit = dataclasses.replace(ran(("A", 100.0), ("B", 200.0)), marked=False)
    assert score_field(SEVEN, NORTH, rules, hit).seconds is not None


@pytest.mark.parametrize("seed", range(20))
def test_ranks_equal_scipys_minimum_ranks(seed):
    """`scipy.stats.rankdata(method="min")`, on whole seconds with many ties."""
    rng = np.random.default_rng(seed)
    seconds = rng.integers(100, 130, size=rng.integers(1, 60)).astype(float)
    scores = [timed(str(i), s) for i, s in enumerate(seconds)]
    found = {p.score.bib: p.rank for p in places(scores, {s.bib: ("", "") for s in scores}, FASTEST)}
    assert [found[str(i)] for i in range(len(seconds))] == rankdata(seconds, method="min").tolist()


@pytest.mark.parametrize("seed", range(10))
def test_ranks_by_targets_equal_scipys(seed):
    rng = np.random.default_rng(seed)
    targets, seconds = rng.integers(0, 4, 40).astype(float), rng.integers(100, 110, 40).astype(float)
    scores = [timed(str(i), s, t) for i, (t, s) in enumerate(zip(targets, seconds, strict=True))]
    found = {p.score.bib: p.rank for p in places(scores, {s.bib: ("", "") for s in scores}, THREE)}
    assert [found[str(i)] for i in range(40)] == rankdata(-1000.0 * targets + seconds, method="min").tolist()


def test_times_are_compared_after_rounding_half_up():
    scores = [timed("1", 100.4), timed("2", 99.5), timed("3", 100.5)]
    found = places(scores, {s.bib: ("", "") for s in scores}, FASTEST)
    assert [(p.score.bib, p.rank) for p in found] == [
        ("2", 1),
        ("1", 1),
        ("3", 3),
    ]  # of a shared place, the shorter time first
    finer = dataclasses.replace(FASTEST, resolution_s=0.1)
    assert [p.score.bib for p in places(scores, {s.bib: ("", "") for s in scores}, finer)] == ["2", "1", "3"]


def test_bibs_are_ordered_as_numbers():
    assert sorted(["10", "9", "B2", "1"], key=bib_order) == ["1", "9", "10", "B2"]


@pytest.mark.parametrize(
    ("entry", "facts", "decisions", "status", "has_place"),
    [
        (Entry("7", "M", "open"), None, (), "waiting", False),
        (SEVEN, ran(("A", 90.0)), (), "finished", True),
        (SEVEN, ran(), (), "stopped", False),
        (SEVEN, ran(("C", 90.0)), (), "stopped", False),  # a transmitter that the field does not have
        (Entry("7", "M", "open", (), (("north", "absent"),)), None, (), "absent", False),
        (Entry("7", "M", "open", (("north", "r"),), (("north", "stopped"),)), ran(("A", 90.0)), (), "stopped", False),
        (Entry("7", "M", "open", (("north", "r"),), (("north", "started"),)), ran(("A", 90.0)), (), "started", False),
        (SEVEN, ran(("A", 90.0)), (judged("status", status="excluded"),), "excluded", False),
        (
            SEVEN,
            ran(("A", 90.0)),
            (judged("status", status="excluded"), judged("status", status="finished")),
            "finished",
            True,
        ),
    ],
)
def test_statuses(entry, facts, decisions, status, has_place):
    score = score_field(entry, NORTH, FASTEST, facts, decisions)
    assert score.status == status
    assert (score.seconds is not None) is has_place
    assert has_place or score.why


def test_a_run_that_could_not_be_measured_says_why_and_has_no_place():
    score = score_field(SEVEN, NORTH, FASTEST, None, problem="north/r/track.gpx: the file is empty; export it again")
    assert score.seconds is None
    assert score.why.startswith("north/r/track.gpx")


def test_strikes_after_the_limit_are_missed():
    field = dataclasses.replace(NORTH, time_limit_s=150.0)
    score = score_field(SEVEN, field, FASTEST, ran(("A", 90.0), ("B", 151.0)))
    assert [line.rule for line in score.lines] == ["time", "missed_transmitter_s"]
    assert score.seconds.value == 390.0
    assert "after the limit" in score.lines[1].what


def test_the_sheets_limit_goes_before_the_fields():
    field = EventField("north", "North", ("A", "B", "C"), time_limit_s=100.0)
    score = score_field(SEVEN, field, THREE, ran(("A", 90.0), ("B", 300.0)))
    assert score.targets == 2.0
    assert score.seconds.value == 420.0


def test_every_line_names_evidence_and_rule():
    fault = FoundFault("off_lowest", "A", "Probed beside it.", 150.0, "findings[2]", 0.95)
    facts = ran(("A", 90.0), faults=(fault,))
    found = proposed("north", FASTEST, facts)
    confirmed, wrong = decided(found, (judged("confirms", about="off_lowest"),), measured=True)
    assert wrong == []
    score = score_field(SEVEN, NORTH, FASTEST, facts, (judged("bonus_s", 5.0),), confirmed)
    found = [(line.rule, line.seconds, line.source, line.evidence, line.timeline_row) for line in score.lines]
    assert found == [
        ("time", 90.0, "north/r.json", "probe_hits[0]", 0),
        ("missed_transmitter_s", 300.0, "north/r.json", "probe_hits", None),
        ("penalty.off_lowest", 20.0, "north/r.json", "findings[2]", 1),
        ("judge.bonus_s", -5.0, "judge entry 1", "", None),
    ]
    assert score.seconds.value == 405.0


def test_a_penalty_by_a_measure_brings_its_interval():
    rules = dataclasses.replace(
        FASTEST,
        mark_sigma_s=0.0,
        penalties=(FaultPenalty("", "pinpoint.probe_offset_m", 10.0, free=0.5, at_most=15.0),),
    )
    measures = (
        ("pinpoint.probe_offset_m", "A", Figure(1.0, 0.2, 4.0, "m"), "searches[0].pinpoint.probe_offset_m"),
        ("pinpoint.probe_offset_m", "B", NotAssessable("no"), "searches[1].pinpoint.probe_offset_m"),
    )
    facts = ran(("A", 90.0), ("B", 100.0), measures=measures)
    found = proposed("north", rules, facts)
    assert [(p.transmitter, p.seconds.value, p.seconds.low, p.seconds.high) for p in found] == [("A", 5.0, 0.0, 15.0)]
    assert score_field(SEVEN, NORTH, rules, facts, (), found).seconds.value == 100.0
    confirmed, _ = decided(found, (judged("confirms", about="pinpoint.probe_offset_m"),), measured=True)
    score = score_field(SEVEN, NORTH, rules, facts, (), confirmed)
    # 10 s per metre beyond 0.5: 5 s; at the bounds nothing and, capped, 15 s.
    assert (score.seconds.value, score.seconds.low, score.seconds.high) == pytest.approx((105.0, 100.0, 115.0))


def test_points_of_the_judges_move_the_targets():
    field = EventField("north", "North", ("A", "B", "C"))
    score = score_field(
        SEVEN, field, THREE, ran(("A", 90.0), ("B", 100.0), ("C", 110.0)), (judged("penalty_points", 1.0),)
    )
    assert (score.targets, score.targets_low, score.targets_high) == (2.0, 2.0, 2.0)
    assert score.seconds.value == 110.0


def event_of(rules, *, statuses=(), classes=("open", "open", "young"), judge=()):
    fields = (EventField("north", "North", ("A",)), EventField("south", "South", ("A",)))
    entries = tuple(
        Entry(str(i + 7), f"E{i}", c, (("north", f"r{i}"), ("south", f"r{i}")), statuses if i == 0 else ())
        for i, c in enumerate(classes)
    )
    return Event("e", None, rules, (EventClass("open", "Open"), EventClass("young", "Young")), fields, entries, judge)


def all_facts(seconds):
    return {
        (d, f"r{i}"): RunFacts(f"{d}/r{i}.json", 500.0, (("A", s, "probe_hits[0]"),))
        for i, pair in enumerate(seconds)
        for d, s in zip(("north", "south"), pair, strict=True)
    }


def ranks(event, facts):
    return {
        (t.scope, t.class_id): [(p.score.bib, p.rank) for p in t.places]
        for t in all_standings(event, field_scores(event, facts, {}), facts)
    }


def test_fields_classes_and_overall():
    found = ranks(event_of(FASTEST), all_facts([(100.0, 200.0), (150.0, 140.0), (120.0, 170.0)]))
    assert found["north", ""] == [("7", 1), ("9", 2), ("8", 3)]
    assert found["south", ""] == [("8", 1), ("9", 2), ("7", 3)]
    assert found[OVERALL, ""] == [("8", 1), ("9", 1), ("7", 3)]  # 290, 290, 300
    assert found[OVERALL, "open"] == [("8", 1), ("7", 2)]
    assert found[OVERALL, "young"] == [("9", 1)]
    assert len(found) == 9


def test_overall_without_a_result_on_a_field():
    facts = all_facts([(100.0, 200.0), (150.0, 140.0), (120.0, 170.0)])
    absent = (("south", "absent"),)
    assert ranks(event_of(FASTEST, statuses=absent), facts)[OVERALL, ""][-1] == ("7", None)
    counted = dataclasses.replace(FASTEST, without_result_s=150.0)
    assert ranks(event_of(counted, statuses=absent), facts)[OVERALL, ""][0] == ("7", 1)  # 100 + 150
    limited = dataclasses.replace(THREE, targets=1)
    # One target and 100 + 420 s against two targets each.
    assert ranks(event_of(limited, statuses=absent), facts)[OVERALL, ""] == [("8", 1), ("9", 1), ("7", 3)]
    out = (judged("status", status="excluded", drill="south"),)
    assert ranks(event_of(counted, judge=out), facts)[OVERALL, ""][-1] == ("7", None)


def test_words_of_a_row_and_of_its_lines():
    event = event_of(FASTEST)
    facts = all_facts([(100.0, 200.0), (101.0, 140.0), (120.0, 170.0)])
    table = all_standings(event, field_scores(event, facts, {}), facts)[0]
    rows = shown_rows(table, event.rules.kind, {"open": "Open"})
    assert (rows[0].place_words, rows[0].total, rows[0].interval) == ("1 (1 to 2)", "1:40.0", "1:38.8 to 1:41.2")
    assert rows[0].remarks == ("not clearly ahead of bib 8: 1.0 s apart, −0.6 to 2.6 s",)
    assert rows[1].remarks == ("not clearly behind bib 7: 1.0 s apart, −2.6 to 0.6 s",)
    lines = shown_lines(table.places[0].score)
    assert lines[0].evidence == "north/r0.json, probe_hits[0]"
    assert (lines[-1].what, lines[-1].adds) == ("Sum", "100.0 s")


@pytest.mark.parametrize(
    ("seconds", "words"), [(59.96, "1:00.0"), (-3.4, "−0:03.4"), (-0.02, "0:00.0"), (3605.0, "60:05.0")]
)
def test_clock(seconds, words):
    assert clock(seconds) == words


@pytest.mark.parametrize(
    ("rules", "decisions", "line"),
    [
        (
            FASTEST,
            [("bonus_s", 60.0), ("bonus_s", 30.0)],
            "[[judge]] 2, bonus_s: bib 7 has 90 s of bonus on north, more",
        ),
        (FASTEST, [("bonus_s", 60.0), ("bonus_s", 29.5)], ""),
        (
            THREE,
            [("bonus_points", 3.0)],
            "[[judge]] 1, bonus_points: bib 7 has 3 points of bonus on north, more than 2",
        ),
        (THREE, [("bonus_points", 2.0)], ""),
        (FASTEST, [("penalty_s", 3600.0)], ""),
    ],
)
def test_a_bonus_that_leaves_nothing_is_named(rules, decisions, line):
    judge = tuple(judged(kind, amount, number=i) for i, (kind, amount) in enumerate(decisions, start=1))
    event = Event("e", None, rules, (EventClass("open", "Open"),), (NORTH,), (SEVEN,), judge)
    found = too_large(event, {("north", "r"): ran(("A", 90.0))})
    assert list(found) == ([("north", "r")] if line else [])
    assert all(line in one for one in found.values())
