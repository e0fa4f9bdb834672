"""Result files: a run's result as JSON, and back as plain values for views.

Figures are rounded to 1e-4 of their unit and the path to 1 mm. What must add up (ledger, phases, duration) is
rounded to 1e-6, so that the sums of a ledger of a thousand rows still hold within 1 ms and 1 mm. What is not finite
is written as null.
"""

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.results.account_json import account_row, timeline_row
from analyzer.files.source import decode_text, read_bytes, write_atomic
from analyzer.model.account import Finding, LedgerRow, Scores, Search
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.result import FORMAT, Phase, PlacedTransmitter, RunResult

SIGNAL_KEYS = ("covered_fraction", "overlap_fraction", "duration_s", "duration_reference_s")
COARSE_KEYS = (
    "walked_m",
    "field_line_m",
    "path_ratio",
    "off_line_rms_m",
    "wrong_way_m",
    "wrong_way_s",
    "turnaround_s",
    "standing_s",
    "speed_at_10_m",
    "speed_at_3_m",
)
FINE_KEYS = (
    "duration_s",
    "crossing_angle_deg",
    "reach_m",
    "overshoot_m",
    "lowest_reading_m",
    "ended_on_lowest_m",
    "final_offset_m",
    "final_offset_physics_m",
)
PINPOINT_KEYS = ("duration_s", "probe_offset_m")
REFERENCE_KEYS = ("signal_pace_mps", "fine_radius_m", "bracket_arm_m", "bracket_pace_mps", "pinpoint_reference_s")
"""Numbers of the rule sheet that a replay of the reference searcher and a preview of another sheet need."""
NO_FIGURE = {"status": "not_assessable", "why": "this run gives no figure for it"}

Json = dict[str, Any]


def result_bytes(result: RunResult) -> bytes:
    """Return the result file of a run; equal results give equal bytes."""
    return _encoded(result_values(result))


def write_result(path: Path, result: RunResult) -> Json:
    """Write the result file of a run, whole or not at all, and return its values."""
    values = result_values(result)
    write_atomic(path, _encoded(values))
    return values


def _encoded(values: Json) -> bytes:
    return (json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n").encode()


def read_result(path: Path) -> Json:
    """Return the values of a result file; see `parse_result`."""
    return parse_result(read_bytes(path), name=path.name)


def parse_result(data: bytes, *, name: str = "result.json") -> Json:
    """Return the values of a result file as dicts and lists.

    Raises
    ------
    InputError
        Where it is not JSON or another format.
    """
    try:
        values = json.loads(decode_text(data, name=name))
    except json.JSONDecodeError as error:
        raise InputError(
            where=f"{name}, line {error.lineno}", what=f"this is not JSON ({error.msg})", do="analyze the drill again"
        ) from None
    if not isinstance(values, dict) or values.get("format") != FORMAT:
        raise InputError(where=name, what=f"this is not a result of the format {FORMAT}", do="analyze the drill again")
    return values


def result_values(result: RunResult) -> Json:
    """Return the result as JSON values; `engine` and `drill_key` stand first so that a head of the file holds them."""
    return {
        "format": FORMAT,
        "engine": result.engine,
        "drill_key": result.drill_key,
        "run": {
            "id": result.run_id,
            "searcher": result.searcher,
            "drill": result.drill,
            "time_zero": result.time_zero.isoformat().replace("+00:00", "Z"),
            "duration_s": _exact(result.duration_s),
        },
        "inputs": [_input(item) for item in result.inputs],
        "evidence": _evidence(result.evidence),
        "path": {
            "time_s": _column(result.path.time_s),
            "east_m": _column(result.path.east_m),
            "north_m": _column(result.path.north_m),
            "sigma_m": _column(result.path.sigma_m),
            "range_m": _column(result.path.range_m),
        },
        "transmitters": [_transmitter(item) for item in result.transmitters],
        "phases": [_phase(item) for item in result.phases],
        "searches": [_search(item) for item in result.searches],
        "timeline": [timeline_row(item) for item in result.timeline],
        "account": [account_row(item) for item in result.account],
        "ledger": [_ledger_row(item) for item in result.ledger],
        "findings": [_finding(item) for item in result.findings],
        "scores": _scores(result.scores, result),
        "slope": {"angle_deg": result.slope[0], "aspect_deg": result.slope[1]},
        "area": None if result.corners_m is None else {"corners_m": _table(result.corners_m)},
        "lines": [
            {"kind": line.kind, "transmitter": line.transmitter, "points_m": _table(line.points_m)}
            for line in result.lines
        ],
        "readings": _readings(result),
        "probe_hits": [{"transmitter": label, "at_s": _exact(at)} for label, at in result.probe_hits_s],
    }


def _finite(value: float | None, digits: int) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0  # + 0.0: no -0.0


def _exact(value: float | None) -> float | None:
    return _finite(value, 6)


def _column(values: FloatArray) -> list[float | None]:
    return [_finite(value, 3) for value in values.tolist()]


def _table(values: FloatArray) -> list[list[float | None]]:
    return [_column(row) for row in values]


def _figure(measured: Measured) -> Json:
    if not isinstance(measured, Figure):
        return measured.as_json()
    if not math.isfinite(measured.value):
        return dict(NO_FIGURE)
    return {
        "value": _finite(measured.value, 4),
        "low": _finite(measured.low, 4),
        "high": _finite(measured.high, 4),
        "unit": measured.unit,
    }


def _group(keys: Iterable[str], figures: tuple[tuple[str, Measured], ...]) -> Json:
    """Return all figures of the contract and any more that were measured."""
    known = dict(figures)
    group: Json = {key: _figure(known[key]) if key in known else dict(NO_FIGURE) for key in keys}
    return group | {key: _figure(value) for key, value in known.items() if key not in group}


def _input(item: InputFile) -> Json:
    return {
        "role": item.role,
        "name": item.name,
        "sha256": item.sha256,
        "rows": item.rows,
        "used": item.used,
        "dropped": [{"reason": reason, "count": count} for reason, count in item.dropped],
    }


def _evidence(evidence: Evidence) -> Json:
    return {
        "tier": evidence.tier,
        "position_sigma_m": {
            "coarse_search": _figure(evidence.position_sigma_coarse_m),
            "fine_search": _figure(evidence.position_sigma_fine_m),
        },
        "clock_offset_s": _figure(evidence.clock_offset_s),
        "reading_scale": _figure(evidence.reading_scale),
        "axis_source": evidence.axis_source,
    }


def _transmitter(item: PlacedTransmitter) -> Json:
    return {
        "id": item.id,
        "east_m": _finite(item.east_m, 3),
        "north_m": _finite(item.north_m, 3),
        "sigma_m": _finite(item.sigma_m, 3),
        "axis_bearing_deg": _finite(item.axis_bearing_deg, 1),
        "axis_tilt_deg": _finite(item.axis_tilt_deg, 1),
        "depth_m": _finite(item.depth_m, 3),
    }


def _phase(item: Phase) -> Json:
    return {
        "phase": item.phase,
        "transmitter": item.transmitter,
        "start_s": _exact(item.start_s),
        "end_s": _exact(item.end_s),
        "start_sigma_s": _finite(item.start_sigma_s, 3),
        "end_sigma_s": _finite(item.end_sigma_s, 3),
        "walked_m": _exact(item.walked_m),
        "note": item.note,
    }


def _search(item: Search) -> Json:
    coarse = _group(COARSE_KEYS, item.coarse)
    coarse["wrong_way_events"] = [
        {
            "from_s": _exact(event.from_s),
            "to_s": _exact(event.to_s),
            "metres": _finite(event.metres, 4),
            "turn_s": _exact(event.turn_s),
        }
        for event in item.wrong_way_events
    ]
    fine = _group(FINE_KEYS, item.fine)
    fine["legs"] = [
        {
            "from_s": _exact(leg.from_s),
            "to_s": _exact(leg.to_s),
            "length_m": _finite(leg.length_m, 4),
            "bearing_deg": _finite(leg.bearing_deg, 1),
            "straightness_m": _finite(leg.straightness_m, 4),
        }
        for leg in item.legs
    ]
    return {
        "transmitter": item.transmitter,
        "found": item.found,
        "signal": _group(SIGNAL_KEYS, item.signal),
        "coarse": coarse,
        "fine": fine,
        "pinpoint": _group(PINPOINT_KEYS, item.pinpoint),
    }


def _ledger_row(item: LedgerRow) -> Json:
    return {
        "phase": item.phase,
        "transmitter": item.transmitter,
        "cause": item.cause,
        "from_s": _exact(item.from_s),
        "to_s": _exact(item.to_s),
        "seconds": _exact(item.seconds),
        "metres": _exact(item.metres),
    }


def _finding(item: Finding) -> Json:
    return {
        "id": item.id,
        "phase": item.phase,
        "transmitter": item.transmitter,
        "from_s": _exact(item.from_s),
        "to_s": _exact(item.to_s),
        "severity": item.severity,
        "text": item.text,
        "saving_s": _figure(item.saving_s),
        "figures": {name: _figure(value) for name, value in item.figures},
    }


def _scores(scores: Scores, result: RunResult) -> Json:
    rules: Json = {name: getattr(result.rules, name) for name in ("name", "version", "sha256")}
    rules |= {name: _exact(getattr(result.rules, name)) for name in REFERENCE_KEYS}
    rules["pace"] = [[knot.range_m, knot.pace_mps] for knot in result.rules.pace]
    losses = [
        {
            "phase": loss.phase,
            "points": _finite(loss.points, 4),
            "measure": loss.measure,
            "ledger_rows": list(loss.ledger_rows),
        }
        for loss in scores.losses
    ]
    return {key: _figure(value) for key, value in scores.by_phase} | {"rules": rules, "losses": losses}


def _readings(result: RunResult) -> Json | None:
    """Return the readings by column; the fourth, where there is one, is the number of the transmitter: its id here."""
    if result.readings is None:
        return None
    names, columns = ("time_s", "reading_m", "weight"), result.readings.T
    values: Json = {name: _column(column) for name, column in zip(names, columns[:3], strict=True)}
    if len(columns) > 3:
        values["transmitter"] = [result.transmitters[int(k)].id if k >= 0 else None for k in columns[3]]
    return values
