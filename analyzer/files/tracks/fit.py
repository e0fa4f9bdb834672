"""FIT activities, read with fitdecode."""

import datetime as dt
import io
from typing import Any

import fitdecode
import numpy as np

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty
from analyzer.files.tracks.fixes import R68_PER_SIGMA, Fixes, too_many_points
from analyzer.files.tracks.xml_points import MAX_POINTS

MAX_FIT_BYTES = 8_000_000
"""Our own choice, because a day's recording with all sensors of a watch is about 3 MB."""
MAX_FIT_FIELDS = 1_000_000
"""Our own choice, because a day at 1 Hz with ten fields has 864,000, and so many are read in four seconds."""
MAX_FRAMES = 200_000
"""Messages of any kind; our own choice, because a day at 1 Hz has half of them."""
DEGREES_PER_SEMICIRCLE = 180.0 / 2**31
"""The unit of positions in FIT: half a turn is 2^31."""


def parse_fit(data: bytes, *, name: str = "track.fit") -> Fixes:
    """Return the fixes of the record messages; records without position are set aside and counted.

    A `gps_accuracy` is taken as the radius of 68 % of the error, which is an assumption.

    Raises
    ------
    InputError
        Where the file is no FIT file, is damaged (checksum) or cut off, or holds no position.
    """
    check_not_empty(data, name=name)
    if len(data) > MAX_FIT_BYTES:
        what = f"the file has {len(data) / 1e6:.0f} MB; at most {MAX_FIT_BYTES / 1e6:.0f} MB are read of a FIT file"
        raise InputError(where=name, what=what, do="cut the recording to this run and export it again")
    if data[8:12] != b".FIT":
        raise InputError(where=name, what="this is not a FIT file", do="export the activity as FIT, GPX or TCX")
    try:
        rows, seen = _records(data, name)
    except (InputError, MemoryError):
        raise
    except Exception as error:  # of another's library: it asserts, and what else it may raise is not listed
        raise InputError(
            where=name,
            what=f"the FIT file is damaged or cut off ({type(error).__name__})",
            do="copy it from the recorder again",
        ) from None
    if not rows:
        raise InputError(where=name, what="the file holds no track", do="record with positioning switched on")
    return _fixes(rows, seen, name)


def _fixes(rows: list[tuple[float, ...]], seen: int, name: str) -> Fixes:
    time_s, latitude, longitude, elevation, sigma, number = np.array(rows, float).T
    return Fixes(
        name=name,
        unit="record",
        geographic=True,
        time_s=time_s,
        first=latitude,
        second=longitude,
        elevation_m=elevation,
        sigma_m=sigma,
        hdop=np.full(len(rows), np.nan),
        number=number,
        step=DEGREES_PER_SEMICIRCLE,
        rows=seen,
        dropped=(("no position", seen - len(rows)),) if seen > len(rows) else (),
    )


def _records(data: bytes, name: str) -> tuple[list[tuple[float, ...]], int]:
    rows: list[tuple[float, ...]] = []
    seen = fields = 0
    with fitdecode.FitReader(
        io.BytesIO(data), check_crc=fitdecode.CrcCheck.RAISE, error_handling=fitdecode.ErrorHandling.RAISE
    ) as frames:
        for number, frame in enumerate(frames):
            fields += len(getattr(frame, "fields", ()))
            if number >= MAX_FRAMES or fields > MAX_FIT_FIELDS:
                raise too_many_points(name, number)
            if frame.frame_type != fitdecode.FIT_FRAME_DATA or frame.name != "record":
                continue
            seen += 1
            if seen > MAX_POINTS:
                raise too_many_points(name, MAX_POINTS)
            latitude, longitude = _number(frame, "position_lat"), _number(frame, "position_long")
            if np.isfinite(latitude + longitude):
                altitude = _number(frame, "enhanced_altitude")
                rows.append(
                    (
                        _time(frame),
                        latitude * DEGREES_PER_SEMICIRCLE,
                        longitude * DEGREES_PER_SEMICIRCLE,
                        altitude if np.isfinite(altitude) else _number(frame, "altitude"),
                        _number(frame, "gps_accuracy") / R68_PER_SIGMA or np.nan,
                        seen,
                    )
                )
    return rows, seen


def _number(frame: Any, field: str) -> float:
    value = frame.get_value(field, fallback=None)
    return float(value) if isinstance(value, int | float) else float("nan")


def _time(frame: Any) -> float:
    value = frame.get_value("timestamp", fallback=None)
    if not isinstance(value, dt.datetime):
        return float("nan")
    # FIT counts seconds of UTC; the library marks them so.
    return (value if value.tzinfo else value.replace(tzinfo=dt.UTC)).timestamp()
