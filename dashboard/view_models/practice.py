"""Probing, marking and digging in words: a table of what was noted, what would have shown the rest. No Dash."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.practice import (
    AFTER,
    AT_HIT,
    EARLY,
    NO_HIT,
    NO_HIT_BEFORE,
    SECOND_HIT,
    STRUCK_FIRST,
    TWICE,
    Aside,
    Strike,
    after_the_run,
    all_free_s,
    all_hit_s,
    asides_of,
    strikes_of,
)
from analyzer.model.recording import PROBE
from analyzer.model.result import RunResult
from dashboard.view_models.entries import RunEntry
from dashboard.wording import SPLITS, clock, counted

LEAST_OTHERS = 3
"""A median of fewer runs than this says little of a group; our choice, as of the phases."""
ROWS = (
    ("From start, or hit before", "since_s"),
    ("Settled to first probing", "first_probe_s"),
    ("Settled to the hit", "strike_s"),
    ("Probings, no hit", "probings"),
    ("For each probing", "per_probe_s"),
    ("Hit to marked", "marking_s"),
    ("Hit to digging", "dig_s"),
    ("Hit to airway free", "airway_s"),
    ("Start to airway free", "airway_at_s"),
)
"""Title and name of each figure of a strike, in the order of time."""
FROM_START = "From the start"
NTH = ("1st", "2nd", "3rd")
WHY_ASIDE = {
    AFTER: "is marked after the hit: not counted",
    EARLY: "is marked before the fine search: not counted",
    TWICE: "is marked twice: counted once",
    AT_HIT: "is marked with the hit: it is the strike itself",
    SECOND_HIT: "is a second hit: the first one counts",
    NO_HIT_BEFORE: "is marked before any hit: not counted",
}
ENDED_BY = {"marking_end": "Marking", "dig_begin": "Until digging began", "airway_free": "Until the airway was free"}
"""What lies between a moment after the run and the one before it."""


@dataclass(frozen=True, slots=True)
class PracticeTable:
    """`heads`: one a transmitter, in the order found. `rows`: title and a cell a transmitter: (figure, what stands
    under it). `untold`: titles of what no transmitter has, and why; `asides`: marks that are not counted."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    untold: tuple[tuple[str, str], ...]
    asides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of a run among its splits. `said`: what stands under it. `group`: the median of `others` runs, or None
    where fewer than three have it."""

    title: str
    seconds: float
    said: str
    group: float | None = None
    others: int = 0


@dataclass(frozen=True, slots=True)
class LaterRow:
    """A stretch after the end of the run. `transmitter`: its id, "" where it is not known."""

    title: str
    transmitter: str
    from_s: float
    to_s: float


def practice_table(result: RunResult) -> PracticeTable:
    """Return what is known of each transmitter from settling on its spot to the airway."""
    strikes = strikes_of(result)
    alone = len(strikes) == 1
    heads = tuple(_head(place, strike, alone=alone) for place, strike in enumerate(strikes))
    rows: list[tuple[str, tuple[tuple[str, str], ...]]] = []
    untold: dict[str, list[str]] = {}
    for title, key in ROWS:
        measured: list[Measured] = [getattr(strike, key) for strike in strikes]
        title = FROM_START if key == "since_s" and alone else title
        if any(isinstance(one, Figure) for one in measured):
            rows.append((title, tuple(_cell(one) for one in measured)))
        else:
            why = next((one.why for one in measured if isinstance(one, NotAssessable)), NO_HIT)
            if why != STRUCK_FIRST:
                untold.setdefault(why, []).append(title)
    reasons = tuple((", ".join(names), why) for why, names in untold.items())
    return PracticeTable(heads, tuple(rows), reasons, tuple(_aside(aside) for aside in asides_of(result)))


def told(result: RunResult) -> bool:
    """Return whether a run has more to tell than its phases do: several transmitters, or marks that bound no phase."""
    return bool(result.splits) or len(result.searches) > 1


def probing_words(strike: Strike) -> str:
    """Return how a transmitter was probed for, "3 probings before the hit, 6 s each"; "" without its marks."""
    if not isinstance(strike.probings, Figure):
        return ""
    count = round(strike.probings.value)
    if not count:
        return STRUCK_FIRST
    each = f", {strike.per_probe_s.value:.0f} s each" if isinstance(strike.per_probe_s, Figure) else ""
    return (
        f"{counted(count, 'probing')} before the hit{each}" if strike.hit_s is not None else counted(count, "probing")
    )


def moments(result: RunResult, others: Sequence[RunEntry] = ()) -> list[Moment]:
    """Return the moments that stand among the splits, each only where a mark shows it; `others`: of the same drill."""
    strikes = strikes_of(result)
    found = []
    if len(strikes) == 1:
        (one,) = strikes
        if isinstance(one.first_probe_s, Figure):
            words = probing_words(one)
            found.append(Moment("Settled to first probing", one.first_probe_s.value, words))
    freed, dug = all_free_s(result), any(split.mark == "dig_begin" for split in result.splits)
    hit = all_hit_s(result)
    last = "last " if len(strikes) > 1 else ""
    if hit is not None and (dug or freed is not None):
        digging = [one.dig_s.value for one in strikes if isinstance(one.dig_s, Figure)]
        said = f"digging began {clock(digging[-1])} later" if digging else ""
        found.append(Moment(f"Start to {last}hit", hit, said, *_median([entry.hit_s for entry in others])))
    if freed is not None:
        said = "" if hit is None else f"{clock(freed - hit)} after the {last}hit"
        found.append(Moment(f"Start to {last}airway", freed, said, *_median([entry.airway_s for entry in others])))
    return found


def later_rows(result: RunResult) -> list[LaterRow]:
    """Return what followed the end of the run, stretch by stretch, as far as marks show it."""
    return [
        LaterRow(ENDED_BY[split.mark], split.transmitter or "", begin, split.at_s)
        for split, begin in after_the_run(result)
    ]


def hit_to_airway(entry: RunEntry) -> str:
    """Return when the last transmitter of a run was hit and the last airway free; "" where no mark says it."""
    if entry.airway_s is None or entry.hit_s is None:
        return ""
    return f"Hit at {clock(entry.hit_s)}, airway free at {clock(entry.airway_s)}"


@dataclass(frozen=True, slots=True)
class ComparedPractice:
    """Runs side by side. `moments`: title, and a text a run; `order`: the same by the place in which they were found;
    "" where a run does not have it."""

    moments: tuple[tuple[str, tuple[str, ...]], ...]
    order: tuple[tuple[str, tuple[str, ...]], ...]


def compared_practice(results: Sequence[RunResult]) -> ComparedPractice:
    """Return what marks tell of runs beside their phases; rows that no run has are left out."""
    each = [strikes_of(result) for result in results]
    times = [
        ("Start to last hit", [_time(all_hit_s(result)) for result in results]),
        ("Start to last airway", [_time(all_free_s(result)) for result in results]),
        (
            "Probed, no hit",
            ["; ".join(_probed(s, alone=len(one) == 1) for s in one if probing_words(s)) for one in each],
        ),
    ]
    rows = [(title, tuple(cells)) for title, cells in times if any(cells)]
    later = any(title != "Start to last hit" for title, _ in rows)
    most = max((len(strikes) for strikes in each), default=0)
    order = [
        (_nth(place), tuple(_found(strikes[place]) if place < len(strikes) else "" for strikes in each))
        for place in range(most)
    ]
    return ComparedPractice(tuple(rows) if later else (), tuple(order) if most > 1 else ())


def _probed(strike: Strike, *, alone: bool) -> str:
    """Return how often a transmitter was probed for without a hit, short enough for a column of a table."""
    count = f"{strike.probings.value:.0f}" if isinstance(strike.probings, Figure) else "-"
    if not alone:
        return f"{strike.transmitter}: {count}"
    return f"{count}, {strike.per_probe_s.value:.0f} s each" if isinstance(strike.per_probe_s, Figure) else count


def _found(strike: Strike) -> str:
    if not isinstance(strike.since_s, Figure) or strike.hit_s is None:
        return f"{strike.transmitter}: no hit"
    marked = f", marked {clock(strike.marking_s.value)} later" if isinstance(strike.marking_s, Figure) else ""
    return f"{strike.transmitter}: {clock(strike.since_s.value)}{marked}"


def _time(seconds: float | None) -> str:
    return "" if seconds is None else clock(seconds)


def _nth(place: int) -> str:
    return NTH[place] if place < len(NTH) else f"{place + 1}th"


def noted(result: RunResult) -> list[tuple[str, str]]:
    """Return the marks that bound no phase in the order of time: what, and when; probings in a row stand together."""
    lines: list[tuple[str, str | None, list[str]]] = []
    for split in sorted(result.splits, key=lambda one: one.at_s):
        if split.mark == PROBE and lines and lines[-1][:2] == (PROBE, split.transmitter):
            lines[-1][2].append(clock(split.at_s))
            continue
        after = "" if split.since_hit_s is None else f", {clock(split.since_hit_s)} after the hit"
        lines.append((split.mark, split.transmitter, [f"{clock(split.at_s)}{after}"]))
    return [(SPLITS[mark], f"at {', '.join(times)}{_of(who)}") for mark, who, times in lines]


def _of(transmitter: str | None) -> str:
    return f", transmitter {transmitter}" if transmitter else ""


def _head(place: int, strike: Strike, *, alone: bool) -> str:
    if strike.hit_s is None:
        return f"{strike.transmitter}, no hit"
    nth = "" if alone else f"{_nth(place)}: "
    return f"{nth}{strike.transmitter}, hit at {clock(strike.hit_s)}"


def _cell(measured: Measured) -> tuple[str, str]:
    if isinstance(measured, NotAssessable):
        return ("-", measured.why if measured.why == STRUCK_FIRST else "")
    if measured.unit == "1":
        return (f"{measured.value:.0f}", "")
    low, high = clock(measured.low), clock(measured.high)
    return (clock(measured.value), "" if low == high else f"{low} to {high}")


def _aside(aside: Aside) -> str:
    what = SPLITS.get(aside.mark, "Probe hit")
    return f"{what} at {clock(aside.at_s)}{_of(aside.transmitter)} {WHY_ASIDE[aside.why]}."


def _median(times: Sequence[float | None]) -> tuple[float | None, int]:
    known = [seconds for seconds in times if seconds is not None]
    return statistics.median(known) if len(known) >= LEAST_OTHERS else None, len(known)
