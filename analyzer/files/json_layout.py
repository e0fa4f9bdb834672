"""Where the fields of a type stand in a file: under keys of other names, in another order, in parts of their own."""

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any, get_args

from cattrs import AttributeValidationNote, ClassValidationError, ForbiddenExtraKeysError
from cattrs.gen import make_dict_unstructure_fn, override

from analyzer.files.json_codec import Codec, Json, reader, rounded, unfit

Override = Any
"""What `cattrs.override` gives: its type has no public name."""


def layout(
    made: Codec, kind: type, order: str = "", *, digits: Mapping[str, int | None] | None = None, **fields: Override
) -> None:
    """Say how a type stands in a file.

    Parameters
    ----------
    made : Codec
        The layouts of the types in it must have been told before.
    kind : type
        A dataclass.
    order : str
        Its fields in the order of the file: "field", "field=key" or "field=part.key". With * for a key, the keys of
        the field's own object stand beside the others of the part, or with "field=*" of the whole. Fields left out
        are not in the file. Empty: all fields, as they are.
    digits : mapping, optional
        Field -> decimals; None: as it is.
    fields
        Field -> what else is special about it, in words of cattrs.
    """
    names = [field.name for field in dataclasses.fields(kind)]
    places = dict((word.split("=") * 2)[:2] for word in order.split() or names)
    made.places[kind], made.changed[kind] = places, fields
    changed: dict[str, Any] = {name: override(omit=True) for name in names if name not in places}
    changed |= {name: override(unstruct_hook=rounded(n)) for name, n in (digits or {}).items()} | fields
    write: Callable[[Any], Json] = make_dict_unstructure_fn(kind, made, **changed)
    read = reader(made, kind, **changed)
    if not order:
        made.register_unstructure_hook(kind, write)
        made.register_structure_hook(kind, read)
        return
    steps = [(name, *place.rpartition(".")[::2]) for name, place in places.items()]
    made.register_unstructure_hook(kind, lambda value: _placed(write(value), steps))
    made.register_structure_hook(kind, lambda values, _: read(_taken(values, steps, kind), kind))


Steps = list[tuple[str, str, str]]
"""Field, part ("" for the whole) and key."""


def _placed(flat: Json, steps: Steps) -> Json:
    """Return the object of a file from values by field."""
    values: Json = {}
    for name, part, key in steps:
        if name in flat:
            at = values.setdefault(part, {}) if part else values
            at.update(flat[name] if key == "*" else {key: flat[name]})
    return values


def _taken(values: Any, steps: Steps, kind: type) -> Json:
    """Return values by field from the object of a file; what no field takes is an error."""
    if not isinstance(values, dict):
        raise unfit("an object", values)
    parts = {"": dict(values)}
    for name in dict.fromkeys(part for _, part, _ in steps if part):
        found = parts[""].pop(name)
        if not isinstance(found, dict):
            raise _within(name, unfit("an object", found), kind)
        parts[name] = dict(found)
    flat = {name: parts[part].pop(key) for name, part, key in steps if key != "*" and key in parts[part]}
    for name, part, key in steps:
        if key == "*":
            flat[name], parts[part] = parts[part], {}
    for part, left in parts.items():
        if left:
            raise _within(part, ForbiddenExtraKeysError(None, kind, set(left)), kind)
    return flat


def _within(part: str, error: Exception, kind: type) -> Exception:
    """Return an error with the part of the object that it is about."""
    if part:
        error.add_note(AttributeValidationNote("", part, dict))
        return ClassValidationError("", [error], kind)
    return error


def named(made: Codec, kind: Any, *keys: str, digits: int | None = None) -> Override:
    """Return the override of a field of tuples, or of one tuple, that are objects with these keys in the file.

    Parameters
    ----------
    made : Codec
    kind : type
        The field's type, like tuple[tuple[str, int], ...].
    keys : str
    digits : int, optional
        Decimals of numbers; None: as they are.
    """
    item, *more = get_args(kind)
    many = more == [...]
    part = dataclasses.make_dataclass("Part", list(zip(keys, get_args(item if many else kind), strict=True)))
    read, one = made.get_structure_hook(tuple[part, ...] if many else part), rounded(digits)  # type: ignore[valid-type]

    def write(values: Any) -> Json:
        return {key: one(v) if isinstance(v, float) else v for key, v in zip(keys, values, strict=True)}

    def structure(values: Any, _: Any) -> Any:
        found: Any = read(values, part)
        return tuple(dataclasses.astuple(value) for value in found) if many else dataclasses.astuple(found)

    return override(unstruct_hook=(lambda values: [write(v) for v in values]) if many else write, struct_hook=structure)
