"""A run's line: measures related to the reference searcher, by hand from invented results; the round trip."""

import importlib.util
import json
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyzer.api import analyze
from analyzer.engine.run_line import run_line
from analyzer.errors import InputError
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.results.run_line_json import from_json, to_json
from analyzer.model.figure import Figure, NotAssessable, exact, mean, share, total
from analyzer.model.result import PlanLine
from analyzer.model.rules import PaceKnot

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks"


def _make_result(**changes):
    path = Path(__file__).resolve().parents[1] / "dashboard" / "result_builder.py"
    spec = importlib.util.spec_from_file_location("season_result_builder", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.make_result(**changes)


@pytest.fixture
def result():
    """Return an invented run over two transmitters on level ground, its reference paced evenly: 1 m/s, 0.5 m/s."""
    made = _make_result(angle_deg=0.0)
    rules = replace(made.rules, pace=(PaceKnot(3.0, 1.0),), bracket_pace_mps=0.5, pinpoint_reference_s=20.0)
    lines = (
        PlanLine("field_line", "A", np.array([(-24.0, 34.0), (16.0, 34.0)])),  # 40 m
        PlanLine("field_line", "B", np.array([(16.0, 52.0), (-14.0, 52.0)])),  # 30 m
        PlanLine("bracket", "A", np.array([(16.0, 34.0), (21.0, 34.0)])),  # 5 m
        PlanLine("bracket", "B", np.array([(-14.0, 52.0), (-14.0, 57.0)])),
    )
    return replace(made, rules=rules, lines=lines)


def measured(result):
    return dict(run_line(result, "lower_bowl", "mara-1").measures)


def test_times_are_related_to_the_reference_by_hand(result):
    got = measured(result)
    # Coarse 106 + 68 s against 40 + 30 s; fine 56 + 58 s against 10 + 10; pinpoint 58 + 144 s against 20 + 20.
    assert got["coarse_ratio"].value == pytest.approx((106 + 68) / 70)
    assert got["fine_ratio"].value == pytest.approx((56 + 58) / 20)
    assert got["pinpoint_ratio"].value == pytest.approx((58 + 144) / 40)
    assert got["time_ratio"].value == pytest.approx((174 + 114 + 202) / 130)
    assert got["signal_lost_share"].value == pytest.approx((22.4 + 3.3) / 110)
    assert got["pace_at_3_m"].value == pytest.approx(0.61)


def test_a_phase_that_the_run_ends_in_is_followed_by_nothing(result):
    """The earlier a recording stops, the shorter it is, and the less was lost in it: that is nobody's best."""
    end = next(i for i, p in enumerate(result.phases) if (p.phase, p.transmitter) == ("coarse_search", "B"))
    cut = replace(result.phases[end], end_s=result.phases[end].start_s + 5.0)
    searches = tuple(replace(s, found=s.transmitter == "A") for s in result.searches)
    ended = measured(replace(result, phases=(*result.phases[:end], cut), searches=searches))
    assert ended["coarse_ratio"].value == pytest.approx(106 / 40)  # of A alone, whose search is whole
    for cause in ("wrong_way", "detour", "standing"):
        assert "does not show where the coarse search ended" in ended[f"{cause}_lost_share"].why, cause
    alone = replace(result, phases=result.phases[:1], searches=tuple(replace(s, found=False) for s in searches))
    assert "does not show where the signal search ended" in measured(alone)["signal_lost_share"].why


def test_what_causes_cost_is_of_the_account_and_over_the_reference(result):
    got = measured(result)
    # By hand from the invented account: the reference searcher's seconds from the signal on are
    # 47.3 + 31.4 + 30 + 43.5 + 40.2 + 30, and the interval is that of the account's rows.
    reference = 222.4
    for cause, seconds in (("wrong_way", 34.4), ("detour", 14.7), ("standing", 17.6), ("off_lowest", 110.4)):
        assert got[f"{cause}_lost_share"].value == pytest.approx(seconds / reference), cause
    assert got["wrong_way_lost_share"].high == pytest.approx((34.4 + 1.2) / reference)
    assert got["long_probing_lost_share"].value == pytest.approx((28.0 + 3.6) / reference)
    # What the second fine search went into is not told apart: further lines of the run are then unknown, not none.
    assert "does not show" in got["extra_lines_lost_share"].why


def test_a_cause_that_cost_nothing_is_none_and_not_unknown(result):
    rows = tuple(row for row in result.account if row.cause != "wrong_way")
    assert measured(replace(result, account=rows))["wrong_way_lost_share"] == exact(0.0, "1")
    joined = tuple(replace(r, cause="not_assessed") if r.cause == "covered_twice" else r for r in result.account)
    got = measured(replace(result, account=joined))
    assert "does not show" in got["standing_lost_share"].why
    assert got["off_lowest_lost_share"].value > 0.0


def test_bounds_of_a_ratio_come_from_both_of_its_parts(result):
    got = measured(result)["coarse_ratio"]
    # Spent: two phases, 0.6 and 0.8 s at their bounds. Reference: lines of 44.1 +- 1.2 m, as a share of 40 and 30 s.
    spent, reference = 174.0, 70.0
    spent_half = math.hypot(1.645 * 1.0, 1.645 * 1.0)
    reference_half = math.hypot(40.0 * 1.2 / 44.1, 30.0 * 1.2 / 44.1)
    value = spent / reference
    half = math.hypot(spent_half / reference, value * reference_half / reference)
    assert got.low == pytest.approx(value - half, rel=1e-3)
    assert got.high == pytest.approx(value + half, rel=1e-3)


def test_causes_are_what_the_account_says_was_lost(result):
    line = run_line(result, "lower_bowl", "mara-1")
    # By hand from the invented account: positive rows of each cause; what went faster is not set against it.
    assert dict(line.causes) == pytest.approx(
        {
            "off_lowest": 110.4,
            "wrong_way": 34.4,
            "long_probing": 28.0 + 3.6,
            "extra_lines": 26.2,
            "covered_twice": 22.4,
            "pace": 3.3 + 9.7 + 6.8,
            "standing": 17.6,
            "detour": 14.6 + 0.1,
            "longer_lines": 5.2,
        }
    )
    assert [seconds for _, seconds in line.causes] == sorted((s for _, s in line.causes), reverse=True)
    # The account gives the signal search 84.3 s and the two pinpoints 30 s each, the lines 70 and 20 s.
    assert line.reference_s == pytest.approx(84.3 + 30.0 + 30.0 + 70.0 + 20.0)


@pytest.mark.parametrize("cause", ["reference", "not_recorded", "not_told_apart", "not_assessed"])
def test_nobody_is_charged_with_what_the_evidence_gives_to_nobody(result, cause):
    rows = tuple(replace(row, cause=cause) if row.cause == "wrong_way" else row for row in result.account)
    causes = dict(run_line(replace(result, account=rows), "lower_bowl", "mara-1").causes)
    assert cause not in causes
    assert "wrong_way" not in causes


@pytest.mark.parametrize(("run", "crosses"), [("mara-2", "one"), ("olmar-1", "more")])
def test_a_run_with_one_cross_has_no_extra_lines(tmp_path, run, crosses):
    """What each searcher did is told by the sample day (sample_tracks/README.md), not by the analysis."""
    drill = tmp_path / "lower_bowl"
    shutil.copytree(SAMPLES / "lower_bowl" / "runs" / run, drill / "runs" / run)
    shutil.copy(SAMPLES / "lower_bowl" / "drill.toml", drill)
    (measured_run,) = analyze(drill, draws=16)
    causes = dict(run_line(measured_run, "lower_bowl", run).causes)
    assert ("extra_lines" in causes) == (crosses == "more")


def test_a_transmitter_not_found_leaves_no_time_to_compare(result):
    searches = (result.searches[0], replace(result.searches[1], found=False))
    got = measured(replace(result, searches=searches))
    assert got["time_ratio"] == NotAssessable("not all transmitters were found")


def test_without_paces_there_is_no_reference(result):
    bare = replace(result.rules, pace=(), bracket_pace_mps=math.nan, pinpoint_reference_s=math.nan)
    got = measured(replace(result, rules=bare))
    for name in ("time_ratio", "coarse_ratio", "fine_ratio", "pinpoint_ratio", "pace_at_3_m"):
        assert "reference" in got[name].why, name


@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_a_longer_line_walked_in_proportion_gives_the_same_ratios(result, factor):
    """Twice the way in twice the time is no worse: what the drill asks for drops out."""

    def scaled(figure):
        return Figure(figure.value * factor, figure.low * factor, figure.high * factor, figure.unit)

    lines = tuple(
        replace(item, points_m=item.points_m[0] + factor * (item.points_m - item.points_m[0])) for item in result.lines
    )
    searches = tuple(
        replace(
            s,
            coarse=tuple(
                (k, scaled(f) if k in ("walked_m", "field_line_m", "wrong_way_m") else f) for k, f in s.coarse
            ),
        )
        for s in result.searches
    )
    phases = tuple(replace(p, start_s=p.start_s * factor, end_s=p.end_s * factor) for p in result.phases)
    before, after = measured(result), measured(replace(result, lines=lines, searches=searches, phases=phases))
    assert after["coarse_ratio"].value == pytest.approx(before["coarse_ratio"].value)


def test_line_goes_through_a_file_and_back(result):
    line = run_line(parse_result(result_bytes(result)), "lower_bowl", "mara-1")
    assert from_json(json.loads(json.dumps(to_json(line), allow_nan=False))) == line
    assert line.time_zero == "2026-01-17T09:30:00Z"


def test_a_damaged_line_is_refused(result):
    values = to_json(run_line(result, "lower_bowl", "mara-1"))
    del values["measures"]
    with pytest.raises(InputError, match="the line has no 'measures'"):
        from_json(values)


def test_combining_intervals():
    a, b = Figure(3.0, 2.0, 5.0, "s"), Figure(6.0, 5.0, 7.0, "s")
    assert total([a, b]) == Figure(9.0, 9.0 - math.sqrt(2.0), 9.0 + math.sqrt(5.0), "s")
    assert mean([a, a]).value == 3.0
    assert share(a, exact(2.0, "s")) == Figure(1.5, 1.0, 2.5, "1")
    # A larger whole makes the share smaller: the upper bound of the whole goes into the lower one of the share.
    assert share(exact(6.0, "s"), Figure(3.0, 2.0, 3.0, "s")) == Figure(2.0, 2.0, 2.0 + 2.0 / 3.0, "1")
