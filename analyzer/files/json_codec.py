"""JSON of the project's files: values to plain dicts and lists and back, through cattrs.

What holds in every file:

- a key that is not known is an error, and so is a value of another kind: no "3" for 3, no 1 for true;
- a number that is not finite is written as null, and null where a number belongs is read as NaN;
- a figure is its value, bounds and unit, all of them numbers, or the reason why there is none;
- pairs of a name and a number or figure are an object in their order; an array is a list of numbers, or of rows;
- a moment is ISO 8601 in UTC, with Z.

Where a field stands otherwise in a file than in its type is told to `analyzer.files.json_layout`.
"""

import dataclasses
import datetime as dt
import itertools
import json
import math
import types
from collections.abc import Callable, Iterable
from typing import Any, Literal, TypeVar, get_args, get_origin

import numpy as np
from cattrs import (
    BaseValidationError,
    ClassValidationError,
    Converter,
    ForbiddenExtraKeysError,
    IterableValidationError,
    IterableValidationNote,
)
from cattrs.gen import make_dict_structure_fn

from analyzer.errors import InputError, quoted
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable

Json = dict[str, Any]
Read = Callable[[Any, Any], Any]
NO_FIGURE = NotAssessable("this run gives no figure for it")
LARGEST_WHOLE = 2**53
"""The largest whole number that a float holds with all those below it."""
T = TypeVar("T")


@dataclasses.dataclass(frozen=True, slots=True)
class _Reason:
    """A figure that is not assessable, as it stands in a file."""

    status: Literal["not_assessable"]
    why: str


class Codec(Converter):
    """A converter that knows of each type's fields `places` ("key", "part.key", "part.*") and what is `changed`."""

    def __init__(self) -> None:
        super().__init__(forbid_extra_keys=True, detailed_validation=True)
        self.places: dict[type, dict[str, str]] = {}
        self.changed: dict[type, dict[str, Any]] = {}


def codec(*, digits: int | None = None, array_digits: int = 3, figure_digits: int | None = None) -> Codec:
    """Return a converter that follows the rules of this module.

    Parameters
    ----------
    digits : int, optional
        Decimals of numbers; None: they are written as they are, and must be finite.
    array_digits : int
        Decimals of arrays.
    figure_digits : int, optional
        Decimals of figures.
    """
    made = Codec()
    made.register_structure_hook_factory(dataclasses.is_dataclass, lambda kind: reader(made, kind))
    for kind, words in ((str, "a text"), (int, "a whole number"), (bool, "true or false")):
        made.register_structure_hook(kind, _only(kind, words))
    made.register_structure_hook(float, _number)
    made.register_structure_hook(dt.datetime, _moment)
    made.register_unstructure_hook(dt.datetime, lambda moment: moment.isoformat().replace("+00:00", "Z"))
    made.register_structure_hook_func(_is_array, _array)
    made.register_structure_hook_factory(_is_many, lambda kind: _many(made, kind))
    made.register_structure_hook_factory(_is_pairs, lambda kind: _pairs(made, kind))
    made.register_unstructure_hook_factory(_is_pairs, lambda kind: _object(made, kind))
    _register_figures(made, figure_writer(figure_digits))
    made.register_unstructure_hook_func(_is_array, rounded_array(array_digits))
    if digits is not None:
        made.register_unstructure_hook(float, rounded(digits))
    return made


def rounded(digits: int | None) -> Callable[[float | None], float | None]:
    """Return what rounds a number to so many decimals; what is not finite becomes None."""
    if digits is None:
        return lambda value: value

    def round_it(value: float | None) -> float | None:
        if value is None or not math.isfinite(value):
            return None
        return round(float(value), digits) + 0.0  # + 0.0: no -0.0

    return round_it


def figure_writer(digits: int | None) -> Callable[[Figure], Json]:
    """Return what writes a figure with so many decimals."""
    one = rounded(digits)
    return lambda f: {"value": one(f.value), "low": one(f.low), "high": one(f.high), "unit": f.unit}


def rounded_array(digits: int) -> Callable[[FloatArray], list[Any]]:
    """Return what writes an array (n,) or (n, k) with so many decimals."""

    def column(values: list[float]) -> list[float | None]:  # a call a number would be too slow for a path
        return [round(v, digits) + 0.0 if math.isfinite(v) else None for v in values]

    def write(values: FloatArray) -> list[Any]:
        return column(values.tolist()) if values.ndim == 1 else [column(row) for row in values.tolist()]

    return write


def structured(made: Codec, values: Any, kind: type[T], *, name: str, noun: str, do: str) -> T:
    """Return the value of a type that JSON values describe.

    Parameters
    ----------
    name, noun, do : str
        The file, what it is ("the result") and what to do about it, for the message.

    Raises
    ------
    InputError
        With the place of the first thing that is wrong.
    """
    try:
        return made.structure(values, kind)
    except (BaseValidationError, TypeError, ValueError, OverflowError, RecursionError) as error:
        place, what = _fault(made, error, "", noun)
        raise InputError(where=f"{name}, {place}" if place else name, what=what, do=do) from None


def _fault(made: Codec, error: Exception, place: str, noun: str) -> tuple[str, str]:
    """Return where in the file the first thing is wrong, in the order of the types' fields, and what it is."""
    if isinstance(error, ClassValidationError | IterableValidationError):
        noted, bare = error.group_exceptions()
        if not noted:
            return _fault(made, bare[0], place, noun)
        first, note = noted[0]
        if isinstance(note, IterableValidationNote):
            return _fault(made, first, _inside(place, note.index), noun)
        step = made.places.get(error.cl, {}).get(note.name, note.name)
        if isinstance(first, KeyError) and first.args == (note.name,):
            part, _, key = step.rpartition(".")
            return _fault(made, KeyError(key), _inside(place, part), noun)
        return _fault(made, first, _inside(place, step), noun)
    if isinstance(error, KeyError):
        return place, f"{'this part' if place else noun} has no {quoted(error.args[0])}"
    if isinstance(error, ForbiddenExtraKeysError):
        return place, f"the key {quoted(min(error.extra_fields))} is not known"
    return place, f"{noun} is damaged ({error})"


def _inside(place: str, step: str | int) -> str:
    if isinstance(step, int):
        return f"{place}[{step}]"
    return ".".join(filter(None, (place, step.removesuffix("*").removesuffix("."))))


def reader(made: Codec, kind: Any, **changed: Any) -> Read:
    """Return what reads an object as a dataclass; `changed`: its fields' overrides."""
    read = make_dict_structure_fn(kind, made, _cattrs_forbid_extra_keys=True, **changed)

    def structure(values: Any, _: Any) -> Any:
        if not isinstance(values, dict):
            raise unfit("an object", values)
        return read(values, kind)

    return structure


def unfit(wanted: str, found: Any) -> TypeError:
    """Return the error of a value that is not what is needed."""
    try:
        shown = json.dumps(found, default=str)
    except (ValueError, RecursionError):
        shown = "another value"
    return TypeError(f"{wanted} is needed, {shown[:40]} was found")


def _only(kind: type, words: str) -> Read:
    def read(value: Any, _: Any) -> Any:
        if value.__class__ is not kind:
            raise unfit(words, value)
        return value

    return read


def _number(value: Any, _: Any) -> float:
    if isinstance(value, float) and not math.isinf(value):
        return value
    if value is None:
        return math.nan
    if value.__class__ is int and abs(value) <= LARGEST_WHOLE:
        return float(value)
    raise unfit("a number", value)


def _moment(value: Any, _: Any) -> dt.datetime:
    moment = dt.datetime.fromisoformat(value) if isinstance(value, str) else None
    if moment is None or moment.tzinfo is None:
        raise unfit("a moment with its offset", value)
    return moment


def _is_array(kind: Any) -> bool:
    return get_origin(kind) is np.ndarray


def _array(values: Any, _: Any) -> FloatArray:
    """Return a list of numbers or of rows as an array; by hand, for one call a number is too slow for a path."""
    if not isinstance(values, list | tuple):
        raise unfit("a list of numbers", values)
    kinds = set(map(type, values))
    if kinds and kinds <= {list, tuple}:
        kinds = set(map(type, itertools.chain.from_iterable(values)))
    if not kinds <= {float, int, type(None)}:
        raise unfit("a list of numbers", values)
    array = np.array(values, dtype=np.float64)
    if np.isinf(array).any():
        raise TypeError("a finite number is needed, an infinite one was found")
    return array


def _is_many(kind: Any) -> bool:
    """Whether it is a tuple of any length."""
    return get_origin(kind) is tuple and get_args(kind)[1:] == (...,)


def _many(made: Codec, kind: Any) -> Read:
    item = get_args(kind)[0]
    kinds = set(get_args(item)) if isinstance(item, types.UnionType) else {item}
    plain = kinds <= {str, int, type(None)}
    read = made.get_structure_hook(item)

    def structure(values: Any, _: Any) -> Any:
        if not isinstance(values, list | tuple):
            raise unfit("a list", values)
        # One look at all texts or whole numbers at once: there are as many of them as readings.
        if plain and set(map(type, values)) <= kinds:
            return tuple(values)
        return tuple(_each(enumerate(values), read, item))

    return structure


def _each(items: Iterable[tuple[int | str, Any]], read: Read, kind: Any) -> list[Any]:
    """Return what is read of each item. The first that is wrong is raised alone: a file may hold millions of them."""
    found = []
    for place, value in items:
        try:
            found.append(read(value, kind))
        except (BaseValidationError, TypeError, ValueError, LookupError, OverflowError) as error:
            error.add_note(IterableValidationNote("", place, kind))
            raise IterableValidationError("", [error], kind) from None
    return found


def _is_pairs(kind: Any) -> bool:
    """Whether it is many pairs of a name and a number or figure."""
    pair = get_args(kind)[0] if _is_many(kind) else None
    return get_origin(pair) is tuple and get_args(pair)[0] is str and get_args(pair)[1] is not str


def _pairs(made: Codec, kind: Any) -> Read:
    item = get_args(get_args(kind)[0])[1]
    read = made.get_structure_hook(item)

    def structure(values: Any, _: Any) -> Any:
        if not isinstance(values, dict):
            raise unfit("an object", values)
        return tuple(zip(values, _each(values.items(), read, item), strict=True))

    return structure


def _object(made: Codec, kind: Any) -> Callable[[Any], Json]:
    write = made.get_unstructure_hook(get_args(get_args(kind)[0])[1])
    return lambda pairs: {name: write(value) for name, value in pairs}


def _is_measured(kind: Any) -> bool:
    """Whether it is a figure or the reason why there is none, or neither."""
    return {Figure, NotAssessable} <= set(get_args(kind)) <= {Figure, NotAssessable, type(None)}


def _register_figures(made: Codec, write_figure: Callable[[Figure], Json]) -> None:
    read_any, read_reason = reader(made, Figure), reader(made, _Reason)

    def read_figure(values: Any, kind: Any) -> Figure:
        figure: Figure = read_any(values, kind)
        for key in ("value", "low", "high"):
            if not math.isfinite(getattr(figure, key)):
                raise unfit(f"a number as {quoted(key)} of a figure", values[key])
        return figure

    def read(values: Any, kind: Any) -> Measured | None:
        if values is None and type(None) in get_args(kind):
            return None
        if isinstance(values, dict) and "status" in values:
            return NotAssessable(read_reason(values, _Reason).why)
        return read_figure(values, Figure)

    def write(measured: Measured | None) -> Json | None:
        if isinstance(measured, Figure):
            known = all(map(math.isfinite, (measured.value, measured.low, measured.high)))
            return write_figure(measured) if known else NO_FIGURE.as_json()
        return None if measured is None else measured.as_json()

    made.register_unstructure_hook(Figure, write_figure)
    made.register_structure_hook(Figure, read_figure)
    made.register_unstructure_hook_func(_is_measured, write)
    made.register_structure_hook_func(_is_measured, read)
