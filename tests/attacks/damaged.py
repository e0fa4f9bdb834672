"""Damage to stored files: values of JSON, lines of TOML, and bytes. All of it comes from one seeded generator."""

import json
import random
import re
from collections.abc import Callable, Iterator
from typing import Any

ODD_VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    0.0,
    -1e9,
    1e9,
    1e308,
    -1e308,
    10**30,
    10**400,
    float("nan"),
    float("inf"),
    float("-inf"),
    "",
    "x",
    "nan",
    "../../x",
    "<b>&</b>",
    "\ud800",
    "\x00",
    "9999-12-31T23:59:59Z",
    "0001-01-01T00:00:00Z",
    "0001-01-01T00:00:00+14:00",
    "2026-01-17",
    [],
    [None],
    [[]],
    {},
    {"value": 1.0},
    {"status": "not_assessable", "why": ""},
    "x" * 5000,
)
TOML_VALUES = (
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1e308",
    "true",
    '""',
    '"x"',
    "[]",
    "{}",
    "1979-05-27",
    "[[]]",
    "9" * 30,
)
JUNK = (b"\x00", b"\xff", b"\xed\xa0\x80", b"{", b"]", b'"', b"\n", b"NaN", b"1e999", b"[" * 3000, b"\xef\xbb\xbf")


def damaged(data: bytes, ending: str, chance: random.Random) -> bytes:
    """Return the bytes of a stored file with one to three damages; `ending`: ".json", ".toml" or another."""
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        ways: list[Callable[[bytes, random.Random], bytes]] = [_bytes]
        ways += [_json] * 3 if ending == ".json" else [_toml] * 3 if ending == ".toml" else []
        data = chance.choice(ways)(data, chance)
    return data


def _json(data: bytes, chance: random.Random) -> bytes:
    """Return JSON with one value replaced, taken out, doubled or cut short; other bytes are left to `_bytes`."""
    try:
        values = json.loads(data)
    except (ValueError, RecursionError):
        return _bytes(data, chance)
    if chance.random() < 0.5:
        return _figures(values, chance)
    parent, key = _somewhere(values, chance)
    if parent is None:
        return json.dumps(chance.choice(ODD_VALUES)).encode()
    how = chance.random()
    if how < 0.15:
        del parent[key]
    elif how < 0.25 and isinstance(parent, list):
        parent.insert(key, parent[key])
    elif how < 0.35 and isinstance(parent[key], list):
        parent[key] = parent[key][: len(parent[key]) // 2]
    elif how < 0.45 and isinstance(parent[key], int | float):
        parent[key] = parent[key] * chance.choice((-1, 0, 1e6, 1e-9, 1e300))
    else:
        parent[key] = chance.choice(ODD_VALUES)
    return json.dumps(values).encode()


ODD_NUMBERS = (None, 0, -1, 1e-12, 1e9, 1e308, -1e308, 1e999, float("nan"), -1e-300)
COLUMNS = ("time_s", "east_m", "north_m", "sigma_m", "range_m", "reading_m", "weight")
"""Arrays of hundreds of numbers, which would draw all damage to themselves."""


def _figures(values: Any, chance: random.Random) -> bytes:
    """Return JSON with up to three of its numbers outside the long arrays replaced by odd ones."""
    places = list(_numbers(values))
    for parent, key in chance.sample(places, min(len(places), chance.choice((1, 1, 2, 3)))):
        parent[key] = chance.choice(ODD_NUMBERS)
    return json.dumps(values).encode()


def _numbers(values: Any) -> Iterator[tuple[Any, Any]]:
    items = values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    for key, inner in items:
        if isinstance(inner, int | float) and not isinstance(inner, bool):
            yield values, key
        elif key not in COLUMNS:
            yield from _numbers(inner)


def _somewhere(values: Any, chance: random.Random) -> tuple[Any, Any]:
    """Return a list or object inside values and a key of it; each level ends the walk with a chance of its own."""
    parent, key = None, None
    while isinstance(values, dict | list) and values:
        parent = values
        key = chance.choice(list(values)) if isinstance(values, dict) else chance.randrange(len(values))
        values = values[key]
        if chance.random() < 0.15:
            break
    return parent, key


def _toml(data: bytes, chance: random.Random) -> bytes:
    """Return TOML with one line taken out, doubled, moved or with another value."""
    lines = data.split(b"\n")
    number = chance.randrange(len(lines))
    how = chance.random()
    if how < 0.2:
        del lines[number]
    elif how < 0.35:
        lines.insert(number, lines[chance.randrange(len(lines))])
    elif how < 0.45:
        lines[number] = re.sub(rb"[A-Za-z_]+", b"x", lines[number], count=1)
    else:
        value = chance.choice(TOML_VALUES).encode()
        lines[number] = re.sub(rb"=.*", b"= " + value, lines[number])
    return b"\n".join(lines)


def _bytes(data: bytes, chance: random.Random) -> bytes:
    """Return bytes cut off, emptied, or with some replaced or put in."""
    if not data:
        return chance.choice(JUNK)
    place = chance.randrange(len(data))
    how = chance.random()
    if how < 0.2:
        return data[:place]
    if how < 0.25:
        return b""
    if how < 0.5:
        return data[:place] + bytes([chance.randrange(256)]) + data[place + 1 :]
    if how < 0.8:
        return data[:place] + chance.choice(JUNK) + data[place:]
    return data[:place] + data[min(place + chance.randrange(1, 200), len(data)) :]
