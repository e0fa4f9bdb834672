"""From rows of single points to fixes, for readers that collect points one by one."""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from analyzer.errors import InputError
from analyzer.files.numbers import number_in
from analyzer.files.tracks.fixes import R68_PER_SIGMA, Fixes, decimal_step
from analyzer.files.tracks.several import in_parts
from analyzer.files.years import END_S

NAN = float("nan")
DAY_S = 86_400.0
MAX_DAMAGED_SHARE = 0.2
"""A log with more damaged lines is refused; our choice, the same as for points without time."""
DAMAGED = "cut off or damaged"
NO_FIX = "no fix"
NO_POSITION = "no position"


class PointRow(NamedTuple):
    """One point: seconds since 1970 UTC, degrees, metres; NaN where not stated. `track`: number of its track from 0."""

    time_s: float
    latitude: float
    longitude: float
    elevation_m: float = NAN
    sigma_m: float = NAN
    hdop: float = NAN
    number: float = NAN
    track: int = 0


def fixes_of(
    rows: Sequence[PointRow],
    *,
    name: str,
    unit: str,
    dropped: Mapping[str, int],
    titles: Sequence[str] = (),
    step: float | None = None,
    dated: bool = True,
) -> Fixes:
    """Return the fixes of rows, of which there is at least one, in the order of the file.

    Parameters
    ----------
    rows : sequence of PointRow
    name, unit : str
        Of the file, and of what is counted in it.
    dropped : mapping
        What was set aside, by reason; zeros are left out.
    titles : sequence of str
        Of the tracks by number.
    step : float, optional
        Step of the last digit in degrees; taken from the coordinates where left out.
    dated : bool
        See `Fixes`.

    Raises
    ------
    InputError
        Where tracks overlap in time.
    """
    time_s, latitude, longitude, elevation_m, sigma_m, hdop, number, track = np.array(rows, float).T
    fixes = Fixes(
        name=name,
        unit=unit,
        geographic=True,
        time_s=time_s,
        first=latitude,
        second=longitude,
        elevation_m=elevation_m,
        sigma_m=sigma_m,
        hdop=hdop,
        number=number,
        step=decimal_step(latitude, longitude) if step is None else step,
        rows=len(rows) + sum(dropped.values()),
        dropped=tuple((reason, n) for reason, n in dropped.items() if n),
        dated=dated,
    )
    return in_parts(fixes, track.astype(int), titles)


def finite(text: str) -> float:
    """Return a number as recorders write it; `ValueError` where it is none, or not finite."""
    value = number_in(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def finite_or_nan(text: str) -> float:
    """Return a number, NaN where the text is empty or none."""
    try:
        return finite(text)
    except ValueError:
        return NAN


def of_calendar(posix_s: float) -> float:
    """Return a time that a calendar holds; `ValueError` for others."""
    if not -END_S < posix_s < END_S:  # before 1970 is told as a clock that was not set
        raise ValueError(posix_s)
    return posix_s


def across_midnight(day_s: np.ndarray) -> np.ndarray:
    """Return times of day, shape (n,), counted on where the clock begins anew; a small step back stays one."""
    return day_s + DAY_S * np.cumsum(np.concatenate([[0], np.diff(day_s) < -DAY_S / 2]))


def sigma_of_radius(radius_m: float) -> float:
    """Return the one-axis standard deviation of a radius that holds 68 %, NaN where it is not above 0."""
    return radius_m / R68_PER_SIGMA if 0.0 < radius_m < math.inf else NAN


def sigma_of_axes(*sigma_m: float) -> float:
    """Return one number for the standard deviations of several axes, their root mean square; NaN where it is 0."""
    return math.sqrt(sum(s * s for s in sigma_m) / len(sigma_m)) or NAN


def check_damage(name: str, damaged: int, rows: int, *, what: str, first: int) -> None:
    """Raise `InputError` where too many of `rows` lines are damaged; `first`: number of the first one."""
    if damaged > MAX_DAMAGED_SHARE * rows:
        raise InputError(
            where=f"{name}, line {first}",
            what=f"{damaged} of {rows} {what} are damaged or cut off, this is the first",
            do="copy the file from the recorder again",
        )
