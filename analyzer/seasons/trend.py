"""A person's season: days of practice, trends of all measures, personal bests, what cost the seconds.

A trend is taken over days of practice, not over calendar days or runs: people learn by practising and not by waiting,
so a break between two days is one step; and runs of one day share snow, drill and form, so each day counts once, with
the median of its runs. A new day begins after six hours without a run, which needs no time zone.

What gets better or worse is a measure's distance from what is good (`model/measures.py`), not the measure: nobody gets
better by undercutting the reference searcher, or worse by slowing down to the right pace.
"""

import datetime as dt
import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure
from analyzer.model.measures import LESS, MORE
from analyzer.model.run_line import RunLine
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import (
    BETTER,
    CLEAR,
    HINT,
    NONE,
    TOO_FEW,
    WORSE,
    CauseCost,
    PersonalBest,
    PersonSeason,
    SeasonMeasure,
    SeasonPoint,
    Trend,
)
from analyzer.seasons.theil_sen import Line, chance_of_rising, line_through
from analyzer.seasons.words import sentence

LEAST_DAYS = 6
"""Five days in a row going one way happen by chance too often to be told among twenty measures, whatever they show."""
NEW_DAY_AFTER = dt.timedelta(hours=6)
CLEARLY_BETTER, CLEARLY_WORSE, PERHAPS_BETTER = 0.04, 0.01, 0.2
"""How often a person who does not change may be told so of any measure. Our choice: in one of twenty cases something is
called clear, and in one of a hundred it is called worse; nobody is told that they are perhaps worse."""


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
    Many measures are looked at together. A trend is called clear, or likely ("perhaps"), where it holds among all
    measures of the person (`_together`). That is for one person: a table of ten people without change shows a clear
    trend by chance in up to 40 % of tables.
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
    if len(days) < LEAST_DAYS:
        return Trend(measure, points, TOO_FEW, best=best)
    line = line_through(days, medians)
    ends = ((float(days[0]), _on(line, days[0])), (float(days[-1]), _on(line, days[-1])))
    slope = Figure(line.slope, line.low, line.high, f"{measure.unit}/day")
    _, distances = day_medians(points, of=measure.distance)
    return Trend(
        measure,
        points,
        NONE,
        slope=slope,
        line=ends,
        nearer=chance_of_rising(-distances),
        farther=chance_of_rising(distances),
        could_be=chance_of_rising(np.sort(distances)),
        best=best,
    )


def day_medians(
    points: Sequence[SeasonPoint], *, of: Callable[[float], float] = float
) -> tuple[FloatArray, FloatArray]:
    """Return the days (n,) that have points, and each day's median (n,) of their values, or `of` their values."""
    by_day: dict[int, list[float]] = {}
    for point in sorted(points, key=lambda p: p.day):
        by_day.setdefault(point.day, []).append(of(point.figure.value))
    medians = [statistics.median(values) for values in by_day.values()]
    return np.array(list(by_day), dtype=float), np.array(medians, dtype=float)


def _on(line: Line, day: float) -> float:
    return float(line.at_zero + line.slope * day)


def _together(trends: Sequence[Trend]) -> list[Trend]:
    """Return the trends with what holds among all of them."""
    asked = [t for t in trends if t.state != TOO_FEW]
    better, compared = _among_all({t.measure.key: (t.nearer, t.could_be) for t in asked}, CLEARLY_BETTER)
    worse, _ = _among_all({t.measure.key: (t.farther, t.could_be) for t in asked}, CLEARLY_WORSE)
    likely, _ = _among_all({t.measure.key: (t.nearer, t.could_be) for t in asked}, PERHAPS_BETTER)

    def judged(trend: Trend) -> Trend:
        key = trend.measure.key
        state = CLEAR if key in better | worse else HINT if key in likely else trend.state
        way = WORSE if key in worse else BETTER if key in better | likely else ""
        return replace(trend, state=state, way=way, compared=compared)

    return [judged(trend) for trend in trends]


def _among_all(chances: Mapping[str, tuple[float, float]], level: float) -> tuple[set[str], int]:
    """Return which of several tests hold, any of them by chance in at most `level` of cases, and how many counted.

    Holm's procedure, which asks nothing of how the tests hang together, over those that count after Tarone: what could
    not hold whatever order the days had come in (hardly ever another value, say) cannot mislead either.

    Holm, S., Scand. J. Stat. 6 (1979) 65-70. Tarone, R. E., Biometrics 46 (1990) 515-522.

    Parameters
    ----------
    chances : mapping
        Name -> probability by chance, and the least one that was possible.
    level : float
    """
    counted = next(
        k for k in range(1, len(chances) + 2) if sum(least <= level / k for _, least in chances.values()) <= k
    )
    family = {name: chance for name, (chance, least) in chances.items() if least <= level / counted}
    holds = set()
    for rank, (name, chance) in enumerate(sorted(family.items(), key=lambda pair: pair[1])):
        if chance > level / (counted - rank):
            break
        holds.add(name)
    return holds, len(family)


def _told(trend: Trend) -> Trend:
    return replace(trend, sentence=sentence(trend))


def personal_best(measure: SeasonMeasure, points: Sequence[SeasonPoint]) -> PersonalBest | None:
    """Return the best run by a measure, and whether it is better than the next best beyond their uncertainty.

    Of runs that are as good as they need to be, the best is the one with most of what is better, and no more than that.
    """

    def order(point: SeasonPoint) -> tuple[float, float]:
        value = point.figure.value
        further = {MORE: -value, LESS: value}.get(measure.better, abs(value - sum(measure.good) / 2.0))
        return measure.distance(value), further

    ranked = sorted(points, key=order)
    if not ranked:
        return None
    if len(ranked) == 1:
        return PersonalBest(ranked[0], clear=False)
    best, second = ranked[0].figure, ranked[1].figure
    doubt = math.hypot(*(max(f.value - f.low, f.high - f.value) for f in (best, second)))
    gain = measure.distance(second.value) - measure.distance(best.value)
    return PersonalBest(ranked[0], gain > doubt, ranked[1])


def cause_costs(lines: Sequence[RunLine]) -> tuple[CauseCost, ...]:
    """Return what each cause cost beyond the reference, most seconds first."""
    total = sum(seconds for line in lines for _, seconds in line.causes)
    costs = []
    for cause in {cause for line in lines for cause, _ in line.causes}:
        found = [seconds for line in lines for name, seconds in line.causes if name == cause]
        costs.append(CauseCost(cause, sum(found), len(found), sum(found) / total if total > 0.0 else 0.0))
    return tuple(sorted(costs, key=lambda c: (-c.seconds, c.cause)))
