"""One simulated run through the engine: what it got right and wrong, as plain numbers."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.engine.pipeline import analyze_paths, fuse_runs
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import Block, with_noise
from analyzer.lab.evaluate.claims import Claim, claims_of
from analyzer.lab.evaluate.examined import examined_run
from analyzer.lab.evaluate.sparse import fixes_near, thinned
from analyzer.lab.evaluate.true_account import account_claims, charged_errors, true_kinds, true_result
from analyzer.lab.evaluate.truths import (
    Bounds,
    bounds_of,
    log_tells_of_settling,
    path_at,
    place_of,
    true_events,
    way_out,
)
from analyzer.lab.simulate import paired_cost_s, simulate_drill, simulate_pair, simulate_run
from analyzer.lab.simulate.faults import PHASES
from analyzer.lab.simulate.truth import KnownRun, TrueSearch, TrueWrongWay, Truth
from analyzer.model.account import Search, WrongWay
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure, Measured
from analyzer.model.path import FusedPath
from analyzer.model.recording import Recording
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS

FOUND_FROM_M = 4.0


@dataclass(frozen=True, slots=True)
class Trial:
    """What came of one run. `error`: why there is no result, "" where there is one.

    `numbers`: signed errors and sizes by name, NaN where the engine gives no figure. `events`: wrong ways that are
    truly over 4 m, those of them found, those reported, those reported without a true one. `findings`: their kinds,
    the dearest first; `false`: those of them that were not planted and whose limit does not hold on the true path.
    `stated`: kind and probability of everything said or possible, and whether it is true. `whole`: account and findings
    were looked at.
    """

    block: str
    seed: int
    error: str = ""
    numbers: Mapping[str, float] = field(default_factory=dict)
    events: tuple[int, int, int, int] = (0, 0, 0, 0)
    claims: tuple[Claim, ...] = ()
    findings: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    false: tuple[str, ...] = ()
    stated: tuple[tuple[str, float, bool], ...] = ()
    whole: bool = True


def trial_of(block: Block, number: int, *, seed: int, rules: Rules, draws: int = DRAWS) -> Trial:
    """Return what the engine makes of run `number` of a block."""
    own, fault = seed + number, block.faults[number % len(block.faults)] if block.faults else None
    run, drill, cost_s = made_run(block, fault, seed=seed, number=number)
    fused = fuse_runs(drill, [run.recording], fine_radius_m=rules.fine_radius_m, draws=draws, seed=own)
    result = analyze_paths(fused, drill, [run.recording], rules)[0]
    if isinstance(result, AnalyzerError):
        return Trial(block.key, own, error=str(result), faults=() if fault is None else (fault,), whole=block.whole)
    trial = judge(block.key, result, run, drill, rules, whole=block.whole)
    near = [fixes_near(f, run.recording.track, SlopePlane(drill.slope)) for f in fused if isinstance(f, FusedPath)]
    return replace(trial, numbers={**trial.numbers, **near[0], **paired_errors(result, run.truth, cost_s)})


def made_run(block: Block, fault: str | None, *, seed: int, number: int) -> tuple[KnownRun, Drill, float]:
    """Return run `number` of a block, its drill, and what its planted fault truly costs, NaN without one."""
    if block.kind:
        return _examined(block, fault, seed, number)
    return _simulated(block, fault, seed + number, number)


def _examined(block: Block, fault: str | None, seed: int, number: int) -> tuple[KnownRun, Drill, float]:
    made = examined_run(block.kind, fault, seed=seed, number=number)
    return replace(made, recording=_kept(block, made.recording, seed + number)), made.drill, made.cost_s


def _kept(block: Block, recording: Recording, seed: int) -> Recording:
    """Return what the block leaves of a recording."""
    return thinned(recording, seed=seed) if block.sparse else recording


def _simulated(block: Block, fault: str | None, seed: int, number: int) -> tuple[KnownRun, Drill, float]:
    drill, settings = simulate_drill(block.drill, seed=seed), block.run
    if block.noises:
        settings = with_noise(settings, block.noises[number % len(block.noises)])
    if fault is None:
        run = simulate_run(drill, settings, seed=seed)
        return replace(run, recording=_kept(block, run.recording, seed)), drill.drill, np.nan
    pair = simulate_pair(drill, settings, fault=fault, seed=seed)
    return pair.faulty, drill.drill, paired_cost_s(pair)


def judge(key: str, result: RunResult, run: KnownRun, drill: Drill, rules: Rules, *, whole: bool = True) -> Trial:
    """Return a result beside the truth of its run; of several transmitters, the first is looked at."""
    truth, true = run.truth, run.truth.searches[0]
    heard = run.recording.readings is not None
    bounds = bounds_of(truth, true, radius_m=rules.fine_radius_m, heard=heard)
    plane = SlopePlane(drill.slope)
    search = next(s for s in result.searches if s.transmitter == true.transmitter)
    events = true_events(truth, true, bounds)
    claims = claims_of(result, search, run, true, bounds, plane, radius_m=rules.fine_radius_m)
    meant = true_result(run, drill, rules) if whole else None
    numbers = {
        **path_numbers(result, truth, true, plane),
        "raw_rms_m": raw_rms(run.recording, truth, true, plane),
        **start_errors(result, true.transmitter, bounds),
        "log_tells_of_settling": float(log_tells_of_settling(run, true, bounds)),
        **_figure_errors(search, result, truth, true, {c.figure: c.truth for c in claims}),
        **_wrong_way_errors(search, way_out(truth, true, events)[0]),
        **(charged_errors(result, meant.account) if meant else {}),
        "unexplained": sum(r.seconds for r in result.timeline if r.activity == "unexplained") / result.duration_s,
    }
    findings, faults = kinds_of(result), tuple(dict.fromkeys(f.name for f in truth.faults))
    right = {*faults, *(true_kinds(run, drill, rules) if whole else ())}
    return Trial(
        key,
        truth.seed,
        "",
        numbers,
        event_counts(search, events),
        (*claims, *(account_claims(result, meant.account) if meant else ())),
        findings,
        faults,
        tuple(kind for kind in findings if kind not in right),
        tuple(
            (f.id.split(":")[0], f.probability, f.id.split(":")[0] in right)
            for f in (*result.findings, *result.possible)
        ),
        whole,
    )


def kinds_of(result: RunResult) -> tuple[str, ...]:
    """Return the kinds of a result's findings, the dearest first."""
    return tuple(f.id.split(":")[0] for f in result.findings)


def paired_errors(result: RunResult, truth: Truth, cost_s: float) -> dict[str, float]:
    """Return the seconds charged to the one planted fault less what it truly cost; NaN where it is not assessable."""
    names = {f.name for f in truth.faults}
    if len(names) != 1 or not np.isfinite(cost_s):
        return {}
    (name,) = names
    rows = [r for r in result.account if r.phase in PHASES[name]]
    known = any(r.cause == "reference" for r in rows) and not any(r.cause == "not_told_apart" for r in rows)
    charged = sum(r.seconds.value for r in rows if r.cause == name)
    return {f"paired_{name}_s": charged - cost_s if known else np.nan, f"cost_{name}_s": cost_s}


def path_numbers(result: RunResult, truth: Truth, true: TrueSearch, plane: SlopePlane) -> dict[str, float]:
    """Return the errors of the fused path in the true fine search, slope-plane metres.

    `fused_rms_m` on the ground, `relative_rms_m` to the transmitter as estimated, `shape_rms_m` with one constant
    offset taken out, `error_over_claim`: the mean of squared error over twice the claimed variance of one axis.
    """
    fine = next(p for p in truth.phases if p.phase == "fine_search" and p.transmitter == true.transmitter)
    path = result.path
    rows = (path.time_s >= fine.start_s) & (path.time_s <= fine.end_s)
    fused = plane.to_plane(np.column_stack([path.east_m, path.north_m])[rows])
    off = fused - path_at(truth, path.time_s[rows])
    placed = next(t for t in result.transmitters if t.id == true.transmitter)
    shift = plane.to_plane([placed.east_m, placed.north_m]) - place_of(truth, true)
    return {
        "fused_rms_m": _rms(off),
        "relative_rms_m": _rms(off - shift),
        "shape_rms_m": _rms(off - off.mean(axis=0)),
        "error_over_claim": float(np.mean(np.sum(off**2, axis=1) / (2.0 * path.sigma_m[rows] ** 2))),
    }


def raw_rms(recording: Recording, truth: Truth, true: TrueSearch, plane: SlopePlane) -> float:
    """Return the error of the fixes themselves in the true fine search, NaN without a fix in it."""
    fine = next(p for p in truth.phases if p.phase == "fine_search" and p.transmitter == true.transmitter)
    track = recording.track
    rows = (track.time_s >= fine.start_s) & (track.time_s <= fine.end_s)
    if not rows.any():
        return np.nan
    seen = plane.to_plane(np.column_stack([track.east_m, track.north_m])[rows])
    return _rms(seen - path_at(truth, track.time_s[rows]))


def _rms(off: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.sum(off**2, axis=-1))))


def start_errors(result: RunResult, transmitter: str, bounds: Bounds) -> dict[str, float]:
    """Return errors of the starts of the phases in seconds; NaN where missing or not assessable."""
    own = [p for p in result.phases if p.transmitter == transmitter]
    known = {p.phase: p.start_s for p in own if p.start_sigma_s is not None}
    return {
        "coarse_start_s": known.get("coarse_search", np.nan) - bounds.coarse_s,
        "fine_start_s": known.get("fine_search", np.nan) - bounds.fine_s,
        "pinpoint_start_s": known.get("pinpoint", np.nan) - bounds.pinpoint_s,
    }


def _figure_errors(
    search: Search, result: RunResult, truth: Truth, true: TrueSearch, truths: Mapping[str, float]
) -> dict[str, float]:
    return {
        "path_ratio": _value(search.figure("coarse", "path_ratio")) - truths.get("coarse.path_ratio", np.nan),
        "standing_s": _value(search.figure("coarse", "standing_s")) - true.standing_s,
        "crossing_angle_deg": _value(search.figure("fine", "crossing_angle_deg")) - true.crossing_angle_deg,
        "clock_offset_s": _value(result.evidence.clock_offset_s) - truth.clock_offset_s,
    }


def _wrong_way_errors(search: Search, true_m: float) -> dict[str, float]:
    """Return the error of the wrong-way length in metres, and its share of the true length (NaN up to 4 m)."""
    off = _value(search.figure("coarse", "wrong_way_m")) - true_m
    return {"wrong_way_m": off, "wrong_way_share": off / true_m if true_m > FOUND_FROM_M else np.nan}


def _value(measured: Measured | None) -> float:
    return measured.value if isinstance(measured, Figure) else np.nan


def event_counts(search: Search, true: tuple[TrueWrongWay, ...]) -> tuple[int, int, int, int]:
    """Return how many wrong ways are truly over 4 m, are found, are reported, are reported without a true one.

    Matched by overlap in time; a true one counts from the smallest rise that is no sway.
    """
    seen = search.wrong_way_events
    large = [e for e in true if e.metres > FOUND_FROM_M]
    found = sum(any(_overlap(e, s) for s in seen) for e in large)
    false = sum(not any(_overlap(e, s) for e in true) for s in seen)
    return len(large), found, len(seen), false


def _overlap(one: TrueWrongWay, other: TrueWrongWay | WrongWay) -> bool:
    return one.from_s < other.to_s and other.from_s < one.to_s
