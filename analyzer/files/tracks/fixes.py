"""Fixes as a track file gives them, before they are placed in a drill."""

from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.model.arrays import FloatArray, freeze_fields

R68_PER_SIGMA = 1.5158
"""Radius holding 68.3 % of a circular Gaussian, in one-axis standard deviations: sqrt(-2 ln(1 - 0.683))."""

METRES_PER_DEGREE = 111_195.0
"""One degree of a great circle on the mean sphere, radius 6 371 008.8 m."""


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """What a track file holds. Arrays of shape (n,).

    `time_s`: seconds since 1970-01-01T00:00Z, NaN where the file gives no time. `first`, `second`: latitude and
    longitude in degrees, or east and north in metres where `geographic` is false. `number`: the number of the
    point or line in the file, and `unit` what is counted. `sigma_m`: one-axis standard deviation, NaN where not
    stated. `step`: step of the last digit, in the unit of the coordinates. `rows`: rows seen, used or not.
    """

    name: str
    unit: str
    geographic: bool
    time_s: FloatArray
    first: FloatArray
    second: FloatArray
    elevation_m: FloatArray
    sigma_m: FloatArray
    hdop: FloatArray
    number: FloatArray
    step: float
    rows: int
    dropped: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        names = ("time_s", "first", "second", "elevation_m", "sigma_m", "hdop", "number")
        freeze_fields(self, **dict.fromkeys(names, (n,)))

    def where(self, index: int) -> str:
        """Return "track.gpx, point 12" for the fix at `index`."""
        return f"{self.name}, {self.unit} {int(self.number[index])}"


def decimal_step(*coordinates: FloatArray, finest: int = 8) -> float:
    """Return 10^-k for the fewest decimals k <= `finest` that write every coordinate, 0 where there are more."""
    values = np.concatenate([c[np.isfinite(c)] for c in coordinates])
    if not len(values):
        return 0.0
    for decimals in range(finest + 1):
        scaled = values * 10.0**decimals
        # Slack: a double near 180 degrees holds 2.8e-14, which times 1e8 is far below 1e-4 of the last digit.
        if np.all(np.abs(scaled - np.round(scaled)) < 1e-4):
            return float(10.0**-decimals)
    return 0.0


def too_many_points(name: str, most: int) -> InputError:
    """Return the error of a file with more points than are read."""
    return InputError(
        where=name, what=f"the file has more than {most} points", do="cut the recording to this run and export it again"
    )
