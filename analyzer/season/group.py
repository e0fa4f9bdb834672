"""A group's season: people by measures, and what cost the group most."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from analyzer.model.season import GroupCell, GroupRow, GroupSeason, PersonSeason, RunLine, SeasonMeasure, Trend
from analyzer.season.measures import MEASURES
from analyzer.season.trend import UNEXPLAINED, cause_costs, person_season, practice_days

LATEST_DAYS = 3
"""How many of the last days of practice make up where a person stands now."""
COSTLIEST = 3


def people_of(lines: Sequence[RunLine]) -> dict[str, list[RunLine]]:
    """Return the lines by the name of the searcher, in order of the names; runs without a name are left out."""
    found: dict[str, list[RunLine]] = {}
    for line in lines:
        if line.searcher.strip():
            found.setdefault(line.searcher, []).append(line)
    return dict(sorted(found.items(), key=lambda pair: pair[0].casefold()))


def group_season(
    people: Mapping[str, Sequence[RunLine]],
    *,
    unnamed: Sequence[RunLine] = (),
    measures: Sequence[SeasonMeasure] = MEASURES,
    season_of: Callable[[str, Sequence[RunLine]], PersonSeason] = person_season,
) -> GroupSeason:
    """Return a group's season.

    Parameters
    ----------
    people : mapping of name to lines
        As the names are to be shown.
    unnamed : sequence of RunLine
        Runs of nobody in particular: they count in the causes only.
    measures : sequence of SeasonMeasure
        The columns.
    season_of : function
        What gives a person's season; a caller that keeps seasons gives its own.
    """
    rows = tuple(_row(season_of(name, lines), measures) for name, lines in people.items())
    every = sorted((line for lines in (*people.values(), unnamed) for line in lines), key=lambda line: line.time_zero)
    costs = cause_costs(every)
    return GroupSeason(
        runs=len(every), days=max(practice_days(every), default=0), measures=tuple(measures), rows=rows,
        causes=tuple(c for c in costs if c.cause != UNEXPLAINED)[:COSTLIEST], lost_s=sum(c.seconds for c in costs),
        unnamed=len(unnamed),
    )


def _row(season: PersonSeason, measures: Sequence[SeasonMeasure]) -> GroupRow:
    trends = {t.measure.key: t for t in season.trends}
    cells = tuple(GroupCell(latest(trends[m.key], len(season.dates)), trends[m.key]) for m in measures)
    return GroupRow(season.name, season.runs, len(season.dates), cells)


def latest(trend: Trend, days: int) -> float | None:
    """Return the median of a measure over the runs of a person's last days of practice, None without any there."""
    values = [p.figure.value for p in trend.points if p.day > days - LATEST_DAYS]
    return float(np.median(values)) if values else None
