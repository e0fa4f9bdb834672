"""No finding takes a second by itself: proposals, judges' words on them, and what is refused."""

import dataclasses
import re

import pytest

from analyzer.errors import FileError
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.model import (
    OVERALL,
    Entry,
    Event,
    EventClass,
    EventField,
    FaultPenalty,
    FoundFault,
    JudgeEntry,
    RunFacts,
)
from analyzer.events.proposal_words import shown_proposals
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.model.account import FINDING_TITLES, FINDINGS
from analyzer.model.figure import Figure, NotAssessable

RULES = dataclasses.replace(
    built_in_rules("fastest"),
    penalties=(FaultPenalty("off_lowest", "", 20.0), FaultPenalty("", "pinpoint.probe_offset_m", 10.0, free=0.5)),
)
FAULTS = tuple(
    FoundFault("off_lowest", who, f"Beside it at {who}.", 90.0, f"findings[{i}]", 0.95) for i, who in enumerate("AB")
)
OFFSET = (("pinpoint.probe_offset_m", "B", Figure(1.5, 0.5, 2.5, "m"), "searches[1].pinpoint.probe_offset_m"),)


def decision(kind, about="off_lowest", transmitter="A", number=1, bib="1", amount=0.0):
    at = f"2026-02-14T09:1{number}:00Z"
    return JudgeEntry(number, bib, "north", kind, amount, "", "invented reason", "a judge", at, about, transmitter)


def scores(*judge, faults=FAULTS, measures=OFFSET, logged=True, runs=True):
    entries = tuple(Entry(bib, f"Entry {bib}", "open", (("north", f"r{bib}"),)) for bib in "12")
    strikes = (("A", 100.0, "probe_hits[0]"), ("B", 200.0, "probe_hits[1]"))
    facts = {
        ("north", f"r{bib}"): RunFacts(
            f"north/r{bib}.json", 300.0, strikes, *(((), ()) if bib == "2" else (faults, measures)), (), True, logged
        )
        for bib in ("12" if runs else "2")
    }
    field = EventField("north", "North", ("A", "B"))
    event = Event("e", None, RULES, (EventClass("open", "Open"),), (field,), entries, judge)
    return event, facts, {(s.bib, s.drill): s for s in field_scores(event, facts, {})}


def test_nothing_is_taken_before_a_judge_has_confirmed_it():
    _, _, found = scores()
    own = found["1", "north"]
    assert (own.seconds, own.open) == (found["2", "north"].seconds, 3)
    assert [(p.about, p.transmitter, p.seconds.value, p.state) for p in own.proposals] == [
        ("off_lowest", "A", 20.0, "open"),
        ("off_lowest", "B", 20.0, "open"),
        ("pinpoint.probe_offset_m", "B", 10.0, "open"),
    ]
    # Half a metre is free: the interval from there on, of 0.5 to 2.5 m, holds 95 %.
    assert [p.probability for p in own.proposals] == pytest.approx([0.95, 0.95, 0.95])
    assert found["1", OVERALL].open == 3


def test_what_is_confirmed_counts_and_what_is_rejected_does_not():
    _, _, found = scores(decision("confirms"), decision("rejects", transmitter="B", number=2))
    own = found["1", "north"]
    assert own.seconds.value == 220.0
    assert [p.state for p in own.proposals] == ["confirmed", "rejected", "open"]
    line = own.lines[-1]
    assert (line.rule, line.seconds, line.evidence) == ("penalty.off_lowest", 20.0, "findings[0]")
    assert "invented reason (a judge, 2026-02-14T09:11:00Z)" in line.what


def test_the_last_word_counts_once():
    _, _, twice = scores(decision("confirms"), decision("confirms", number=2))
    assert twice["1", "north"].seconds.value == 220.0
    _, _, withdrawn = scores(decision("confirms"), decision("rejects", number=2))
    assert withdrawn["1", "north"].seconds.value == 200.0
    assert "09:12" in withdrawn["1", "north"].proposals[0].said


def test_a_confirmed_measure_brings_its_interval_into_the_total():
    plain = scores()[2]["1", "north"].seconds
    own = scores(decision("confirms", "pinpoint.probe_offset_m", ""))[2]["1", "north"].seconds
    assert own.value == 210.0
    # Independent: 10 s either way and the half of the marks, in quadrature.
    assert own.high - own.value == pytest.approx((10.0**2 + (plain.high - plain.value) ** 2) ** 0.5)


@pytest.mark.parametrize(
    ("judge", "runs", "what", "do"),
    [
        (
            decision("confirms", "wrong_way", ""),
            True,
            "wrong_way is not proposed for bib 1 on north; proposed: ",
            "write penalty_s",
        ),
        (decision("confirms", transmitter="C"), True, "off_lowest of C is not proposed", "write penalty_s"),
        (decision("confirms", transmitter=""), True, "off_lowest is proposed 2 times", "which as transmitter: A, B"),
        (decision("rejects", bib="2"), True, "off_lowest of A is not proposed for bib 2", "remove the entry"),
        (decision("confirms"), False, "whose run is not measured", "write penalty_s"),
    ],
)
def test_a_decision_on_what_is_not_proposed_is_refused_in_one_line(judge, runs, what, do):
    with pytest.raises(FileError) as caught:
        scores(judge, runs=runs)
    text = str(caught.value)
    assert text.startswith(f"event.toml, [[judge]] 1, {judge.kind}: ")
    assert what in text
    assert do in text
    assert "\n" not in text


def test_all_that_is_refused_is_told_at_once():
    with pytest.raises(FileError) as caught:
        scores(decision("confirms", "wrong_way"), decision("rejects", "standing", number=2, bib="2"))
    assert [p.where for p in caught.value.problems] == [
        "event.toml, [[judge]] 1, confirms",
        "event.toml, [[judge]] 2, rejects",
    ]


def test_less_evidence_never_looks_better():
    """Without a log nothing is found and nothing proposed: the totals are equal, and the entry says what is missing."""
    with_log = scores()[2]["1", "north"]
    without = scores(faults=(), measures=((*OFFSET[0][:2], NotAssessable("no log"), OFFSET[0][3]),), logged=False)[2][
        "1", "north"
    ]
    assert without.seconds == with_log.seconds
    assert without.known == (
        "no log of the readings: fewer penalties can be proposed",
        "pinpoint.probe_offset_m of B is not known (no log): nothing can be proposed",
    )


def test_proposals_in_words_those_that_wait_first():
    event, facts, found = scores(decision("confirms"))
    table = all_standings(event, list(found.values()), facts)[0]
    shown = shown_proposals(table, (("north", "North"),))
    assert [(p.bib, p.what, p.likely, p.adds, p.state) for p in shown] == [
        ("1", "Probing beside the lowest spot, B, at 1:30.0", "95 %", "20.0 s", "waits for a judge"),
        ("1", "Probe hit to transmitter, B", "1.5 m (0.5 to 2.5); 95 %", "10.0 s (0.0 to 20.0)", "waits for a judge"),
        (
            "1",
            "Probing beside the lowest spot, A, at 1:30.0",
            "95 %",
            "20.0 s",
            "confirmed: invented reason (a judge, 2026-02-14T09:11:00Z)",
        ),
    ]
    assert shown[0].key == 'field = "north", confirms = "off_lowest", transmitter = "B"'


def test_no_proposal_is_called_certain():
    """A probability of 0.998 was rounded to "100 %", which no measurement carries."""
    event, facts, _ = scores(
        faults=tuple(dataclasses.replace(f, probability=p) for f, p in zip(FAULTS, (0.998, 0.994), strict=True))
    )
    table = all_standings(event, field_scores(event, facts, {}), facts)[0]
    assert [one.likely for one in shown_proposals(table, (), "1")][:2] == ["over 99 %", "99 %"]


def test_every_finding_has_a_name_for_lists_that_others_read():
    """2026-11-27: confirmed penalties stood on public lists in the words that the debrief says to the searcher."""
    assert set(FINDING_TITLES) == set(FINDINGS)
    assert not [title for title in FINDING_TITLES.values() if re.search(r"\byour?\b", title, re.IGNORECASE)]
    assert not [title for title in FINDING_TITLES.values() if title.endswith(".")]
