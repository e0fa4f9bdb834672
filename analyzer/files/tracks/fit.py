"""FIT activities, read with fitdecode in its tolerant mode: what stands before a damage is used, the rest counted."""

import datetime as dt
import io
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

import fitdecode

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.point_rows import NAN, NO_POSITION, PointRow, fixes_of, sigma_of_radius
from analyzer.files.tracks.xml_points import MAX_POINTS

MAX_FIT_BYTES = 8_000_000
"""Our own choice, because a day's recording with all sensors of a watch is about 3 MB."""
MAX_FIT_FIELDS = 1_000_000
"""Our own choice, because a day at 1 Hz with ten fields has 864,000, and so many are read in four seconds."""
MAX_FRAMES = 200_000
"""Messages of any kind; our own choice, because a day at 1 Hz has half of them."""
DEGREES_PER_SEMICIRCLE = 180.0 / 2**31
"""The unit of positions in FIT: half a turn is 2^31."""
BEHIND_DAMAGE = "bytes from where the file is cut off or damaged"
WRONG_SUM = "wrong checksum of the whole file, so any of its numbers may be damaged"
DO_COPY = "copy it from the recorder again"
_RECORD, _CAMERA_FIX, _CORRELATION = "record", "gps_metadata", "timestamp_correlation"
_READ = (_RECORD, _CAMERA_FIX, _CORRELATION)


@dataclass(slots=True)
class _Part:
    """One FIT file of a chain. `system`: indices of rows whose time counts from when the recorder was switched on;
    `ahead_s`: by how much UTC is ahead of that, as messages say."""

    rows: list[PointRow] = field(default_factory=list)
    system: list[int] = field(default_factory=list)
    ahead_s: list[float] = field(default_factory=list)


@dataclass(slots=True)
class _Pass:
    """What one pass over the bytes found, and how much of them it could not read."""

    parts: list[_Part] = field(default_factory=list)
    seen: int = 0
    behind: int = 0
    wrong_sums: int = 0


def parse_fit(data: bytes, *, name: str = "track.fit") -> Fixes:
    """Return the fixes of the record messages, or of a camera's position messages; of chained files in order of time.

    Records without position are set aside and counted, and so is all that follows a cut or a damage, in bytes. A
    `gps_accuracy` is taken as the radius of 68 % of the error, which is an assumption. Times that count from when the
    recorder was switched on are used where a message correlates them with UTC.

    Raises
    ------
    InputError
        Where the file is no FIT file, is damaged or cut off before its first position, holds no position, or its times
        cannot be known.
    """
    check_not_empty(data, name=name)
    if len(data) > MAX_FIT_BYTES:
        what = f"the file has {len(data) / 1e6:.0f} MB; at most {MAX_FIT_BYTES / 1e6:.0f} MB are read of a FIT file"
        raise InputError(where=name, what=what, do="cut the recording to this run and export it again")
    if data[8:12] != b".FIT":
        raise InputError(where=name, what="this is not a FIT file", do="export the activity as FIT, GPX or TCX")
    found = _pass(data, name, _RECORD)
    if not any(part.rows for part in found.parts):
        camera = _pass(data, name, _CAMERA_FIX)
        found = camera if any(part.rows for part in camera.parts) else found
    rows = [row._replace(track=track) for track, part in enumerate(found.parts) for row in _on_utc(part, name)]
    if not rows and found.behind:
        what = "the FIT file is damaged or cut off before its first position"
        raise InputError(where=name, what=what, do=DO_COPY)
    if not rows:
        raise InputError(where=name, what="the file holds no track", do="record with positioning switched on")
    dropped = {
        NO_POSITION: found.seen - len(rows), BEHIND_DAMAGE: found.behind, WRONG_SUM: found.wrong_sums
    }  # fmt: skip
    fixes = fixes_of(rows, name=name, unit="record", dropped=dropped, step=DEGREES_PER_SEMICIRCLE)
    return replace(fixes, rows=found.seen)  # bytes and checksums are counted, and are no records


def _pass(data: bytes, name: str, kind: str) -> _Pass:
    found = _Pass()
    stream = io.BytesIO(data)
    fields = 0
    for number, frame in enumerate(_frames(stream, found, len(data))):
        fields += len(getattr(frame, "fields", ()))
        if number >= MAX_FRAMES or fields > MAX_FIT_FIELDS:
            raise too_many_points(name, number)
        if frame.frame_type == fitdecode.FIT_FRAME_HEADER:
            found.parts.append(_Part())
        elif frame.frame_type == fitdecode.FIT_FRAME_CRC:
            found.wrong_sums += not frame.matched
        elif frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.name in _READ:
            _take(frame, found, kind)
            if found.seen > MAX_POINTS:
                raise too_many_points(name, MAX_POINTS)
    return found


def _frames(stream: io.BytesIO, found: _Pass, size: int) -> Iterator[Any]:
    """Yield the frames up to where the library finds the bytes damaged; how many bytes follow goes to `found`.

    Only what the library raises while it reads counts as damage, and nothing that is done with a frame.
    """
    frames = _of_library(stream)
    good = 0
    while True:
        try:
            frame = next(frames, None)
        except MemoryError:
            raise
        except Exception:  # of another's library: it asserts, and what else it may raise is not listed
            found.behind = max(size - good, 1)  # a cut at the end of a message misses what should follow
            return
        if frame is None:
            return
        good = stream.tell()
        yield frame


def _of_library(stream: io.BytesIO) -> Iterator[Any]:
    with fitdecode.FitReader(
        stream,
        check_crc=fitdecode.CrcCheck.READONLY,
        error_handling=fitdecode.ErrorHandling.IGNORE,
        processor=_TypesAlone(),
    ) as frames:
        yield from frames


class _TypesAlone(fitdecode.DefaultDataProcessor):  # type: ignore[misc]  # the library has no types
    """Makes times of numbers as the library does. Names and units of fields, for which it looks in vain for each field
    of each message, are left out: a twelfth of the time of reading."""

    def on_process_field(self, reader: Any, field_data: Any) -> None:
        """Do nothing."""

    def on_process_unit(self, reader: Any, field_data: Any) -> None:
        """Do nothing."""


def _take(frame: Any, found: _Pass, kind: str) -> None:
    """Put a message where it belongs."""
    part = found.parts[-1]
    time = _value(frame, "timestamp")
    if frame.name == _CORRELATION:
        system = _number(frame, "system_timestamp") + (_number(frame, "fractional_system_timestamp", 0.0))
        if isinstance(time, dt.datetime):
            part.ahead_s.append(time.timestamp() + _number(frame, "fractional_timestamp", 0.0) - system)
        return
    if frame.name != kind:
        return
    found.seen += 1
    on_utc = isinstance(time, dt.datetime)
    system_s = NAN if on_utc else _number(frame, "timestamp") + _number(frame, "timestamp_ms", 0.0) / 1000.0
    told = _value(frame, "utc_timestamp")
    if isinstance(told, dt.datetime) and system_s == system_s:
        part.ahead_s.append(told.timestamp() - system_s)
    latitude, longitude = _number(frame, "position_lat"), _number(frame, "position_long")
    if not abs(latitude + longitude) < float("inf"):
        return
    if system_s == system_s:
        part.system.append(len(part.rows))
    altitude = _number(frame, "enhanced_altitude")
    part.rows.append(
        PointRow(
            _utc(time) + _number(frame, "timestamp_ms", 0.0) / 1000.0 if on_utc else system_s,
            latitude * DEGREES_PER_SEMICIRCLE,
            longitude * DEGREES_PER_SEMICIRCLE,
            altitude if altitude == altitude else _number(frame, "altitude"),
            sigma_of_radius(_number(frame, "gps_accuracy")),
            number=found.seen,
        )
    )


def _on_utc(part: _Part, name: str) -> list[PointRow]:
    """Return the rows of a part with all times in UTC.

    Raises
    ------
    InputError
        Where all count from when the recorder was switched on, and nothing says when that was.
    """
    if not part.system:
        return part.rows
    if not part.ahead_s and len(part.system) == len(part.rows):
        raise InputError(
            where=name,
            what="its times count from when the recorder was switched on, and no message says when that was",
            do="let the recorder find the time before the start, or export the track from its app as GPX",
        )
    # Without a correlation a few, which damage makes, have no time. Several correlations differ by the fraction of a
    # second that some leave out.
    ahead_s = median(part.ahead_s) if part.ahead_s else NAN
    rows = list(part.rows)
    for i in part.system:
        rows[i] = rows[i]._replace(time_s=rows[i].time_s + ahead_s)
    return rows


def _value(frame: Any, name: str) -> Any:
    return frame.get_value(name, fallback=None)


def _number(frame: Any, name: str, default: float = NAN) -> float:
    value = _value(frame, name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else default


def _utc(moment: dt.datetime) -> float:
    # FIT counts seconds of UTC; the library marks them so.
    return (moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)).timestamp()
