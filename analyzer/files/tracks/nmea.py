"""NMEA 0183 logs: GGA and RMC positions, dates from RMC and ZDA, standard deviations from GST.

A sentence is used only where its checksum is right, or where no sentence of the log has one. Other bytes (a receiver's
binary messages) lie between sentences in many logs and are passed over.
"""

import calendar
import math
import operator
import re
from dataclasses import dataclass
from functools import reduce

import numpy as np

from analyzer.errors import InputError
from analyzer.files.numbers import number_in
from analyzer.files.source import check_not_empty
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.nmea_text import UNCHECKED, plain, sentences_of
from analyzer.files.tracks.point_rows import DAY_S, across_midnight
from analyzer.files.tracks.xml_points import MAX_POINTS
from analyzer.files.years import FIRST_RECORDED, LAST_YEAR
from analyzer.model.arrays import FloatArray

MOST_SENTENCES = 4 * MAX_POINTS
"""Our own choice, because the four kinds that are read stand there once for each position."""
NO_CHECKSUM = "without a checksum, used unchecked"


@dataclass(slots=True)
class _Epoch:
    """One position. `day_s`: seconds of the day; `order`: number of its sentence."""

    order: int
    day_s: float
    latitude: float
    longitude: float
    elevation_m: float
    hdop: float
    digits: int
    line: int
    sigma_m: float = float("nan")


def parse_nmea(data: bytes, *, name: str = "track.nmea") -> Fixes:
    """Return the fixes of a log: those of GGA sentences, or of RMC where there is no GGA. Without RMC and ZDA they have
    times of day alone.

    Sentences with a wrong checksum, without a fix, or cut off are set aside and counted.

    Raises
    ------
    InputError
        Where there is no GGA or RMC sentence, or no fix.
    """
    check_not_empty(data, name=name)
    data = plain(data)
    sentences = sentences_of(data)
    epochs: dict[str, list[_Epoch]] = {"GGA": [], "RMC": []}
    dated: list[tuple[int, float, float]] = []
    counts = dict.fromkeys(("wrong checksum", "no fix", "cut off or damaged"), 0)
    sigmas: dict[float, float] = {}
    order = 0
    last, line = 0, 1
    for order, match in enumerate(sentences.finditer(data), start=1):
        if order > MOST_SENTENCES:
            raise too_many_points(name, MAX_POINTS)
        line += data.count(b"\n", last, match.start())
        last = match.start()
        kind = match.group(2).decode()
        if not _checksum_right(match):
            counts["wrong checksum"] += kind in epochs
            continue
        try:
            _take(kind, match.group(3).decode("ascii").split(","), order, line, epochs, dated, sigmas, counts)
        except (ValueError, IndexError):
            counts["cut off or damaged"] += kind in epochs
    kind = "GGA" if epochs["GGA"] else "RMC"
    used = epochs[kind]
    if not used:
        what = "no sentence has a fix" if any(counts.values()) else "there is no GGA or RMC sentence"
        raise InputError(where=name, what=what, do="check that the receiver had a view of the sky and logged NMEA 0183")
    if sentences is UNCHECKED:
        counts[NO_CHECKSUM] = len(used)
    return _fixes(used, dated, sigmas, counts, name)


def _checksum_right(match: re.Match[bytes]) -> bool:
    return not match.group(4) or reduce(operator.xor, match.group(0)[1:-3], 0) == int(match.group(4), 16)


def _take(
    kind: str,
    fields: list[str],
    order: int,
    line: int,
    epochs: dict[str, list[_Epoch]],
    dated: list[tuple[int, float, float]],
    sigmas: dict[float, float],
    counts: dict[str, int],
) -> None:
    """Put one sentence where it belongs. Field numbers: NMEA 0183, counted from the one after the sentence name."""
    if (kind == "GGA" and fields[5] in ("", "0")) or (kind == "RMC" and fields[1] != "A" and not fields[0]):
        counts["no fix"] += 1  # before there is a fix, the other fields may be empty
        return
    day_s = _day_seconds(fields[0])
    if kind == "ZDA":
        dated.append((order, day_s, _date_s(int(fields[3]), int(fields[2]), int(fields[1]))))
    elif kind == "GST":
        # One number per axis from the two standard deviations: their root mean square.
        sigmas[day_s] = math.hypot(number_in(fields[5]), number_in(fields[6])) / math.sqrt(2.0)
    elif kind == "RMC":
        if len(fields[8]) == 6:
            # Two digits of the year: receivers with positioning did not exist before 1980.
            year = int(fields[8][4:6])
            dated.append(
                (
                    order,
                    day_s,
                    _date_s(1900 + year if year >= 80 else 2000 + year, int(fields[8][2:4]), int(fields[8][:2])),
                )
            )
        if fields[1] != "A":
            counts["no fix"] += 1
            return
        epochs["RMC"].append(_epoch(fields[2:6], order, day_s, line, np.nan, np.nan))
    else:
        epochs["GGA"].append(_epoch(fields[1:5], order, day_s, line, _or_nan(fields[8]), _or_nan(fields[7])))


def _epoch(place: list[str], order: int, day_s: float, line: int, elevation_m: float, hdop: float) -> _Epoch:
    latitude, north, longitude, east = place
    return _Epoch(
        order=order,
        day_s=day_s,
        latitude=_degrees(latitude, 2) * (-1.0 if north == "S" else 1.0),
        longitude=_degrees(longitude, 3) * (-1.0 if east == "W" else 1.0),
        elevation_m=elevation_m,
        hdop=hdop,
        digits=len(latitude.partition(".")[2]),
        line=line,
    )


def _degrees(text: str, whole: int) -> float:
    degrees = int(text[:whole]) + number_in(text[whole:]) / 60.0
    if not math.isfinite(degrees):
        raise ValueError(text)
    return degrees


def _or_nan(text: str) -> float:
    return number_in(text) if text else float("nan")


def _day_seconds(text: str) -> float:
    if len(text.partition(".")[0]) != 6:
        raise ValueError(text)
    hours, minutes, seconds = int(text[:2]), int(text[2:4]), number_in(text[4:])
    if not (0 <= hours < 24 and 0 <= minutes < 60 and 0.0 <= seconds < 61.0):  # a leap second has 60
        raise ValueError(text)
    return hours * 3600.0 + minutes * 60.0 + seconds


def _date_s(year: int, month: int, day: int) -> float:
    if not (1 <= month <= 12 and 1 <= day <= 31 and FIRST_RECORDED <= year <= LAST_YEAR):
        raise ValueError((year, month, day))
    return float(calendar.timegm((year, month, day, 0, 0, 0)))


def _fixes(
    used: list[_Epoch],
    dated: list[tuple[int, float, float]],
    sigmas: dict[float, float],
    counts: dict[str, int],
    name: str,
) -> Fixes:
    digits = max(e.digits for e in used)
    rows = len(used) + sum(n for reason, n in counts.items() if reason != NO_CHECKSUM)
    return Fixes(
        name=name,
        unit="line",
        geographic=True,
        time_s=_times(used, dated),
        first=np.array([e.latitude for e in used]),
        second=np.array([e.longitude for e in used]),
        elevation_m=np.array([e.elevation_m for e in used]),
        sigma_m=np.array([sigmas.get(e.day_s, np.nan) or np.nan for e in used]),
        hdop=np.array([e.hdop for e in used]),
        number=np.array([e.line for e in used]),
        step=10.0**-digits / 60.0,
        rows=rows,
        dropped=tuple((reason, n) for reason, n in counts.items() if n),
        dated=bool(dated),
    )


def _times(used: list[_Epoch], dated: list[tuple[int, float, float]]) -> FloatArray:
    """Return seconds since 1970 UTC; without any date, of a day that is not known, counted on across midnight."""
    day_s = np.array([epoch.day_s for epoch in used], np.float64)
    if not dated:
        return across_midnight(day_s)
    orders = np.array([d[0] for d in dated])
    moments = np.array([d[1] + d[2] for d in dated])
    # The dated sentence beside each fix; orders are those of the file, and rise.
    after = np.clip(np.searchsorted(orders, [epoch.order for epoch in used]), 0, len(orders) - 1)
    before = np.clip(after - 1, 0, None)
    own = np.array([epoch.order for epoch in used])
    beside = np.where(np.abs(orders[before] - own) <= np.abs(orders[after] - own), before, after)
    # The day that brings the fix nearest to it: right across midnight.
    return np.asarray(day_s + DAY_S * np.round((moments[beside] - day_s) / DAY_S), np.float64)
