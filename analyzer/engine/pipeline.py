"""Joins the stages in order: recordings -> fused path -> phases -> ideal -> measures -> account -> result.

Pure: no files, no clock. The only module that sees more than one stage.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from analyzer.engine.evidence import evidence_of, fits_together
from analyzer.engine.fusion.fuse import fuse_drill
from analyzer.engine.fusion.start import FusionSettings
from analyzer.engine.ideal.bracket import bracket_ideal, lowest_draws
from analyzer.engine.ideal.coarse import coarse_ideal_of, positions_at
from analyzer.engine.ideal.reference import reference_times
from analyzer.engine.ideal.strips import coverage, fewest_zigzags, ideal_strips, length_to_range, mean_length_to_range
from analyzer.engine.measures.searches import Ground, measure_searches
from analyzer.engine.phases.split import run_end_s, split_run
from analyzer.engine.result import result_of, shared_fit
from analyzer.engine.verdict.account import account
from analyzer.engine.verdict.findings import remarks
from analyzer.errors import AnalyzerError, EstimationError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.account import MeasuredSearch
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.path import FusedPath
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.recording import Mark, Recording, off_the_record, on_track_clock
from analyzer.model.reference_solution import ReferenceSolution
from analyzer.model.result import PlanLine, RunResult
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS, SEED

SEVERAL = "several searchers shared the area: who had to search what is not known"
COVERAGE_ROWS = 5  # draws in which the covered area is counted; it changes little between draws


def analyze_drill(
    drill: Drill,
    recordings: Sequence[Recording],
    rules: Rules,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    told: Callable[[str], None] | None = None,
) -> list[RunResult | AnalyzerError]:
    """Return the result of every run of a drill, or the error that kept a run out.

    The runs are fitted together: they share the transmitters' places and antenna axes.

    Parameters
    ----------
    drill : Drill
    recordings : sequence of Recording
    rules : Rules
    draws : int
        Posterior samples for the intervals; 0 gives figures without intervals.
    seed : int
        Of the samples; the same seed gives the same result.
    told : callable, optional
        Called with the id of each run whose path is fitted, before it is measured.
    """
    fused = fuse_runs(drill, recordings, fine_radius_m=rules.fine_radius_m, draws=draws, seed=seed)
    return analyze_paths(fused, drill, recordings, rules, told=told)


def fuse_runs(
    drill: Drill, recordings: Sequence[Recording], *, fine_radius_m: float, draws: int = DRAWS, seed: int = SEED
) -> list[FusedPath | AnalyzerError]:
    """Return the fused path of every run of a drill: of a rule sheet, only its radius has a part in it."""
    settings = FusionSettings(fine_radius_m=fine_radius_m, draws=draws, seed=seed)
    return fuse_drill(list(recordings), drill, SlopePlane(drill.slope), settings)


def analyze_paths(
    paths: Sequence[FusedPath | AnalyzerError],
    drill: Drill,
    recordings: Sequence[Recording],
    rules: Rules,
    *,
    told: Callable[[str], None] | None = None,
) -> list[RunResult | AnalyzerError]:
    """Return the result of every run from its fused path, in order; an error stays where it is.

    `rules` has the radius that the paths were fused with. `told`: as for `analyze_drill`.
    """
    plane = SlopePlane(drill.slope)
    fitted = [(r, path) for r, path in zip(recordings, paths, strict=True) if isinstance(path, FusedPath)]
    shared = shared_fit(drill, fitted)
    out: list[RunResult | AnalyzerError] = []
    for recording, fused in zip(recordings, paths, strict=True):
        if told is not None:
            told(recording.run_id)
        if isinstance(fused, AnalyzerError):
            out.append(fused)
            continue
        # A log that does not fit the track tells no clock offset: its marks are not used then.
        offset_s = None if fused.readings is None else float(fused.draws.clock_offset_s[0])
        timed = on_track_clock(recording, offset_s)
        timed = ended_with_own_hit(timed) if drill.team else timed
        own = with_receiver(drill, recording.info.receiver)
        try:
            out.append(replace(analyze_fused(fused, timed, own, plane, rules), shared=shared, team=drill.team))
        except AnalyzerError as error:
            out.append(error)
    return out


def with_receiver(drill: Drill, name: str) -> Drill:
    """Return the drill for a run with a receiver: its strip width, where the receiver's range check gave one."""
    receiver = drill.receiver(name)
    if receiver is None or receiver.strip_width_m is None:
        return drill
    return replace(drill, strip_width_m=receiver.strip_width_m)


def ended_with_own_hit(recording: Recording) -> Recording:
    """Return the run of one of several searchers: without a finish mark it ends with its own last hit.

    What a searcher does after it, while others still search, is told by nothing: digging, helping, searching on.
    """
    hits = [mark.time_s for mark in recording.marks if mark.mark == "probe_hit"]
    if not hits or any(mark.mark == "finish" for mark in recording.marks):
        return recording
    return replace(recording, marks=(*recording.marks, Mark(max(hits), "finish")))


def analyze_fused(
    fused: FusedPath,
    recording: Recording,
    drill: Drill,
    plane: SlopePlane,
    rules: Rules,
    *,
    spans: tuple[PhaseSpan, ...] | None = None,
) -> RunResult:
    """Return the result of one run from its fused path; `spans`: its phases, where they are known without it."""
    if spans is None:
        spans = split_run(fused, recording.marks, fine_radius_m=rules.fine_radius_m, guess_m=0.5 * drill.strip_width_m)
    end_s = run_end_s(fused, recording.marks)
    if not spans:
        raise EstimationError(
            where=f"{recording.run_id}, marks.csv",
            what=f"the run ends at {end_s:.1f} s, not after its first fix at {fused.time_s[0]:.1f} s",
            do="check the times of the probe_hit and finish marks against the track",
        )
    searches, lines = _measured(fused, recording, drill, plane, rules, spans)
    path_m, told = fused.draws.path_m[0], fits_together(fused, recording.marks)
    verdict = account(
        fused.time_s, path_m, spans, searches, rules, duration_s=end_s, fits_together=told, team=drill.team
    )
    return result_of(
        fused,
        recording,
        drill,
        plane,
        rules,
        spans=spans,
        searches=searches,
        verdict=verdict,
        lines=lines,
        evidence=replace(evidence_of(fused, spans, recording.marks), not_read=recording.not_read),
        duration_s=end_s,
    )


def kinds_that_hold(
    fused: FusedPath,
    recording: Recording,
    drill: Drill,
    plane: SlopePlane,
    rules: Rules,
    *,
    spans: tuple[PhaseSpan, ...],
) -> frozenset[str]:
    """Return the kinds of remarks whose limit holds on a path of one draw, large enough to be told or not."""
    searches, _ = _measured(fused, recording, drill, plane, rules, spans)
    found = remarks(searches, spans, rules)
    return frozenset(r.finding.id.split(":")[0] for r in found if r.finding.probability > 0.5)


def _measured(
    fused: FusedPath, recording: Recording, drill: Drill, plane: SlopePlane, rules: Rules, spans: tuple[PhaseSpan, ...]
) -> tuple[tuple[MeasuredSearch, ...], tuple[PlanLine, ...]]:
    """Return the measures of every search, and the lines of the plan."""
    solutions, lines = {}, []
    for name in dict.fromkeys(s.transmitter for s in spans if s.transmitter):
        own = {s.phase: s for s in spans if s.transmitter == name}
        solutions[name], drawn = _solution(fused, own, name, drill, plane, rules, recording.info.fine_height_m)
        lines += drawn
    ground = _ground(drill, recording, plane)
    return measure_searches(fused, spans, solutions, rules, marks=recording.marks, ground=ground), tuple(lines)


def _ground(drill: Drill, recording: Recording, plane: SlopePlane) -> Ground:
    return Ground(
        plane=plane,
        strip_width_m=drill.strip_width_m,
        fine_height_m=recording.info.fine_height_m,
        corners_m=None if drill.corners_m is None else plane.to_plane(drill.corners_m),
        holes=off_the_record(recording),
        team=drill.team,
    )


def _solution(
    fused: FusedPath, own: dict[str, PhaseSpan], name: str, drill: Drill, plane: SlopePlane, rules: Rules, low_m: float
) -> tuple[ReferenceSolution, list[PlanLine]]:
    """Return what one search is held against, and its lines for the plan in horizontal metres."""
    k = fused.transmitter_ids.index(name)
    place = fused.draws.transmitter_m[0, k]
    coarse = bracket = lowest = None
    lines: list[PlanLine] = []
    if COARSE in own:
        coarse = coarse_ideal_of(
            fused, transmitter=name, acquired_s=own[COARSE].start_draws_s, fine_radius_m=rules.fine_radius_m
        )
        lines.append(PlanLine("field_line", name, plane.to_horizontal(coarse.line_m)))
    if FINE in own:
        lowest = lowest_draws(fused, transmitter=name, fine_height_m=low_m)
        entry = positions_at(fused.time_s, fused.draws.path_m[:1], own[FINE].start_draws_s[:1])[0]
        bracket = bracket_ideal(entry, lowest[0], transmitter=name, arm_m=rules.bracket_arm_m)
        lines.append(PlanLine("bracket", name, plane.to_horizontal(bracket.cross_m)))
        lines.append(PlanLine("lowest", name, plane.to_horizontal(lowest[:1])))
    covered, overlap, signal_m, strips = _ground_covered(fused, own.get(SIGNAL), own.get(COARSE), place, drill, plane)
    if strips is not None:
        lines.append(PlanLine("strips", name, plane.to_horizontal(strips)))
    reference = reference_times(
        transmitter=name,
        rules=rules,
        transmitter_m=place,
        signal_m=signal_m,
        coarse=coarse,
        bracket=bracket,
        pinpoint=PINPOINT in own,
    )
    zigzags_s = covered if isinstance(covered, NotAssessable) else _zigzags_s(fused, own, k, drill, plane, rules)
    return ReferenceSolution(name, coarse, bracket, reference, covered, overlap, lowest, zigzags_s), lines


def _zigzags_s(
    fused: FusedPath, own: dict[str, PhaseSpan], which: int, drill: Drill, plane: SlopePlane, rules: Rules
) -> FloatArray | NotAssessable:
    """Return in which time (S,) a searcher who does not know where it lies hears a transmitter, at the sheet's pace.

    The mean over the zigzags with fewest strips; the range is that at which this searcher heard it.
    """
    if drill.team:
        return NotAssessable(SEVERAL)
    if drill.corners_m is None or COARSE not in own:
        return NotAssessable("the signal was not found")
    if own[SIGNAL].start_s > 0.0:
        return NotAssessable("it began where the transmitter before it was found, not at the edge of the area")
    zigzags = fewest_zigzags(plane.to_plane(drill.corners_m), strip_width_m=drill.strip_width_m)
    places = fused.draws.transmitter_m[:, which]
    heard_m = np.linalg.norm(positions_at(fused.time_s, fused.draws.path_m, own[SIGNAL].end_draws_s) - places, axis=1)
    return mean_length_to_range(zigzags, places, heard_m) / rules.signal_pace_mps


def _ground_covered(
    fused: FusedPath,
    signal: PhaseSpan | None,
    coarse: PhaseSpan | None,
    place: FloatArray,
    drill: Drill,
    plane: SlopePlane,
) -> tuple[Measured, Measured, float | None, FloatArray | None]:
    """Return covered and overlapping share of the area, the reference length of the signal search, and its strips."""
    if signal is None:
        why = NotAssessable("the signal was there at once: no signal search")
        return why, why, None, None
    if drill.corners_m is None:
        why = NotAssessable("the drill file gives no area")
        return why, why, None, None
    if not np.isfinite(signal.end_sigma_s):
        why = NotAssessable("no reading log and no first_reading mark: when the signal was found is not known")
        return why, why, None, None
    corners = plane.to_plane(drill.corners_m)
    inside = (fused.time_s >= signal.start_s) & (fused.time_s <= signal.end_s)
    if np.count_nonzero(inside) < 2:
        why = NotAssessable("the signal search was too short to cover ground")
        return why, why, None, None
    rows = fused.draws.path_m[:COVERAGE_ROWS, inside]
    found = [coverage(row, corners, strip_width_m=drill.strip_width_m) for row in rows]
    shares = ([c.covered_fraction for c in found], [c.overlap_fraction for c in found])
    figures = [Figure(values[0], min(values), max(values), "1") for values in shares]
    if drill.team:
        return figures[0], figures[1], None, None
    strips = ideal_strips(corners, rows[0, 0], strip_width_m=drill.strip_width_m)
    heard_m = float(np.linalg.norm(rows[0, -1] - place)) if coarse is not None else 0.5 * drill.strip_width_m
    return figures[0], figures[1], length_to_range(strips, place, heard_m), strips
