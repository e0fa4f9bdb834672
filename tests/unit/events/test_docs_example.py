"""The examples computed by hand in docs/standings.md: the numbers of its tables are what comes out."""

import math
import re
from pathlib import Path

import pytest

from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.model import Entry, Event, EventClass, EventField, FoundFault, JudgeEntry, RunFacts
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores

TEXT = (Path(__file__).resolve().parents[3] / "docs" / "standings.md").read_text(encoding="utf-8")


def rows_after(heading):
    """Return the cells of the table "By hand" in a section of the page, by bib."""
    part = TEXT.split(f"## {heading}\n")[1].split("\n## ")[0].split("**By hand.**")[1]
    lines = [line for line in part.splitlines() if line.startswith("|")]
    head, *rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in (lines[0], *lines[2:])]
    return {row[0]: dict(zip(head, row, strict=True)) for row in rows}


def strikes(words):
    found = [(who, float(at)) for who, at in re.findall(r"([A-C]) (\d+\.\d)", words)]
    return tuple((who, at, f"probe_hits[{i}]") for i, (who, at) in enumerate(found))


def placed(rows, sheet, transmitters, judge=(), faults=None, statuses=None):
    entries = tuple(
        Entry(
            bib,
            f"Entry {bib}",
            "open",
            () if bib in (statuses or {}) else (("north", f"run-{bib}"),),
            (("north", statuses[bib]),) if bib in (statuses or {}) else (),
        )
        for bib in rows
    )
    facts = {
        ("north", f"run-{bib}"): RunFacts(
            f"north/run-{bib}.json", 600.0, strikes(row["probe hits, s"]), (faults or {}).get(bib, ())
        )
        for bib, row in rows.items()
    }
    event = Event(
        "by hand",
        None,
        built_in_rules(sheet),
        (EventClass("open", "Open"),),
        (EventField("north", "North", transmitters),),
        entries,
        judge,
    )
    return {p.score.bib: p for p in all_standings(event, field_scores(event, facts, {}), facts)[0].places}


@pytest.fixture(scope="module")
def fastest():
    rows = rows_after("Fastest with penalties")
    at = "2026-02-14T09:12:00Z"
    judge = (
        JudgeEntry(1, "7", "north", "penalty_s", 20.0, "", "left the area", "a judge", at),
        JudgeEntry(2, "7", "north", "confirms", 0.0, "", "seen", "a judge", at, "off_lowest"),
    )
    faults = {"7": (FoundFault("off_lowest", "A", "Probed beside the lowest reading.", 90.0, "findings[0]", 0.95),)}
    return rows, placed(rows, "fastest", ("A", "B"), judge, faults, {"15": "absent"})


def test_fastest_by_hand(fastest):
    rows, places = fastest
    assert list(rows) == ["9", "4", "7", "12", "15"]
    assert {bib: row["place"] for bib, row in rows.items()} == {
        bib: "-" if p.rank is None else str(p.rank) for bib, p in places.items()
    }
    for bib in ("9", "4", "7", "12"):
        assert places[bib].score.seconds.value == pytest.approx(float(rows[bib]["sum, s"]), abs=1e-9)
    assert [line.seconds for line in places["7"].score.lines] == [190.9, 20.0, 20.0]
    assert [line.seconds for line in places["12"].score.lines] == [118.0, 300.0]
    assert places["15"].score.why == "did not start"


def test_marks_of_uncertainty_by_hand(fastest):
    """The bounds printed in the page, from the closed form 1.645 times the standard deviation."""
    _, places = fastest
    half = 1.6448536 * math.sqrt(2.0) * 0.5
    assert half == pytest.approx(1.163, abs=5e-4)
    assert places["9"].score.seconds.high - 230.2 == pytest.approx(half, abs=1e-6)
    marked = {(bib, u.bib): (u.gap_s, u.low_s, u.high_s) for bib, p in places.items() for u in p.unclear}
    assert set(marked) == {("9", "4"), ("9", "7"), ("4", "9"), ("7", "9")}  # 4 and 7 share a place
    assert marked["9", "4"] == pytest.approx((1.2, -0.4, 2.8), abs=0.05)
    assert marked["9", "7"] == pytest.approx((0.7, -0.9, 2.3), abs=0.05)
    assert marked["4", "9"] == pytest.approx((-1.2, -2.8, 0.4), abs=0.05)


def test_targets_by_hand():
    rows = rows_after("Targets within a time limit")
    places = placed(rows, "targets_3_in_7_min", ("A", "B", "C"))
    for bib, row in rows.items():
        score = places[bib].score
        assert score.targets == float(row["targets"])
        assert score.seconds.value == pytest.approx(float(row["clock, s"]), abs=1e-9)
        assert score.passed is (row["passed"] == "yes")
        assert str(places[bib].rank) == row["place"]
    assert (places["7"].score.targets_low, places["7"].score.targets_high) == (2.0, 3.0)
    assert {(bib, u.bib, u.because) for bib, p in places.items() for u in p.unclear} == {
        ("7", "9", "targets"),
        ("7", "12", "targets"),
        ("9", "7", "targets"),
        ("12", "7", "targets"),
    }
