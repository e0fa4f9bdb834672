"""The ideal paths that a run is compared with. Slope-plane metres; rows S match the rows of the path's draws."""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.figure import Measured


@dataclass(frozen=True, slots=True, eq=False)
class CoarseIdeal:
    """The field line from the point of acquisition to the fine-search radius.

    `line_m` (p, 2): the line of draw row 0. `length_draws_m` (S,): its length in every draw.
    `length_m`: the length as a figure (a range over all axes where the axis is unknown).
    """

    transmitter: str
    line_m: FloatArray
    length_draws_m: FloatArray
    length_m: Measured
    straight_m: float

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, line_m=(None, 2), length_draws_m=(len(self.length_draws_m),))


@dataclass(frozen=True, slots=True, eq=False)
class BracketIdeal:
    """The ideal fine search: polyline (p, 2) of the cross, its length, and where physics puts the lowest reading."""

    transmitter: str
    cross_m: FloatArray
    length_m: float
    lowest_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, cross_m=(None, 2), lowest_m=(2,))


@dataclass(frozen=True, slots=True)
class ReferenceTimes:
    """Seconds the reference searcher spends; None where the phase has no reference."""

    transmitter: str
    signal_s: float | None
    coarse_s: float | None
    fine_s: float | None
    pinpoint_s: float | None
