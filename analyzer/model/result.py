"""The result of one run: everything that a result file holds."""

import datetime as dt
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from analyzer.model.account import AccountRow, Finding, Scores, Search, TimelineRow
from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.path import Evidence
from analyzer.model.recording import NO_WORDS, InputFile, RunWords
from analyzer.model.rules import ReferenceRules

PLACES, AXES = "transmitter_places", "antenna_axes"
OF_THE_DRILL = ("drill", "waypoints")
"""Roles of the input files that all runs of a drill have in common."""


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


@dataclass(frozen=True, slots=True)
class Split:
    """A noted moment that bounds no phase, one of SPLIT_MARKS; it may lie after the run's end. `since_hit_s`: since
    the hit on its transmitter, without one since the last hit; None where there was none before it."""

    mark: str
    transmitter: str | None
    at_s: float
    since_hit_s: float | None


@dataclass(frozen=True, slots=True, eq=False)
class PlanLine:
    """An ideal line for the plan view, (p, 2) east, north metres. `kind`: strips | field_line | bracket | lowest."""

    kind: str
    transmitter: str
    points_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, points_m=(None, 2))


@dataclass(frozen=True, slots=True)
class SharedRun:
    """A run of the same fit. `sha256`: over the hashes of its own files, see `files_sha256`."""

    run: str
    sha256: str


@dataclass(frozen=True, slots=True)
class SharedFit:
    """What of the drill was estimated from several runs at once. `estimated`: of PLACES and AXES; `runs`: all runs of
    the fit, this one included, in the order of the drill."""

    estimated: tuple[str, ...]
    runs: tuple[SharedRun, ...]


def files_sha256(inputs: Iterable[InputFile]) -> str:
    """Return one SHA-256 for a run's own files: over their hashes, a line each, in the order of the files' names.

    The drill's own files are not among them, for they are the same for all of its runs.
    """
    own = sorted((item.name, item.sha256) for item in inputs if item.role not in OF_THE_DRILL)
    return hashlib.sha256("".join(f"{sha256}\n" for _, sha256 in own).encode()).hexdigest()


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
    shared: SharedFit | None
    """None: of other runs, nothing was used."""
    lines: tuple[PlanLine, ...] = ()
    readings: FloatArray | None = None
    corners_m: FloatArray | None = None
    engine: str = ""
    drill_key: str = ""
    slope: tuple[float, float] = (0.0, 180.0)
    probe_hits_s: tuple[tuple[str, float], ...] = ()
    possible: tuple[Finding, ...] = ()
    """What may have been so: less sure than a finding, never scored."""
    team: bool = False
    """Several searchers looked for the same burials."""
    splits: tuple[Split, ...] = ()
    """In the order of time."""
    words: RunWords = NO_WORDS
    """Never in the file: who reads a result for people to see puts in what the run's files say at that time."""

    @property
    def called(self) -> str:
        """The run's title, or its id where nobody gave it one."""
        return self.words.title or self.run_id
