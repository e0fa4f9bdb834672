"""The project's own errors. Each says where, what is wrong and what to do, in one line; many of one file in a list."""

from collections.abc import Sequence
from dataclasses import dataclass


class AnalyzerError(ValueError):
    """Base of all errors that a user can mend.

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
        super().__init__(where, what, do)
        self.where = where
        self.what = what
        self.do = do

    def __str__(self) -> str:
        """Return the one line that is shown."""
        return f"{self.where}: {self.what}; {self.do}"

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
        lines = [" ".join(f"{_within(p.where, name)}{p.what}; {p.do}".split()) for p in self.problems]
        super().__init__(
            where=name, what=f"{len(lines)} things are wrong", do="\n  ".join(["mend each of them:", *lines])
        )

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle with the problems."""
        return (FileError, (self.name, self.problems))


def _within(where: str, name: str) -> str:
    """Return the words of a place without the file, ready to be followed by what is wrong there."""
    return "" if where == name else f"{where.removeprefix(f'{name}, ')}: "


class EstimationError(AnalyzerError):
    """A run whose evidence does not determine a path."""
