"""The door from the pages to seasons: everybody's lines, a person's season, a group's table.

Lines come from the result files of the dashboard's folder. What the workspace's database holds of a file with the very
same bytes is taken from there; other files are read themselves. What was read is kept under a file's name, time and
size, and seasons under their lines: nothing that is kept is ever altered.
"""

import functools
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.hashes import hash_at
from analyzer.files.source import file_stamp, read_bytes
from analyzer.model.people import People, Person, name_key
from analyzer.model.run_line import RunLine
from analyzer.seasons.group import across_seasons, group_of, group_season, lines_by_person
from analyzer.seasons.model import GroupSeason, Period, PersonSeason
from analyzer.seasons.period import chosen_period, winters_of, within
from analyzer.seasons.source import database_files, known_lines, line_of_bytes
from analyzer.seasons.spellings import NearNames, near_names
from analyzer.seasons.trend import person_season
from analyzer.workspace.layout import EVERY_RESULT
from analyzer.workspace.people.people_toml import read_people
from analyzer.workspace.unforeseen import unforeseen_line

KEPT_LINES, KEPT_SEASONS = 8192, 512
Stamp = tuple[str, int, int]
"""A file's path, time and size."""
NOBODY_AGREES = People((Person("-"),))
"""Stands in for a people.toml that cannot be read: nobody in it has agreed to be named."""


class PersonMissingError(LookupError):
    """Nobody of this name has a run."""


@dataclass(frozen=True, slots=True)
class SeasonView:
    """What a page of a group shows. `period`: the season shown, None where all winters stand side by side. `winters`:
    those that have runs, the newest first. `groups`: those that can be chosen; `problems`: lines on what could not be
    read; `near`: how many pairs of names may be two spellings of one person. `places`: (drill, run) of its runs, the
    newest first."""

    season: GroupSeason
    period: Period | None
    winters: tuple[Period, ...]
    groups: tuple[str, ...]
    group: str
    problems: tuple[str, ...]
    near: int
    places: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class PersonView:
    """What a page of a person shows: the season in a period, and the winters that they have runs in, the newest first.

    A season without a run has no dates. `places`: as in `SeasonView`.
    """

    season: PersonSeason
    period: Period
    winters: tuple[Period, ...]
    places: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Seasons:
    """The seasons in the results of a dashboard. `workspace`: where people.toml and the database are, if any."""

    results: Path
    workspace: Path | None

    def group(self, group: str = "", first: str = "", last: str = "") -> SeasonView:
        """Return the table of everybody, or of one group of people.toml, in the newest winter or between bounds.

        Raises
        ------
        InputError
            Where a bound is no date, or the last day lies before the first.
        """
        lines, people, problems = self._read()
        period = chosen_period(lines, first, last)
        return _view(lines, within(lines, period), people, problems, group, period)

    def across(self, group: str = "") -> SeasonView:
        """Return all winters of everybody, or of one group, a row a winter and person."""
        lines, people, problems = self._read()
        return _view(lines, lines, people, problems, group, None)

    def person(self, name: str, first: str = "", last: str = "") -> PersonView:
        """Return one person's season, by name or another spelling, in their newest winter or between bounds.

        Raises
        ------
        PersonMissingError
            Where nobody of this name has a run.
        InputError
            Where a bound is no date, or the last day lies before the first.
        """
        lines, people, _ = self._read()
        person = people.find(name)
        wanted = name_key(person.name if person is not None else name)
        for own, mine in lines_by_person(lines, people).items():
            if own and name_key(own) == wanted:
                period = chosen_period(mine, first, last)
                shown = within(mine, period)
                return PersonView(_season(own, shown), period, winters_of(mine), _places(shown))
        raise PersonMissingError(name)

    def _read(self) -> tuple[tuple[RunLine, ...], People, tuple[str, ...]]:
        problems: list[str] = []
        known, people = {}, People()
        if self.workspace is not None:
            try:
                people = read_people(self.workspace)
            except AnalyzerError as error:
                # Who has agreed to be named cannot be told then: nobody is.
                people, problems = NOBODY_AGREES, [str(error)]
            try:
                known = _known(self.workspace)
            except AnalyzerError as error:
                problems.append(str(error))
        lines = []
        for path in sorted(self.results.glob(EVERY_RESULT)) if self.results.is_dir() else ():
            try:
                lines.append(_line(path, known))
            except AnalyzerError as error:
                problems.append(f"{path.parent.name}/{error}")
            except Exception as error:
                problems.append(unforeseen_line(f"{path.parent.name}/{path.name}", "reading", error))
        return tuple(lines), people, tuple(problems)


def _view(
    every: tuple[RunLine, ...],
    lines: tuple[RunLine, ...],
    people: People,
    problems: tuple[str, ...],
    group: str,
    period: Period | None,
) -> SeasonView:
    groups = sorted({group_of(name, people) for name in {line.searcher for line in every}} - {""})
    chosen = group if group in groups else ""
    season = (across_seasons if period is None else group_season)(lines, people, group=chosen, season_of=_season)
    near = len(_near(frozenset(line.searcher for line in every), people))
    return SeasonView(season, period, winters_of(every), tuple(groups), chosen, problems, near, _places(lines))


def _places(lines: tuple[RunLine, ...]) -> tuple[tuple[str, str], ...]:
    """Return drill and run of lines, the newest first."""
    return tuple((line.drill, line.run) for line in sorted(lines, key=lambda one: one.time_zero, reverse=True))


@functools.lru_cache(maxsize=2)
def _near(names: frozenset[str], people: People) -> tuple[NearNames, ...]:
    return near_names(sorted(names), people)


def _line(path: Path, known: dict[str, RunLine]) -> RunLine:
    stamp = file_stamp(path)
    line = known.get(hash_at(stamp[0]) or "")
    if line is None:
        return _line_of(stamp)
    return (
        line
        if (line.drill, line.run) == (path.parent.name, path.stem)
        else replace(line, drill=path.parent.name, run=path.stem)
    )


def _known(workspace: Path) -> dict[str, RunLine]:
    files = database_files(workspace)
    return _kept_known(workspace, tuple(file_stamp(path) for path in files)) if files else known_lines(workspace)


@functools.lru_cache(maxsize=2)
def _kept_known(workspace: Path, stamps: tuple[Stamp, ...]) -> dict[str, RunLine]:
    del stamps  # part of the key only
    return known_lines(workspace)


@functools.lru_cache(maxsize=KEPT_LINES)
def _line_of(stamp: Stamp) -> RunLine:
    path = Path(stamp[0])
    return line_of_bytes(read_bytes(path), drill=path.parent.name, run=path.stem)


@functools.lru_cache(maxsize=KEPT_SEASONS)
def _season(name: str, lines: tuple[RunLine, ...]) -> PersonSeason:
    return person_season(name, lines)
