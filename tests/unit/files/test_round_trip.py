"""What is written is read back as it was: every type that a result, a run's line or a scored event is made of.

Numbers are drawn with one decimal, which every rounding of the files keeps; what rounding does is tested elsewhere.
"""

import dataclasses
import datetime as dt
import json
import math
import types
import typing
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from analyzer.api import analyze
from analyzer.events.files.scored_json import Scored, parse_scored, scored_bytes
from analyzer.events.model import FieldScore, Place, Standings
from analyzer.files.results.format_2 import CODEC
from analyzer.files.results.result_json import parse_result, read_result, result_bytes, write_result
from analyzer.files.results.run_line_json import from_json, to_json
from analyzer.files.schemas import schema
from analyzer.model.account import (
    ACTIVITIES,
    FAULT_CAUSES,
    OTHER_CAUSES,
    AccountRow,
    PointLoss,
    Scores,
    Search,
    TimelineRow,
)
from analyzer.model.figure import NotAssessable
from analyzer.model.phases import PHASES
from analyzer.model.recording import RunWords
from analyzer.model.result import PathTable, PlacedTransmitter, PlanLine, RunResult
from analyzer.model.rules import ReferenceRules, Rules
from analyzer.model.run_line import RunLine

DRILL = Path(__file__).resolve().parents[3] / "sample_tracks" / "long_gully"
NUMBERS = st.integers(-(10**5), 10**5).map(lambda n: n / 10.0)
"""As far as the places of a result may lie, and no further."""
NAMES = st.text(st.characters(codec="utf-8"), max_size=8)


def same(one, other):
    """Whether two values are equal down to the last array, NaN being itself."""
    if dataclasses.is_dataclass(one):
        names = [field.name for field in dataclasses.fields(one)]
        return type(one) is type(other) and all(same(getattr(one, n), getattr(other, n)) for n in names)
    if isinstance(one, np.ndarray):
        return isinstance(other, np.ndarray) and np.array_equal(one, other, equal_nan=True)
    if isinstance(one, tuple):
        return isinstance(other, tuple) and len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and math.isnan(one):
        return isinstance(other, float) and math.isnan(other)
    return type(one) is type(other) and one == other


def arrays(*shape):
    return st.lists(NUMBERS, min_size=math.prod(shape), max_size=math.prod(shape)).map(
        lambda values: np.array(values, dtype=float).reshape(shape)
    )


def of(kind):
    """Return a strategy for a type; of pairs of a name and something, no two have one name."""
    simple = {float: NUMBERS, str: NAMES, int: st.integers(0, 10**6), bool: st.booleans(), type(None): st.none()}
    if kind is RunWords:  # stands in no file of a result
        return st.just(RunWords())
    if kind in simple:
        return simple[kind]
    if dataclasses.is_dataclass(kind):
        return shaped(kind)
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return st.one_of(*map(of, args))
    if origin is dict:
        return st.dictionaries(of(args[0]), of(args[1]), max_size=3)
    if origin is tuple and args[1:] != (...,):
        return st.tuples(*map(of, args))
    pair = typing.get_args(args[0])
    if typing.get_origin(args[0]) is tuple and pair[0] is str:
        return st.dictionaries(NAMES, of(pair[1]), max_size=3).map(lambda found: tuple(found.items()))
    return st.lists(of(args[0]), max_size=2).map(tuple)


def shaped(kind, **fields):
    """Return a strategy for a dataclass; fields that are not given are drawn by their types."""
    hints = typing.get_type_hints(kind)
    if "phase" in hints and kind is not PointLoss:
        fields = {"phase": st.sampled_from(PHASES)} | fields
    return st.builds(kind, **{name: fields[name] if name in fields else of(hints[name]) for name in hints})


@st.composite
def results(draw):
    n, m = draw(st.integers(1, 4)), draw(st.integers(0, 4))
    numbers = draw(st.lists(st.sampled_from([-1.0, 0.0, 1.0]), min_size=m, max_size=m))
    readings = draw(arrays(m, 3))
    if draw(st.booleans()):
        readings = np.column_stack([readings, numbers])
    ranges = draw(arrays(n))
    ranges[0] = math.nan
    return draw(
        shaped(
            RunResult,
            time_zero=st.datetimes(timezones=st.just(dt.UTC)),
            duration_s=NUMBERS.filter(lambda s: s > 0.0),
            slope=st.tuples(st.integers(-89, 89).map(float), NUMBERS),
            path=st.builds(PathTable, arrays(n), arrays(n), arrays(n), arrays(n), st.just(ranges)),
            transmitters=st.just(tuple(draw(shaped(PlacedTransmitter, id=st.just(name))) for name in "AB")),
            timeline=st.lists(shaped(TimelineRow, activity=st.sampled_from(ACTIVITIES)), max_size=2).map(tuple),
            account=st.lists(shaped(AccountRow, cause=st.sampled_from((*FAULT_CAUSES, *OTHER_CAUSES))), max_size=2).map(
                tuple
            ),
            lines=st.lists(st.builds(PlanLine, NAMES, NAMES, arrays(2, 2) | arrays(0, 2)), max_size=2).map(tuple),
            readings=st.sampled_from([None, readings]),
            corners_m=st.none() | arrays(draw(st.integers(3, 5)), 2),
        )
    )


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_result_comes_back_as_it_was(data):
    result = data.draw(results())
    read = parse_result(result_bytes(result))
    for field in dataclasses.fields(RunResult):
        assert same(getattr(result, field.name), getattr(read, field.name)), field.name
    assert result_bytes(read) == result_bytes(result)


def test_a_name_that_is_a_star_is_a_name():
    """Found by the test above: "*" stands for a field's own keys in layouts, and was taken for that in files, too."""
    scores = Scores((("", NotAssessable("")), ("*", NotAssessable("late"))), ())
    values = CODEC.unstructure(scores)
    assert CODEC.structure(values, Scores) == scores


def without_words(node):
    """Return a schema that leaves open which words there are: those that are drawn here are any."""
    if isinstance(node, list):
        return [without_words(item) for item in node]
    if not isinstance(node, dict):
        return node
    if "enum" in node or "pattern" in node:
        return {"type": "string"}
    return {key: without_words(value) for key, value in node.items()}


@settings(max_examples=60, deadline=None)
@given(results())
def test_whatever_the_codec_writes_is_of_the_schema_s_form(result):
    form = Draft202012Validator(without_words(schema("result")))
    assert [error.message for error in form.iter_errors(json.loads(result_bytes(result)))] == []


@pytest.fixture(scope="module")
def measured():
    return [item for item in analyze(DRILL, draws=4) if isinstance(item, RunResult)]


def test_results_of_the_engine_come_back_rounded_and_then_as_they_are(measured, tmp_path):
    for result in measured:
        path = tmp_path / f"{result.run_id}.json"
        written = write_result(path, result)
        read = read_result(path)
        assert same(written, read)
        assert result_bytes(written) == path.read_bytes()
        assert [[name for name, _ in s.coarse + s.fine] for s in read.searches] == [
            [name for name, _ in s.coarse + s.fine] for s in result.searches
        ]
        assert same(read.rules, result.rules)
        assert {type(item) for item in (*read.searches, *result.searches)} == {Search}
        assert isinstance(read.rules, ReferenceRules)
        assert not isinstance(result.rules, Rules)  # what a result tells is the same type before and after


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_line_of_a_run_comes_back_exactly(data):
    line = data.draw(shaped(RunLine))
    exact = dataclasses.replace(line, duration_s=data.draw(st.floats(allow_nan=False, allow_infinity=False)))
    assert same(from_json(json.loads(json.dumps(to_json(exact), allow_nan=False))), exact)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_scored_event_comes_back_as_it_was(data):
    scores = [data.draw(shaped(FieldScore, bib=st.just(bib))) for bib in "12"]
    places = tuple(data.draw(shaped(Place, score=st.just(s), name=st.just("M"), class_id=st.just("c"))) for s in scores)
    scored = data.draw(
        shaped(
            Scored,
            fields=st.just((("north", "North"),)),
            classes=st.just((("c", "C"),)),
            standings=st.just((Standings("north", "", places), Standings("north", "c", places[:1]))),
            integrity=st.just(""),
            intact=st.just(True),
        )
    )
    read = parse_scored(scored_bytes(scored))
    assert same(dataclasses.replace(read, integrity=""), scored)
    assert read.intact
