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
    `zigzags_s` (S,): seconds at the sheet's pace until a zigzag with fewest strips comes within this searcher's hearing
    range, their mean in every draw, infinite where one never does; or why there is none.
    `lowest_draws_m` (S, 2): where physics puts the lowest reading, slope-plane metres, one row per draw.
    """

    transmitter: str
    coarse: CoarseIdeal | None = None
    bracket: BracketIdeal | None = None
    reference: ReferenceTimes | None = None
    covered_fraction: Measured = NO_AREA
    overlap_fraction: Measured = NO_AREA
    lowest_draws_m: FloatArray | None = None
    zigzags_s: FloatArray | NotAssessable = NO_AREA

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, lowest_draws_m=(None, 2))
        if not isinstance(self.zigzags_s, NotAssessable):
            freeze_fields(self, zigzags_s=(None,))
