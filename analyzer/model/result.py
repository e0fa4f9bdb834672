"""The result of one run: everything that a result file holds."""

import datetime as dt
from dataclasses import dataclass

from analyzer.model.account import AccountRow, Finding, Scores, Search, TimelineRow
from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.rules import ReferenceRules


@dataclass(frozen=True, slots=True, eq=False)
class PathTable:
    """The fused path in horizontal metres from the drill's origin; arrays of shape (n,)."""

    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    sigma_m: FloatArray
    range_m: FloatArray
    """Distance over the surface to the transmitter searched at that time; NaN in a signal search without readings."""

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), east_m=(n,), north_m=(n,), sigma_m=(n,), range_m=(n,))


@dataclass(frozen=True, slots=True)
class PlacedTransmitter:
    """A transmitter as estimated, in the frame of the path; axis None where unknown."""

    id: str
    east_m: float
    north_m: float
    sigma_m: float
    depth_m: float
    axis_bearing_deg: float | None
    axis_tilt_deg: float | None


@dataclass(frozen=True, slots=True)
class Phase:
    """One row of the result's phases; sigmas None where not assessable."""

    phase: str
    transmitter: str
    start_s: float
    end_s: float
    start_sigma_s: float | None
    end_sigma_s: float | None
    walked_m: float
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class PlanLine:
    """An ideal line for the plan view, (p, 2) east, north metres. `kind`: strips | field_line | bracket | lowest."""

    kind: str
    transmitter: str
    points_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, points_m=(None, 2))


@dataclass(frozen=True, slots=True, eq=False)
class RunResult:
    """A whole result, ready to be written. `readings`: (m, 3) time_s, reading_m, weight on the track's clock,
    or (m, 4) with the number of the transmitter in `transmitters`."""

    run_id: str
    searcher: str
    drill: str
    time_zero: dt.datetime
    duration_s: float
    inputs: tuple[InputFile, ...]
    evidence: Evidence
    path: PathTable
    transmitters: tuple[PlacedTransmitter, ...]
    phases: tuple[Phase, ...]
    searches: tuple[Search, ...]
    timeline: tuple[TimelineRow, ...]
    account: tuple[AccountRow, ...]
    findings: tuple[Finding, ...]
    scores: Scores
    rules: ReferenceRules
    lines: tuple[PlanLine, ...] = ()
    readings: FloatArray | None = None
    corners_m: FloatArray | None = None
    engine: str = ""
    drill_key: str = ""
    slope: tuple[float, float] = (0.0, 180.0)
    probe_hits_s: tuple[tuple[str, float], ...] = ()
    possible: tuple[Finding, ...] = ()
    """What may have been so: less sure than a finding, never scored."""
