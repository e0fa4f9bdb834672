"""What the search for one transmitter is held against."""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.figure import Measured, NotAssessable
from analyzer.model.ideal import BracketIdeal, CoarseIdeal, ReferenceTimes

NO_AREA = NotAssessable("the drill has no area")


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceSolution:
    """The ideal paths and times of one search; None where there is no such ideal, with the figures saying why.

    `covered_fraction`, `overlap_fraction`: how the drill's area was covered up to the first reading.
    `lowest_draws_m` (S, 2): where physics puts the lowest reading, slope-plane metres, one row per draw.
    """

    transmitter: str
    coarse: CoarseIdeal | None = None
    bracket: BracketIdeal | None = None
    reference: ReferenceTimes | None = None
    covered_fraction: Measured = NO_AREA
    overlap_fraction: Measured = NO_AREA
    lowest_draws_m: FloatArray | None = None

    def __post_init__(self) -> None:
        """Check and freeze the array."""
        freeze_fields(self, lowest_draws_m=(None, 2))
