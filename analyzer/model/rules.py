"""A rule sheet: what the reference searcher does, which radii bound the phases, what a fault costs."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class PaceKnot:
    """Pace of the reference searcher at a range; linear between knots, constant outside them."""

    range_m: float
    pace_mps: float


@dataclass(frozen=True, slots=True)
class Deduction:
    """Points taken from a phase's 100 per unit of a measure beyond `free`.

    `measure` is a path into the result, like "coarse.wrong_way_m"; `at_most` bounds the points it can take.
    """

    phase: str
    measure: str
    free: float
    points_per_unit: float
    at_most: float


@dataclass(frozen=True, slots=True)
class SheetId:
    """Which rule sheet: its name and version, and the SHA-256 of the bytes it was read from."""

    name: str
    version: str
    sha256: str


@dataclass(frozen=True, slots=True)
class ReferenceRules(SheetId):
    """What a result tells of the sheet it was measured with: which one, and its reference searcher.

    A type of its own, and not a `Rules` with empty parts: what the points were taken for stands in the sheet, and a
    result names the sheet by its hash. So whoever needs deductions has to ask for `Rules`, and the type
    checker says where a result's rules do not do.
    """

    fine_radius_m: float
    signal_pace_mps: float
    pace: tuple[PaceKnot, ...]
    bracket_arm_m: float
    bracket_pace_mps: float
    pinpoint_reference_s: float
    marking_s: float
    """From a hit until the spot is left."""
    missed_s: float
    """What a transmitter not found adds to the seconds lost."""


@dataclass(frozen=True, slots=True)
class Rules(ReferenceRules):
    """A checked rule sheet: the reference searcher, and the points taken beside the seconds lost."""

    deductions: tuple[Deduction, ...]

    @property
    def sheet(self) -> SheetId:
        """Which sheet this is."""
        return SheetId(self.name, self.version, self.sha256)

    @property
    def reference(self) -> ReferenceRules:
        """What a result tells of this sheet."""
        return ReferenceRules(**{field.name: getattr(self, field.name) for field in fields(ReferenceRules)})
