"""The bound: what an exact posterior knows of a run, beside what the analysis says.

Where the two agree, an error that is left is one of the evidence and not of the arithmetic. Sampled is the posterior
given what the analysis chose beforehand (noise levels, when the receiver was low), so a wrong choice is not seen here.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from analyzer.engine.fusion.fuse import fits
from analyzer.engine.fusion.start import FusionSettings, start_run, stated_shared
from analyzer.engine.fusion.state import DrillParameters
from analyzer.engine.pipeline import analyze_fused, fuse_runs
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.evaluate.blocks import COLUMN_TITLES, COLUMNS, RUN_SETTINGS, TAPED
from analyzer.lab.evaluate.cells import NO_RUNS, Cell, Row, Section, share
from analyzer.lab.evaluate.sampling import Chains, sampled, sheet_of
from analyzer.lab.evaluate.truths import path_at
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.lab.simulate.truth import KnownRun
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure
from analyzer.model.path import Draws, FusedPath
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS

CHAINS, SAMPLES, WARM_UP = 4, 250, 80
AGREE_R_HAT = 1.1
"""Chains agree whose largest split R-hat over all places is under this, as is usual (`Chains.doubt`)."""
WITHIN = 0.05


def bound_of(column: str, number: int, *, seed: int, rules: Rules, samples: int = SAMPLES) -> dict[str, float] | None:
    """Return error and claim of the analysis and of the exact posterior on a run; None where there is no path."""
    own = seed + number
    drill = simulate_drill(TAPED, seed=own)
    run, plane = simulate_run(drill, RUN_SETTINGS[column], seed=own), SlopePlane(drill.drill.slope)
    radius_m = rules.fine_radius_m
    fused = fuse_runs(drill.drill, [run.recording], fine_radius_m=radius_m, draws=DRAWS, seed=own)[0]
    if isinstance(fused, AnalyzerError):
        return None
    stated, given = stated_shared(drill.drill, plane)
    world = DrillParameters(stated.transmitter_m, stated.axis)
    start = start_run(run.recording, drill.drill, plane, world, FusionSettings(fine_radius_m=radius_m))
    ((start, modes),) = fits([start], world, stated, given)
    sheets = [sheet_of(start.problem, stated, solution) for _, solution in modes]
    shares = [part for part, _ in modes]
    chains = sampled(sheets, shares, chains=CHAINS, samples=samples, warm_up=WARM_UP, seed=own)
    exact = _of_samples(fused, chains, len(stated.transmitter_m))
    found = {"r_hat": chains.doubt(), "accepted": chains.accepted}
    for name, path in (("engine", fused), ("exact", exact)):
        found |= {f"{name}_{key}": value for key, value in _judged(path, run, drill.drill, plane, rules).items()}
    return found


def _of_samples(fused: FusedPath, chains: Chains, count: int) -> FusedPath:
    """Return the fused path with draws and sigma from all chains: the mean, and DRAWS samples spread evenly."""
    path = chains.path_m.reshape(-1, *chains.path_m.shape[2:])
    pick = np.linspace(0, len(path) - 1, DRAWS).astype(int)

    def whole(values: FloatArray) -> FloatArray:
        flat = values.reshape(-1, *values.shape[2:])
        return np.concatenate([flat.mean(axis=0, keepdims=True), flat[pick]])

    d, axis = whole(chains.d), whole(chains.axis)
    draws = Draws(
        path_m=whole(chains.path_m),
        velocity_mps=whole(chains.velocity_mps),
        transmitter_m=d[:, 2 : 2 + 2 * count].reshape(-1, count, 2),
        axis=axis / np.linalg.norm(axis, axis=-1, keepdims=True),
        reading_scale=np.exp(d[:, 0]),
        clock_offset_s=d[:, 1],
    )
    return replace(fused, draws=draws, sigma_m=np.sqrt(np.mean(np.var(path, axis=0), axis=-1)))


def _judged(fused: FusedPath, run: KnownRun, drill: Drill, plane: SlopePlane, rules: Rules) -> dict[str, float]:
    """Return rms error and rms claim in the true fine search, and what is known of crossing angle and settling."""
    fine = next(p for p in run.truth.phases if p.phase == "fine_search")
    rows = (fused.time_s >= fine.start_s) & (fused.time_s <= fine.end_s)
    off = np.sum((fused.draws.path_m[0, rows] - path_at(run.truth, fused.time_s[rows])) ** 2, axis=1)
    claim = 2.0 * fused.sigma_m[rows] ** 2
    result = analyze_fused(fused, run.recording, drill, plane, rules)
    return {
        "error_m": float(np.sqrt(np.mean(off))),
        "claim_m": float(np.sqrt(np.mean(claim))),
        "error_over_claim": float(np.mean(off / claim)),
        **_crossing(result),
        "pinpoint_sigma_s": next((p.start_sigma_s or np.nan for p in result.phases if p.phase == "pinpoint"), np.nan),
    }


def _crossing(result: RunResult) -> dict[str, float]:
    bounds = result.searches[0].figure("fine", "crossing_bounds_deg")
    wide = bounds.high - bounds.low if isinstance(bounds, Figure) else np.nan
    told = isinstance(result.searches[0].figure("fine", "crossing_angle_deg"), Figure)
    return {"crossing_wide_deg": wide, "crossing_told": float(told)}


def bound_section(found: Mapping[str, Sequence[Mapping[str, float]]]) -> Section:
    """Return the section from the numbers of the runs, by column."""
    cells = [found.get(c, ()) for c in COLUMNS]
    rows = (
        Row("error in fine search, rms, median: engine / exact", tuple(_beside(c, "error_m", "m") for c in cells)),
        Row("claimed error, rms, median: engine / exact", tuple(_beside(c, "claim_m", "m") for c in cells)),
        Row(
            "squared error over claimed variance, mean: engine / exact",
            tuple(_pair(c, "error_over_claim", np.nanmean, "") for c in cells),
        ),
        Row(
            "width of the crossing angle's interval, median: engine / exact",
            tuple(_pair(c, "crossing_wide_deg", np.nanmedian, " deg") for c in cells),
        ),
        Row(
            "crossing angle given, share of runs: engine / exact",
            tuple(_pair(c, "crossing_told", np.nanmean, "") for c in cells),
        ),
        Row(
            "standard deviation of the start of pinpoint, median: engine / exact",
            tuple(_pair(c, "pinpoint_sigma_s", np.nanmedian, " s") for c in cells),
        ),
        Row(
            f"runs whose chains agree (split R-hat under {AGREE_R_HAT:g} at every place)",
            tuple(share(sum(r["r_hat"] < AGREE_R_HAT for r in c), len(c)) for c in cells),
            f"{CHAINS} chains of {SAMPLES} trajectories; taped without error; the errors and claims are of all runs",
        ),
    )
    return Section("The bound: an exact posterior beside the engine's", tuple(COLUMN_TITLES[c] for c in COLUMNS), rows)


def _both(runs: Sequence[Mapping[str, float]], name: str) -> tuple[FloatArray, FloatArray]:
    engine, exact = (np.array([r[f"{who}_{name}"] for r in runs], np.float64) for who in ("engine", "exact"))
    return engine, exact


def _beside(runs: Sequence[Mapping[str, float]], name: str, unit: str) -> Cell:
    """Return the medians of both, wanted within 5 % of each other."""
    if not runs:
        return NO_RUNS
    engine, exact = (float(np.median(v)) for v in _both(runs, name))
    apart = engine / exact - 1.0
    numbers = (("engine", engine), ("exact", exact), ("runs", float(len(runs))))
    words = f"{engine:.3g} / {exact:.3g} {unit}, {100 * apart:+.0f} %"
    return Cell(words, f"within {100 * WITHIN:g} %", abs(apart) <= WITHIN, numbers)


def _pair(runs: Sequence[Mapping[str, float]], name: str, middle: Callable[[FloatArray], object], unit: str) -> Cell:
    if not runs:
        return NO_RUNS
    sides = _both(runs, name)
    if any(np.isnan(side).all() for side in sides):
        return Cell("not assessable")
    engine, exact = (float(np.asarray(middle(side))) for side in sides)
    return Cell(f"{engine:.3g} / {exact:.3g}{unit}", numbers=(("engine", engine), ("exact", exact)))
