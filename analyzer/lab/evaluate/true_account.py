"""The account of the true path: the same account, taken of the path, place and phases that the simulator knows.

It tells what the estimate of the path and of the phases costs the account. It shares the account's own definitions, so
it cannot tell whether these are right: the worked example and the laws in the tests do.
"""

import itertools

import numpy as np

from analyzer.engine.phases.split import left_s
from analyzer.engine.pipeline import analyze_fused, kinds_that_hold
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.claims import Claim
from analyzer.lab.simulate.truth import KnownRun, Truth
from analyzer.model.account import AccountRow
from analyzer.model.arrays import IndexArray
from analyzer.model.drill import Drill
from analyzer.model.path import Draws, FusedPath, UsedReadings
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules

STEP_S, EXACT_M = 0.2, 0.01
CHARGED = {
    "missed_strip": SIGNAL,
    "covered_twice": SIGNAL,
    "wrong_way": COARSE,
    "detour": COARSE,
    "standing": COARSE,
    "pace": COARSE,
    "reference": COARSE,
    "extra_lines": FINE,
}
"""Cause -> phase: what of the account is compared. The bracket's other rows hang on which lines were told apart."""


def true_path(run: KnownRun, drill: Drill) -> FusedPath:
    """Return the truth of a run as a path of one draw, the drill's transmitters where they truly lie."""
    truth, ids = run.truth, tuple(t.id for t in drill.transmitters)
    time_s = np.arange(0.0, truth.time_s[-1], STEP_S)
    path = np.column_stack([np.interp(time_s, truth.time_s, truth.plane_m[:, j]) for j in (0, 1)])
    sources = {s.id: s for s in truth.sources}
    draws = Draws(
        path_m=path[None],
        velocity_mps=np.gradient(path, time_s, axis=0)[None],
        transmitter_m=np.array([[[sources[i].x, sources[i].y] for i in ids]]),
        axis=np.array([[sources[i].axis for i in ids]]),
        reading_scale=np.array([truth.reading_scale]),
        clock_offset_s=np.zeros(1),
    )
    return FusedPath(
        time_s=time_s,
        sigma_m=np.full(time_s.size, EXACT_M),
        height_m=np.interp(time_s, truth.time_s, truth.height_m),
        draws=draws,
        readings=_true_readings(run, ids),
        transmitter_ids=ids,
        depth_m=np.array([t.depth_m for t in drill.transmitters]),
        transmitter_sigma_m=np.full(len(ids), EXACT_M),
        axis_source="given",
        antennas=run.recording.info.antennas,
        survey_grade=True,
    )


def _true_readings(run: KnownRun, ids: tuple[str, ...]) -> UsedReadings | None:
    readings = run.recording.readings
    if readings is None:
        return None
    which: IndexArray = np.array([ids.index(name) if name else 0 for name in readings.transmitter])
    time_s = readings.time_s + run.truth.clock_offset_s
    return UsedReadings(time_s, readings.reading_m, which.astype(float), np.ones(which.size))


def true_spans(truth: Truth, path: FusedPath, end_s: float) -> tuple[PhaseSpan, ...]:
    """Return the true phases as spans of one draw, up to the path's end.

    The simulator ends a pinpoint with its hit; here, as in the account, it lasts until the spot is left.
    """
    hits = {s.transmitter: s.probe_hit_s for s in truth.searches}
    order = list(dict.fromkeys(p.transmitter for p in truth.phases))
    begun = dict.fromkeys(order, 0.0)
    for before, name in itertools.pairwise(order):
        begun[name] = float(left_s(path, hits[before], hits[name])[0])
    following, spans = dict(itertools.pairwise(order)), []
    for p in truth.phases:
        after = following.get(p.transmitter)
        start = max(p.start_s, begun[p.transmitter])
        end = max(p.end_s, start)
        if p.phase == PINPOINT and after is not None:
            end = max(end, begun[after])
        hit_s = hits[p.transmitter] if p.phase == PINPOINT else None
        if (end := min(end, end_s)) > start:
            draws = np.array([start]), np.array([end])
            spans.append(PhaseSpan(p.phase, p.transmitter, start, end, 0.0, 0.0, *draws, hit_s=hit_s))
    return tuple(spans)


def true_result(run: KnownRun, drill: Drill, rules: Rules) -> RunResult:
    """Return the result of the true path of a run: its account, and the findings drawn from it."""
    path = true_path(run, drill)
    spans = true_spans(run.truth, path, float(path.time_s[-1]))
    return analyze_fused(path, run.recording, drill, SlopePlane(drill.slope), rules, spans=spans)


def true_kinds(run: KnownRun, drill: Drill, rules: Rules) -> frozenset[str]:
    """Return the kinds of remarks whose limit holds on the true path of a run, large enough to be told or not."""
    path = true_path(run, drill)
    spans = true_spans(run.truth, path, float(path.time_s[-1]))
    return kinds_that_hold(path, run.recording, drill, SlopePlane(drill.slope), rules, spans=spans)


def account_claims(result: RunResult, true: tuple[AccountRow, ...]) -> tuple[Claim, ...]:
    """Return the account's rows beside those of the true path; a row that either has not counts as 0 s there.

    Where both have none there is no claim: nothing was said, rightly. Nor where the phase is not told apart or not
    assessed: nothing was said of this cause.
    """
    claims = []
    for cause, phase in CHARGED.items():
        said, meant = (_row(rows, phase, cause) for rows in (result.account, true))
        told = _row(result.account, phase, "reference") and not _row(result.account, phase, "not_told_apart")
        if (said is None and meant is None) or not told:
            continue
        value = 0.0 if meant is None else meant.seconds.value
        low, high = (0.0, 0.0) if said is None else (said.seconds.low, said.seconds.high)
        claims.append(Claim(f"account.{cause}", value, low, high))
    return tuple(claims)


def charged_errors(result: RunResult, true: tuple[AccountRow, ...]) -> dict[str, float]:
    """Return, per cause, the seconds charged less those of the true path; NaN where the phase could not be assessed."""
    errors = {}
    for cause, phase in CHARGED.items():
        said, meant = (_row(rows, phase, cause) for rows in (result.account, true))
        known = any(r.phase == phase and r.cause == "reference" for r in result.account)
        charged = 0.0 if said is None else said.seconds.value
        errors[f"charged_{cause}_s"] = charged - (0.0 if meant is None else meant.seconds.value) if known else np.nan
    return errors


def _row(rows: tuple[AccountRow, ...], phase: str, cause: str) -> AccountRow | None:
    return next((r for r in rows if (r.phase, r.cause) == (phase, cause)), None)
