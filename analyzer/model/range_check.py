"""A range check: what a receiver showed at taped distances from one transmitter, and what that tells of it."""

from dataclasses import dataclass

from analyzer.model.figure import Measured

COAXIAL, BROADSIDE, UNKNOWN = "coaxial", "broadside", "unknown"
ORIENTATIONS = (COAXIAL, BROADSIDE, UNKNOWN)
"""How the transmitter's antenna lies to the tape: along it, level and square to it, nobody knows."""


@dataclass(frozen=True, slots=True)
class Look:
    """One look at the receiver on a walk along the tape.

    `distance_m`: taped along the snow. `reading_m`: shown, None for nothing shown. `walk`: the name of the walk;
    within one the transmitter and the receiver are left as they are.
    """

    distance_m: float
    reading_m: float | None
    orientation: str = UNKNOWN
    walk: str = "1"


@dataclass(frozen=True, slots=True)
class RangeSetup:
    """Heights above the snow in metres, and the antennas of the receiver (1 to 3)."""

    transmitter_height_m: float = 1.0
    receiver_height_m: float = 1.0
    antennas: int = 3


@dataclass(frozen=True, slots=True)
class RangeCheck:
    """What a range check tells.

    `scale`: reading over distance, square to the antenna's axis; `scale_sigma`: of it, None where there is no scale.
    `usable_m`: within which nine looks in ten show a reading with the antenna broadside. `strip_width_m`: proposed,
    None where there is no usable range. `shown`, `nothing`: how many looks were which. `remarks`: for the reader.
    """

    scale: Measured
    scale_sigma: float | None
    usable_m: Measured
    strip_width_m: int | None
    shown: int
    nothing: int
    remarks: tuple[str, ...] = ()
