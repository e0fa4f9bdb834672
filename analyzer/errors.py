"""The project's own errors. Each says where, what is wrong and what to do, in one line; many of one file in a list."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

QUOTED_CHARS = 60
"""So much of a value is shown in a message; our own choice: enough to find it in the file, little enough for a line."""
WHERE_CHARS, WHAT_CHARS, DO_CHARS = 200, 300, 400
"""So long is each part of a message at most; our own choice, because all of it then stays under 1,000 characters."""


def quoted(value: object) -> str:
    """Return a value as it is shown in a message: in quotation marks where it is a text, escaped, and cut."""
    try:
        shown = repr(value[: QUOTED_CHARS + 1] if isinstance(value, str) else value)
    except (ValueError, RecursionError):  # a whole number of thousands of digits has no text in Python
        return "a value too long to show"
    if len(shown) <= QUOTED_CHARS + 2 and not (isinstance(value, str) and len(value) > QUOTED_CHARS):
        return shown
    return f"{shown[:QUOTED_CHARS]}...{shown[0] if shown[0] in _MARKS else ''}"


_MARKS = ("'", '"')


def one_line(text: str, most: int) -> str:
    """Return a text of at most `most` characters with its control characters escaped; what is left out is its middle,
    for a place begins with the file and ends with the line."""
    if len(text) > most:
        text = f"{text[: most // 2]} ... {text[-(most - most // 2 - 5) :]}"
    if text.isprintable():
        return text
    escaped = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
    return escaped if len(escaped) <= most else one_line(escaped, most)


class AnalyzerError(ValueError):
    """Base of all errors that a user can mend. Each part is one line: what is not printable in it is escaped, and what
    is too long cut.

    Parameters
    ----------
    where : str
        File, and line or point number where there is one ("track.gpx, point 12").
    what : str
        What is wrong, with the value received.
    do : str
        What the user can do about it.
    """

    def __init__(self, *, where: str, what: str, do: str) -> None:
        self.where = one_line(where, WHERE_CHARS)
        self.what = one_line(what, WHAT_CHARS)
        self.do = one_line(do, DO_CHARS)
        super().__init__(self.where, self.what, self.do)

    def __str__(self) -> str:
        """Return the one line that is shown."""
        return f"{self.where}: {self.what}; {self.do}"

    def under(self, folder: str) -> Self:
        """Return the error with a folder before its file."""
        return type(self)(where=f"{folder}/{self.where}", what=self.what, do=self.do)

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle by keywords, so that the error crosses process borders."""
        return (_rebuild, (type(self), self.where, self.what, self.do))


def _rebuild(kind: type[AnalyzerError], where: str, what: str, do: str) -> AnalyzerError:
    return kind(where=where, what=what, do=do)


class InputError(AnalyzerError):
    """A file, a table row or a setting that cannot be used as it is."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in a file. `place`: its keys, lists counted from 1 ("transmitter[1].depth_m"), empty for
    the whole file. `where`: the same in words, beginning with the file. `what` and `do`: as in `AnalyzerError`."""

    place: str
    where: str
    what: str
    do: str

    def __post_init__(self) -> None:
        """Keep each part to one line, as `AnalyzerError` does."""
        for key, most in (("where", WHERE_CHARS), ("what", WHAT_CHARS), ("do", DO_CHARS)):
            object.__setattr__(self, key, one_line(getattr(self, key), most))


class FileError(InputError):
    """All that is wrong with one file, at once. One problem reads as any other error; several are listed.

    Parameters
    ----------
    name : str
        The file.
    problems : sequence of Problem
        At least one.
    """

    def __init__(self, name: str, problems: Sequence[Problem]) -> None:
        self.name = name
        self.problems = tuple(problems)
        if len(self.problems) == 1:
            (only,) = self.problems
            super().__init__(where=only.where, what=only.what, do=only.do)
            return
        lines = [f"{_within(p.where, name)}{p.what}; {p.do}" for p in self.problems]
        super().__init__(where=name, what=f"{len(lines)} things are wrong", do="")
        self.do = "\n  ".join(["mend each of them:", *lines])

    def under(self, folder: str) -> "FileError":
        """Return the error with a folder before its file, everywhere."""
        return FileError(f"{folder}/{self.name}", [replace(p, where=f"{folder}/{p.where}") for p in self.problems])

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle with the problems."""
        return (FileError, (self.name, self.problems))


def _within(where: str, name: str) -> str:
    """Return the words of a place without the file, ready to be followed by what is wrong there."""
    return "" if where == name else f"{where.removeprefix(f'{name}, ')}: "


class EstimationError(AnalyzerError):
    """A run whose evidence does not determine a path."""
