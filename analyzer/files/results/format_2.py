"""Format 2 of result files: where the fields of a result stand in it, and how numbers are rounded.

Figures are rounded to 1e-4 of their unit and the path to 1 mm. What must add up (timeline, account, phases,
duration) is rounded to 1e-6, so that the sums of a timeline of a thousand rows still hold within 1 ms and 1 mm.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from cattrs import override

from analyzer.files.json_codec import Codec, Json, codec, figure_writer
from analyzer.files.json_layout import layout, named
from analyzer.files.results import RESULT_FORMAT
from analyzer.model.account import AccountRow, Leg, PointLoss, Scores, Search, WrongWay
from analyzer.model.arrays import FloatArray
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.result import PathTable, Phase, PlacedTransmitter, PlanLine, RunResult, SharedFit
from analyzer.model.rules import PaceKnot, ReferenceRules

RESULT = (
    "engine drill_key run_id=run.id searcher=run.searcher drill=run.drill time_zero=run.time_zero "
    "duration_s=run.duration_s inputs evidence path transmitters phases searches timeline account findings possible "
    "scores=scores.* rules=scores.rules shared slope corners_m=area lines readings probe_hits_s=probe_hits team splits"
)
"""`engine` and `drill_key` stand first so that a head of the file holds them."""


NONE = "none"
"""What stands under `shared` where nothing of other runs was used."""


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """The corners of the drill's area."""

    corners_m: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ReadingColumns:
    """The readings by column; `transmitter`: ids, None for one of no transmitter, where the run tells them apart."""

    time_s: FloatArray
    reading_m: FloatArray
    weight: FloatArray
    transmitter: tuple[str | None, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ResultFile:
    """A result file: its readings name transmitters by id, those of a result by their number."""

    format: str
    result: RunResult
    readings: ReadingColumns | None = None


def _codec() -> Codec:
    """Return the converter of format 2; 6 decimals where nothing else is said, 3 for arrays."""
    made = codec(digits=6, array_digits=3, figure_digits=4)
    _tell_values(made)
    _tell_rules(made)
    _tell_result(made)
    return made


def _tell_values(made: Codec) -> None:
    at_times = override(omit_if_default=True)
    layout(made, InputFile, dropped=named(made, tuple[tuple[str, int], ...], "reason", "count"), told=at_times)
    layout(
        made,
        Evidence,
        "tier position_sigma_coarse_m=position_sigma_m.coarse_search "
        "position_sigma_fine_m=position_sigma_m.fine_search clock_offset_s reading_scale axis_source notes doubts "
        "not_read",
        not_read=at_times,
    )
    layout(
        made,
        PlacedTransmitter,
        "id east_m north_m sigma_m axis_bearing_deg axis_tilt_deg depth_m",
        digits={"east_m": 3, "north_m": 3, "sigma_m": 3, "axis_bearing_deg": 1, "axis_tilt_deg": 1, "depth_m": 3},
    )
    layout(made, Phase, digits={"start_sigma_s": 3, "end_sigma_s": 3})
    layout(made, WrongWay, "from_s to_s metres turn_s", digits={"metres": 4})
    layout(made, Leg, digits={"length_m": 4, "bearing_deg": 1, "straightness_m": 4})
    layout(made, AccountRow, seconds=override(unstruct_hook=figure_writer(6)))  # its values add up to the run
    one_of = override(omit_if_default=True)
    layout(made, PointLoss, digits={"points": 4}, cause=one_of, measure=one_of)
    points = override(struct_hook=lambda rows, kind: made.structure(rows, kind).reshape(-1, 2))
    layout(made, PlanLine, points_m=points)
    layout(made, Area, corners_m=points)


def _tell_result(made: Codec) -> None:
    layout(
        made,
        Search,
        "transmitter found signal coarse=coarse.* wrong_way_events=coarse.wrong_way_events fine=fine.* legs=fine.legs "
        "pinpoint",
    )
    layout(made, Scores, "by_phase=* losses")
    read_path = made.get_structure_hook(PathTable)
    made.register_structure_hook(PathTable, lambda values, kind: read_path(_with_range(values), kind))
    layout(
        made,
        RunResult,
        RESULT,
        shared=override(
            unstruct_hook=lambda shared: NONE if shared is None else made.unstructure(shared, SharedFit),
            struct_hook=lambda values, _: None if values == NONE else made.structure(values, SharedFit),
        ),
        slope=named(made, tuple[float, float], "angle_deg", "aspect_deg"),
        corners_m=override(
            unstruct_hook=lambda corners: None if corners is None else made.unstructure(Area(corners)),
            struct_hook=lambda values, _: None if values is None else made.structure(values, Area).corners_m,
        ),
        readings=override(unstruct_hook=lambda _: None),  # their place; what stands there is of ResultFile
        probe_hits_s=named(made, tuple[tuple[str, float], ...], "transmitter", "at_s", digits=6),
        team=override(omit_if_default=True),
        splits=override(omit_if_default=True),
    )
    layout(made, ReadingColumns, transmitter=override(omit_if_default=True))
    layout(made, ResultFile, "format result=* readings")


def _tell_rules(made: Codec) -> None:
    knots = tuple[tuple[float, float], ...]
    layout(
        made,
        ReferenceRules,
        "name version sha256 signal_pace_mps fine_radius_m bracket_arm_m bracket_pace_mps pinpoint_reference_s "
        "marking_s missed_s pace",
        pace=override(
            unstruct_hook=lambda pace: [[knot.range_m, knot.pace_mps] for knot in pace],
            struct_hook=lambda values, _: tuple(PaceKnot(*pair) for pair in made.structure(values, knots)),
        ),
    )


def _with_range(values: Any) -> Any:
    """Return a path with its ranges; NaN where it has none, for they came after the rest."""
    if isinstance(values, dict) and "range_m" not in values and isinstance(values.get("time_s"), list):
        return values | {"range_m": [None] * len(values["time_s"])}
    return values


CODEC = _codec()


def file_values(result: RunResult) -> Json:
    """Return the values of a result's file."""
    values: Json = CODEC.unstructure(ResultFile(RESULT_FORMAT, result, _columns(result)))
    values["scores"]["losses"] = values["scores"].pop("losses")  # the losses stand behind the rules
    return values


def result_of(file: ResultFile) -> RunResult:
    """Return the result that stands in a file."""
    return replace(file.result, readings=_readings(file))


def _columns(result: RunResult) -> ReadingColumns | None:
    """Return the readings; the fourth column, where there is one, is the number of the transmitter: its id here."""
    if result.readings is None:
        return None
    time_s, reading_m, weight, *number = result.readings.T
    ids = [tuple(result.transmitters[int(k)].id if k >= 0 else None for k in column) for column in number]
    return ReadingColumns(time_s, reading_m, weight, *ids)


def _readings(file: ResultFile) -> FloatArray | None:
    """Return (m, 3) or (m, 4); the number of the transmitter is -1 where the file does not name one that it knows."""
    if file.readings is None:
        return None
    numbers = {item.id: float(k) for k, item in enumerate(file.result.transmitters)}
    columns = [file.readings.time_s, file.readings.reading_m, file.readings.weight]
    if file.readings.transmitter is not None:
        columns.append(np.array([numbers.get(name or "", -1.0) for name in file.readings.transmitter]))
    return np.column_stack(columns)
