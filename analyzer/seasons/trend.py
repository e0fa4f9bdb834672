"""A person's season: days of practice, trends of all measures, personal bests, what cost the seconds.

A trend is taken over days of practice, not over calendar days or runs: people learn by practising and not by waiting,
so a break between two days is one step; and runs of one day share snow, drill and form, so each day counts once, with
the median of its runs. A new day begins after six hours without a run, which needs no time zone.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure
from analyzer.model.measures import LESS, MORE, ZONE
from analyzer.model.run_line import RunLine
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import (
    BETTER,
    CLEAR,
    HINT,
    NONE,
    OTHER,
    TOO_FEW,
    WORSE,
    CauseCost,
    PersonalBest,
    PersonSeason,
    SeasonMeasure,
    SeasonPoint,
    Trend,
)
from analyzer.seasons.theil_sen import Line, line_through
from analyzer.seasons.words import sentence

LEAST_RUNS, LEAST_DAYS = 6, 4
"""With three days even three in a row going one way happen by chance in a sixth of cases each way."""
NEW_DAY_AFTER = dt.timedelta(hours=6)
CHANCE, CHANCE_AMONG_ALL = 0.1, 0.05
"""Two-sided. By itself: one way by chance in at most 5 % of cases. Among all measures of a person: any of them."""
WELL_NEARER = 0.5
"""A measure that passes 1 is better where this share of its distance from 1, or less, is left."""


def person_season(name: str, lines: Sequence[RunLine], measures: Sequence[SeasonMeasure] = MEASURES) -> PersonSeason:
    """Return one person's season.

    Parameters
    ----------
    name : str
    lines : sequence of RunLine
        That person's runs, in any order.
    measures : sequence of SeasonMeasure

    Notes
    -----
    Many measures are looked at together, and of twenty without change two would pass a 90 % test. A trend is called
    clear where it holds among all measures of the person that have enough runs (Holm's procedure, 5 % for any of
    them, two-sided); a hint where it holds for itself only. That is for one person: a table of ten people without
    change shows a clear trend by chance in up to 40 % of tables.
    """
    ordered = sorted(lines, key=lambda line: (line.time_zero, line.drill, line.run))
    days = practice_days(ordered)
    dates = tuple(ordered[days.index(day)].time_zero[:10] for day in range(1, max(days, default=0) + 1))
    trends = [_trend(m, _points(m.key, ordered, days, dates)) for m in measures]
    return PersonSeason(name, len(ordered), dates, tuple(_told(t) for t in _together(trends)), cause_costs(ordered))


def practice_days(lines: Sequence[RunLine]) -> list[int]:
    """Return the number of the day of practice, from 1, of each of the lines, which are in order of time."""
    times = [dt.datetime.fromisoformat(line.time_zero) for line in lines]
    days = [1] if times else []
    for before, after in pairwise(times):
        days.append(days[-1] + (after - before >= NEW_DAY_AFTER))
    return days


def _points(key: str, lines: Sequence[RunLine], days: Sequence[int], dates: Sequence[str]) -> tuple[SeasonPoint, ...]:
    points = []
    for line, day in zip(lines, days, strict=True):
        figure = dict(line.measures).get(key)
        if isinstance(figure, Figure):
            points.append(SeasonPoint(day, dates[day - 1], line.drill, line.run, figure))
    return tuple(points)


def _trend(measure: SeasonMeasure, points: tuple[SeasonPoint, ...]) -> Trend:
    """Return a measure's trend as it is by itself."""
    best = personal_best(measure, points)
    days, medians = day_medians(points)
    if len(points) < LEAST_RUNS or len(days) < LEAST_DAYS:
        return Trend(measure, points, TOO_FEW, best=best)
    line = line_through(days, medians)
    ends = ((float(days[0]), _on(line, days[0])), (float(days[-1]), _on(line, days[-1])))
    slope = Figure(line.slope, line.low, line.high, f"{measure.unit}/day")
    sure = line.chance <= CHANCE and line.low * line.high > 0.0
    way = _way(measure, ends[0][1], ends[1][1]) if sure else ""
    return Trend(measure, points, HINT if sure else NONE, way, slope, ends, line.chance if sure else 1.0, best=best)


def day_medians(points: Sequence[SeasonPoint]) -> tuple[FloatArray, FloatArray]:
    """Return the days (n,) that have points, and the median (n,) of each day."""
    days = sorted({p.day for p in points})
    medians = [np.median([p.figure.value for p in points if p.day == day]) for day in days]
    return np.array(days, dtype=float), np.array(medians, dtype=float)


def _on(line: Line, day: float) -> float:
    return float(line.at_zero + line.slope * day)


def _way(measure: SeasonMeasure, first: float, last: float) -> str:
    if measure.better == ZONE:
        before, after = abs(first - 1.0), abs(last - 1.0)
        passes = (first - 1.0) * (last - 1.0) < 0.0
        if passes and after > WELL_NEARER * before:
            return OTHER
        return BETTER if after < before else WORSE
    return BETTER if (last < first) == (measure.better == LESS) else WORSE


def _together(trends: Sequence[Trend]) -> list[Trend]:
    """Return the trends with those called clear that hold among all of them (Holm, Scand. J. Stat. 6 (1979) 65-70)."""
    asked = [t for t in trends if t.state != TOO_FEW]
    clear = set()
    for rank, trend in enumerate(sorted(asked, key=lambda t: t.chance)):
        if trend.state != HINT or trend.chance > CHANCE_AMONG_ALL / (len(asked) - rank):
            break
        clear.add(trend.measure.key)
    return [replace(t, state=CLEAR if t.measure.key in clear else t.state, compared=len(asked)) for t in trends]


def _told(trend: Trend) -> Trend:
    return replace(trend, sentence=sentence(trend))


def personal_best(measure: SeasonMeasure, points: Sequence[SeasonPoint]) -> PersonalBest | None:
    """Return the best run by a measure, and whether it is better than the next best beyond their uncertainty."""

    def distance(value: float) -> float:
        return -value if measure.better == MORE else abs(value - 1.0) if measure.better == ZONE else value

    ranked = sorted(points, key=lambda p: distance(p.figure.value))
    if not ranked:
        return None
    if len(ranked) == 1:
        return PersonalBest(ranked[0], clear=False)
    best, second = ranked[0].figure, ranked[1].figure
    doubt = math.hypot(*(max(f.value - f.low, f.high - f.value) for f in (best, second)))
    gain = distance(second.value) - distance(best.value)
    return PersonalBest(ranked[0], gain > doubt, ranked[1])


def cause_costs(lines: Sequence[RunLine]) -> tuple[CauseCost, ...]:
    """Return what each cause cost beyond the reference, most seconds first."""
    total = sum(seconds for line in lines for _, seconds in line.causes)
    costs = []
    for cause in {cause for line in lines for cause, _ in line.causes}:
        found = [seconds for line in lines for name, seconds in line.causes if name == cause]
        costs.append(CauseCost(cause, sum(found), len(found), sum(found) / total if total > 0.0 else 0.0))
    return tuple(sorted(costs, key=lambda c: (-c.seconds, c.cause)))
