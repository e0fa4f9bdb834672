"""The reference searcher in time and what the replay gets."""

import json
from dataclasses import replace

import numpy as np
import pytest

from analyzer.model.result import Phase, PlanLine
from analyzer.model.rules import PaceKnot
from dashboard.figures.replay import replay_data
from dashboard.services.reference import reference_walk


def level(result, **changes):
    """Return a level run with one transmitter A and one phase each, made for closed forms."""
    phases = (
        Phase("signal_search", "A", 0.0, 110.0, 0.5, 0.5, 50.0),
        Phase("coarse_search", "A", 110.0, 216.0, 0.5, 0.5, 50.0),
        Phase("fine_search", "A", 216.0, 272.0, 0.5, 0.5, 9.0),
        Phase("pinpoint", "A", 272.0, 600.0, 0.5, 0.5, 0.0),
    )
    lines = (
        PlanLine("field_line", "A", np.array([(16.0, 4.0), (16.0, 31.0)])),
        PlanLine("bracket", "A", np.array([(16.0, 31.0), (16.0, 35.0), (16.0, 33.0)])),
    )
    even = replace(result.rules, pace=(PaceKnot(3.0, 1.5),), bracket_pace_mps=0.5, pinpoint_reference_s=20.0)
    return replace(result, slope=(0.0, 180.0), phases=phases, lines=lines, rules=even, **changes)


def test_lengths_over_paces_and_the_order_of_phases(result):
    coarse, fine, pinpoint = reference_walk(level(result))
    assert [s.phase for s in (coarse, fine, pinpoint)] == ["coarse_search", "fine_search", "pinpoint"]
    assert (coarse.time_s[-1], fine.time_s[-1], pinpoint.time_s[-1]) == pytest.approx((27 / 1.5, 6 / 0.5, 20.0))
    # No strips: the reference searcher waits through the signal search, then never again.
    assert (coarse.with_run_s, fine.with_run_s, pinpoint.with_run_s) == pytest.approx((110.0, 128.0, 140.0))
    assert (coarse.with_phase_s, fine.with_phase_s, pinpoint.with_phase_s) == (110.0, 216.0, 272.0)
    assert (pinpoint.east_m[0], pinpoint.north_m[0]) == pytest.approx((16.0, 33.0))


def test_up_a_slope_it_takes_longer_than_on_the_map(result):
    # 27 m north on the map, straight up 60 degrees, are 54 m over the surface.
    coarse = reference_walk(replace(level(result), slope=(60.0, 180.0)))[0]
    assert coarse.time_s[-1] == pytest.approx(54 / 1.5)
    assert coarse.north_m[[0, -1]] == pytest.approx([4.0, 31.0])


def test_a_result_without_paces_has_no_reference_searcher(result):
    bare = level(result)
    nan = float("nan")
    rules = replace(bare.rules, pace=(), bracket_pace_mps=nan, pinpoint_reference_s=nan, signal_pace_mps=nan)
    assert reference_walk(replace(bare, rules=rules)) == ()


def test_the_invented_run_has_every_phase(result):
    assert [s.phase for s in reference_walk(result)] == [p.phase for p in result.phases]


def test_the_replay_gets_every_row_once_and_in_plain_numbers(result):
    data = replay_data(result, reference_walk(result))
    text = json.dumps(data, allow_nan=False)
    assert len(text) < 200_000
    assert len(data["path"]["t"]) == len(result.path.time_s) == len(data["path"]["radius"])
    assert data["path"]["e"][100] == pytest.approx(result.path.east_m[100], abs=0.0051)
    # Radius that holds 90 % in the plane: 2.146 standard deviations (Rayleigh).
    assert data["path"]["radius"][300] == pytest.approx(2.146 * result.path.sigma_m[300], abs=0.006)
    assert len(data["readings"]["t"]) == len(result.readings)
    assert [f["number"] for f in data["findings"]] == [1, 2, 3]


def test_the_page_carries_the_data_and_the_controls(ask):
    status, text = ask("/replay/lower_bowl/mara-1", "?at=168.0")
    assert status == 200
    for part in ("Replay: Mara Fennick", '"id":"replay-data"', "Play", "On 1 s", "Reference starts", "16 times"):
        assert part in text


def test_a_link_to_a_run_that_is_gone_says_so(ask):
    assert "This run is not here" in ask("/replay/lower_bowl/gone")[1]
    assert "the result has no 'run'" in ask("/replay/lower_bowl/zz-damaged")[1].replace("\\u0027", "'")
