"""Laws of the account: it is exact, does not depend on the frame, and a longer detour never scores better."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from builders import exact_path, walk
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.engine.ideal.bracket import bracket_ideal
from analyzer.engine.ideal.coarse import coarse_ideal_of
from analyzer.engine.ideal.reference import reference_times
from analyzer.engine.measures import Ground, measure_searches
from analyzer.engine.verdict import account, timeline
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import walked_between
from analyzer.model.account import ACTIVITIES, Episode
from analyzer.model.drill import Slope
from analyzer.model.figure import Figure
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.reference_solution import ReferenceSolution

# The walks below have no readings: of the deductions only the one that a track carries.
RULES = replace(default_rules(), deductions=default_rules().deductions[:1])
GROUND = Ground(SlopePlane(Slope()), 40.0, 0.1)
IN = [(60.0, 10.0), (30.0, 0.0)]
CLOSE = [(3.0, 0.0), (-1.2, 0.0), (0.0, 0.0), (0.0, 1.2), (0.0, -1.2), (0.0, 0.05), (0.0, 0.051)]
CLOSE_PACE = [0.6, 0.25, 0.25, 0.25, 0.25, 0.25, 0.001 / 15.0]


def a_run(way=((20.0, 0.0),), *, turn_rad=0.0, shift=(0.0, 0.0), pace=1.1):
    """Return the account of a run that walks `way` between 30 m and 3 m, the whole world turned and shifted."""
    knots = np.array([*IN, *way, *CLOSE])
    paces = [1.3, *np.broadcast_to(pace, len(way)), *CLOSE_PACE]
    time_s, points = walk(knots, pace=paces, step_s=0.5)
    seconds = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T) / np.array(paces))])
    turn = np.array([[np.cos(turn_rad), -np.sin(turn_rad)], [np.sin(turn_rad), np.cos(turn_rad)]])
    axis = np.array([[*(turn @ [1.0, 0.0]), 0.0]])
    fused = exact_path(time_s, points @ turn.T + shift, transmitter_m=[shift], axis=axis)
    n = len(way)
    bounds = (0.0, seconds[1], seconds[2 + n], seconds[7 + n], float(time_s[-1]))
    spans = tuple(
        PhaseSpan(p, "A", a, b, 0.0, 0.0, np.array([a]), np.array([b]))
        for p, a, b in zip(PHASES, bounds[:-1], bounds[1:], strict=True)
    )
    coarse = coarse_ideal_of(fused, transmitter="A", acquired_s=[bounds[1]], fine_radius_m=RULES.fine_radius_m)
    entry = turn @ [3.0, 0.0] + shift
    bracket = bracket_ideal(entry, np.array(shift), transmitter="A", arm_m=RULES.bracket_arm_m)
    times = reference_times(transmitter="A", rules=RULES, transmitter_m=np.array(shift), coarse=coarse, bracket=bracket)
    searches = measure_searches(
        fused, spans, {"A": ReferenceSolution("A", coarse, bracket, times)}, RULES, ground=GROUND
    )
    path = fused.draws.path_m[0]
    verdict = account(time_s, path, spans, searches, RULES, duration_s=bounds[-1])
    rows, found, scores = verdict.timeline, verdict.findings, verdict.scores
    return {
        "rows": rows,
        "findings": found,
        "scores": scores,
        "searches": searches,
        "time": time_s,
        "path": path,
        "duration": bounds[-1],
    }


def assert_exact(rows, time_s, path_m, duration_s):
    assert rows[0].from_s == 0.0
    assert rows[-1].to_s == duration_s
    for one, two in itertools.pairwise(rows):
        assert one.to_s == two.from_s
    assert {r.activity for r in rows} <= set(ACTIVITIES)
    assert all(r.seconds > 0.0 for r in rows)
    assert sum(r.seconds for r in rows) == pytest.approx(duration_s, abs=1e-3)
    assert sum(r.metres for r in rows) == pytest.approx(walked_between(time_s, path_m, 0.0, duration_s), abs=1e-3)


@st.composite
def accounts(draw):
    """Return a random walk, random phases and random, overlapping episodes."""
    n = draw(st.integers(3, 60))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    time_s = np.cumsum(rng.uniform(0.1, 3.0, n)) - draw(st.floats(0.0, 2.0))
    path_m = np.cumsum(rng.standard_normal((n, 2)), axis=0)
    duration_s = float(time_s[-1]) + draw(st.floats(-0.5, 3.0)) + 3.0
    cuts = sorted(draw(st.lists(st.floats(0.0, duration_s), min_size=3, max_size=3)))
    bounds = [draw(st.sampled_from([0.0, cuts[0] / 2.0])), *cuts, draw(st.sampled_from([duration_s, cuts[-1]]))]
    spans = tuple(
        PhaseSpan(p, "A", a, b, 0.0, 0.0, np.array([a]), np.array([b]))
        for p, a, b in zip(PHASES, bounds[:-1], bounds[1:], strict=True)
    )
    episodes = []
    for _ in range(draw(st.integers(0, 6))):
        a, b = sorted(rng.uniform(0.0, duration_s, 2))
        episodes.append(Episode(draw(st.sampled_from(ACTIVITIES)), draw(st.sampled_from(PHASES)), "A", a, b))
    return time_s, path_m, spans, tuple(episodes), duration_s


@settings(max_examples=150, deadline=None)
@given(accounts())
def test_the_rows_cover_the_run_once_whatever_the_episodes(case):
    time_s, path_m, spans, episodes, duration_s = case
    assert_exact(timeline(time_s, path_m, spans, episodes, duration_s), time_s, path_m, duration_s)


@pytest.mark.parametrize(
    "way",
    [((20.0, 0.0),), ((15.0, 0.0), (24.0, 0.0)), ((24.0, 0.0), (20.0, 9.0), (14.0, 0.0))],
    ids=("in", "back", "aside"),
)
def test_whole_runs_are_exact_and_explained(way):
    run = a_run(way)
    assert_exact(run["rows"], run["time"], run["path"], run["duration"])
    unexplained = sum(r.seconds for r in run["rows"] if r.activity == "unexplained")
    assert unexplained <= 0.05 * run["duration"]


def test_time_outside_all_phases_is_hidden_nowhere():
    time_s, path_m = np.arange(11.0), np.column_stack([np.arange(11.0), np.zeros(11)])
    span = PhaseSpan(COARSE, "A", 2.0, 8.0, 0.0, 0.0, np.array([2.0]), np.array([8.0]))
    walked = (Episode("walking", COARSE, "A", 2.0, 8.0),)
    rows = timeline(time_s, path_m, (span,), walked, 10.0)
    assert [(r.activity, r.seconds) for r in rows] == [("unexplained", 2.0), ("walking", 6.0), ("unexplained", 2.0)]


@settings(max_examples=12, deadline=None)
@given(st.floats(-np.pi, np.pi), st.floats(-300.0, 300.0), st.floats(-300.0, 300.0))
def test_the_account_does_not_depend_on_the_frame(turn_rad, east, north):
    way = ((24.0, 0.0), (20.0, 9.0), (26.0, 3.0), (14.0, 0.0))
    here, there = a_run(way), a_run(way, turn_rad=turn_rad, shift=(east, north))
    assert [r.activity for r in here["rows"]] == [r.activity for r in there["rows"]]
    for one, two in zip(here["rows"], there["rows"], strict=True):
        assert two.seconds == pytest.approx(one.seconds, abs=0.05)
    assert [f.id for f in here["findings"]] == [f.id for f in there["findings"]]
    overall = [dict(r["scores"].by_phase)["overall"].value for r in (here, there)]
    assert overall[1] == pytest.approx(overall[0], abs=0.05)
    for group in ("coarse", "fine"):
        for (name, a), (_, b) in zip(
            getattr(here["searches"][0], group), getattr(there["searches"][0], group), strict=True
        ):
            if isinstance(a, Figure):
                assert b.value == pytest.approx(a.value, abs=0.1), name


def coarse_score(run):
    return dict(run["scores"].by_phase)[COARSE].value


@pytest.mark.parametrize("kind", ["back", "aside"])
def test_a_longer_detour_never_scores_better(kind):
    def way(metres):
        return ((15.0, 0.0), (15.0 + metres, 0.0)) if kind == "back" else ((24.0, 0.0), (20.0, metres), (16.0, 0.0))

    scores = [coarse_score(a_run(way(m))) for m in (0.5, 3.0, 5.0, 8.0, 12.0, 18.0)]
    for shorter, longer in itertools.pairwise(scores):
        assert longer <= shorter + 1e-6
    assert scores[-1] < scores[0] - 2.0


def test_a_longer_stop_never_scores_better():
    def stopped(seconds):
        # A step of a millimetre that takes so long is a stop.
        return a_run(((20.0, 0.0), (19.999, 0.0)), pace=[1.1, 0.001 / seconds])

    scores = [coarse_score(stopped(s)) for s in (0.01, 5.0, 10.0, 20.0)]
    for shorter, longer in itertools.pairwise(scores):
        assert longer <= shorter + 1e-6
    assert scores[-1] < scores[0] - 4.0


def test_points_lost_are_what_the_scores_lack():
    run = a_run(((15.0, 0.0), (24.0, 0.0)))
    for phase in (SIGNAL, COARSE, FINE, PINPOINT):
        lost = sum(one.points for one in run["scores"].losses if one.phase == phase)
        assert lost == pytest.approx(100.0 - dict(run["scores"].by_phase)[phase].value, abs=1e-9)
