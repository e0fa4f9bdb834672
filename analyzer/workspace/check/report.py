"""What a check found, and errors of readers turned into it."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError, FileError


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that a check found. `where`: file, with line or point; `what` and `do`: as in `AnalyzerError`."""

    where: str
    what: str
    do: str

    def __str__(self) -> str:
        """Return the one line that is shown."""
        return " ".join(f"{self.where}: {self.what}; {self.do}".split())


@dataclass(frozen=True, slots=True)
class SetAside:
    """Rows of a file that are read and not used."""

    where: str
    reason: str
    count: int


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found. `problems`: to be mended; `remarks`: worth knowing, nothing is wrong with them."""

    problems: tuple[Found, ...] = ()
    remarks: tuple[Found, ...] = ()
    set_aside: tuple[SetAside, ...] = ()


def joined(reports: Iterable[Report]) -> Report:
    """Return several reports as one; what two of them tell stands there once."""
    found = tuple(reports)
    return Report(
        tuple(dict.fromkeys(item for one in found for item in one.problems)),
        tuple(dict.fromkeys(item for one in found for item in one.remarks)),
        tuple(item for one in found for item in one.set_aside),
    )


def problems_of(error: AnalyzerError, folder: Path, shown: str) -> tuple[Found, ...]:
    """Return what an error of a reader says, each of several things of a file for itself.

    `shown` stands before each place; `folder`, where a reader has written it before one, is left out.
    """
    single = [(error.where, error.what, error.do)]
    many = [(p.where, p.what, p.do) for p in error.problems] if isinstance(error, FileError) else single
    return tuple(Found(inside(shown, where.removeprefix(f"{folder}/")), what, do) for where, what, do in many)


def inside(shown: str, where: str) -> str:
    """Return a place in a folder that is shown under a name, which may be empty."""
    return f"{shown}/{where}" if shown else where
