"""The values of a result file as the frozen values that figures, components and seasons are made of."""

import datetime as dt
import math
from typing import Any

import numpy as np

from analyzer.errors import InputError
from analyzer.files.results.account_json import read_account_row, read_timeline_row
from analyzer.model.account import CAUSES, Finding, LedgerRow, Leg, PointLoss, Scores, Search, WrongWay
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.path import Evidence
from analyzer.model.phases import PHASES
from analyzer.model.recording import InputFile
from analyzer.model.result import PathTable, Phase, PlacedTransmitter, PlanLine, RunResult
from analyzer.model.rules import PaceKnot, Rules

Json = dict[str, Any]


def result_of(values: Json, *, name: str) -> RunResult:
    """Return the result that a file's values describe.

    Parameters
    ----------
    values : dict
        As `analyzer.files.results.result_json.read_result` gives them.
    name : str
        Name of the file, for the message.

    Raises
    ------
    InputError
        Where a part is missing, is of the wrong kind or cannot be drawn.
    """
    try:
        return _checked(_result(values))
    except KeyError as error:
        raise _unusable(name, f"the result has no {error.args[0]!r}") from None
    except (TypeError, ValueError, AttributeError) as error:
        raise _unusable(name, f"the result is damaged ({error})") from None


def _unusable(name: str, what: str) -> InputError:
    return InputError(where=name, what=what, do="analyze the drill again")


def _checked(result: RunResult) -> RunResult:
    """Return the result if every page can show it."""
    if len(result.path.time_s) == 0 or not np.isfinite(result.path.time_s).all():
        raise ValueError("the path has no times")
    if not result.duration_s > 0.0:
        raise ValueError(f"the run lasts {result.duration_s} s")
    rows: tuple[Phase | LedgerRow | Finding, ...] = (*result.phases, *result.ledger, *result.findings)
    strange = {row.phase for row in rows} - set(PHASES)
    strange |= {entry.cause for entry in result.ledger} - set(CAUSES)
    if strange:
        raise ValueError(f"unknown phase or cause {min(strange)!r}")
    return result


def _result(v: Json) -> RunResult:
    run = v["run"]
    area = v.get("area")
    return RunResult(
        run_id=run["id"],
        searcher=run["searcher"],
        drill=run["drill"],
        duration_s=float(run["duration_s"]),
        time_zero=dt.datetime.fromisoformat(run["time_zero"]),
        drill_key=v.get("drill_key", ""),
        engine=v.get("engine", ""),
        inputs=tuple(_input(item) for item in v["inputs"]),
        evidence=_evidence(v["evidence"]),
        path=_path(v["path"]),
        transmitters=tuple(_transmitter(item) for item in v["transmitters"]),
        phases=tuple(_phase(item) for item in v["phases"]),
        searches=tuple(_search(item) for item in v["searches"]),
        timeline=tuple(read_timeline_row(item) for item in v["timeline"]),
        account=tuple(read_account_row(item) for item in v["account"]),
        ledger=tuple(LedgerRow(**item) for item in v["ledger"]),
        findings=tuple(_finding(item) for item in v["findings"]),
        scores=_scores(v["scores"]),
        rules=_rules(v["scores"]["rules"]),
        lines=tuple(
            PlanLine(item["kind"], item["transmitter"], _points(item["points_m"])) for item in v.get("lines", [])
        ),
        readings=_readings(v.get("readings"), [item["id"] for item in v["transmitters"]]),
        corners_m=_points(area["corners_m"]) if area else None,
        slope=_slope(v.get("slope")),
        probe_hits_s=tuple((hit["transmitter"], float(hit["at_s"])) for hit in v.get("probe_hits", [])),
    )


def _column(values: list[float | None]) -> FloatArray:
    return np.array([math.nan if value is None else value for value in values], dtype=float)


def _points(rows: list[list[float | None]]) -> FloatArray:
    return np.array([_column(row) for row in rows], dtype=float).reshape(-1, 2)


def _slope(value: Json | None) -> tuple[float, float]:
    return (float(value["angle_deg"]), float(value["aspect_deg"])) if value else (0.0, 180.0)


def _measured(value: Json) -> Measured:
    if "value" in value:
        return Figure(float(value["value"]), float(value["low"]), float(value["high"]), value["unit"])
    return NotAssessable(value["why"])


def _group(values: Json, *without: str) -> tuple[tuple[str, Measured], ...]:
    return tuple((key, _measured(value)) for key, value in values.items() if key not in without)


def _input(v: Json) -> InputFile:
    dropped = tuple((item["reason"], int(item["count"])) for item in v["dropped"])
    return InputFile(v["role"], v["name"], v["sha256"], int(v["rows"]), int(v["used"]), dropped)


def _evidence(v: Json) -> Evidence:
    sigma = v["position_sigma_m"]
    return Evidence(
        v["tier"],
        _measured(sigma["coarse_search"]),
        _measured(sigma["fine_search"]),
        _measured(v["clock_offset_s"]),
        _measured(v["reading_scale"]),
        v["axis_source"],
    )


def _path(v: Json) -> PathTable:
    time_s = _column(v["time_s"])
    return PathTable(
        time_s,
        _column(v["east_m"]),
        _column(v["north_m"]),
        _column(v["sigma_m"]),
        _column(v.get("range_m", [None] * len(time_s))),
    )


def _transmitter(v: Json) -> PlacedTransmitter:
    return PlacedTransmitter(
        v["id"],
        float(v["east_m"]),
        float(v["north_m"]),
        float(v["sigma_m"]),
        float(v.get("depth_m", math.nan)),
        v["axis_bearing_deg"],
        v["axis_tilt_deg"],
    )


def _phase(v: Json) -> Phase:
    return Phase(
        v["phase"],
        v["transmitter"],
        float(v["start_s"]),
        float(v["end_s"]),
        v["start_sigma_s"],
        v["end_sigma_s"],
        float(v["walked_m"]),
        v.get("note", ""),
    )


def _search(v: Json) -> Search:
    events = tuple(
        WrongWay(float(e["from_s"]), float(e.get("turn_s", e["to_s"])), float(e["to_s"]), float(e["metres"]))
        for e in v["coarse"]["wrong_way_events"]
    )
    return Search(
        v["transmitter"],
        bool(v["found"]),
        _group(v["signal"]),
        _group(v["coarse"], "wrong_way_events"),
        events,
        _group(v["fine"], "legs"),
        tuple(Leg(**leg) for leg in v["fine"]["legs"]),
        _group(v["pinpoint"]),
    )


def _finding(v: Json) -> Finding:
    return Finding(
        v["id"],
        v["phase"],
        v["transmitter"],
        float(v["from_s"]),
        float(v["to_s"]),
        v["severity"],
        v["text"],
        _measured(v["saving_s"]),
        _group(v.get("figures", {})),
    )


def _scores(v: Json) -> Scores:
    losses = tuple(
        PointLoss(item["phase"], float(item["points"]), item["measure"], tuple(item["ledger_rows"]))
        for item in v.get("losses", [])
    )
    return Scores(_group(v, "rules", "losses"), losses)


def _rules(v: Json) -> Rules:
    """Return what a result tells of its rule sheet; its paces and lengths only where the file holds them."""
    knots = tuple(PaceKnot(float(r), float(p)) for r, p in v.get("pace", []))
    return Rules(
        v["name"],
        v["version"],
        v["sha256"],
        fine_radius_m=_number(v, "fine_radius_m"),
        pace=knots,
        bracket_arm_m=_number(v, "bracket_arm_m"),
        signal_pace_mps=_number(v, "signal_pace_mps"),
        bracket_pace_mps=_number(v, "bracket_pace_mps"),
        pinpoint_reference_s=_number(v, "pinpoint_reference_s"),
        weights=(),
        deductions=(),
        seconds_points=(),
    )


def _number(v: Json, key: str) -> float:
    """Return a number of the file, NaN where it is not in it."""
    value = v.get(key)
    return math.nan if value is None else float(value)


def _readings(v: Json | None, transmitters: list[str]) -> FloatArray | None:
    """Return (m, 4) time, reading, weight and number of the transmitter, -1 where the file does not name it."""
    if v is None:
        return None
    names = v.get("transmitter") or [None] * len(v["time_s"])
    numbers = np.array([transmitters.index(name) if name in transmitters else -1 for name in names], dtype=float)
    return np.column_stack([_column(v["time_s"]), _column(v["reading_m"]), _column(v["weight"]), numbers])
