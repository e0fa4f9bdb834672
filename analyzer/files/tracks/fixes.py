"""Fixes as a track file gives them, before they are placed in a drill."""

from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.files.numbers import LARGEST
from analyzer.model.arrays import FloatArray, freeze_fields

R68_PER_SIGMA = 1.5158
"""Radius holding 68.3 % of a circular Gaussian, in one-axis standard deviations: sqrt(-2 ln(1 - 0.683))."""

LEAST_SIGMA_M = 1e-4
"""A tenth of a millimetre; our own choice, because survey equipment states a few millimetres at best."""
METRES_PER_DEGREE = 111_195.0
"""One degree of a great circle on the mean sphere, radius 6 371 008.8 m."""


@dataclass(frozen=True, slots=True)
class TrackPart:
    """One of several tracks of a file: its title, "" without, when it begins and ends (seconds since 1970 UTC)."""

    title: str
    begin_s: float
    end_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """What a track file holds. Arrays of shape (n,).

    `time_s`: seconds since 1970-01-01T00:00Z, NaN where the file gives no time. `first`, `second`: latitude and
    longitude in degrees, or east and north in metres where `geographic` is false. `number`: the number of the
    point or line in the file, and `unit` what is counted. `sigma_m`: one-axis standard deviation, NaN where not
    stated. `step`: step of the last digit, in the unit of the coordinates. `rows`: rows seen, used or not.
    `dated`: false where the file tells times of day alone; `time_s` counts from 0 h UTC of a day not known then.
    `elapsed`: they count from the start of the run, which is not known then. `parts`: the tracks of a file with
    several, in the order of time; empty for a file with one. `told`: how a file that leaves a choice was read.
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
    dated: bool = True
    parts: tuple[TrackPart, ...] = ()
    elapsed: bool = False
    told: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        names = ("time_s", "first", "second", "elevation_m", "sigma_m", "hdop", "number")
        freeze_fields(self, **dict.fromkeys(names, (n,)))
        self._check_ranges()

    def _check_ranges(self) -> None:
        """Raise `InputError` where a number is none that a recorder means: a power of one overflows in what follows."""
        checks = (
            ("the position", np.fmax(np.abs(self.first), np.abs(self.second)), 0.0, LARGEST),
            ("the elevation", np.abs(self.elevation_m), 0.0, LARGEST),
            ("the accuracy", self.sigma_m, LEAST_SIGMA_M, LARGEST),
            ("the hdop", np.abs(self.hdop), 0.0, LARGEST),
        )
        for what, values, low, high in checks:
            wrong = (values < low) | (values > high)
            if np.any(wrong):
                at = int(np.argmax(wrong))
                raise InputError(
                    where=self.where(at),
                    what=f"{what} {values[at]:g} is out of range",
                    do=f"mend or remove the {self.unit}; numbers from {low:g} to {high:g} are read",
                )

    def where(self, index: int) -> str:
        """Return "track.gpx, point 12" for the fix at `index`."""
        return f"{self.name}, {self.unit} {int(self.number[index])}"


def decimal_step(*coordinates: FloatArray, finest: int = 8) -> float:
    """Return 10^-k for the fewest decimals k <= `finest` that write every coordinate, 0 where there are more."""
    values = np.concatenate([c[np.isfinite(c) & (np.abs(c) <= LARGEST)] for c in coordinates])
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
