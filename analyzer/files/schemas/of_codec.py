"""The JSON Schema of what a codec writes, from its types and the places that were told to it."""

import datetime as dt
import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, get_args, get_origin

import numpy as np

from analyzer.files.json_codec import Codec, Json
from analyzer.model.figure import Figure, NotAssessable

FIGURE, REASON = "figure", "not_assessable"
NUMBER: Json = {"type": ["number", "null"]}
"""A number that is not finite is written as null."""
FINITE: Json = {"type": "number"}
PLAIN: dict[Any, Json] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: NUMBER,
    type(None): {"type": "null"},
    dt.datetime: {"type": "string", "format": "date-time"},
    Figure: {"$ref": f"#/$defs/{FIGURE}"},
    NotAssessable: {"$ref": f"#/$defs/{REASON}"},
}
FIGURES: Json = {
    FIGURE: {
        "description": "A measured value with the bounds of its 90 % interval, all in `unit`.",
        "type": "object",
        "properties": {"value": FINITE, "low": FINITE, "high": FINITE, "unit": {"type": "string"}},
        "required": ["value", "low", "high", "unit"],
        "additionalProperties": False,
    },
    REASON: {
        "description": "A figure that the evidence does not give, and why.",
        "type": "object",
        "properties": {"status": {"const": "not_assessable"}, "why": {"type": "string"}},
        "required": ["status", "why"],
        "additionalProperties": False,
    },
}

Told = Mapping[tuple[type, str], Json]
"""Type and field -> what stands in the file for it, where the type does not say it."""


def schema_of(made: Codec, kind: Any, told: Told) -> Json:
    """Return the schema of what a codec writes for a type; figures refer to `FIGURES`, to be put under `$defs`.

    Raises
    ------
    TypeError
        Where a field is written in a way of its own and `told` does not say how, or a type is of no kind known here.
    """
    if kind in PLAIN:
        return PLAIN[kind]
    if is_dataclass(kind) and isinstance(kind, type):
        return _object(_parts(made, kind, told))
    origin, args = get_origin(kind), get_args(kind)
    if origin is np.ndarray:
        return {"type": "array", "items": {"anyOf": [NUMBER, {"type": "array", "items": NUMBER}]}}
    if origin in (types.UnionType, typing.Union):
        return {"anyOf": [schema_of(made, one, told) for one in args]}
    if origin is tuple and args[1:] == (...,):
        pair = get_args(args[0])
        if get_origin(args[0]) is tuple and pair[0] is str and pair[1] is not str:
            return {"type": "object", "additionalProperties": schema_of(made, pair[1], told)}
        return {"type": "array", "items": schema_of(made, args[0], told)}
    if origin is tuple:
        items = [schema_of(made, one, told) for one in args]
        return {"type": "array", "prefixItems": items, "items": False, "minItems": len(items)}
    raise TypeError(f"no schema is known for {kind}")


def _object(parts: Json) -> Json:
    """Return the schema of an object; `parts`: key -> schema, "*" for the keys that are not named, "?": not needed."""
    named = {key: value for key, value in parts.items() if key not in ("*", "?")}
    needed = [key for key in named if key not in parts.get("?", ())]
    return {"type": "object", "properties": named, "required": needed, "additionalProperties": parts.get("*", False)}


def _parts(made: Codec, kind: type, told: Told) -> Json:
    """Return key -> schema of a type's object, those of its parts within; see `_object`."""
    hints, parts = typing.get_type_hints(kind), dict[str, Any]()
    inner: dict[str, Json] = {}
    known = [field.name for field in fields(kind)]
    for name, place in made.places.get(kind, {name: name for name in known}).items():
        part, _, key = place.rpartition(".")
        at = inner.setdefault(part, {}) if part else parts
        if part:
            parts.setdefault(part, {})  # its place in the order of the file
        at.update(
            _beside(made, kind, name, hints[name], told) if key == "*" else {key: _field(made, kind, name, hints, told)}
        )
        if _left_out(made, kind, name):
            at["?"] = (*at.get("?", ()), key)
    return parts | {part: _object(found) for part, found in inner.items()}


def _field(made: Codec, kind: type, name: str, hints: dict[str, Any], told: Told) -> Json:
    if (kind, name) in told:
        return told[(kind, name)]
    change = made.changed.get(kind, {}).get(name)
    if change is not None and change.struct_hook is not None:
        raise TypeError(f"{kind.__name__}.{name} is written in a way of its own")
    return schema_of(made, hints[name], told)


def _beside(made: Codec, kind: type, name: str, hint: Any, told: Told) -> Json:
    """Return the keys of a field's own object, which stand beside the others."""
    if is_dataclass(hint) and isinstance(hint, type):
        return _parts(made, hint, told)
    return {"*": schema_of(made, hint, told)["additionalProperties"]}


def _left_out(made: Codec, kind: type, name: str) -> bool:
    change = made.changed.get(kind, {}).get(name)
    return change is not None and bool(change.omit_if_default)
