"""From the values of the stages to one result: frames turned back to horizontal metres, figures gathered."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import walked_at
from analyzer.model.account import MeasuredSearch, Search, Verdict
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure
from analyzer.model.measures import GROUPS, measure_of
from analyzer.model.path import USABLE_WEIGHT, Evidence, FusedPath
from analyzer.model.phases import COARSE, FINE, PINPOINT, PhaseSpan
from analyzer.model.recording import MARK_STEP_S, PROBE, SPLIT_MARKS, InputFile, Mark, Recording
from analyzer.model.result import (
    AXES,
    PLACES,
    PathTable,
    Phase,
    PlacedTransmitter,
    PlanLine,
    RunResult,
    SharedFit,
    SharedRun,
    Split,
    files_sha256,
)
from analyzer.model.rules import Rules

FIXES_WITHOUT_WEIGHT = "fixes that do not fit the rest"
AFTER_END = "after the end of the run"


def shared_fit(drill: Drill, fitted: Sequence[tuple[Recording, FusedPath]]) -> SharedFit | None:
    """Return what the runs of one fit have in common, None where a run was fitted alone.

    Places are beliefs with their sigma, which every fit moves. Of axes, those count that the drill does not state:
    they are estimated where some run has readings. A stated one stays within the few degrees of a compass.
    """
    if len(fitted) < 2:
        return None
    stated = all(t.axis_bearing_deg is not None and t.axis_tilt_deg is not None for t in drill.transmitters)
    heard = any(path.readings is not None for _, path in fitted)
    runs = tuple(SharedRun(recording.run_id, files_sha256(recording.inputs)) for recording, _ in fitted)
    return SharedFit((PLACES, AXES) if heard and not stated else (PLACES,), runs)


def weighed_inputs(
    inputs: Sequence[InputFile], fused: FusedPath, fix_s: FloatArray, end_s: float
) -> tuple[InputFile, ...]:
    """Return the files of a run with what had next to no weight in the fit, and what lies after its end, set aside.

    `fix_s` (n,): when the fixes of the track were.
    """
    end_s += MARK_STEP_S
    late = int(np.count_nonzero(fix_s > end_s))
    lost = {"track": {FIXES_WITHOUT_WEIGHT: sum(t <= end_s for t in fused.fixes.without_weight_s), AFTER_END: late}}
    used = fused.readings
    if used is not None:
        heard = used.weight > USABLE_WEIGHT
        lost["readings"] = {reason: int(np.count_nonzero(~heard)) for reason, _ in fused.dropped}
        lost["readings"][AFTER_END] = int(np.count_nonzero(heard & (used.time_s > end_s)))
    elif fused.dropped:
        lost["readings"] = {fused.dropped[0][0]: sum(item.used for item in inputs if item.role == "readings")}
    out = []
    for item in inputs:
        aside = tuple((reason, count) for reason, count in lost.get(item.role, {}).items() if count)
        out.append(replace(item, used=item.used - sum(n for _, n in aside), dropped=(*item.dropped, *aside)))
    return tuple(out)


def _phases(fused: FusedPath, spans: Sequence[PhaseSpan]) -> tuple[Phase, ...]:
    out = []
    for s in spans:
        start, end = walked_at(fused.time_s, fused.draws.path_m[0], np.array([s.start_s, s.end_s]))
        sigmas = [float(v) if np.isfinite(v) else None for v in (s.start_sigma_s, s.end_sigma_s)]
        out.append(Phase(s.phase, s.transmitter, s.start_s, s.end_s, sigmas[0], sigmas[1], float(end - start), s.note))
    return tuple(out)


def _path_table(fused: FusedPath, spans: Sequence[PhaseSpan], plane: SlopePlane) -> PathTable:
    place = plane.to_horizontal(fused.draws.path_m[0])
    metres = np.full(fused.time_s.size, np.nan)
    for s in spans:
        if s.transmitter and s.phase in (COARSE, FINE, PINPOINT):
            k = fused.transmitter_ids.index(s.transmitter)
            inside = (fused.time_s >= s.start_s) & (fused.time_s <= s.end_s)
            away = fused.draws.path_m[0, inside] - fused.draws.transmitter_m[0, k]
            metres[inside] = np.linalg.norm(away, axis=1)
    return PathTable(fused.time_s, place[:, 0], place[:, 1], fused.sigma_m, metres)


def _placed(fused: FusedPath, drill: Drill, plane: SlopePlane) -> tuple[PlacedTransmitter, ...]:
    out = []
    for k, t in enumerate(drill.transmitters):
        east, north = plane.to_horizontal(fused.draws.transmitter_m[0, k])
        given = t.axis_bearing_deg is not None and t.axis_tilt_deg is not None
        heard = fused.readings is not None and bool(np.any(fused.readings.transmitter == k))
        bearing, tilt = plane.axis_angles(fused.draws.axis[0, k]) if given or heard else (None, None)
        out.append(
            PlacedTransmitter(
                t.id, float(east), float(north), float(fused.transmitter_sigma_m[k]), t.depth_m, bearing, tilt
            )
        )
    return tuple(out)


def _readings_table(fused: FusedPath) -> FloatArray | None:
    used = fused.readings
    return None if used is None else np.column_stack([used.time_s, used.reading_m, used.weight, used.transmitter])


def of_the_table(searches: tuple[Search, ...]) -> tuple[Search, ...]:
    """Return the searches as they are: every figure in them is a measure of the table, in its unit.

    Raises
    ------
    ValueError
        Where one is not: what is not in `analyzer.model.measures` has no title, and no list shows it.
    """
    for search in searches:
        for group in GROUPS:
            for key, figure in getattr(search, group):
                measure = measure_of(group, key)
                if measure is None:
                    raise ValueError(
                        f"{group}.{key} is not in the table of measures; add it to analyzer.model.measures"
                    )
                if isinstance(figure, Figure) and figure.unit != measure.unit:
                    raise ValueError(f"{measure.name} is in {figure.unit!r}, in the table of measures {measure.unit!r}")
    return searches


def _hits(recording: Recording, drill: Drill) -> tuple[tuple[str, float], ...]:
    first = drill.transmitters[0].id
    return tuple((m.transmitter or first, m.time_s) for m in recording.marks if m.mark == "probe_hit")


def splits_of(marks: Sequence[Mark]) -> tuple[Split, ...]:
    """Return the marks that bound no phase, each with the time since the hit that it follows.

    A probing that names no transmitter was for the next one that was hit.
    """
    hits = [m for m in marks if m.mark == "probe_hit"]
    out = []
    for mark in marks:
        if mark.mark not in SPLIT_MARKS:
            continue
        name = mark.transmitter
        if mark.mark == PROBE and name is None:
            later = next((h for h in hits if h.time_s >= mark.time_s), None)
            if later is not None:
                out.append(Split(mark.mark, later.transmitter, mark.time_s, None))
                continue
        before = [h for h in hits if h.time_s <= mark.time_s]
        own = [h for h in before if name in (None, h.transmitter) or len(hits) == 1]
        if mark.mark != PROBE:
            name = name or (own[-1].transmitter if own else None)
        out.append(Split(mark.mark, name, mark.time_s, mark.time_s - own[-1].time_s if own else None))
    return tuple(out)


def result_of(
    fused: FusedPath,
    recording: Recording,
    drill: Drill,
    plane: SlopePlane,
    rules: Rules,
    *,
    spans: Sequence[PhaseSpan],
    searches: tuple[MeasuredSearch, ...],
    verdict: Verdict,
    lines: tuple[PlanLine, ...],
    evidence: Evidence,
    duration_s: float,
) -> RunResult:
    """Return the whole result of a run, as if it had been fitted alone."""
    return RunResult(
        run_id=recording.run_id,
        searcher=recording.info.searcher,
        drill=drill.name,
        time_zero=recording.time_zero,
        duration_s=duration_s,
        inputs=weighed_inputs(recording.inputs, fused, recording.track.time_s, duration_s),
        evidence=evidence,
        path=_path_table(fused, spans, plane),
        transmitters=_placed(fused, drill, plane),
        phases=_phases(fused, spans),
        searches=of_the_table(tuple(search.told for search in searches)),
        findings=verdict.findings,
        possible=verdict.possible,
        scores=verdict.scores,
        rules=rules.reference,
        shared=None,
        lines=lines,
        readings=_readings_table(fused),
        corners_m=drill.corners_m,
        slope=(drill.slope.angle_deg, drill.slope.aspect_deg),
        probe_hits_s=_hits(recording, drill),
        timeline=verdict.timeline,
        account=verdict.account,
        splits=splits_of(recording.marks),
    )
