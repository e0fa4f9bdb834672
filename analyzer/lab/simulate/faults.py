"""The named faults, and how large each one is in a run. A run without a fault has none of them.

A fault is planned here with magnitudes drawn from stated ranges (common practice, no source), carried out by
`searcher`, and told with its times by the truth.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from analyzer.errors import InputError, quoted


@dataclass(frozen=True, slots=True)
class WrongWay:
    """Follows the line away from the transmitter until the range has risen by `metres`, stands `notice_s`, turns.

    `longest_s`: turns back after so long at the latest; where a line bends, the range rises slowly.
    """

    metres: float
    after: float
    """Share of the reading at acquisition at which it happens."""
    notice_s: float
    longest_s: float = 25.0


@dataclass(frozen=True, slots=True)
class Detour:
    """Leaves the field line by `angle_rad` for `metres`, to the side that leads further from the transmitter."""

    metres: float
    angle_rad: float
    after: float


@dataclass(frozen=True, slots=True)
class Standing:
    """Stands still in the coarse search: one (share of the reading at acquisition, seconds) pair per stop."""

    stops: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class LateSlowDown:
    """Keeps at least `pace_mps` up to and through the fine-search radius, and past the lowest reading by `rise_m`."""

    pace_mps: float
    rise_m: float


@dataclass(frozen=True, slots=True)
class Rushed:
    """Brackets at `pace_mps` with hardly a pause."""

    pace_mps: float


@dataclass(frozen=True, slots=True)
class Narrow:
    """Turns `arm_m` past the lowest reading, before it has clearly risen."""

    arm_m: float


@dataclass(frozen=True, slots=True)
class Oblique:
    """Crosses the first line at `angle_rad` and not at a right angle."""

    angle_rad: float


@dataclass(frozen=True, slots=True)
class Extra:
    """Walks `lines` further lines over the lowest reading."""

    lines: int


@dataclass(frozen=True, slots=True)
class OffLowest:
    """Settles and probes `metres` off the lowest reading for `seconds` before shifting."""

    metres: float
    seconds: float


@dataclass(frozen=True, slots=True)
class MissedStrip:
    """Leaves out the search strip that would have met the signal and takes it last."""


@dataclass(frozen=True, slots=True)
class CoveredTwice:
    """Goes back over `share` of the first strip, which met nothing, and walks it once more."""

    share: float


@dataclass(frozen=True, slots=True)
class LongProbing:
    """Probes `seconds` longer than needed on the right spot: `wide` with steps about it, else on one place."""

    seconds: float
    wide: bool


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """The faults of the search for one transmitter; None where done right."""

    wrong_way: WrongWay | None = None
    detour: Detour | None = None
    standing: Standing | None = None
    late_slow_down: LateSlowDown | None = None
    rushed_bracketing: Rushed | None = None
    narrow_bracketing: Narrow | None = None
    oblique_bracketing: Oblique | None = None
    extra_lines: Extra | None = None
    off_lowest: OffLowest | None = None
    missed_strip: MissedStrip | None = None
    covered_twice: CoveredTwice | None = None
    long_probing: LongProbing | None = None


FAULTS: tuple[str, ...] = tuple(f.name for f in fields(FaultPlan))
PHASES: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(("missed_strip", "covered_twice"), ("signal_search",)),
    **dict.fromkeys(("wrong_way", "detour", "standing"), ("coarse_search",)),
    "late_slow_down": ("coarse_search", "fine_search"),
    **dict.fromkeys(("rushed_bracketing", "narrow_bracketing", "oblique_bracketing", "extra_lines"), ("fine_search",)),
    "off_lowest": ("fine_search", "pinpoint"),
    "long_probing": ("pinpoint",),
}
"""Fault -> the phases in which it is made."""


def fault_names(fault: str | Iterable[str] | None) -> tuple[str, ...]:
    """Return checked fault names of None, one name or several."""
    names = () if fault is None else (fault,) if isinstance(fault, str) else tuple(fault)
    for name in names:
        if name not in FAULTS:
            raise InputError(where="fault", what=f"{quoted(name)} is not known", do=f"use one of {', '.join(FAULTS)}")
    return names


def drawn_plan(names: Iterable[str], rng: np.random.Generator) -> FaultPlan:
    """Return a plan with the named faults, magnitudes drawn."""
    drawn: dict[str, Any] = {name: _drawn(name, rng) for name in sorted(set(names))}
    return FaultPlan(**drawn)


def _drawn(name: str, rng: np.random.Generator) -> object:
    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    if name == "standing":
        shares = sorted((between(0.35, 0.85) for _ in range(int(rng.integers(1, 3)))), reverse=True)
        return Standing(stops=tuple((share, between(4.0, 12.0)) for share in shares))
    makers: dict[str, Callable[[], object]] = {
        "wrong_way": lambda: WrongWay(metres=between(4.5, 12.0), after=between(0.45, 0.95), notice_s=between(0.3, 1.5)),
        "detour": lambda: Detour(metres=between(8.0, 14.0), after=between(0.5, 0.85), angle_rad=between(0.7, 1.05)),
        "late_slow_down": lambda: LateSlowDown(pace_mps=between(1.1, 1.4), rise_m=between(1.2, 2.5)),
        "rushed_bracketing": lambda: Rushed(pace_mps=between(0.6, 1.0)),
        "narrow_bracketing": lambda: Narrow(arm_m=between(0.15, 0.4)),
        "oblique_bracketing": lambda: Oblique(angle_rad=between(0.5, 0.95)),
        "extra_lines": lambda: Extra(lines=int(rng.integers(2, 5))),
        "off_lowest": lambda: OffLowest(metres=between(0.7, 1.5), seconds=between(15.0, 35.0)),
        "missed_strip": MissedStrip,
        "covered_twice": lambda: CoveredTwice(share=between(0.3, 0.7)),
        "long_probing": lambda: LongProbing(seconds=between(40.0, 90.0), wide=bool(rng.integers(2))),
    }
    return makers[name]()
