"""What is said of a season: trends, bests, causes, of a person and of a group."""

import datetime as dt
from dataclasses import dataclass

from analyzer.model.figure import Figure

CLEAR, HINT, NONE, TOO_FEW = "clear", "hint", "none", "too_few"
"""How sure a trend is: clear on the whole page, likely on the whole page, not sure, not enough runs to tell."""
BETTER, WORSE = "better", "worse"
"""Which way a trend goes: nearer to what is good, or away from it."""


@dataclass(frozen=True, slots=True)
class Period:
    """The days of a season, from `first` to `last`, both included (UTC). `name`: "2025/26" of a winter, else its bounds
    in words."""

    first: dt.date
    last: dt.date
    name: str


@dataclass(frozen=True, slots=True)
class SeasonMeasure:
    """A measure that is followed over a season, from the table of measures. `better`: LESS, MORE or ZONE.

    `good`: from where to where, in its unit, it is as good as it needs to be. `falls`, `rises`: what it says of a
    person ("Turns back sooner") when the measure falls or rises. `head`, `narrow`: its column's head in a group's
    table, on the page and across a terminal; "" where that table leaves it out. `percent`: shown in per cent.
    `of`: what a measure without a unit is times or per cent of.
    """

    key: str
    name: str
    unit: str
    better: str
    falls: str
    rises: str
    good: tuple[float, float]
    head: str = ""
    narrow: str = ""
    percent: bool = False
    of: str = ""

    @property
    def shown_unit(self) -> str:
        """Return the unit that a value is shown with."""
        return "%" if self.percent else "times" if self.unit == "1" else self.unit

    def shown(self, value: float) -> float:
        """Return a value in the unit that it is shown with."""
        return 100.0 * value if self.percent else value

    def distance(self, value: float) -> float:
        """Return how far a value lies from what is good, in the measure's unit; 0 within it."""
        low, high = self.good
        return max(low - value, value - high, 0.0)


@dataclass(frozen=True, slots=True)
class SeasonPoint:
    """A measure in one run. `day`: number of the person's day of practice, from 1; `date`: of that day, ISO 8601."""

    day: int
    date: str
    drill: str
    run: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class Trend:
    """How one measure of a person went over a season.

    `state`: CLEAR, HINT, NONE or TOO_FEW. `way`: BETTER or WORSE, "" where there is no trend. `slope`: change of the
    measure per day of practice, None where there are too few runs. `line`: (day, value) of the first and the last day
    on the trend line. `nearer`, `farther`: how often chance alone brings as many pairs of days nearer to what is good,
    or farther from it; `could_be`: how often at least, whichever order these days had come in. `compared`: how many
    measures of the person were looked at together. `best`: the best run, None where there is none.
    """

    measure: SeasonMeasure
    points: tuple[SeasonPoint, ...]
    state: str
    way: str = ""
    slope: Figure | None = None
    line: tuple[tuple[float, float], ...] = ()
    nearer: float = 1.0
    farther: float = 1.0
    could_be: float = 1.0
    compared: int = 0
    best: "PersonalBest | None" = None
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class PersonalBest:
    """The best run by a measure. `clear`: better than the next best beyond the uncertainty of both (90 %)."""

    point: SeasonPoint
    clear: bool
    next_best: SeasonPoint | None = None


@dataclass(frozen=True, slots=True)
class CauseCost:
    """Seconds that a cause cost beyond the reference in all runs; `runs`: in how many; `share`: of all such seconds."""

    cause: str
    seconds: float
    runs: int
    share: float


@dataclass(frozen=True, slots=True)
class PersonSeason:
    """One person's season. `dates`: of the days of practice, in order. `causes`: most seconds first."""

    name: str
    runs: int
    dates: tuple[str, ...]
    trends: tuple[Trend, ...]
    causes: tuple[CauseCost, ...]


@dataclass(frozen=True, slots=True)
class GroupCell:
    """A person's standing by a measure: median of the last days, or of a whole season among several; and the trend.

    None: not assessable there.
    """

    latest: float | None
    trend: Trend


@dataclass(frozen=True, slots=True)
class GroupRow:
    """A person of the group, a cell per measure. `group`: "" where none is known. `period`: the season that the row is
    about, where a person has a row each."""

    name: str
    group: str
    runs: int
    days: int
    cells: tuple[GroupCell, ...]
    period: Period | None = None

    @property
    def changes(self) -> tuple[Trend, ...]:
        """The trends that are clear, then those that are likely."""
        return tuple(c.trend for state in (CLEAR, HINT) for c in self.cells if c.trend.state == state)

    @property
    def too_few(self) -> bool:
        """Whether there are too few days for any trend."""
        return all(c.trend.state == TOO_FEW for c in self.cells)


@dataclass(frozen=True, slots=True)
class GroupSeason:
    """A group's season, or all of its seasons: rows with clear changes first, then by name and season.

    `causes`: those that cost the group most, most first. `lost_s`: seconds beyond the reference in all its runs.
    `others`: how many people have not agreed to be named, and `unnamed`: runs that name nobody. Neither are in a row;
    their runs count in the causes.
    """

    runs: int
    days: int
    measures: tuple[SeasonMeasure, ...]
    rows: tuple[GroupRow, ...]
    causes: tuple[CauseCost, ...]
    lost_s: float
    others: int = 0
    unnamed: int = 0
