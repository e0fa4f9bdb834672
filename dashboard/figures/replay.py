"""A run as plain numbers for the replay in the browser: everything it needs, once."""

from typing import Any

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.result import Phase, RunResult
from dashboard.figures.plan import plan_box
from dashboard.figures.shapes import AROUND_90, pace_mps
from dashboard.figures.theme import ALARM, GROUND, IDEAL, INK, PAPER, PHASE_STYLES, QUIET, SELECT
from dashboard.view_models.ground import Under
from dashboard.view_models.order import findings_that_stand
from dashboard.view_models.reference_stretch import ReferenceStretch
from dashboard.wording import PHASES, PHASES_SHORT

TRUSTED = 0.5
"""Weight from which a reading is drawn as used."""
SHOWN_FINDINGS = 3
COLOURS = {
    "paper": PAPER,
    "ground": GROUND,
    "ink": INK,
    "quiet": QUIET,
    "ideal": IDEAL,
    "select": SELECT,
    "alarm": ALARM,
}

Json = dict[str, Any]


def replay_data(result: RunResult, reference: tuple[ReferenceStretch, ...], under: Under | None = None) -> Json:
    """Return the run, its lines and the reference searcher as lists of numbers: metres to 1 cm, seconds to 10 ms."""
    return {
        "duration": round(result.duration_s, 2),
        "box": [round(float(edge), 2) for edge in plan_box(result, None)],
        "path": _path(result),
        "readings": _readings(result),
        "phases": [_phase(item) for item in result.phases],
        "transmitters": [
            {"id": t.id, "e": round(t.east_m, 2), "n": round(t.north_m, 2), "radius": round(AROUND_90 * t.sigma_m, 2)}
            for t in result.transmitters
        ],
        "lines": [{"kind": line.kind, "points": _rows(line.points_m)} for line in result.lines],
        "area": [] if result.corners_m is None else _rows(result.corners_m),
        "reference": [_stretch(item) for item in reference],
        "findings": [
            {"number": i + 1, "from": round(f.from_s, 2), "to": round(f.to_s, 2), "text": f.text}
            for i, f in enumerate(findings_that_stand(result)[:SHOWN_FINDINGS])
        ],
        "slope": {"angle": result.slope[0], "aspect": result.slope[1]},
        "colours": COLOURS,
        "under": None if under is None else {"source": under.source, "box": list(under.box), "credit": under.credit},
    }


def _path(result: RunResult) -> Json:
    path = result.path
    return {
        "t": _numbers(path.time_s),
        "e": _numbers(path.east_m),
        "n": _numbers(path.north_m),
        "radius": _numbers(AROUND_90 * path.sigma_m),
        "range": _numbers(path.range_m),
        "pace": _numbers(pace_mps(path, slope_deg=result.slope[0], aspect_deg=result.slope[1])),
    }


def _phase(item: Phase) -> Json:
    style = PHASE_STYLES[item.phase]
    return {
        "name": PHASES[item.phase],
        "short": PHASES_SHORT[item.phase],
        "transmitter": item.transmitter,
        "start": round(item.start_s, 2),
        "end": round(item.end_s, 2),
        "line": style.line,
        "tint": style.tint,
    }


def _numbers(values: FloatArray) -> list[float | None]:
    return [round(float(v), 2) if np.isfinite(v) else None for v in values]


def _rows(points_m: FloatArray) -> list[list[float | None]]:
    return [_numbers(row) for row in points_m]


def _readings(result: RunResult) -> Json:
    if result.readings is None:
        return {"t": [], "value": [], "used": []}
    time_s, value, weight = result.readings[:, :3].T
    return {"t": _numbers(time_s), "value": _numbers(value), "used": [bool(w >= TRUSTED) for w in weight]}


def _stretch(item: ReferenceStretch) -> Json:
    return {
        "name": PHASES[item.phase],
        "t": _numbers(item.time_s),
        "e": _numbers(item.east_m),
        "n": _numbers(item.north_m),
        "run": round(item.with_run_s, 2),
        "phase": round(item.with_phase_s, 2),
    }
