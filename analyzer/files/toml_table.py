"""TOML tables with checked keys: unknown keys, wrong types and values out of range are errors that name the key.

A table of `parse_toml` raises at the first problem. A table that `read_toml` hands to a reader notes each and goes on
with a stand-in (NaN, an empty text, None, an empty table), so that the reader meets them all. What was built with
stand-ins goes no further: `read_toml` raises one error that lists the problems.
"""

import datetime as dt
import difflib
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from analyzer.errors import FileError, InputError, Problem, quoted
from analyzer.files.numbers import LARGEST
from analyzer.files.source import decode_text
from analyzer.files.times import posix_of
from analyzer.files.toml_source import toml_values

MOST_TOLD = 50
"""So many problems of a file are told; who sees fifty knows."""
LEAST_ABOVE = 1e-6
"""What has to be above a bound is so much above it: our own choice, because a millionth of a metre, second or degree is
no measure of anything here, and what is divided by less overflows."""
T = TypeVar("T")


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return what to do about an unknown word: the likeliest of `allowed`, else all of them."""
    known = list(allowed)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return _meant(close[0])
    return f"use one of {', '.join(known)}" if known else "there is none to choose from"


def _meant(word: str) -> str:
    return f"did you mean {quoted(word)}?"


def parse_toml(data: bytes, *, name: str) -> "TomlTable":
    """Return the outermost table of a TOML file.

    Raises
    ------
    InputError
        Where the bytes are not UTF-8 or not TOML, and as `toml_values`.
    """
    return TomlTable(name, toml_values(decode_text(data, name=name), name=name))


def read_toml(read: Callable[["TomlTable"], T], data: bytes, *, name: str) -> T:
    """Return what `read` makes of the outermost table of a TOML file, or raise all that it reported.

    Raises
    ------
    FileError
        Where problems were reported of any table of the file.
    InputError
        Where the bytes are not UTF-8 or not TOML.
    """
    found: list[Problem] = []
    try:
        made = read(TomlTable(name, parse_toml(data, name=name).values, found=found))
    except _Enough:
        more = Problem("", name, f"more than {MOST_TOLD} things are wrong", "mend these and read the file again")
        raise FileError(name, [*found[:MOST_TOLD], more]) from None
    if found:
        raise FileError(name, found)
    return made


class _Enough(Exception):  # noqa: N818 - it ends the reading, and is seen here alone
    """More is wrong with a file than anybody wants to be told."""


@dataclass(frozen=True, slots=True)
class TomlTable:
    """A table, the words that say where it is ("drill.toml, [slope]"), its place by keys ("drill.slope"), and the list
    that takes its problems, None where the first is raised."""

    where: str
    values: dict[str, Any]
    place: str = ""
    found: list[Problem] | None = None

    def allow(self, *keys: str) -> None:
        """Report every key that is not among `keys`."""
        for key in self.values:
            if key not in keys:
                self.report(key, f"the key {quoted(key)} is not known", nearest(key, keys), where=self.where)

    def fault(self, key: str, what: str, do: str) -> InputError:
        """Return an error about one key, to be raised."""
        return InputError(where=f"{self.where}, {key}", what=what, do=do)

    def report(self, key: str, what: str, do: str, *, where: str = "") -> None:
        """Note what is wrong with a key, or with the table itself where the key is empty; raise it where the first
        problem is raised. `where` is that of the key unless another one is given."""
        place = f"{self.place}.{key}".strip(".")
        problem = Problem(place, where or (f"{self.where}, {key}" if key else self.where), what, do)
        if self.found is None:
            raise InputError(where=problem.where, what=what, do=do)
        self.found.append(problem)
        if len(self.found) > MOST_TOLD:
            raise _Enough

    def missing(self, key: str, do: str) -> None:
        """Report that a key is missing, unless it is there in another spelling, which is reported already."""
        respelt = {p.place for p in self.found or () if p.do == _meant(key)}
        if not any(f"{self.place}.{other}".strip(".") in respelt for other in self.values):
            self.report(key, f"{key} is missing", do, where=self.where)

    def wrong(self, key: str) -> bool:
        """Return whether something is reported of a key."""
        place = f"{self.place}.{key}".strip(".")
        return any(p.place == place or p.place.startswith((f"{place}.", f"{place}[")) for p in self.found or ())

    def has(self, key: str) -> bool:
        """Return whether the key is given."""
        return key in self.values

    def need(self, key: str, do: str) -> Any:
        """Return a value that must be there, None where a missing one is noted."""
        if key not in self.values:
            self.missing(key, do)
        return self.values.get(key)

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -math.inf,
        high: float = math.inf,
        above: float = -math.inf,
    ) -> float:
        """Return a finite number with above < number, low <= number <= high; the default where it is not given.

        NaN where a problem is noted.
        """
        if key not in self.values:
            if default is None:
                self.missing(key, "add it")
            return math.nan if default is None else default
        value = self.values[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            self.report(key, f"{quoted(value)} is not a number", "write a number without quotation marks")
            return math.nan
        if not (low <= value <= high and (value - above) >= LEAST_ABOVE and abs(value) <= LARGEST):
            self.report(key, f"{value:g} is out of range", _range_words(low, min(high, LARGEST), above))
            return math.nan
        return float(value)

    def optional_number(
        self, key: str, *, low: float = -math.inf, high: float = math.inf, above: float = -math.inf
    ) -> float | None:
        """Return a number as `number` does, None where it is not given."""
        return self.number(key, low=low, high=high, above=above) if key in self.values else None

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; the default where it is not given, an empty one where a problem is noted."""
        if key not in self.values:
            if default is None:
                self.missing(key, "add it")
            return default or ""
        value = self.values[key]
        if not isinstance(value, str):
            self.report(key, f"{quoted(value)} is not a text", "write it in quotation marks")
            return ""
        return value

    def label(self, key: str, default: str | None = None) -> str:
        """Return a text as `text` does, or the text of a whole number."""
        value = self.values.get(key)
        if not isinstance(value, int) or isinstance(value, bool):
            return self.text(key, default)
        if abs(value) > LARGEST:
            self.report(key, f"{quoted(value)} is too long a number", "write a shorter one, or a text")
            return ""
        return str(value)

    def table(self, key: str, *, needed: bool = False) -> "TomlTable":
        """Return a sub-table, an empty one where it is not given and not needed, or where a problem is noted.

        Of a needed table that is missing nothing further is noted: that its keys are missing goes without saying.
        """
        value = self.need(key, f"add a table [{key}]") if needed else self.values.get(key, {})
        there = isinstance(value, dict)
        if not there and (key in self.values):
            self.report(key, f"{quoted(value)} is not a table", f"write it as a table [{key}]")
        own = self.found if there else []
        return TomlTable(f"{self.where}, [{key}]", value if there else {}, f"{self.place}.{key}".strip("."), own)

    def tables(self, key: str) -> tuple["TomlTable", ...]:
        """Return the tables of [[key]], numbered from 1 in their `where` and their `place`; none where a problem is
        noted."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.report(key, "this is not a list of tables", f"write each as [[{key}]]")
            return ()
        place = f"{self.place}.{key}".strip(".")
        return tuple(
            TomlTable(f"{self.where}, [[{key}]] {i}", item, f"{place}[{i}]", self.found)
            for i, item in enumerate(value, start=1)
        )

    def moment(self, key: str, *, in_utc: bool = True) -> dt.datetime | None:
        """Return a time with offset in UTC, or with the offset that it was written with; None where it is not given or
        a problem is noted."""
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, str):
            try:
                value = dt.datetime.fromisoformat(value)
            except ValueError:
                value = None
        if not isinstance(value, dt.datetime) or value.tzinfo is None:
            what = f"{quoted(self.values[key])} is not a time with an offset"
            self.report(key, what, "write it like 2026-01-17T09:30:00+01:00")
            return None
        try:
            posix_of(value, where="")
        except InputError as error:
            self.report(key, error.what, error.do)
            return None
        return value.astimezone(dt.UTC) if in_utc else value

    def day(self, key: str) -> dt.date | None:
        """Return a date, None where it is not given or a problem is noted."""
        value = self.values.get(key)
        if isinstance(value, str):
            try:
                return dt.date.fromisoformat(value)
            except ValueError:
                pass
        if isinstance(value, dt.datetime):
            return value.date()
        if value is not None and not isinstance(value, dt.date):
            self.report(key, f"{quoted(value)} is not a date", "write it like 2026-01-17")
            return None
        return value


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond what a float holds
        return False


def _range_words(low: float, high: float, above: float) -> str:
    parts = []
    if math.isfinite(above):
        parts.append(f"above {above:g} (by {LEAST_ABOVE:g} or more)")
    if math.isfinite(low):
        parts.append(f"at least {low:g}")
    if math.isfinite(high) and not (high == LARGEST and parts):
        parts.append(f"at most {high:g}")
    return "write a number " + " and ".join(parts)
