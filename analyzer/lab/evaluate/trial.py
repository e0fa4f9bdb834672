"""One simulated run through the engine: what it got right and wrong, as plain numbers."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import Block, with_noise
from analyzer.lab.evaluate.claims import Claim, claims_of
from analyzer.lab.evaluate.true_account import account_claims, charged_errors, true_account
from analyzer.lab.evaluate.truths import Bounds, bounds_of, path_at, place_of, true_events, way_out
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.scenario import SimulatedRun
from analyzer.lab.simulate.truth import TrueSearch, TrueWrongWay, Truth
from analyzer.model.account import Search, WrongWay
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure, Measured
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
    the dearest first.
    """

    block: str
    seed: int
    error: str = ""
    numbers: Mapping[str, float] = field(default_factory=dict)
    events: tuple[int, int, int, int] = (0, 0, 0, 0)
    claims: tuple[Claim, ...] = ()
    findings: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


def trial_of(block: Block, number: int, *, seed: int, rules: Rules, draws: int = DRAWS) -> Trial:
    """Return what the engine makes of run `number` of a block."""
    own = seed + number
    simulated = simulate_drill(block.drill, seed=own)
    settings = block.run
    if block.noises:
        settings = with_noise(settings, block.noises[number % len(block.noises)])
    run = simulate_run(simulated, settings, fault=block.fault, seed=own)
    result = analyze_drill(simulated.drill, [run.recording], rules, draws=draws, seed=own)[0]
    if isinstance(result, AnalyzerError):
        return Trial(block.key, own, error=str(result))
    return judge(block.key, result, run, simulated.drill, rules)


def judge(key: str, result: RunResult, run: SimulatedRun, drill: Drill, rules: Rules) -> Trial:
    """Return a result beside the truth of its run, which has one transmitter."""
    truth, true = run.truth, run.truth.searches[0]
    heard = run.recording.readings is not None
    bounds = bounds_of(truth, true, radius_m=rules.fine_radius_m, heard=heard)
    plane = SlopePlane(drill.slope)
    search = next(s for s in result.searches if s.transmitter == true.transmitter)
    events = true_events(truth, true, bounds)
    claims = claims_of(result, search, run, true, bounds, plane, radius_m=rules.fine_radius_m)
    meant = true_account(run, drill, rules)
    numbers = {
        **path_numbers(result, truth, true, plane),
        "raw_rms_m": raw_rms(run.recording, truth, true, plane),
        **start_errors(result, bounds),
        **_figure_errors(search, result, truth, true, {c.figure: c.truth for c in claims}),
        **_wrong_way_errors(search, way_out(truth, true, events)[0]),
        **charged_errors(result, meant),
        "unexplained": sum(r.seconds for r in result.timeline if r.activity == "unexplained") / result.duration_s,
    }
    findings = tuple(f.id.split(":")[0] for f in result.findings)
    return Trial(
        key,
        truth.seed,
        "",
        numbers,
        event_counts(search, events),
        (*claims, *account_claims(result, meant)),
        findings,
        tuple(f.name for f in truth.faults),
    )


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


def start_errors(result: RunResult, bounds: Bounds) -> dict[str, float]:
    """Return errors of the starts of coarse and fine search in seconds; NaN where missing or not assessable."""
    known = {p.phase: p.start_s for p in result.phases if p.start_sigma_s is not None}
    return {
        "coarse_start_s": known.get("coarse_search", np.nan) - bounds.coarse_s,
        "fine_start_s": known.get("fine_search", np.nan) - bounds.fine_s,
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
