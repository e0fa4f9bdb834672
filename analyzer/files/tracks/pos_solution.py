"""Text solutions of GNSS post-processing (`.pos`): comment lines with %, of which one names the columns."""

import datetime as dt
import re
from collections.abc import Sequence

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.point_rows import (
    DAMAGED,
    NO_FIX,
    PointRow,
    check_damage,
    finite,
    finite_or_nan,
    fixes_of,
    of_calendar,
    sigma_of_axes,
)
from analyzer.files.tracks.text_lines import lines_of
from analyzer.files.tracks.xml_points import MAX_POINTS

LEAP_SECONDS = (
    (2017, 1, 18), (2015, 7, 17), (2012, 7, 16), (2009, 1, 15), (2006, 1, 14), (1999, 1, 13),
)  # fmt: skip
"""GPS time minus UTC in seconds from the first of a month on (IERS Bulletin C; none was added since 2017)."""
GPS_EPOCH_S = dt.datetime(1980, 1, 6, tzinfo=dt.UTC).timestamp()
WEEK_S = 604_800.0
TIMES = {"gpst": 0.0, "utc": 0.0, "jst": 9 * 3600.0}
"""Time scales of the first column, and seconds by which their zone is ahead of UTC; GPS time by its leap seconds."""
_COLUMNS = re.compile(r"%[\s,;]*(GPST|UTC|JST)\b(.*)", re.IGNORECASE)
_IN_BYTES = re.compile(rb"^%[\s,;]*(GPST|UTC|JST)[\s,;]", re.MULTILINE)
_BETWEEN = re.compile(r"[\s,;]+")


def is_pos_solution(head: bytes) -> bool:
    """Return whether a file that begins so names the columns of a solution."""
    return bool(_IN_BYTES.search(head))


def parse_pos_solution(data: bytes, *, name: str = "track.pos") -> Fixes:
    """Return the positions of a solution in latitude and longitude; epochs without a solution (Q = 0) are counted.

    Standard deviations north and east become one number, their root mean square. Times in GPS time become UTC.

    Raises
    ------
    InputError
        Where no line names the columns, the solution is in other coordinates, or too many lines are damaged.
    """
    columns: list[str] = []
    scale = ""
    rows: list[PointRow] = []
    counts = {NO_FIX: 0, DAMAGED: 0}
    first = 0
    for number, line in enumerate(lines_of(data, name=name), start=1):
        header = _COLUMNS.match(line)
        if header:
            scale, columns = header.group(1).lower(), _columns(header.group(2), f"{name}, line {number}")
        if line.startswith("%") or not line.strip():
            continue
        if not columns:
            raise _no_columns(name, number)
        if len(rows) >= MAX_POINTS:
            raise too_many_points(name, MAX_POINTS)
        try:
            row = _row(_BETWEEN.split(line.strip()), columns, scale, number)
        except (ValueError, IndexError, OverflowError):
            counts[DAMAGED], first = counts[DAMAGED] + 1, first or number
            continue
        if row is None:
            counts[NO_FIX] += 1
        else:
            rows.append(row)
    check_damage(name, counts[DAMAGED], len(rows) + sum(counts.values()), what="lines", first=first)
    if not rows:
        raise InputError(where=name, what="the solution has no epoch", do="process the recording of this run again")
    return fixes_of(rows, name=name, unit="line", dropped=counts)


def _no_columns(name: str, number: int) -> InputError:
    return InputError(
        where=f"{name}, line {number}",
        what="no line with % names the columns",
        do="switch the header on in the output options, and process again",
    )


def _columns(text: str, where: str) -> list[str]:
    columns = [c.partition("(")[0].lower() for c in _BETWEEN.split(text.strip()) if c]
    if not {"latitude", "longitude"} <= set(columns):
        raise InputError(
            where=where,
            what="the solution is not in latitude and longitude",
            do="choose latitude, longitude and height in the output options, and process again",
        )
    if "'" in text:  # latitude(d'") and longitude(d'") fill three fields each
        for degrees in ("latitude", "longitude"):
            at = columns.index(degrees)
            columns[at + 1 : at + 1] = [f"{degrees} minutes", f"{degrees} seconds"]
    return columns


def _row(cells: Sequence[str], columns: Sequence[str], scale: str, number: int) -> PointRow | None:
    """Return an epoch, None where it has no solution. The time fills two fields."""
    values = dict(zip(columns, cells[2:], strict=False))
    if values.get("q") == "0":
        return None
    return PointRow(
        _time_s(cells[0], cells[1], scale),
        _degrees(values, "latitude"),
        _degrees(values, "longitude"),
        finite_or_nan(values.get("height", "")),
        sigma_of_axes(finite_or_nan(values.get("sdn", "")), finite_or_nan(values.get("sde", ""))),
        number=number,
    )


def _degrees(values: dict[str, str], key: str) -> float:
    whole = finite(values.get(key, ""))
    if f"{key} minutes" not in values:
        return whole
    part = finite(values[f"{key} minutes"]) / 60.0 + finite(values[f"{key} seconds"]) / 3600.0
    return whole - part if values[key].startswith("-") else whole + part


def _time_s(day: str, clock: str, scale: str) -> float:
    """Return seconds since 1970 UTC of "2026/01/17 09:30:00.000", or of GPS week and seconds of it."""
    if "/" in day:
        year, month, date = (int(part) for part in day.split("/"))
        hour, minute, second = clock.split(":")
        if not (0 <= int(hour) < 24 and 0 <= int(minute) < 60 and 0.0 <= finite(second) < 61.0):
            raise ValueError(clock)
        midnight = dt.datetime(year, month, date, tzinfo=dt.UTC).timestamp()
        at = midnight + int(hour) * 3600.0 + int(minute) * 60.0 + finite(second)
    else:
        at = GPS_EPOCH_S + int(day) * WEEK_S + finite(clock)
    of_calendar(at)
    return at - TIMES[scale] - (_leap_seconds(at) if scale == "gpst" else 0.0)


def _leap_seconds(gps_s: float) -> float:
    """Return GPS time minus UTC at a moment of either, which need not be known better than a minute."""
    for year, month, seconds in LEAP_SECONDS:
        if gps_s >= dt.datetime(year, month, 1, tzinfo=dt.UTC).timestamp() + seconds:
            return float(seconds)
    raise ValueError(gps_s)
