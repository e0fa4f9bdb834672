"""Ranges of places and who is not clearly apart, against closed forms and scipy; intermediate rankings; sums shown."""

import dataclasses
import math
import re

import numpy as np
import pytest
from scipy.stats import norm, rankdata

from analyzer.events.draw import DRAWN, drawn_totals
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.model import OVERALL, Entry, Event, EventClass, EventField, FaultPenalty, JudgeEntry, RunFacts
from analyzer.events.rank import all_standings, ranks_of
from analyzer.events.score import field_scores
from analyzer.events.shown import ShownRow
from analyzer.events.words import shown_lines, shown_rows, state_words
from analyzer.model.figure import Figure, bounds

FINE = dataclasses.replace(built_in_rules("fastest"), resolution_s=0.1)
THREE = built_in_rules("targets_3_in_7_min")
FIELDS = (EventField("north", "North", ("A",)), EventField("south", "South", ("A", "B", "C")))


def event_of(times, *, rules=FINE, fields=FIELDS[:1], judge=(), statuses=None):
    """Return an event and its facts; `times`: bib -> per field the strikes of A, B, C, or None without a run."""
    entries, facts = [], {}
    for bib, own in times.items():
        runs = []
        for field, hits in zip(fields, own, strict=True):
            if hits is not None:
                strikes = tuple((w, t, f"probe_hits[{i}]") for i, (w, t) in enumerate(zip("ABC", hits, strict=False)))
                facts[field.drill, f"r{bib}"] = RunFacts(f"{field.drill}/r{bib}.json", 500.0, strikes)
                runs.append((field.drill, f"r{bib}"))
        entries.append(Entry(bib, f"Entry {bib}", "open", tuple(runs), (statuses or {}).get(bib, ())))
    event = Event("e", None, rules, (EventClass("open", "Open"),), fields, tuple(entries), judge)
    return event, facts


def tables(*args, **kwargs):
    event, facts = event_of(*args, **kwargs)
    return {t.scope: t for t in all_standings(event, field_scores(event, facts, {}), facts) if not t.class_id}


@pytest.mark.parametrize("seed", range(5))
def test_ranks_of_draws_equal_scipys_minimum_ranks(seed):
    keys = np.random.default_rng(seed).integers(0, 9, (12, 30)).astype(float)
    assert (ranks_of(keys) == rankdata(keys, method="min", axis=0)).all()


@pytest.mark.parametrize(("gap_s", "span"), [(0.8, (1, 2)), (1.3, (1, 2)), (2.0, (1, 1)), (9.0, (1, 1))])
def test_two_entries_swap_as_often_as_the_closed_form_says(gap_s, span):
    """Each total errs by two marks, 0.5 s each: the gap has a standard deviation of 1 s."""
    swap = norm.sf(gap_s)
    assert bool(swap > 0.05) is (span == (1, 2))
    first = tables({"1": ((100.0,),), "2": ((100.0 + gap_s,),)})["north"].places[0]
    assert (first.low, first.high) == span


def test_draws_have_the_error_of_their_marks_and_share_the_start():
    event, facts = event_of({"1": ((100.0,), (90.0, 150.0, 200.0))}, fields=FIELDS)
    drawn = drawn_totals(event, facts, field_scores(event, facts, {}))
    off = {scope: d.seconds[0, 1:] - d.seconds[0, 0] for scope, d in drawn.items()}
    sigma = 0.5 * math.sqrt(2.0)
    for scope, wanted in (("north", sigma), ("south", sigma), (OVERALL, sigma * math.sqrt(2.0))):
        # The sample deviation of n normal draws scatters by 1 / sqrt(2 n).
        assert off[scope].std() == pytest.approx(wanted, rel=4.0 / math.sqrt(2.0 * DRAWN))
    assert drawn[OVERALL].seconds[0, 0] == 300.0
    assert abs(np.corrcoef(off["north"], off["south"])[0, 1]) < 4.0 / math.sqrt(DRAWN)


def test_the_start_of_a_run_moves_all_its_strikes():
    """Three strikes just before the limit are late together, when the start was marked early: the number of targets
    has a wider spread than three strikes that err each for itself (binomial, 3/4)."""
    rules = dataclasses.replace(THREE, resolution_s=0.1)
    event, facts = event_of({"1": ((420.0, 420.0, 420.0),)}, rules=rules, fields=(FIELDS[1],))
    targets = drawn_totals(event, facts, field_scores(event, facts, {}))["south"].targets[0, 1:]
    assert np.var(targets) > 1.2 * 0.75


def test_what_is_counted_is_the_column_before_the_draws():
    rng = np.random.default_rng(7)
    times = {str(i): ((rng.uniform(60, 90),), np.sort(rng.uniform(90, 600, 3))) for i in range(20)}
    for rules in (FINE, THREE):
        fields = tuple(dataclasses.replace(f, time_limit_s=500.0) for f in FIELDS)
        event, facts = event_of(
            times, rules=dataclasses.replace(rules, targets=1) if rules is THREE else rules, fields=fields
        )
        scores = field_scores(event, facts, {})
        drawn = drawn_totals(event, facts, scores)
        for score in scores:
            if score.seconds is not None:
                own = drawn[score.drill]
                assert own.seconds[own.row[score.bib], 0] == pytest.approx(score.seconds.value, abs=0.11)
                assert rules is not THREE or own.targets[own.row[score.bib], 0] == score.targets


def test_every_entry_is_compared_with_every_other():
    """0.7 s from one to the next: the third is 1.4 s behind the first, less than 1.645 s, and not its neighbour."""
    found = {
        p.score.bib: {u.bib for u in p.unclear}
        for p in tables({str(i): ((100.0 + 0.7 * i,),) for i in range(4)})["north"].places
    }
    assert found == {"0": {"1", "2"}, "1": {"0", "2", "3"}, "2": {"0", "1", "3"}, "3": {"1", "2"}}


def test_who_else_takes_part_moves_nobody():
    times = {str(i): ((100.0 + 3.0 * i,),) for i in range(6)}
    event, facts = event_of(times)
    whole = drawn_totals(event, facts, field_scores(event, facts, {}))["north"]
    fewer, left = event_of({bib: times[bib] for bib in ("1", "4", "5")})
    part = drawn_totals(fewer, left, field_scores(fewer, left, {}))["north"]
    for bib in ("1", "4", "5"):
        assert (part.seconds[part.row[bib]] == whole.seconds[whole.row[bib]]).all()


def test_a_strike_near_the_limit_may_be_a_miss():
    """B was struck 0.5 s before the limit: counted, or 300 s for it and the time of A."""
    field = (EventField("north", "North", ("A", "B"), time_limit_s=200.5),)
    place = tables({"1": ((100.0, 200.0),), "2": ((150.0, 190.0),)}, fields=field)["north"].places
    sure, doubtful = place[0].score.seconds, place[1].score.seconds
    assert (sure.value, doubtful.value) == (190.0, 200.0)
    half = sure.high - sure.value
    assert doubtful.high == pytest.approx(100.0 + 300.0 + half)
    late = tables({"1": ((100.0, 201.0),)}, fields=field)["north"].places[0].score.seconds
    assert (late.value, late.low) == (400.0, pytest.approx(201.0 - half))


def test_while_a_field_is_missing_the_ranking_is_an_intermediate_one():
    times = {
        "1": ((100.0,), (50.0, 60.0, 70.0)),
        "2": ((90.0,), None),
        "3": ((95.0,), (50.0, 60.0, 80.0)),
        "4": (None, None),
    }
    found = tables(times, fields=FIELDS)
    overall = found[OVERALL]
    assert [(p.score.bib, p.rank) for p in overall.places] == [("1", 1), ("3", 2), ("2", 3), ("4", None)]
    assert (overall.waiting, found["north"].waiting, found["south"].waiting) == (2, 1, 2)
    assert "Intermediate ranking: of 2 entries a result is still to come." in state_words(overall)[0]
    two = overall.places[2]
    assert (two.score.seconds.value, two.score.done, two.score.why) == (90.0, 1, "South: not yet on the field")
    assert {u.bib for p in overall.places for u in p.unclear} == set()  # other numbers of fields are not compared
    done = tables({k: v for k, v in times.items() if k in "13"}, fields=FIELDS)[OVERALL]
    assert (done.waiting, state_words(done)) == (0, ())
    absent = tables(
        times, fields=FIELDS, statuses={"2": (("south", "absent"),), "4": (("north", "absent"), ("south", "absent"))}
    )
    assert absent[OVERALL].waiting == 0
    assert [p.rank for p in absent[OVERALL].places] == [1, 2, None, None]


def test_a_run_that_could_not_be_measured_is_still_to_come():
    event, facts = event_of({"1": ((100.0,),), "2": ((90.0,),)})
    del facts["north", "r2"]
    scores = field_scores(event, facts, {("north", "r2"): "north/r2/track.gpx: the file is empty"})
    table = all_standings(event, scores, facts)[0]
    assert (table.waiting, [p.rank for p in table.places]) == (1, [1, None])


def seconds_of(words):
    found = re.search(r"(−?)(\d+):(\d\d)\.(\d)", words)
    return (-1 if found[1] else 1) * (600 * int(found[2]) + 10 * int(found[3]) + int(found[4]))


def line_tenths(words):
    found = re.match(r"(−?)(\d+)\.(\d) s", words)
    return (-1 if found[1] else 1) * (10 * int(found[2]) + int(found[3]))


def shown(event, facts) -> dict[tuple[str, str], tuple[ShownRow, object]]:
    standings = all_standings(event, field_scores(event, facts, {}), facts)
    fields = tuple((f.drill, f.name) for f in event.fields)
    out = {}
    for table in standings:
        if not table.class_id:
            rows = shown_rows(table, event.rules.kind, {"open": "Open"}, fields, standings)
            out |= {(table.scope, r.bib): (r, p.score) for r, p in zip(rows, table.places, strict=True)}
    return out


def test_shown_times_add_up_to_the_shown_total():
    """Of marks to the millisecond, with penalties and bonuses: lines to their sum, fields to the total, in tenths."""
    rng = np.random.default_rng(3)
    times = {str(i): ((round(rng.uniform(60, 90), 3),), np.sort(rng.uniform(90, 300, 3)).round(3)) for i in range(60)}
    at = "2026-02-14T09:12:00Z"
    judge = [
        JudgeEntry(i + 1, str(i), "north", ("penalty_s", "bonus_s")[i % 2], 7.3, "", "invented", "a judge", at)
        for i in range(20)
    ]
    found = shown(*event_of(times, fields=FIELDS, judge=tuple(judge)))
    assert len(found) == 180
    for row, score in found.values():
        *lines, total = [line_tenths(line.adds) for line in shown_lines(score)]
        assert sum(lines) == total == seconds_of(row.total)
        if score.drill == OVERALL:
            assert sum(seconds_of(text) for _, text in row.parts) == total
        else:
            added = sum(line_tenths(p.lstrip("+")) for p in row.penalties)
            assert seconds_of(dict(row.parts)["Time"]) + added == total


def test_nobody_of_a_team_is_charged_for_what_others_struck():
    team = (dataclasses.replace(FIELDS[1], team=True),)
    score = tables({"1": ((100.0,),)}, fields=team)["south"].places[0].score
    assert score.seconds.value == 100.0
    assert [line.seconds for line in score.lines] == [100.0, 0.0, 0.0]
    assert "several searched at once" in score.lines[1].what
    assert tables({"1": ((100.0,),)}, fields=FIELDS[1:])["south"].places[0].score.seconds.value == 700.0


def test_a_confirmed_measure_is_drawn_from_its_interval():
    """10 s per metre beyond 0.5 m, of 2.5 m (1.5 to 4.5): 20 s, 10 to 40 s; marks without error."""
    penalty = FaultPenalty("", "pinpoint.probe_offset_m", 10.0, free=0.5)
    rules = dataclasses.replace(FINE, mark_sigma_s=0.0, penalties=(penalty,))
    confirms = JudgeEntry(
        1, "1", "north", "confirms", 0.0, "", "invented", "a judge", "2026-02-14T09:12:00Z", penalty.measure
    )
    event, facts = event_of({"1": ((100.0,),)}, rules=rules, judge=(confirms,))
    measured = (penalty.measure, "A", Figure(2.5, 1.5, 4.5, "m"), "searches[0].pinpoint.probe_offset_m")
    facts["north", "r1"] = dataclasses.replace(facts["north", "r1"], measures=(measured,))
    (total, *_) = scores = field_scores(event, facts, {})
    assert (total.seconds.value, total.seconds.low, total.seconds.high) == (120.0, 110.0, 140.0)
    seconds = drawn_totals(event, facts, scores)["north"].seconds[0]
    assert seconds[0] == 120.0
    assert bounds(seconds[1:]) == pytest.approx((110.0, 140.0), abs=1.0)
