"""How good the evidence of a run is, and what has to be said of it before anything is judged."""

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.timed_path import place_at
from analyzer.model.arrays import FloatArray
from analyzer.model.clock import clock
from analyzer.model.figure import Figure, Measured, NotAssessable, figure_around
from analyzer.model.path import USABLE_WEIGHT, Evidence, FixUse, FusedPath, ReadingDoubt
from analyzer.model.phases import COARSE, FINE, PhaseSpan
from analyzer.model.recording import Mark

MOST_DOUBTS_TOLD = 3  # stretches in the sentence at the top; all stand with the evidence
FAR_AT_MOST = 0.05  # share of far fixes that is not worth a word: our choice
ASIDE_AT_MOST = 0.2  # share of readings set aside that is not worth a word: our choice
MOST_FAR, MOST_WITHOUT_WEIGHT, MOST_ASIDE = 0.6, 0.3, 0.4
"""Shares of fixes and readings that may give way in a run that is judged. Simulated runs have none over 0.01; ours."""
FAR_HIT_M = 5.0  # a probe is as long as half of that, and held at arm's length: our choice
NOT_TOGETHER = (
    "Track, readings, marks and drill do not fit together, so nothing is said of this run. Check that the log is of "
    "this run, the hit mark at its time, and the transmitter where the drill says."
)


def spread_figure(draws: FloatArray, unit: str) -> Figure:
    """Return a figure from (S,) draws: row 0 the value, 5 and 95 % of the others its interval."""
    return figure_around(float(draws[0]), draws[1:], unit)


def evidence_of(fused: FusedPath, spans: Sequence[PhaseSpan], marks: Sequence[Mark] = ()) -> Evidence:
    """Return the evidence panel of a run."""
    tier = ("survey" if fused.survey_grade else "track") + ("+readings" if fused.readings is not None else "")
    no_log = NotAssessable("the run has no reading log, or none of its readings fits the track")
    heard = fused.readings is not None
    return Evidence(
        tier=tier,
        position_sigma_coarse_m=_sigma_in(fused, spans, COARSE),
        position_sigma_fine_m=_sigma_in(fused, spans, FINE),
        clock_offset_s=spread_figure(fused.draws.clock_offset_s, "s") if heard else no_log,
        reading_scale=spread_figure(fused.draws.reading_scale, "1") if heard else no_log,
        axis_source=fused.axis_source,
        notes=notes_of(fused, marks),
        doubts=fused.doubts,
    )


def notes_of(fused: FusedPath, marks: Sequence[Mark] = ()) -> tuple[str, ...]:
    """Return what a reader has to know of fixes and readings before the run is judged."""
    if not fits_together(fused, marks):
        return (NOT_TOGETHER,)
    return (*notes_on_fixes(fused.fixes), *notes_on_readings(*_readings_aside(fused)), *notes_on_doubts(fused.doubts))


def notes_on_fixes(fixes: FixUse) -> tuple[str, ...]:
    """Return a sentence where many fixes lie far from the path."""
    if fixes.far <= FAR_AT_MOST * fixes.count:
        return ()
    return (
        f"{fixes.far} of {fixes.count} fixes lie far from the path that the others tell: the recorder lost its place "
        "at times; look at the plan before you judge.",
    )


def notes_on_readings(aside: int, count: int) -> tuple[str, ...]:
    """Return a sentence where many readings of a log had no weight."""
    if aside <= ASIDE_AT_MOST * count:
        return ()
    return (
        f"{aside} of {count} readings do not fit the track and are set aside: is it the log of this run, and are its "
        "times those of the run?",
    )


def notes_on_doubts(doubts: Sequence[ReadingDoubt]) -> tuple[str, ...]:
    """Return a sentence where stretches of a log fit no place on the path."""
    if not doubts:
        return ()
    when = ", ".join(f"{clock(d.start_s)} to {clock(d.end_s)}" for d in doubts[:MOST_DOUBTS_TOLD])
    more = ", and more" if len(doubts) > MOST_DOUBTS_TOLD else ""
    count = sum(d.count for d in doubts)
    told = f"{count} readings fit no place on the path and are set aside ({when}{more})"
    return (f"{told}: what may be behind it stands below Evidence.",)


def fits_together(fused: FusedPath, marks: Sequence[Mark] = ()) -> bool:
    """Return whether track, readings, marks and drill agree so far that something can be said of the run.

    Where most fixes, or a large part of the fixes or the readings, had to give way, or a hit is marked where nobody was
    near, one of the files is wrong, and nobody knows which.
    """
    fixes, (aside, count) = fused.fixes, _readings_aside(fused)
    return (
        fixes.far <= MOST_FAR * fixes.count
        and len(fixes.without_weight_s) <= MOST_WITHOUT_WEIGHT * fixes.count
        and aside <= MOST_ASIDE * count
        and all(away <= FAR_HIT_M for away in _hits_away_m(fused, marks))
    )


def _hits_away_m(fused: FusedPath, marks: Sequence[Mark]) -> list[float]:
    """Return how far the path is from a transmitter when its hit is marked, for the hits within the track."""
    ids, out = fused.transmitter_ids, []
    for mark in marks:
        named = mark.transmitter if len(ids) > 1 else (mark.transmitter or ids[0])
        recorded = fused.time_s[0] <= mark.time_s <= fused.time_s[-1]
        if mark.mark == "probe_hit" and named in ids and recorded:
            at = place_at(fused.time_s, fused.draws.path_m[0], np.array([mark.time_s]))[0]
            out.append(float(np.linalg.norm(at - fused.draws.transmitter_m[0, ids.index(named)])))
    return out


def _readings_aside(fused: FusedPath) -> tuple[int, int]:
    """Return how many of the readings within the track had no weight, and of how many; (0, 0) of a log not used."""
    if fused.readings is None:
        return 0, 0
    inside = (fused.readings.time_s >= fused.time_s[0]) & (fused.readings.time_s <= fused.time_s[-1])
    aside = inside & (fused.readings.weight <= USABLE_WEIGHT)
    return int(np.count_nonzero(aside)), int(np.count_nonzero(inside))


def _sigma_in(fused: FusedPath, spans: Sequence[PhaseSpan], phase: str) -> Measured:
    """Return the rms one-axis standard deviation in a phase; its interval: of the rms error there, in the draws."""
    inside = np.zeros(fused.time_s.size, bool)
    for span in spans:
        if span.phase == phase:
            inside |= (fused.time_s >= span.start_s) & (fused.time_s <= span.end_s)
    if not np.any(inside):
        return NotAssessable(f"no {phase.replace('_', ' ')} in this run")
    sigma = fused.sigma_m[inside]
    path = fused.draws.path_m[:, inside]
    errors = np.sqrt(np.mean((path[1:] - path[0]) ** 2, axis=(1, 2)))
    return figure_around(float(np.sqrt(np.mean(sigma**2))), errors, "m")
