"""The examiner's own paired truth: the same person with a fault and without."""

import math

import numpy as np
import pytest

from analyzer.lab.examiner.runs import PHASES, examine, lengths
from analyzer.lab.examiner.scene import FAULTS, Choices
from analyzer.lab.simulate import FAULTS as OTHER_FAULTS
from analyzer.lab.simulate.faults import PHASES as OTHER_PHASES

ORDER = ("signal_search", "coarse_search", "fine_search", "pinpoint")


def test_faults_have_the_names_and_phases_of_the_project():
    assert set(FAULTS) == {"none", *OTHER_FAULTS}
    assert {name: OTHER_PHASES[name] for name in PHASES} == PHASES


@pytest.mark.parametrize("fault", FAULTS[1:])
def test_each_fault_is_done_and_what_lies_before_it_is_as_without(fault):
    for number in range(2):
        made = examine(Choices(fault=fault), 21, number)
        assert fault in made.run.truth["searches"][0]["planted"]
        own, bare = lengths(made.run.truth["phases"]), made.faultless
        # The person who slows down late is another one from the start: the walk of the strips is the same.
        before = ORDER[: ORDER.index(PHASES[fault][0])]
        assert all(own[p] == pytest.approx(bare[p], abs=1e-6) for p in before)
        assert made.cost_s == pytest.approx(sum(own[p] - bare[p] for p in PHASES[fault]))


def test_without_a_fault_there_is_no_cost():
    made = examine(Choices(), 22, 0)
    assert made.cost_s is None
    assert lengths(made.run.truth["phases"]) == pytest.approx(made.faultless)


def test_dwelling_costs_its_seconds_and_stops_theirs_and_the_braking():
    dwelt = [examine(Choices(fault="long_probing"), 23, i) for i in range(3)]
    for made in dwelt:
        assert made.cost_s == pytest.approx(made.run.truth["searches"][0]["planted_s"], abs=0.3)
    stood = [examine(Choices(fault="standing"), 23, i) for i in range(6)]
    over = [m.cost_s - m.run.truth["searches"][0]["planted_s"] for m in stood]
    assert 0.0 < np.mean(over) < 4.0


def test_strips_walked_twice_cost_the_way_back_and_again():
    for number in range(3):
        made = examine(Choices(fault="covered_twice"), 24, number)
        truth = made.run.truth
        pace = np.hypot(np.diff(truth["east_m"]), np.diff(truth["north_m"])) / np.diff(truth["time_s"])
        corner = math.dist(*_first_strip(truth))
        assert 0.5 * corner < made.cost_s * np.median(pace[50:150]) < 2.2 * corner


def _first_strip(truth):
    """Start and furthest point of the first strip: the place where the way turns back for the first time."""
    place = np.column_stack([truth["east_m"], truth["north_m"]])
    away = np.hypot(*(place - place[0]).T)
    turn = next(i for i in range(50, len(away)) if away[i] < np.max(away[:i]) - 3.0)
    return place[0], place[int(np.argmax(away[:turn]))]
