"""One run reduced to the line that a season is made of.

What a drill makes hard (long lines, deep burials, several transmitters) is divided by what its reference searcher
needs, so that drills compare. Of the searches of a run, times and metres are added up, other figures averaged.

How long the signal search takes is luck, even of good strips: what counts of it is the share that its account finds
avoidable, and the time over the reference searcher's counts from the signal on.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyzer.engine.ideal.result_timing import reference_s
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.account import NOBODYS_CAUSES, AccountRow, Search
from analyzer.model.drill import Slope
from analyzer.model.figure import Figure, Measured, NotAssessable, exact, mean, reason, share, spread, total, usable
from analyzer.model.measures import FOLLOWED, RUN, Measure
from analyzer.model.pace import pace_at
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL
from analyzer.model.result import Phase, RunResult
from analyzer.model.run_line import RunLine

LEAST_REFERENCE_S = 5.0
"""A shorter reference makes a share of it mean nothing: a search that began on top of the transmitter."""
NO_REFERENCE = "there is no reference searcher's time for it"
OF_A_TEAM = "several searchers looked for the same burials, and this one did not end every search"
NOT_ALL_FOUND = "not all transmitters were found"
NOT_KNOWN_WHAT = "the evidence does not show what the time went into"
REFERENCE = "reference"
UNKNOWN_CAUSES = ("not_told_apart", "not_assessed")
"""Rows of the account that hide what a phase's seconds went into."""
FOLLOWED_CAUSES = (
    ("wrong_way", COARSE),
    ("detour", COARSE),
    ("standing", COARSE),
    ("extra_lines", FINE),
    ("off_lowest", PINPOINT),
    ("long_probing", PINPOINT),
)
"""Causes of the account that are followed over a season, each in the phase it belongs to. The signal search is followed
as a whole, and the pace as what it is at two ranges: slower is not by itself worse."""


@dataclass(frozen=True, slots=True)
class _Timed:
    """A phase of one search: seconds spent, seconds of the reference searcher, why there is none."""

    phase: str
    spent: Measured
    reference: Measured


def run_line(result: RunResult, drill: str, run: str) -> RunLine:
    """Return the season's line of a run.

    Parameters
    ----------
    result : RunResult
    drill, run : str
        Names of the drill folder and of the run's folder.
    """
    timed = [_timed(result, phase) for phase in result.phases]
    measures: dict[str, Measured] = {"time_ratio": _whole(result, timed), "signal_lost_share": _signal_lost(result)}
    for key, phase in (("coarse", COARSE), ("fine", FINE), ("pinpoint", PINPOINT)):
        measures[f"{key}_ratio"] = _ratio([t for t in timed if t.phase == phase], phase)
    measures |= _turned(result)
    measures |= _paces(result)
    measures |= {f"{cause}_lost_share": _lost_to(result, cause, phase) for cause, phase in FOLLOWED_CAUSES}
    measures["score"] = dict(result.scores.by_phase).get("overall", NotAssessable("the run has no score"))
    return RunLine(
        searcher=result.searcher,
        drill=drill,
        run=run,
        time_zero=result.time_zero.isoformat().replace("+00:00", "Z"),
        duration_s=result.duration_s,
        reference_s=_reference_total(result, timed),
        measures=tuple((m.key, _in_the_run(result, m, measures)) for m, _ in FOLLOWED),
        causes=tuple(_causes(result).items()),
    )


def _timed(result: RunResult, phase: Phase) -> _Timed:
    """Return a phase in time. Bounds that are not known make its time not assessable, and so does an early end."""
    search = next((s for s in result.searches if s.transmitter == phase.transmitter), None)
    spent = _not_ended(phase.phase) if _is_unfinished(result, phase) else _spent(phase, search)
    return _Timed(phase.phase, spent, _reference(result, phase, search))


def _is_unfinished(result: RunResult, phase: Phase) -> bool:
    """Return whether a phase is the last one of the search for a transmitter that was not found: the earlier a
    recording ends in it, the less of it there is."""
    missing = any(s.transmitter == phase.transmitter and not s.found for s in result.searches)
    return missing and phase == [p for p in result.phases if p.transmitter == phase.transmitter][-1]


def _not_ended(phase: str) -> NotAssessable:
    return NotAssessable(f"the recording does not show where the {phase.replace('_', ' ')} ended")


def _spent(phase: Phase, search: Search | None) -> Measured:
    group = {FINE: "fine", PINPOINT: "pinpoint"}.get(phase.phase)
    figure = search.figure(group, "duration_s") if search is not None and group else None
    if figure is not None:
        return figure
    if phase.start_sigma_s is None or phase.end_sigma_s is None:
        return NotAssessable("when this phase began or ended is not known")
    return spread(phase.end_s - phase.start_s, float(np.hypot(phase.start_sigma_s, phase.end_sigma_s)), "s")


def _reference(result: RunResult, phase: Phase, search: Search | None) -> Measured:
    """Return the reference searcher's seconds; in the coarse search as uncertain as the length of its line."""
    if phase.phase == SIGNAL:
        return NotAssessable(NO_REFERENCE)
    seconds = reference_s(result, phase, SlopePlane(Slope(*result.slope)))
    if seconds is None:
        return NotAssessable(NO_REFERENCE)
    line = search.figure("coarse", "field_line_m") if search is not None and phase.phase == COARSE else None
    if isinstance(line, Figure) and line.value > 0.0:
        return Figure(seconds, seconds * line.low / line.value, seconds * line.high / line.value, "s")
    return exact(seconds, "s")


def _ratio(timed: list[_Timed], phase: str) -> Measured:
    pairs = [(t.spent, t.reference) for t in timed]
    both = [(s, r) for s, r in pairs if isinstance(s, Figure) and isinstance(r, Figure)]
    if not both:
        name = phase.replace("_", " ")
        return reason([f for pair in pairs for f in pair], f"no {name} in this run")
    spent, reference = total([s for s, _ in both]), total([r for _, r in both])
    if reference.value < LEAST_REFERENCE_S:
        return NotAssessable(f"the reference searcher needs {reference.value:.0f} s only: too little to compare with")
    return share(spent, reference)


def _whole(result: RunResult, timed: list[_Timed]) -> Measured:
    """Return the time from the signal on over the reference searcher's, where all was found."""
    if not all(s.found for s in result.searches):
        return NotAssessable(OF_A_TEAM if result.team else NOT_ALL_FOUND)
    counted = [t for t in timed if t.phase != SIGNAL]
    figures = [f for t in counted for f in (t.spent, t.reference)]
    if len(usable(figures)) < len(figures):
        return reason(figures, NO_REFERENCE)
    return _ratio(counted, "search")


def _signal_lost(result: RunResult) -> Measured:
    """Return the share of the signal search that the account finds avoidable."""
    phases = [p for p in result.phases if p.phase == SIGNAL]
    if any(_is_unfinished(result, p) for p in phases):
        return _not_ended(SIGNAL)
    spent = [_spent(p, None) for p in phases]
    if not phases or len(usable(spent)) < len(spent):
        return reason(spent, "no signal search in this run")
    whole = total(usable(spent))
    if whole.value < LEAST_REFERENCE_S:
        return NotAssessable("the signal was there almost at once")
    lost = [row.seconds for row in _losses(result) if row.phase == SIGNAL]
    return share(total(lost) if lost else exact(0.0, "s"), whole)


def _reference_total(result: RunResult, timed: list[_Timed]) -> float:
    """Return the reference searcher's seconds; in signal search and pinpoint, which no line gives, the account's."""
    seconds = 0.0
    for phase, one in zip(result.phases, timed, strict=True):
        if isinstance(one.reference, Figure) and phase.phase != PINPOINT:
            seconds += one.reference.value
        else:
            seconds += sum(
                row.seconds.value
                for row in result.account
                if row.cause == REFERENCE and (row.phase, row.transmitter) == (phase.phase, phase.transmitter)
            )
    return seconds


def _lost_to(result: RunResult, cause: str, phase: str) -> Measured:
    """Return the seconds that the account finds lost to a cause in a phase, over the reference searcher's seconds from
    the signal on."""
    joined = phase == COARSE  # with the signal search, where the border of the two is not known
    rows = [r for r in result.account if r.phase == phase or (joined and r.cause == "not_assessed")]
    if not rows:
        return NotAssessable(f"no {phase.replace('_', ' ')} in this run")
    if any(p.phase == phase and _is_unfinished(result, p) for p in result.phases):
        return _not_ended(phase)
    if any(row.cause in UNKNOWN_CAUSES for row in rows):
        return NotAssessable(NOT_KNOWN_WHAT)
    reference = [r.seconds for r in result.account if r.cause == REFERENCE and r.phase != SIGNAL]
    if not reference or total(reference).value < LEAST_REFERENCE_S:
        return NotAssessable(NO_REFERENCE)
    lost = [row.seconds for row in _losses(result) if (row.phase, row.cause) == (phase, cause)]
    return share(total(lost), exact(total(reference).value, "s")) if lost else exact(0.0, "1")


def _turned(result: RunResult) -> dict[str, Measured]:
    """Return how long it took to act on rising readings, the longest of the run."""
    turned = [s.figure("coarse", "turnaround_s") for s in result.searches]
    longest = max(usable(turned), key=lambda f: f.value, default=None)
    return {"turnaround_s": reason(turned, "no wrong way to turn round from") if longest is None else longest}


def _paces(result: RunResult) -> dict[str, Measured]:
    """Return the paces at a range over the rule sheet's there."""
    measures: dict[str, Measured] = {}
    for range_m in (10.0, 3.0):
        name = f"{range_m:.0f}_m"
        pace = _reference_pace(result, range_m)
        figure = _average(result, "coarse", f"speed_at_{name}")
        if isinstance(figure, Figure):
            figure = NotAssessable(NO_REFERENCE) if pace is None else share(figure, exact(pace, "m/s"))
        measures[f"pace_at_{name}"] = figure
    return measures


def _in_the_run(result: RunResult, measure: Measure, made: Mapping[str, Measured]) -> Measured:
    """Return what a run has of a followed measure: as it was `made` for the run, else averaged over its searches.

    A measure of RUN is not averaged: without something that makes it, it is a KeyError here.
    """
    if measure.phase == RUN or measure.key in made:
        return made[measure.key]
    return _average(result, measure.group, measure.key)


def _average(result: RunResult, group: str, key: str) -> Measured:
    found = [s.figure(group, key) for s in result.searches]
    figures = usable(found)
    return mean(figures) if figures else reason(found, "this run gives no figure for it")


def _reference_pace(result: RunResult, range_m: float) -> float | None:
    if not result.rules.pace:
        return None
    pace = float(pace_at(result.rules, range_m))
    return pace if pace > 0.0 else None


def _losses(result: RunResult) -> list[AccountRow]:
    """Return the rows of the account that cost time and that the evidence gives to a cause."""
    none = (REFERENCE, *NOBODYS_CAUSES)
    return [row for row in result.account if row.seconds.value > 0.0 and row.cause not in none]


def _causes(result: RunResult) -> Mapping[str, float]:
    """Return the seconds that each cause cost against the reference searcher, most first; what was saved elsewhere
    is not set against it."""
    seconds: dict[str, float] = {}
    for row in _losses(result):
        seconds[row.cause] = seconds.get(row.cause, 0.0) + row.seconds.value
    return dict(sorted(seconds.items(), key=lambda pair: (-pair[1], pair[0])))
