"""Which proposer speaks for a recording: with a drill its transmitters, without one the ways out from the start."""

import itertools

import numpy as np

from analyzer.files.tracks.proposed_cuts import Moments, Recorded
from analyzer.workspace.intake.recording import pieces

T0 = 1_770_800_000.0
LEGS = ((90.0, 0.0, 0.0), (60.0, 30.0, 50.0), (100.0, 30.0, 50.0), (50.0, 0.0, 0.0))


def recording() -> Recorded:
    """Three ways out to one place and back, with stands of a minute and a half at both."""
    at, places = [0.0], [(0.0, 0.0)]
    for seconds, east, north in LEGS * 3:
        at.append(at[-1] + seconds)
        places.append((east, north))
    times = np.arange(0.0, at[-1])
    return Recorded(T0 + times, np.column_stack([np.interp(times, at, [p[k] for p in places]) for k in (0, 1)]))


def test_without_a_drill_ways_out_are_taken_and_the_rest_is_left_out() -> None:
    day = recording()
    found = pieces(day, Moments(), None)
    assert [round(p.begin_s - T0, -1) for p in found if p.take] == [90.0, 390.0, 690.0]
    assert "after coming back" in [p for p in found if p.take][1].why
    assert (found[0].begin_s, found[-1].end_s) == (day.time_s[0], day.time_s[-1])
    assert all(a.end_s == b.begin_s for a, b in itertools.pairwise(found))


def test_start_marks_speak_before_ways_out() -> None:
    found = pieces(recording(), Moments(starts=(T0 + 400.0, T0 + 700.0), ends=(T0 + 450.0, T0 + 750.0)), None)
    assert [p.begin_s - T0 for p in found if p.take] == [400.0, 700.0]


def test_a_hit_ends_its_way_out() -> None:
    found = pieces(recording(), Moments(ends=(T0 + 200.0,)), None)
    first = next(p for p in found if p.take)
    assert first.end_s - T0 == 205.0
    assert first.why.endswith("The probe hit.")
