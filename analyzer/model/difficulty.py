"""What a drill asks of a searcher, before anyone has searched. Horizontal east, north metres unless said otherwise.

Lengths are those over the surface, in the slope plane.
"""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.figure import Measured
from analyzer.model.ideal import ReferenceTimes


@dataclass(frozen=True, slots=True, eq=False)
class SearchOutlook:
    """The reference searcher's search for one transmitter.

    `from_m` (2,): where it begins. `walk_m` (p, 2): along the strips until the signal is heard, one point where it is
    heard at once; `walk_length_m` its length. `heard`: False where the strips never come near enough and the search
    goes on from their end. `field_line_m` (p, 2): from there to the fine-search radius; `field_line_length_m`: its
    length, a range over all antenna axes where the axis is not given; `straight_length_m`: what a straight way to that
    radius would measure; `ratio`: the one over the other. `cross_m` (p, 2): the ideal bracket.
    """

    transmitter: str
    from_m: FloatArray
    walk_m: FloatArray
    walk_length_m: float
    heard: bool
    field_line_m: FloatArray
    field_line_length_m: Measured
    straight_length_m: float
    ratio: Measured
    cross_m: FloatArray
    reference: ReferenceTimes

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, from_m=(2,), walk_m=(None, 2), field_line_m=(None, 2), cross_m=(None, 2))

    @property
    def seconds(self) -> float:
        """The reference searcher's time for this search."""
        r = self.reference
        return sum(part for part in (r.signal_s, r.coarse_s, r.fine_s, r.pinpoint_s) if part is not None)


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What a transmitter looks like from all round.

    `lines_m`: field lines from evenly spread directions towards it, each (p, 2); none where the axis is not given.
    `ratio_low`, `ratio_high`: field line over straight way, over all directions at the reach of the signal.
    `lowest_m` (2,): where physics puts the lowest reading of the fine search; `lowest_away_m`: how far that is from the
    transmitter. Both are the transmitter's own place where the axis is not given. `outside_m`: how far it lies outside
    the area, 0 inside and without an area.
    """

    transmitter: str
    lines_m: tuple[FloatArray, ...]
    ratio_low: float
    ratio_high: float
    lowest_m: FloatArray
    lowest_away_m: float
    axis_known: bool
    outside_m: float

    def __post_init__(self) -> None:
        """Check and freeze the array."""
        freeze_fields(self, lowest_m=(2,))


@dataclass(frozen=True, slots=True, eq=False)
class ReadingGrid:
    """Readings over the ground: `reading_m` (rows, columns) at `north_m` (rows,) and `east_m` (columns,).

    The lowest over all transmitters whose axis is given; infinite everywhere where none is.
    """

    east_m: FloatArray
    north_m: FloatArray
    reading_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, east_m=(None,), north_m=(None,), reading_m=(len(self.north_m), len(self.east_m)))


@dataclass(frozen=True, slots=True, eq=False)
class DrillDifficulty:
    """How hard a drill is from one start. `searches`: in the order found.

    `reach_m`: distance over the surface at which the signal is heard first. `strips_m` (p, 2): the whole strip
    pattern from the start, empty without an area.
    """

    start_m: FloatArray
    reach_m: float
    strips_m: FloatArray
    searches: tuple[SearchOutlook, ...]
    around: tuple[Surroundings, ...]
    grid: ReadingGrid
    fine_radius_m: float

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, start_m=(2,), strips_m=(None, 2))

    @property
    def seconds(self) -> float:
        """The reference searcher's time for the whole drill."""
        return sum(search.seconds for search in self.searches)
