"""Several runs in one recording: what is proposed on courses drawn by hand, and on simulated days."""

import numpy as np
import pytest

from analyzer.engine.cutting.proposals import ONE, Note, propose
from analyzer.lab.evaluate.cutting import KINDS, judged, line_of, matched
from analyzer.lab.evaluate.joined_runs import joined_day

T0 = 1_770_800_000.0


def course(*legs: tuple[float, float, float], step_s: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times and places of a course that begins at the origin; legs: seconds, and the place they lead to."""
    at, places = [0.0], [(0.0, 0.0)]
    for seconds, east, north in legs:
        at.append(at[-1] + seconds)
        places.append((east, north))
    times = np.arange(0.0, at[-1] + step_s / 2, step_s)
    east, north = (np.interp(times, at, [p[k] for p in places]) for k in (0, 1))
    return T0 + times, east, north


OUT = ((90.0, 0.0, 0.0), (60.0, 30.0, 50.0), (120.0, 30.0, 50.0), (50.0, 0.0, 0.0))
THREE = course(*OUT, *OUT, *OUT)


def test_three_ways_out_are_three_runs_that_begin_where_the_start_is_left() -> None:
    pieces = propose(*THREE)
    assert [round(p.from_s - T0, -1) for p in pieces] == [90, 410, 730]
    # Each ends within the stand at the find, 60 to 180 s after the start is left.
    assert all(150 <= p.to_s - T0 - k * 320 <= 275 for k, p in enumerate(pieces))
    assert "after coming back" in pieces[1].begins
    assert pieces[0].ends == "The last place where somebody stood is left."


def test_one_way_out_is_one_run_and_says_so() -> None:
    (piece,) = propose(*course(*OUT))
    assert piece.begins == ONE
    assert (piece.from_s, piece.to_s) == (T0, T0 + 320.0)


def test_nothing_but_a_stand_is_one_run() -> None:
    (piece,) = propose(*course((600.0, 0.0, 0.0)))
    assert piece.begins == ONE


def test_few_fixes_are_one_run() -> None:
    (piece,) = propose(T0 + np.arange(5.0), np.zeros(5), np.zeros(5))
    assert piece.begins == ONE


def test_a_search_that_passes_its_start_without_a_stop_is_one_run() -> None:
    legs = ((80.0, 0.0, 80.0), (80.0, 2.0, 0.0), (80.0, 4.0, 80.0), (80.0, 6.0, 0.0), (60.0, 30.0, 50.0))
    (piece,) = propose(*course((90.0, 0.0, 0.0), *legs))
    assert piece.begins == ONE


def test_start_and_finish_marks_are_the_borders() -> None:
    said = [(95.0, "start"), (200.0, "finish"), (415.0, "start"), (500.0, "probe_hit"), (735.0, "start")]
    pieces = propose(*THREE, marks=[Note(T0 + at, mark) for at, mark in said])
    assert [p.from_s - T0 for p in pieces] == [95.0, 415.0, 735.0]
    assert [p.to_s - T0 for p in pieces[:2]] == [205.0, 505.0]
    assert pieces[1].ends == "The probe hit."
    assert "start mark" in pieces[0].begins


def test_a_way_out_without_a_start_mark_is_told_beside_those_that_have_one() -> None:
    said = [(95.0, "start"), (200.0, "finish"), (735.0, "start"), (850.0, "finish")]
    pieces = propose(*THREE, marks=[Note(T0 + at, mark) for at, mark in said])
    assert ["No start mark lies here" in p.begins for p in pieces] == [False, True, False]


def test_a_log_that_falls_silent_ends_the_run() -> None:
    readings = [T0 + k * 320.0 + at for k in range(3) for at in range(100, 190, 2)]
    pieces = propose(*THREE, readings_s=readings)
    assert [p.to_s - T0 - k * 320.0 for k, p in enumerate(pieces)] == [218.0, 218.0, 218.0]
    assert "silent" in pieces[0].ends


def test_a_long_stop_of_the_recorder_divides_what_never_comes_back() -> None:
    time_s, east, north = course((200.0, 150.0, 0.0), (900.0, 150.0, 0.0), (200.0, 300.0, 0.0))
    kept = (time_s < T0 + 200.0) | (time_s > T0 + 1100.0)
    one, two = propose(time_s[kept], east[kept], north[kept])
    assert two.begins == "The recording goes on after a gap of 15 min."
    assert one.to_s - T0 == pytest.approx(200.0, abs=2.0)


def test_a_walk_of_kilometres_with_a_stop_is_no_run_of_its_own() -> None:
    far = ((90.0, 0.0, 0.0), (900.0, 1500.0, 0.0), (120.0, 1500.0, 0.0), (900.0, 0.0, 0.0))
    (piece,) = propose(*course(*far, *far))
    assert piece.begins == ONE


def test_ways_out_far_from_the_drill_are_no_runs() -> None:
    elsewhere = np.array([[2000.0, 2000.0], [2050.0, 2050.0]])
    (piece,) = propose(*THREE, drill_m=elsewhere)
    assert piece.begins == ONE


def test_the_rate_of_the_recorder_does_not_matter() -> None:
    slow, fast = propose(*THREE), propose(*course(*OUT, *OUT, *OUT, step_s=0.1))
    assert [p.from_s for p in fast] == pytest.approx([p.from_s for p in slow], abs=3.0)


@pytest.mark.parametrize("key", ["stands", "no_wait", "no_find", "marks"])
def test_simulated_days_are_cut_into_their_runs(key: str) -> None:
    looked = [judged(joined_day(KINDS[key], seed=seed)) for seed in (501, 502, 503)]
    assert sum(len(one.start_s) for one in looked) >= 8
    assert sum(one.false for one in looked) <= 1
    starts = np.concatenate([one.start_s for one in looked])
    assert np.median(np.abs(starts)) <= 5.0


def test_a_simulated_day_of_one_run_stays_one() -> None:
    assert [judged(joined_day(KINDS["one"], seed=seed)).pieces for seed in (501, 502, 503)] == [1, 1, 1]


def test_a_piece_that_holds_two_runs_is_none_of_theirs() -> None:
    whole = propose(*course((600.0, 0.0, 0.0)))
    assert matched([(T0, T0 + 200.0), (T0 + 300.0, T0 + 500.0)], whole) == []
    assert matched([(T0 + 100.0, T0 + 500.0)], whole) == [(0, 0)]


def test_the_table_counts_what_was_found() -> None:
    one = judged(joined_day(KINDS["marks"], seed=501))
    assert line_of("x", [one]).startswith("| x | 1 | 3 | 100 % | 0 | 100 % |")


def test_nothing_is_proposed_where_runs_begin_in_different_places() -> None:
    """From one start it would look like few runs of double length."""
    find, first, second = (30.0, 50.0), (0.0, 0.0), (120.0, 0.0)
    legs = []
    for start in (first, second, first, second):
        legs += [(60.0, *start), (90.0, *start), (60.0, *find), (90.0, *find)]
    (piece,) = propose(*course(*legs, (60.0, *first), (60.0, *first)))
    assert piece.begins == ONE


def test_nothing_is_proposed_from_a_place_far_from_where_the_recorder_was_switched_on() -> None:
    """A transmitter is come back to as well, and each way back would be taken for a run."""
    legs = [(60.0, 60.0, 0.0)]
    for east in (0.0, 35.0, 90.0, 120.0):
        legs += [(90.0, 60.0, 0.0), (60.0, east, 60.0), (60.0, 60.0, 0.0)]
    (piece,) = propose(*course(*legs))
    assert piece.begins == ONE
