"""A group's season: people by measures, and what cost it most. Who has not agreed to be named is not named."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from analyzer.model.people import People, name_key
from analyzer.model.run_line import RunLine
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import CLEAR, HINT, GroupCell, GroupRow, GroupSeason, PersonSeason, SeasonMeasure, Trend
from analyzer.seasons.period import winters_of, within
from analyzer.seasons.trend import cause_costs, person_season, practice_days

LATEST_DAYS = 3
"""How many of the last days of practice make up where a person stands now."""
COSTLIEST = 3


def lines_by_person(lines: Sequence[RunLine], people: People) -> dict[str, list[RunLine]]:
    """Return the lines by person, under the name of their choice, in order of the names; "" holds those of nobody.

    Spellings that differ in capitals, spaces or the form of accents alone are one person, as are those that the people
    of the workspace list.
    """
    found: dict[str, list[RunLine]] = {}
    spelled: dict[str, str] = {}
    for searcher in sorted({line.searcher for line in lines}):
        person, key = people.find(searcher), name_key(searcher)
        spelled[searcher] = person.name if person is not None else searcher.strip() if key else ""
    own = {name_key(name): name for name in reversed(spelled.values())}
    for line in lines:
        found.setdefault(own[name_key(spelled[line.searcher])], []).append(line)
    return dict(sorted(found.items(), key=lambda pair: name_key(pair[0])))


def may_be_named(name: str, people: People) -> bool:
    """Return whether a list that others see may name someone: who has agreed, and nobody where no people are listed.

    A people.toml that was lost names nobody who was not named before.
    """
    person = people.find(name)
    return person is not None and person.consent


def group_season(
    lines: Sequence[RunLine],
    people: People,
    *,
    group: str = "",
    measures: Sequence[SeasonMeasure] = MEASURES,
    season_of: Callable[[str, tuple[RunLine, ...]], PersonSeason] = person_season,
) -> GroupSeason:
    """Return a group's season.

    Parameters
    ----------
    lines : sequence of RunLine
    people : People
        Who they are and who has agreed to be named.
    group : str
        This group's people alone; everybody where empty.
    measures : sequence of SeasonMeasure
        The columns.
    season_of : function
        What gives a person's season; a caller that keeps seasons gives its own.
    """
    own, named = _own(lines, people, group)
    rows = [
        _row(season_of(name, tuple(mine)), group_of(name, people), measures, LATEST_DAYS)
        for name, mine in named.items()
    ]
    return _table(own, named, measures, sorted(rows, key=_most_sure_first))


def across_seasons(
    lines: Sequence[RunLine],
    people: People,
    *,
    group: str = "",
    measures: Sequence[SeasonMeasure] = MEASURES,
    season_of: Callable[[str, tuple[RunLine, ...]], PersonSeason] = person_season,
) -> GroupSeason:
    """Return all seasons of a group, one row a winter and person; its cells are medians over the whole winter.

    Parameters are those of `group_season`.
    """
    own, named = _own(lines, people, group)
    rows = []
    for name, mine in named.items():
        for period in reversed(winters_of(mine)):
            season = season_of(name, within(mine, period))
            row = _row(season, group_of(name, people), measures, len(season.dates))
            rows.append(replace(row, period=period))
    return _table(own, named, measures, rows)


def _own(
    lines: Sequence[RunLine], people: People, group: str
) -> tuple[dict[str, list[RunLine]], dict[str, list[RunLine]]]:
    """Return the lines by person, of a group alone if one is given, and those of them who may be named."""
    own = lines_by_person(lines, people)
    if group:
        own = {name: mine for name, mine in own.items() if group_of(name, people) == group}
    return own, {name: mine for name, mine in own.items() if name and may_be_named(name, people)}


def _table(
    own: Mapping[str, list[RunLine]],
    named: Mapping[str, list[RunLine]],
    measures: Sequence[SeasonMeasure],
    rows: Sequence[GroupRow],
) -> GroupSeason:
    every = sorted((line for mine in own.values() for line in mine), key=lambda line: line.time_zero)
    costs = cause_costs(every)
    return GroupSeason(
        runs=len(every),
        days=max(practice_days(every), default=0),
        measures=tuple(measures),
        rows=tuple(rows),
        causes=costs[:COSTLIEST],
        lost_s=sum(c.seconds for c in costs),
        others=sum(bool(name) for name in own) - len(named),
        unnamed=len(own.get("", ())),
    )


def _most_sure_first(row: GroupRow) -> tuple[int, int, str]:
    states = [trend.state for trend in row.changes]
    return -states.count(CLEAR), -states.count(HINT), name_key(row.name)


def group_of(name: str, people: People) -> str:
    """Return the group of a person, "" where none is known."""
    person = people.find(name)
    return "" if person is None else person.group


def _row(season: PersonSeason, group: str, measures: Sequence[SeasonMeasure], last_days: int) -> GroupRow:
    trends = {t.measure.key: t for t in season.trends}
    cells = tuple(GroupCell(latest(trends[m.key], len(season.dates), last_days), trends[m.key]) for m in measures)
    return GroupRow(season.name, group, season.runs, len(season.dates), cells)


def latest(trend: Trend, days: int, last_days: int = LATEST_DAYS) -> float | None:
    """Return the median of a measure over the runs of a person's last days of practice, None without any there."""
    values = [p.figure.value for p in trend.points if p.day > days - last_days]
    return float(np.median(values)) if values else None
