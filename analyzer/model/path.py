"""The fused path: where the searcher was, how well that is known, and draws from what is not known.

Frame: the slope plane, (contour, upslope) in metres from the drill's origin; see `analyzer.geometry.slope_plane`.
Times: seconds from the recording's time zero, on the track's clock.
"""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.figure import Measured


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Whole worlds that agree with the evidence. Row 0 is the best estimate, rows 1.. are posterior samples.

    Shapes, with S rows, n times, k transmitters: `path_m` (S, n, 2), `velocity_mps` (S, n, 2),
    `transmitter_m` (S, k, 2) surface point over the transmitter, `axis` (S, k, 3) unit vectors in the slope frame
    (contour, upslope, normal), `reading_scale` (S,), `clock_offset_s` (S,).
    """

    path_m: FloatArray
    velocity_mps: FloatArray
    transmitter_m: FloatArray
    axis: FloatArray
    reading_scale: FloatArray
    clock_offset_s: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        s, n, _ = self.path_m.shape
        k = self.transmitter_m.shape[1]
        freeze_fields(
            self,
            path_m=(s, n, 2),
            velocity_mps=(s, n, 2),
            transmitter_m=(s, k, 2),
            axis=(s, k, 3),
            reading_scale=(s,),
            clock_offset_s=(s,),
        )


LINE_STEP_S = 5.0
"""An arm of a bracket takes 5 to 10 s: a recorder that stores a fix less often than this shows none. Our choice."""
FAR_SIGMAS = 3.0
USABLE_WEIGHT = 0.02
"""A reading that the robust fit trusted less than this had next to no part in it. Our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class UsedReadings:
    """Readings on the track's clock. `transmitter`: index into the drill's transmitters, (m,) of whole numbers.

    `weight`: 0..1, how far the robust fit trusted it; `dropped` ones have weight 0.
    """

    time_s: FloatArray
    reading_m: FloatArray
    transmitter: FloatArray
    weight: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        m = len(self.time_s)
        freeze_fields(self, time_s=(m,), reading_m=(m,), transmitter=(m,), weight=(m,))


NEARER, FARTHER, ERRATIC, OTHER = "nearer", "farther", "erratic", "other"
"""How readings of a stretch do not fit: all show less, or more, than can be; to and fro; as of another transmitter."""


@dataclass(frozen=True, slots=True)
class ReadingDoubt:
    """A stretch of a log that no place on the path can give; its readings have no weight.

    `kind`: NEARER, FARTHER, ERRATIC or OTHER. `named`: the transmitter of the drill that they fit, of OTHER.
    """

    start_s: float
    end_s: float
    transmitter: str
    kind: str
    count: int
    named: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """How good the evidence is. `tier`: track | track+readings | survey | survey+readings. `notes`: what to know before
    anything is judged, whole sentences. `doubts`: stretches of the log that are set aside. `not_read`: names of further
    files in the run's folder that nobody reads."""

    tier: str
    position_sigma_coarse_m: Measured
    position_sigma_fine_m: Measured
    clock_offset_s: Measured
    reading_scale: Measured
    axis_source: str
    notes: tuple[str, ...] = ()
    doubts: tuple[ReadingDoubt, ...] = ()
    not_read: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FixUse:
    """How many fixes there are, when those with next to no weight in the fit were, and how many lie over FAR_SIGMAS of
    their stated (else assumed) standard deviation off the path. `step_s`: median time from fix to fix."""

    count: int = 0
    without_weight_s: tuple[float, ...] = ()
    far: int = 0
    step_s: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class FusedPath:
    """The path of one run. Arrays of shape (n,): `time_s`, `sigma_m` (one axis), `height_m` of the receiver
    above the surface. `depth_m`, `transmitter_ids`: one entry per transmitter of the drill.
    `axis_known`: whether the axes in `draws` are more than a guess.
    """

    time_s: FloatArray
    sigma_m: FloatArray
    height_m: FloatArray
    draws: Draws
    readings: UsedReadings | None
    transmitter_ids: tuple[str, ...]
    depth_m: FloatArray
    transmitter_sigma_m: FloatArray
    axis_source: str
    antennas: int
    survey_grade: bool
    dropped: tuple[tuple[str, int], ...] = ()
    fixes: FixUse = FixUse()
    doubts: tuple[ReadingDoubt, ...] = ()

    @property
    def lines_hidden(self) -> str:
        """Return why no path shows the lines of a bracket, "" where it may."""
        if self.fixes.step_s > LINE_STEP_S:
            return f"a fix every {self.fixes.step_s:.0f} s does not show lines of a few seconds each"
        if self.survey_grade:
            return ""
        if self.readings is None:
            return "positions alone are too coarse for the fine search; log readings"
        return (
            "one antenna's readings hang on how it is turned and tell too little of place" if self.antennas == 1 else ""
        )

    @property
    def settling_hidden(self) -> bool:
        """Return whether nothing tells when the searcher settled: fixes too seldom without a log, or one antenna."""
        return self.antennas == 1 or (self.readings is None and self.fixes.step_s > LINE_STEP_S)

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n, k = len(self.time_s), len(self.transmitter_ids)
        freeze_fields(self, time_s=(n,), sigma_m=(n,), height_m=(n,), depth_m=(k,), transmitter_sigma_m=(k,))
