"""A rule sheet: what the reference searcher does, which radii bound the phases, what a fault costs."""

from dataclasses import dataclass


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
class Rules:
    """A checked rule sheet. `sha256` is of the file's bytes. `weights`: phase -> share, adding up to 1."""

    name: str
    version: str
    sha256: str
    fine_radius_m: float
    signal_pace_mps: float
    pace: tuple[PaceKnot, ...]
    bracket_arm_m: float
    bracket_pace_mps: float
    pinpoint_reference_s: float
    weights: tuple[tuple[str, float], ...]
    deductions: tuple[Deduction, ...]
    seconds_points: tuple[tuple[str, float], ...]
    """Phase -> points lost per second of ledger time that is not `on_reference`."""
