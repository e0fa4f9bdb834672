"""The table has every row that is asked for, and tells a good path from a bad one."""

import dataclasses
import json
import re

import numpy as np
import pytest

from analyzer.engine.pipeline import analyze_drill
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import COLUMN_TITLES, COLUMNS
from analyzer.lab.evaluate.cells import Section
from analyzer.lab.evaluate.finding_rows import UNSURE, said_rows
from analyzer.lab.evaluate.rows import position_rows, sections_of
from analyzer.lab.evaluate.show import as_json, counts, markdown
from analyzer.lab.evaluate.trial import Trial, judge
from analyzer.lab.simulate import FAULTS, simulate_drill, simulate_run

ROWS = [
    "fused error in fine search",
    "antenna axis not given",
    "noise taken from real phones on foot",
    "relative to a transmitter stated 2.5 m off",
    "mean squared error over claimed variance",
    "start of coarse search",
    "start of fine search",
    "walked / field line ratio",
    "events over 4 m found",
    "events that are false",
    "wrong way length",
    "standing",
    "crossing angle of the bracket",
    "clock offset of up to 30 s",
    "90 % intervals that hold the truth",
    "of the start of pinpoint",
    "start of pinpoint, where the log falls silent or swings",
    "assessable, or its side of the limit told",
    "used fixes within 2.45 stated sigma of the path",
]


def test_table_has_every_figure_measured_beside_what_is_wanted(trials):
    main = sections_of(trials, ("markov",))[:3]
    assert [s.title for s in main] == list(COLUMN_TITLES.values())
    for words in ROWS:
        rows = [r for s in main for r in s.rows if words in r.figure]
        asked = [c for r in rows for c in r.cells if c is not None and c.wanted]
        # Of invented recordings nothing is asked: what is wanted is known for the two kinds of real ones.
        assert rows if "real phones" in words else asked, words
        assert all(c.measured and c.met is not None for c in asked), words


def test_both_simulators_stand_side_by_side(trials):
    for section in sections_of(trials, ("markov",))[:3]:
        assert section.columns == ("project's simulator", "examiner")
        both = [r.figure for r in section.rows if all(c is not None for c in r.cells)]
        for words in ("fused error in fine search", "mean squared error", "seconds of wrong way against", "false"):
            assert any(words in figure for figure in both), (section.title, words)


def test_no_simulated_run_is_refused(trials):
    assert [t.error for own in trials.values() for t in own if t.error] == []


def test_findings_have_a_row_per_fault_and_one_for_faultless_runs(trials):
    figures = [r.figure for r in sections_of(trials, ("markov",))[0].rows]
    for fault in FAULTS:
        words = fault.replace("_", " ")
        own = [f"said where it was planted: {words}", f"true where it was said: {words}"]
        assert all(name in figures for name in (own if fault in UNSURE else [f"first finding: {words}"]))
    assert "findings that are false, per 100 runs" in figures
    assert any("unexplained" in f for f in figures)


def test_a_false_finding_is_counted_with_what_was_really_planted():
    runs = [
        Trial("narrow_bracketing/readings", 1, faults=("narrow_bracketing",), findings=("narrow_bracketing",)),
        Trial("narrow_bracketing/readings", 2, faults=("narrow_bracketing",)),
        Trial("plain/readings", 3, findings=("narrow_bracketing",), false=("narrow_bracketing",)),
        Trial(
            "rushed_bracketing/readings",
            4,
            faults=("rushed_bracketing",),
            findings=("narrow_bracketing",),
            false=("narrow_bracketing",),
        ),
        Trial("standing/readings", 5, faults=("standing",), findings=("narrow_bracketing",)),  # true of its path
    ]
    said, true = said_rows("narrow_bracketing", {"readings": runs, "track": [], "survey": []})
    assert said.cells[0].measured == "50 % (1 of 2)"
    assert true.cells[0].measured == "50 % (2 of 4)"
    assert true.cells[0].met is False
    assert true.note == "readings: none 1, rushed_bracketing 1"


def test_without_recordings_the_row_says_so(trials):
    bare = {key: own for key, own in trials.items() if not key.startswith("phone/")}
    row = next(r for r in position_rows(bare) if "real phones" in r.figure)
    assert [c.measured for c in row.cells if c] == ["no recordings at hand"] * 2


def test_markdown_and_json_say_the_same(trials):
    sections = sections_of(trials, ("markov",))
    page, values = markdown(sections, {"runs": 2}), json.loads(as_json(sections, {"runs": 2}, []))
    met, missed = counts(sections)
    assert (values["met"], values["not_met"]) == (met, missed)
    assert f"{met} met, {missed} not met" in page
    assert len(re.findall(r"\*\*not met\*\*", page)) >= missed  # side by side both may say it
    assert values["sections"][0]["columns"] == list(sections[0].columns)
    rows = [line for line in page.splitlines() if line.startswith("| ")]
    assert len(rows) == sum(len(s.rows) + 2 for s in sections)


def test_of_noise_other_than_assumed_only_honest_claims_are_asked(trials):
    section = next(s for s in sections_of(trials, ("markov",)) if s.title == "Noise other than assumed")
    assert isinstance(section, Section)
    asked = {r.figure.strip() for r in section.rows for c in r.cells if c and c.met is not None}
    assert asked == {"mean squared error over claimed variance"}


@pytest.fixture(scope="module", params=COLUMNS)
def judged(request, blocks, rules):
    """A run's result, and a function that judges it with another path."""
    block = blocks[f"taped/{request.param}"]
    drill = simulate_drill(block.drill, seed=77)
    run = simulate_run(drill, block.run, seed=77)
    result = analyze_drill(drill.drill, [run.recording], rules, draws=12)[0]
    plane = SlopePlane(drill.drill.slope)

    def with_path(shift_m, *, true):
        path = result.path
        there = np.column_stack([path.east_m, path.north_m])
        if true:
            t = run.truth
            there = np.column_stack([np.interp(path.time_s, t.time_s, v) for v in (t.east_m, t.north_m)])
        there = there + plane.to_horizontal(shift_m)
        moved = dataclasses.replace(path, east_m=there[:, 0], north_m=there[:, 1])
        trial = judge(block.key, dataclasses.replace(result, path=moved), run, drill.drill, rules)
        return request.param, trial

    return with_path


def cell_of(column, trial):
    trials = {f"taped/{column}": [trial], f"plain/{column}": [trial]}
    return position_rows(trials)[0].cells[COLUMNS.index(column)]


def test_the_true_path_has_no_error_and_is_met(judged):
    column, trial = judged((0.0, 0.0), true=True)
    assert trial.numbers["fused_rms_m"] < 1e-9
    assert cell_of(column, trial).met is True


def test_a_shifted_path_is_off_by_the_shift_and_not_met(judged):
    column, trial = judged((3.0, -4.0), true=True)
    assert trial.numbers["fused_rms_m"] == pytest.approx(5.0, abs=1e-9)  # 3-4-5, in the slope plane
    assert trial.numbers["shape_rms_m"] == pytest.approx(0.0, abs=1e-9)
    assert cell_of(column, trial).met is False
    places = [c for c in trial.claims if c.figure in ("place.fine_search", "place.coarse_search")]
    assert len(places) == 4
    assert trial.numbers["error_over_claim"] > 1.6
    assert not any(c.holds for c in places if c.high - c.low < 2 * 3.0)


def test_the_error_against_the_transmitter_counts_their_difference(judged):
    _, here = judged((0.0, 0.0), true=False)
    _, moved = judged((30.0, 40.0), true=False)
    assert moved.numbers["relative_rms_m"] == pytest.approx(50.0, abs=here.numbers["relative_rms_m"] + 1e-9)
