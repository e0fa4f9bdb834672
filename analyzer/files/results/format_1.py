"""Format 1 of result files: the parts that stand otherwise in the file than in the values, and how numbers are rounded.

Figures are rounded to 1e-4 of their unit and the path to 1 mm. What must add up (timeline, account, ledger, phases,
duration) is rounded to 1e-6, so that the sums of a ledger of a thousand rows still hold within 1 ms and 1 mm.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from cattrs import Converter, override

from analyzer.files.json_codec import NO_FIGURE, Pairs, codec, figure_writer, named, shape
from analyzer.model.account import AccountRow, Finding, LedgerRow, Leg, PointLoss, Scores, Search, TimelineRow, WrongWay
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Measured
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.result import FORMAT, PathTable, Phase, PlacedTransmitter, PlanLine, RunResult
from analyzer.model.rules import PaceKnot, ReferenceRules

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


@dataclass(frozen=True, slots=True)
class RunPart:
    """Whose run, where and when."""

    id: str
    searcher: str
    drill: str
    time_zero: dt.datetime
    duration_s: float


@dataclass(frozen=True, slots=True)
class Dropped:
    """How many rows of an input were set aside for a reason."""

    reason: str
    count: int


@dataclass(frozen=True, slots=True)
class SigmaPart:
    """Position sigma by phase."""

    coarse_search: Measured
    fine_search: Measured


@dataclass(frozen=True, slots=True)
class EvidencePart:
    """How good the evidence is."""

    tier: str
    position_sigma_m: SigmaPart
    clock_offset_s: Measured
    reading_scale: Measured
    axis_source: str


@dataclass(frozen=True, slots=True)
class CoarsePart:
    """Figures of the coarse search and its stretches of wrong way."""

    beside: Pairs
    wrong_way_events: tuple[WrongWay, ...]


@dataclass(frozen=True, slots=True)
class FinePart:
    """Figures of the fine search and its legs."""

    beside: Pairs
    legs: tuple[Leg, ...]


@dataclass(frozen=True, slots=True)
class SearchPart:
    """The measures of the search for one transmitter."""

    transmitter: str
    found: bool
    signal: Pairs
    coarse: CoarsePart
    fine: FinePart
    pinpoint: Pairs


@dataclass(frozen=True, slots=True)
class ScoresPart:
    """Scores by phase, the rules they were taken by and what was lost for what."""

    beside: Pairs
    rules: ReferenceRules
    losses: tuple[PointLoss, ...] = ()


@dataclass(frozen=True, slots=True)
class SlopePart:
    """The slope, and which way is down."""

    angle_deg: float
    aspect_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class AreaPart:
    """The corners of the drill's area."""

    corners_m: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ReadingsPart:
    """The readings by column; `transmitter`: ids, None for one of no transmitter, where the run tells them apart."""

    time_s: FloatArray
    reading_m: FloatArray
    weight: FloatArray
    transmitter: tuple[str | None, ...] | None = None


@dataclass(frozen=True, slots=True)
class Hit:
    """A probe hit."""

    transmitter: str
    at_s: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ResultFile:
    """A result file. `engine` and `drill_key` stand near its start, so that a head of the file holds them."""

    format: str = FORMAT
    engine: str = ""
    drill_key: str = ""
    run: RunPart
    inputs: tuple[InputFile, ...]
    evidence: EvidencePart
    path: PathTable
    transmitters: tuple[PlacedTransmitter, ...]
    phases: tuple[Phase, ...]
    searches: tuple[SearchPart, ...]
    timeline: tuple[TimelineRow, ...]
    account: tuple[AccountRow, ...]
    ledger: tuple[LedgerRow, ...]
    findings: tuple[Finding, ...]
    scores: ScoresPart
    slope: tuple[float, float] = (0.0, 180.0)
    area: AreaPart | None = None
    lines: tuple[PlanLine, ...] = ()
    readings: ReadingsPart | None = None
    probe_hits: tuple[tuple[str, float], ...] = ()


def _codec() -> Converter:
    """Return the converter of format 1; 6 decimals where nothing else is said, 3 for arrays."""
    made = codec(digits=6, array_digits=3, figure_digits=4)
    knots = tuple[tuple[float, float], ...]
    shape(made, SlopePart, digits={"angle_deg": None, "aspect_deg": None})
    shape(made, InputFile, dropped=named(made, Dropped))
    points = override(struct_hook=lambda rows, kind: made.structure(rows, kind).reshape(-1, 2))
    shape(made, AreaPart, corners_m=points)
    shape(made, PlanLine, points_m=points)
    shape(made, ReadingsPart, transmitter=override(omit_if_default=True))
    shape(
        made,
        PlacedTransmitter,
        digits={"east_m": 3, "north_m": 3, "sigma_m": 3, "axis_bearing_deg": 1, "axis_tilt_deg": 1, "depth_m": 3},
        order="id east_m north_m sigma_m axis_bearing_deg axis_tilt_deg depth_m",
    )
    shape(made, Phase, digits={"start_sigma_s": 3, "end_sigma_s": 3})
    shape(made, WrongWay, digits={"metres": 4}, order="from_s to_s metres turn_s")
    shape(made, Leg, digits={"length_m": 4, "bearing_deg": 1, "straightness_m": 4})
    shape(made, AccountRow, seconds=override(unstruct_hook=figure_writer(6)))  # its values add up to the run
    shape(made, PointLoss, digits={"points": 4})
    shape(
        made,
        ReferenceRules,
        order="name version sha256 signal_pace_mps fine_radius_m bracket_arm_m bracket_pace_mps "
        "pinpoint_reference_s pace",
        pace=override(
            unstruct_hook=lambda pace: [[knot.range_m, knot.pace_mps] for knot in pace],
            struct_hook=lambda values, _: tuple(PaceKnot(*pair) for pair in made.structure(values, knots)),
        ),
    )
    for part in (CoarsePart, FinePart, ScoresPart):
        shape(made, part)
    read_path = made.get_structure_hook(PathTable)
    made.register_structure_hook(PathTable, lambda values, kind: read_path(_with_range(values), kind))
    slope = named(made, SlopePart, many=False)
    shape(made, ResultFile, slope=slope, probe_hits=named(made, Hit))
    return made


def _with_range(values: Any) -> Any:
    """Return a path with its ranges; NaN where it has none, for they came after the rest."""
    if isinstance(values, dict) and "range_m" not in values and isinstance(values.get("time_s"), list):
        return values | {"range_m": [None] * len(values["time_s"])}
    return values


CODEC = _codec()


def file_of(result: RunResult) -> ResultFile:
    """Return a result as it stands in its file."""
    r = result
    return ResultFile(
        engine=r.engine,
        drill_key=r.drill_key,
        run=RunPart(r.run_id, r.searcher, r.drill, r.time_zero, r.duration_s),
        inputs=r.inputs,
        evidence=_evidence_part(r.evidence),
        path=r.path,
        transmitters=r.transmitters,
        phases=r.phases,
        searches=tuple(_search_part(search) for search in r.searches),
        timeline=r.timeline,
        account=r.account,
        ledger=r.ledger,
        findings=r.findings,
        scores=ScoresPart(r.scores.by_phase, r.rules, r.scores.losses),
        slope=r.slope,
        area=None if r.corners_m is None else AreaPart(r.corners_m),
        lines=r.lines,
        readings=_readings_part(r),
        probe_hits=r.probe_hits_s,
    )


def result_of(file: ResultFile) -> RunResult:
    """Return the result that stands in a file."""
    e = file.evidence
    sigma = e.position_sigma_m
    return RunResult(
        run_id=file.run.id,
        searcher=file.run.searcher,
        drill=file.run.drill,
        time_zero=file.run.time_zero,
        duration_s=file.run.duration_s,
        inputs=file.inputs,
        evidence=Evidence(
            e.tier, sigma.coarse_search, sigma.fine_search, e.clock_offset_s, e.reading_scale, e.axis_source
        ),
        path=file.path,
        transmitters=file.transmitters,
        phases=file.phases,
        searches=tuple(_search(part) for part in file.searches),
        timeline=file.timeline,
        account=file.account,
        ledger=file.ledger,
        findings=file.findings,
        scores=Scores(file.scores.beside, file.scores.losses),
        rules=file.scores.rules,
        lines=file.lines,
        readings=_readings(file),
        corners_m=None if file.area is None else file.area.corners_m,
        engine=file.engine,
        drill_key=file.drill_key,
        slope=file.slope,
        probe_hits_s=file.probe_hits,
    )


def _evidence_part(e: Evidence) -> EvidencePart:
    sigma = SigmaPart(e.position_sigma_coarse_m, e.position_sigma_fine_m)
    return EvidencePart(e.tier, sigma, e.clock_offset_s, e.reading_scale, e.axis_source)


def _search_part(s: Search) -> SearchPart:
    coarse = CoarsePart(_all(COARSE_KEYS, s.coarse), s.wrong_way_events)
    fine = FinePart(_all(FINE_KEYS, s.fine), s.legs)
    return SearchPart(
        s.transmitter, s.found, _all(SIGNAL_KEYS, s.signal), coarse, fine, _all(PINPOINT_KEYS, s.pinpoint)
    )


def _search(p: SearchPart) -> Search:
    coarse, fine = p.coarse, p.fine
    return Search(
        p.transmitter, p.found, p.signal, coarse.beside, coarse.wrong_way_events, fine.beside, fine.legs, p.pinpoint
    )


def _all(keys: Iterable[str], figures: Pairs) -> Pairs:
    """Return all figures of the contract and any more that were measured."""
    known = dict(figures)
    return tuple(({key: known.get(key, NO_FIGURE) for key in keys} | known).items())


def _readings_part(result: RunResult) -> ReadingsPart | None:
    """Return the readings; the fourth column, where there is one, is the number of the transmitter: its id here."""
    if result.readings is None:
        return None
    time_s, reading_m, weight, *number = result.readings.T
    ids = [tuple(result.transmitters[int(k)].id if k >= 0 else None for k in column) for column in number]
    return ReadingsPart(time_s, reading_m, weight, ids[0] if ids else None)


def _readings(file: ResultFile) -> FloatArray | None:
    """Return (m, 3) or (m, 4); the number of the transmitter is -1 where the file does not name one that it knows."""
    if file.readings is None:
        return None
    numbers = {item.id: float(k) for k, item in enumerate(file.transmitters)}
    columns = [file.readings.time_s, file.readings.reading_m, file.readings.weight]
    if file.readings.transmitter is not None:
        columns.append(np.array([numbers.get(name or "", -1.0) for name in file.readings.transmitter]))
    return np.column_stack(columns)
