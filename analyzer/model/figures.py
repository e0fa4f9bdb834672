"""A measured figure with its 90 % interval, or the reason why there is none."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """A measured value with the bounds of its 90 % interval, all in `unit`."""

    value: float
    low: float
    high: float
    unit: str

    def as_json(self) -> dict[str, Any]:
        """Return the result-file form."""
        return {"value": self.value, "low": self.low, "high": self.high, "unit": self.unit}


@dataclass(frozen=True, slots=True)
class NotAssessable:
    """A figure that the evidence does not give, and why, in words for the reader."""

    why: str

    def as_json(self) -> dict[str, Any]:
        """Return the result-file form."""
        return {"status": "not_assessable", "why": self.why}


Measured = Figure | NotAssessable


def value_of(measured: Measured) -> float | None:
    """Return the value of a figure, None where it is not assessable."""
    return measured.value if isinstance(measured, Figure) else None
