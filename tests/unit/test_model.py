"""The frozen values: really frozen, checked when made, and independent of the arrays they were made from."""

import dataclasses
import pickle
import pkgutil
from importlib import import_module

import builders
import numpy as np
import pytest

import analyzer.model
from analyzer.errors import AnalyzerError, EstimationError, InputError
from analyzer.model.account import ACTIVITIES, FAULT_CAUSES, OTHER_CAUSES, PHASE_KEYS, Search
from analyzer.model.arrays import frozen
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.figure import Figure, NotAssessable, value_of
from analyzer.model.path import UsedReadings
from analyzer.model.phases import PHASES, PhaseSpan
from analyzer.model.recording import MARKS, Readings, Track
from analyzer.model.result import PlanLine

TIME_S, POINTS = builders.a_search()


def values():
    """Yield every dataclass of the model."""
    for info in pkgutil.iter_modules(analyzer.model.__path__):
        module = import_module(f"analyzer.model.{info.name}")
        for item in vars(module).values():
            if isinstance(item, type) and dataclasses.is_dataclass(item) and item.__module__ == module.__name__:
                yield item


@pytest.mark.parametrize("kind", list(values()), ids=lambda k: k.__name__)
def test_every_value_is_frozen_has_slots_and_says_what_it_is(kind):
    assert kind.__dataclass_params__.frozen
    assert "__slots__" in vars(kind)
    assert kind.__doc__
    assert not kind.__doc__.startswith(f"{kind.__name__}(")  # the one that dataclasses make up


@pytest.mark.parametrize("kind", list(values()), ids=lambda k: k.__name__)
def test_values_that_hold_arrays_are_not_compared_by_content(kind):
    """Comparing arrays gives arrays, so such values, and those that hold them, are equal only to themselves."""
    if not kind.__dataclass_params__.eq:
        return
    for f in dataclasses.fields(kind):
        held = [k for k in values() if k.__name__ in str(f.type)]
        assert "ndarray" not in str(f.type)
        assert all(k.__dataclass_params__.eq for k in held)


def test_frozen_copies_and_locks():
    source = np.arange(6.0).reshape(3, 2)
    copy = frozen(source, name="points", shape=(None, 2))
    source[0, 0] = 99.0
    assert copy[0, 0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        copy[0, 0] = 1.0


def test_frozen_makes_floats():
    assert frozen([1, 2, 3], name="n", shape=(3,)).dtype == np.float64


@pytest.mark.parametrize(
    ("values", "shape"), [([1.0, 2.0], (3,)), ([[1.0]], (None,)), ([1.0], (None, 2)), ([[1.0, 2.0, 3.0]], (None, 2))]
)
def test_wrong_shapes_are_told(values, shape):
    with pytest.raises(ValueError, match="points must have shape"):
        frozen(values, name="points", shape=shape)


def test_a_track_does_not_change_with_its_sources():
    time_s = TIME_S.copy()
    track = builders.track_of(time_s, POINTS)
    time_s[:] = 0.0
    assert track.time_s[-1] == TIME_S[-1]
    for name in ("time_s", "east_m", "north_m", "elevation_m", "sigma_m", "hdop"):
        assert not getattr(track, name).flags.writeable
    with pytest.raises(dataclasses.FrozenInstanceError):
        track.time_s = TIME_S


def test_columns_of_unequal_length_are_refused():
    n = np.zeros(5)
    with pytest.raises(ValueError, match="north_m must have shape"):
        Track(n, n, n[:4], n, n, n)
    with pytest.raises(ValueError, match="transmitter must have 5 entries"):
        Readings(n, n, ("A",) * 4, n, n)
    with pytest.raises(ValueError, match="weight must have shape"):
        UsedReadings(n, n, n, n[:2])


def test_spans_hold_a_bound_for_every_draw():
    with pytest.raises(ValueError, match="end_draws_s"):
        PhaseSpan("fine_search", "A", 0.0, 1.0, 0.1, 0.1, np.zeros(3), np.ones(2))


def test_fused_path_checks_its_draws():
    path = builders.exact_path(TIME_S, POINTS, rows=3, spread_m=0.1)
    assert path.draws.path_m.shape == (3, TIME_S.size, 2)
    assert not path.draws.path_m.flags.writeable
    with pytest.raises(ValueError, match="reading_scale"):
        dataclasses.replace(path.draws, reading_scale=np.ones(2))
    with pytest.raises(ValueError, match="sigma_m"):
        dataclasses.replace(path, sigma_m=np.ones(3))


def test_corners_are_points_or_nothing():
    drill = builders.a_drill(area=False)
    assert drill.corners_m is None
    with pytest.raises(ValueError, match="corners_m"):
        dataclasses.replace(drill, corners_m=np.zeros((4, 3)))
    with pytest.raises(ValueError, match="points_m"):
        PlanLine("strips", "A", np.zeros(4))


def test_figures_are_written_as_agreed():
    assert Figure(41.2, 39.6, 42.9, "m").as_json() == {"value": 41.2, "low": 39.6, "high": 42.9, "unit": "m"}
    assert NotAssessable("no log").as_json() == {"status": "not_assessable", "why": "no log"}
    assert value_of(Figure(1.0, 0.0, 2.0, "s")) == 1.0
    assert value_of(NotAssessable("no log")) is None


def test_figures_of_a_search_are_found_by_name():
    figure = Figure(3.0, 2.0, 4.0, "m")
    search = Search("A", True, (), (("walked_m", figure),), (), (), (), ())
    assert search.figure("coarse", "walked_m") is figure
    assert search.figure("coarse", "standing_s") is None


def test_values_without_arrays_are_compared_by_content():
    assert Transmitter("A", 1.0, 2.0, 0.5) == Transmitter("A", 1.0, 2.0, 0.5)
    assert Slope() != Slope(10.0)
    assert hash(Origin(46.0, 8.0)) == hash(Origin(46.0, 8.0))


def test_values_cross_process_borders():
    """Runs are measured in several processes: values come back whole."""
    drill = builders.a_drill()
    path = builders.exact_path(TIME_S, POINTS, rows=2, spread_m=0.1)
    other_drill, other = pickle.loads(pickle.dumps((drill, path)))
    assert isinstance(other_drill, Drill)
    np.testing.assert_array_equal(other_drill.corners_m, drill.corners_m)
    np.testing.assert_array_equal(other.draws.path_m, path.draws.path_m)


@pytest.mark.parametrize("kind", [AnalyzerError, InputError, EstimationError])
def test_errors_are_one_line_and_cross_process_borders(kind):
    error = kind(where="track.gpx, point 12", what="the time runs back by 3 s", do="sort the points")
    assert str(error) == "track.gpx, point 12: the time runs back by 3 s; sort the points"
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert (again.where, again.what, again.do) == (error.where, error.what, error.do)
    assert isinstance(error, ValueError)


def test_words_are_those_agreed():
    assert PHASES == ("signal_search", "coarse_search", "fine_search", "pinpoint")
    assert set(PHASE_KEYS) == {"overall", *PHASES}
    assert set(MARKS) == {
        *("start", "first_reading", "fine_start", "probe_hit", "finish", "hold_begin", "hold_end"),
        *("probe", "marking_end", "dig_begin", "airway_free"),
    }
    assert set(FAULT_CAUSES) | set(OTHER_CAUSES) == {
        *(
            "wrong_way",
            "detour",
            "standing",
            "missed_strip",
            "covered_twice",
            "extra_lines",
            "off_lowest",
            "long_probing",
        ),
        *("reference", "pace", "longer_lines", "outside", "marking", "not_recorded", "not_told_apart", "not_assessed"),
    }
    assert set(ACTIVITIES) == {
        *("strips", "walking", "along_line", "off_line", "wrong_way", "way_back", "standing", "first_line"),
        *("crossing_line", "extra_line", "bracketing", "probing", "marking", "not_recorded", "unexplained"),
    }
