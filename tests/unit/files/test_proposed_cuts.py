"""Where a long recording is cut: worked examples whose borders are known by hand, and simulated days."""

import numpy as np
import pytest

from analyzer.files.tracks.proposed_cuts import Moments, Recorded, proposed
from analyzer.lab.evaluate.cuts import days

NONE = np.empty((0, 2))
SPOT = np.array([[100.0, 0.0]])


def walked(*stays, pace=1.25, begin=1000.0):
    """Return a recording, a fix a second, of somebody who goes from place to place and stays at each for seconds;
    None for a place: nothing is recorded for so long."""
    time, places, at = [], [], begin
    here = None
    for place, seconds in stays:
        if place is None:
            at += seconds
            continue
        place = np.array(place, float)
        if here is not None:
            steps = max(int(np.hypot(*(place - here)) / pace), 1)
            for k in range(1, steps + 1):
                time.append(at)
                places.append(here + (place - here) * k / steps)
                at += 1.0
        for _ in range(int(seconds)):
            time.append(at)
            places.append(place + 0.3 * np.array([np.sin(at / 7.0), np.cos(at / 9.0)]))
            at += 1.0
        here = place
    return Recorded(np.array(time), np.array(places))


def runs(pieces):
    return [(piece.begin_s - 1000.0, piece.end_s - 1000.0) for piece in pieces if piece.take]


def covers(recorded, pieces):
    """Return whether pieces lie end to end over the whole recording."""
    edges = [pieces[0].begin_s, *(p.end_s for p in pieces)]
    begins = [*(p.begin_s for p in pieces), pieces[-1].end_s]
    return edges == begins and edges[0] == recorded.time_s[0] and edges[-1] == recorded.time_s[-1]


def test_two_runs_with_waits_and_a_way_back():
    # 120 s wait, 80 s of way, 60 s at the transmitter, 80 s back, 200 s wait, 80 s of way, 90 s at it.
    recorded = walked(((0, 0), 120), ((100, 0), 60), ((0, 0), 200), ((100, 0), 90), ((0, 0), 30))
    pieces = proposed(recorded, Moments(), SPOT)
    assert covers(recorded, pieces)
    assert np.array(runs(pieces)) == pytest.approx(np.array([[120, 260], [540, 710]]), abs=6.0)
    assert [piece.take for piece in pieces] == [False, True, False, True, False]


def test_who_goes_on_at_once_is_cut_where_they_turned():
    recorded = walked(((0, 0), 120), ((100, 0), 60), ((0, 0), 2), ((100, 0), 90))
    (first, second) = runs(proposed(recorded, Moments(), SPOT))
    assert first == pytest.approx((120, 260), abs=6.0)
    assert second[0] == pytest.approx(341, abs=6.0)


def test_one_run_stays_whole_and_says_so():
    recorded = walked(((0, 0), 120), ((100, 0), 90), ((0, 0), 60))
    (piece,) = proposed(recorded, Moments(), SPOT)
    assert (piece.begin_s, piece.end_s) == (recorded.time_s[0], recorded.time_s[-1])
    assert "Nothing" in piece.why


def test_stepping_aside_is_no_second_run():
    recorded = walked(((0, 0), 120), ((100, 0), 60), ((112, 0), 10), ((100, 0), 60))
    assert len(runs(proposed(recorded, Moments(), SPOT))) == 1


def test_a_stop_on_the_way_is_no_border():
    recorded = walked(((0, 0), 120), ((60, 30), 70), ((100, 0), 60), ((0, 0), 120), ((100, 0), 60))
    found = runs(proposed(recorded, Moments(), SPOT))
    assert len(found) == 2
    assert found[0][0] == pytest.approx(120, abs=6.0)


def test_a_gap_divides():
    recorded = walked(((0, 0), 60), ((100, 0), 60), (None, 1800), ((0, 0), 60), ((100, 0), 60))
    found = runs(proposed(recorded, Moments(), SPOT))
    assert len(found) == 2
    assert found[0][1] < 260
    assert found[1][0] > 1900


def test_start_marks_come_first():
    recorded = walked(((0, 0), 120), ((100, 0), 60), ((0, 0), 200), ((100, 0), 90), ((0, 0), 30))
    marks = Moments((1118.0, 1531.0), (1240.0, 1255.0, 1700.0))
    pieces = proposed(recorded, marks, NONE)
    assert covers(recorded, pieces)
    assert runs(pieces) == [(118.0, 275.0), (531.0, 720.0)]
    without = runs(proposed(recorded, Moments((1118.0, 1531.0)), NONE))
    assert [begin for begin, _ in without] == [118.0, 531.0]
    assert without[0][1] == pytest.approx(260, abs=30.0)


def test_a_start_mark_of_another_day_is_none():
    recorded = walked(((0, 0), 120), ((100, 0), 60), ((0, 0), 200), ((100, 0), 90))
    assert len(runs(proposed(recorded, Moments((5.0, 9e6)), SPOT))) == 2


def test_without_a_drill_only_long_halts_divide_and_it_says_what_it_cannot_know():
    recorded = walked(((0, 0), 130), ((100, 0), 60), ((0, 0), 200), ((100, 0), 60), ((0, 0), 130))
    pieces = proposed(recorded, Moments(), NONE)
    assert covers(recorded, pieces)
    assert len(runs(pieces)) == 2
    assert all("without its drill" in piece.why for piece in pieces if piece.take)


@pytest.mark.parametrize("seconds", [2, 30, 41, 42])
def test_short_recordings_stay_whole(seconds):
    recorded = walked(((0, 0), seconds))
    assert len(proposed(recorded, Moments(), SPOT)) == 1
    assert len(proposed(recorded, Moments(), NONE)) == 1


def test_simulated_days():
    found = days(10, seed=900, transmitters=1, marked=False)
    assert found.found >= 0.9 * found.runs
    assert found.false <= 0.1 * found.runs
    assert found.whole == found.single > 0
