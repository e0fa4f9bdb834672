"""TOML tables with checked keys: unknown keys, wrong types and values out of range are errors that name the key."""

import datetime as dt
import difflib
import math
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from analyzer.errors import InputError
from analyzer.files.source import decode_text


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return what to do about an unknown word: the likeliest of `allowed`, else all of them."""
    known = list(allowed)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"did you mean {close[0]!r}?"
    return f"use one of {', '.join(known)}" if known else "there is none to choose from"


def parse_toml(data: bytes, *, name: str) -> "TomlTable":
    """Return the outermost table of a TOML file.

    Raises
    ------
    InputError
        Where the bytes are not UTF-8 or not TOML; the line is in the text.
    """
    text = decode_text(data, name=name)
    try:
        return TomlTable(name, tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputError(where=name, what=f"this is not TOML ({error})", do="mend the line") from None


@dataclass(frozen=True, slots=True)
class TomlTable:
    """A table and the words that say where it is ("drill.toml, [slope]")."""

    where: str
    values: dict[str, Any]

    def allow(self, *keys: str) -> None:
        """Raise `InputError` on the first key that is not among `keys`."""
        for key in self.values:
            if key not in keys:
                raise InputError(where=self.where, what=f"the key {key!r} is not known", do=nearest(key, keys))

    def fault(self, key: str, what: str, do: str) -> InputError:
        """Return an error about one key."""
        return InputError(where=f"{self.where}, {key}", what=what, do=do)

    def has(self, key: str) -> bool:
        """Return whether the key is given."""
        return key in self.values

    def need(self, key: str, do: str) -> Any:
        """Return a value that must be there."""
        if key not in self.values:
            raise InputError(where=self.where, what=f"{key} is missing", do=do)
        return self.values[key]

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -math.inf,
        high: float = math.inf,
        above: float = -math.inf,
    ) -> float:
        """Return a finite number with above < number, low <= number <= high; the default where it is not given."""
        if key not in self.values and default is not None:
            return default
        value = self.need(key, "add it")
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.fault(key, f"{value!r} is not a number", "write a number without quotation marks")
        if not (low <= value <= high and value > above):
            raise self.fault(key, f"{value:g} is out of range", _range_words(low, high, above))
        return float(value)

    def optional_number(
        self, key: str, *, low: float = -math.inf, high: float = math.inf, above: float = -math.inf
    ) -> float | None:
        """Return a number as `number` does, None where it is not given."""
        return self.number(key, low=low, high=high, above=above) if key in self.values else None

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; the default where it is not given."""
        if key not in self.values and default is not None:
            return default
        value = self.need(key, "add it")
        if not isinstance(value, str):
            raise self.fault(key, f"{value!r} is not a text", "write it in quotation marks")
        return value

    def table(self, key: str, *, needed: bool = False) -> "TomlTable":
        """Return a sub-table, an empty one where it is not given and not needed."""
        value = self.need(key, f"add a table [{key}]") if needed else self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.fault(key, f"{value!r} is not a table", f"write it as a table [{key}]")
        return TomlTable(f"{self.where}, [{key}]", value)

    def tables(self, key: str) -> tuple["TomlTable", ...]:
        """Return the tables of [[key]], numbered from 1 in their `where`."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.fault(key, "this is not a list of tables", f"write each as [[{key}]]")
        return tuple(TomlTable(f"{self.where}, [[{key}]] {i}", item) for i, item in enumerate(value, start=1))

    def moment(self, key: str) -> dt.datetime | None:
        """Return a time with offset in UTC, None where it is not given."""
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, str):
            try:
                value = dt.datetime.fromisoformat(value)
            except ValueError:
                value = None
        if not isinstance(value, dt.datetime) or value.tzinfo is None:
            raise self.fault(
                key, f"{self.values[key]!s} is not a time with an offset", "write it like 2026-01-17T09:30:00+01:00"
            )
        return value.astimezone(dt.UTC)

    def day(self, key: str) -> dt.date | None:
        """Return a date, None where it is not given."""
        value = self.values.get(key)
        if isinstance(value, str):
            try:
                return dt.date.fromisoformat(value)
            except ValueError:
                pass
        if isinstance(value, dt.datetime):
            return value.date()
        if value is not None and not isinstance(value, dt.date):
            raise self.fault(key, f"{value!r} is not a date", "write it like 2026-01-17")
        return value


def _range_words(low: float, high: float, above: float) -> str:
    parts = []
    if math.isfinite(above):
        parts.append(f"above {above:g}")
    if math.isfinite(low):
        parts.append(f"at least {low:g}")
    if math.isfinite(high):
        parts.append(f"at most {high:g}")
    return "write a number " + " and ".join(parts)
