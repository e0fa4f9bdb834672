"""Recordings of phones on foot beside a survey-grade reference: is the fused path better than the fixes?

The table is that of `analyzer.lab.simulate.series`: per row a phone's fix of two kinds and the reference, in degrees.
Each run of the phone that walked becomes a track-only recording in a drill invented around it.
"""

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import AnalyzerError
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.geometry.timed_path import place_at, walked_at
from analyzer.lab.evaluate.cells import Cell, Row, Section
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.recording import Mark, Recording, RunInfo, Track
from analyzer.model.rules import Rules

DAY = dt.datetime(2025, 3, 25, tzinfo=dt.UTC)
FIX_COLUMNS = {"single_epoch": "raw_psr_{}_degrees_uut1", "carrier_smoothed": "adr_{}_approx_degrees_uut1"}
FIX_WORDS = {"single_epoch": ("lat", "lon"), "carrier_smoothed": ("latitude", "longitude")}
REFERENCE = "rtk_reference_{}_degrees_uut1"
GAP_AT_MOST_S = 5.0
"""Over longer gaps nobody knows the length of the way: they are left out of both lengths."""
MARGIN_M = 10.0
RMS_AT_MOST, LENGTH_WITHIN = 0.7, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """A phone's walk: fixes (n, 3) and reference (m, 3), seconds of the day and horizontal metres."""

    name: str
    kind: str
    drill: Drill
    fixes: FloatArray
    reference: FloatArray


@dataclass(frozen=True, slots=True)
class Comparison:
    """rms in metres after one constant offset is taken out; lengths in metres over the times with a reference.

    `raw_m`: the length of the fixes joined up.
    """

    name: str
    kind: str
    raw_rms_m: float
    fused_rms_m: float
    reference_m: float
    fused_m: float
    raw_m: float
    error: str = ""


def walks_of(text: str, kind: str) -> tuple[Walked, ...]:
    """Return the walks of one kind of fix in the table; 0.0 stands for missing."""
    words = FIX_WORDS[kind]
    runs: dict[str, tuple[list[list[float]], list[list[float]]]] = {}
    for row in csv.DictReader(io.StringIO(text)):
        hours, minutes, seconds = (float(part) for part in row["timestamp"].split(".")[:3])
        at = 3600.0 * hours + 60.0 * minutes + seconds
        places = (
            [float(row[FIX_COLUMNS[kind].format(w)]) for w in words],
            [float(row[REFERENCE.format(w)]) for w in ("lat", "lon")],
        )
        for kept, place in zip(runs.setdefault(row["test_run"], ([], [])), places, strict=True):
            if 0.0 not in place and (not kept or at > kept[-1][0]):
                kept.append([at, *place])
    return tuple(_walk(name, kind, np.array(fixes), np.array(reference)) for name, (fixes, reference) in runs.items())


def _walk(name: str, kind: str, fixes: FloatArray, reference: FloatArray) -> Walked:
    """Return a walk in metres, in a drill laid around it: flat, one transmitter where the walk ended."""
    origin = Origin(float(reference[0, 1]), float(reference[0, 2]), 1110.0)
    frame = LocalFrame(origin)
    seen, true = (np.column_stack([t[:, 0], frame.to_metres(t[:, 1], t[:, 2])]) for t in (fixes, reference))
    (x0, y0), (x1, y1) = true[:, 1:].min(axis=0) - MARGIN_M, true[:, 1:].max(axis=0) + MARGIN_M
    end = Transmitter("T1", float(true[-1, 1]), float(true[-1, 2]), 1.0)
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    drill = Drill(f"around walk {name}", DAY.date(), origin, Slope(), (end,), corners_m=corners)
    return Walked(name, kind, drill, seen, true)


def recording_of(walk: Walked) -> Recording:
    """Return the fixes as a recording without readings, its start mark at the first fix."""
    n, zero = len(walk.fixes), float(walk.fixes[0, 0])
    blank = np.full(n, np.nan)
    track = Track(walk.fixes[:, 0] - zero, walk.fixes[:, 1], walk.fixes[:, 2], blank, blank, blank)
    return Recording(
        f"walk-{walk.name}", RunInfo(), DAY + dt.timedelta(seconds=zero), track, None, (Mark(0.0, "start"),)
    )


def compare(walk: Walked, rules: Rules) -> Comparison:
    """Return the fused path of a walk beside its fixes and the reference."""
    result = analyze_drill(walk.drill, [recording_of(walk)], rules)[0]
    if isinstance(result, AnalyzerError):
        return Comparison(walk.name, walk.kind, np.nan, np.nan, np.nan, np.nan, np.nan, str(result))
    fused = np.column_stack([result.path.time_s + walk.fixes[0, 0], result.path.east_m, result.path.north_m])
    return against(walk, fused)


def against(walk: Walked, fused: FloatArray) -> Comparison:
    """Return a path (k, 3) beside the fixes of a walk and its reference."""
    both, fix_rows, reference_rows = np.intersect1d(walk.fixes[:, 0], walk.reference[:, 0], return_indices=True)
    there = walk.reference[reference_rows, 1:]
    return Comparison(
        walk.name,
        walk.kind,
        raw_rms_m=_shape_rms(walk.fixes[fix_rows, 1:] - there),
        fused_rms_m=_shape_rms(_at(fused, both) - there),
        reference_m=_length(walk.reference, both),
        fused_m=_length(fused, both),
        raw_m=_length(walk.fixes, both),
    )


def _at(path: FloatArray, time_s: FloatArray) -> FloatArray:
    return place_at(path[:, 0], path[:, 1:], time_s)


def _shape_rms(off: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.sum((off - off.mean(axis=0)) ** 2, axis=1))))


def _length(path: FloatArray, time_s: FloatArray) -> float:
    """Return the length of a path over the steps between neighbouring times, long gaps left out."""
    steps = np.diff(walked_at(path[:, 0], path[:, 1:], time_s))
    return float(np.sum(steps[np.diff(time_s) <= GAP_AT_MOST_S]))


def real_section(comparisons: Sequence[Comparison]) -> Section:
    """Return the rows on real recordings: each walk and, of each kind of fix, all together."""
    columns = ("shape rms: fused / fixes", "walked / reference")
    if not comparisons:
        return Section(
            "Real phones on foot against a survey-grade reference",
            columns,
            (Row("no recordings at hand", (None, None)),),
        )
    by_kind: Mapping[str, list[Comparison]] = {k: [c for c in comparisons if c.kind == k] for k in FIX_COLUMNS}
    rows = []
    for kind, own in by_kind.items():
        words = kind.replace("_", " ")
        rows += [
            Row(f"{words}, walk {c.name}", (_rms_cell([c], None), _length_cell([c], asked=False)), c.error) for c in own
        ]
        limit = RMS_AT_MOST if kind == "single_epoch" else 1.0
        rows.append(Row(f"{words}, all walks", (_rms_cell(own, limit), _length_cell(own, asked=True))))
    return Section("Real phones on foot against a survey-grade reference", columns, tuple(rows))


def _rms_cell(own: Sequence[Comparison], limit: float | None) -> Cell:
    fused, raw = (float(np.sqrt(np.mean([getattr(c, n) ** 2 for c in own]))) for n in ("fused_rms_m", "raw_rms_m"))
    ratio = fused / raw
    measured = f"{fused:.3f} / {raw:.3f} m = {ratio:.2f}"
    numbers = (("fused_rms_m", fused), ("raw_rms_m", raw), ("ratio", ratio))
    return Cell(measured, "" if limit is None else f"≤ {limit:g}", None if limit is None else ratio <= limit, numbers)


def _length_cell(own: Sequence[Comparison], *, asked: bool) -> Cell:
    """Return the length against the reference; of several walks the median of the differences counts."""
    off = [abs(c.fused_m / c.reference_m - 1.0) for c in own]
    fused, reference, raw = (sum(getattr(c, n) for c in own) for n in ("fused_m", "reference_m", "raw_m"))
    measured = f"{fused:.1f} / {reference:.1f} m = {fused / reference:.3f} (fixes joined up: {raw / reference:.2f})"
    numbers = (("fused_m", fused), ("reference_m", reference), ("raw_m", raw), ("worst", float(max(off))))
    if not asked:
        return Cell(measured, numbers=numbers)
    return Cell(
        f"{measured}, worst walk {100 * max(off):.1f} % off",
        "each within 5 %",
        bool(max(off) <= LENGTH_WITHIN),
        numbers,
    )
