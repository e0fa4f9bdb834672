"""Flight-recorder logs (IGC): the B records, after the technical specification of the air-sports federation FAI."""

import calendar
import datetime as dt
import re
from typing import NamedTuple

import numpy as np

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.point_rows import DAMAGED, NAN, NO_FIX, PointRow, across_midnight, check_damage, fixes_of
from analyzer.files.tracks.text_lines import lines_of
from analyzer.files.tracks.xml_points import MAX_POINTS

R95_PER_SIGMA = 2.4860
"""Radius holding 95.45 % of a circular Gaussian, in one-axis standard deviations: sqrt(-2 ln(1 - 0.9545)). The
specification states the fix accuracy FXA so."""
_B = re.compile(r"B(\d\d)(\d\d)(\d\d)(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])(-\d{4}|\d{5})(-\d{4}|\d{5})")
_DATE = re.compile(r"HFDTE(?:DATE)?:?\s*(\d\d)(\d\d)(\d\d)")
_HEAD = re.compile(rb"^(HFDTE(DATE)?:?\s*\d{6}|B\d{13}[NS]\d{8}[EW][AV])", re.MULTILINE)
_MINUTE_STEP = 1e-3


class _Extension(NamedTuple):
    """Where a further field stands in a B record: from the first sign, counted from 0, up to the one after the last."""

    begin: int
    end: int


def is_igc(head: bytes) -> bool:
    """Return whether a file that begins so has the date line or a B record of such a log."""
    return bool(_HEAD.search(head))


def parse_igc(data: bytes, *, name: str = "track.igc") -> Fixes:
    """Return the positions of the B records with a three-dimensional fix; the others are set aside and counted.

    Records are whole seconds, finer where the recorder adds TDS, LAD and LOD. Without a date line the fixes have times
    of day alone.

    Raises
    ------
    InputError
        Where there is no B record with a fix, or too many are damaged.
    """
    rows: list[PointRow] = []
    counts = {NO_FIX: 0, DAMAGED: 0}
    extensions: dict[str, _Extension] = {}
    day_s: float | None = None
    first = 0
    for number, line in enumerate(lines_of(data, name=name), start=1):
        if line.startswith("I"):
            extensions = _extensions(line)
        elif line.startswith("HFDTE") and day_s is None:
            day_s = _day_s(line)
        if not line.startswith("B"):
            continue
        if len(rows) >= MAX_POINTS:
            raise too_many_points(name, MAX_POINTS)
        match = _B.match(line)
        row = _row(match, line, extensions, number) if match else None
        if match is None or row is None:
            counts[DAMAGED], first = counts[DAMAGED] + 1, first or number
        elif match.group(10) == "V":
            counts[NO_FIX] += 1
        else:
            rows.append(row)
    check_damage(name, counts[DAMAGED], len(rows) + sum(counts.values()), what="B records", first=first)
    if not rows:
        raise InputError(where=name, what="no B record has a three-dimensional fix", do="record under an open sky")
    times = across_midnight(np.array([row.time_s for row in rows])) + (day_s or 0.0)
    placed = [row._replace(time_s=at) for row, at in zip(rows, times.tolist(), strict=True)]
    step = 10.0 ** -_digits(extensions) * _MINUTE_STEP / 60.0
    return fixes_of(placed, name=name, unit="line", dropped=counts, step=step, dated=day_s is not None)


def _day_s(line: str) -> float | None:
    match = _DATE.match(line)
    if match is None:
        return None
    day, month, year = (int(part) for part in match.groups())
    try:
        # Two digits of the year: receivers with positioning did not exist before 1980.
        date = dt.date(1900 + year if year >= 80 else 2000 + year, month, day)
    except ValueError:
        return None
    return float(calendar.timegm(date.timetuple()))


def _extensions(line: str) -> dict[str, _Extension]:
    """Return the further fields that an I record names: number of them, then first sign, last sign and code of each."""
    found = {}
    for begin, end, code in re.findall(r"(\d\d)(\d\d)([A-Z]{3})", line[3:]):
        if int(begin) <= int(end):
            found[code] = _Extension(int(begin) - 1, int(end))
    return found


def _row(match: re.Match[str], line: str, extensions: dict[str, _Extension], number: int) -> PointRow | None:
    hour, minute, second, lat, lat_minutes, north, lon, lon_minutes, east, _, _, height = match.groups()
    if int(hour) > 23 or int(minute) > 59 or int(second) > 60 or int(lat_minutes) >= 60_000:
        return None

    def further(code: str) -> str:
        place = extensions.get(code)
        digits = line[place.begin : place.end] if place else ""
        return digits if digits.isascii() and digits.isdigit() else ""

    def degrees(whole: str, minutes: str, more: str, negative: bool) -> float:
        value = int(whole) + float(f"{minutes[:2]}.{minutes[2:]}{more}") / 60.0
        return -value if negative else value

    accuracy = further("FXA")
    return PointRow(
        int(hour) * 3600.0 + int(minute) * 60.0 + float(f"{second}.{further('TDS') or 0}"),
        degrees(lat, lat_minutes, further("LAD"), north == "S"),
        degrees(lon, lon_minutes, further("LOD"), east == "W"),
        float(height),
        int(accuracy) / R95_PER_SIGMA if accuracy and int(accuracy) else NAN,
        number=number,
    )


def _digits(extensions: dict[str, _Extension]) -> int:
    place = extensions.get("LAD")
    return place.end - place.begin if place else 0
