"""Binary logs of survey and module receivers: the UBX message NAV-PVT (class 0x01, id 0x07).

Layout after the protocol's public interface description: sync b5 62, class, id, length (little endian), payload, and
two bytes of an 8-bit Fletcher checksum over class to payload. NMEA sentences and other messages are passed over.
"""

import re

import numpy as np

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty
from analyzer.files.tracks.fixes import R68_PER_SIGMA, Fixes, too_many_points
from analyzer.files.tracks.point_rows import DAMAGED, NO_FIX
from analyzer.files.tracks.xml_points import MAX_POINTS

DEGREES_PER_STEP = 1e-7
NO_DATE = "a date or time that is not valid"
_FRAME = re.compile(rb"\xb5\x62\x01\x07([\x54\x5c])\x00", re.DOTALL)
"""Payloads of 84 bytes (older receivers) and 92 bytes (since)."""
_SHORTEST, _LONGEST = 84, 92
_AROUND = 8  # 2 sync, 2 class and id, 2 length, 2 checksum
_FIELDS = {
    "year": ("<u2", 4), "month": ("u1", 6), "day": ("u1", 7), "hour": ("u1", 8), "minute": ("u1", 9),
    "second": ("u1", 10), "valid": ("u1", 11), "nano": ("<i4", 16), "fix": ("u1", 20), "flags": ("u1", 21),
    "lon": ("<i4", 24), "lat": ("<i4", 28), "h_msl": ("<i4", 36), "h_acc": ("<u4", 40),
}  # fmt: skip
"""What is used of the payload: kind of number and offset in bytes."""
_PVT = np.dtype(
    {
        "names": list(_FIELDS),
        "formats": [kind for kind, _ in _FIELDS.values()],
        "offsets": [offset for _, offset in _FIELDS.values()],
        "itemsize": _SHORTEST,
    }
)
_DATE_AND_TIME = 0b11
_FIX_OK = 0b1
_FIX_2D, _FIX_WITH_DEAD_RECKONING = 2, 4


def is_ubx(head: bytes) -> bool:
    """Return whether a file that begins so has a whole NAV-PVT message with the right checksum."""
    frames, _ = _frames(head)
    return bool(len(frames))


def parse_ubx(data: bytes, *, name: str = "track.ubx") -> Fixes:
    """Return the positions of NAV-PVT messages.

    Messages without a fix, without a valid date, with a wrong checksum or cut off are set aside and counted. The stated
    horizontal accuracy is taken as the radius of 68 % of the error, which is an assumption.

    Raises
    ------
    InputError
        Where there is no NAV-PVT message, or none with a fix and a date.
    """
    check_not_empty(data, name=name)
    frames, damaged = _frames(data)
    if len(frames) > MAX_POINTS:
        raise too_many_points(name, MAX_POINTS)
    if not len(frames):
        raise InputError(
            where=name,
            what="the log has no whole UBX message NAV-PVT",
            do="switch NAV-PVT on in the receiver, or export NMEA with GGA, RMC and GST",
        )
    fixed = (frames["flags"] & _FIX_OK > 0) & (frames["fix"] >= _FIX_2D) & (frames["fix"] <= _FIX_WITH_DEAD_RECKONING)
    time_s = _times(frames)
    used = fixed & np.isfinite(time_s)
    if not np.any(used):
        raise InputError(
            where=name, what="no NAV-PVT message has a fix and a date", do="check that the receiver saw the sky"
        )
    kept = frames[used]
    accuracy_m = kept["h_acc"] * 1e-3 / R68_PER_SIGMA
    dropped = {NO_FIX: int(np.sum(~fixed)), NO_DATE: int(np.sum(fixed & ~np.isfinite(time_s))), DAMAGED: damaged}
    return Fixes(
        name=name,
        unit="message",
        geographic=True,
        time_s=time_s[used],
        first=kept["lat"] * DEGREES_PER_STEP,
        second=kept["lon"] * DEGREES_PER_STEP,
        elevation_m=kept["h_msl"] * 1e-3,
        sigma_m=np.where(accuracy_m > 0.0, accuracy_m, np.nan),
        hdop=np.full(len(kept), np.nan),
        number=np.flatnonzero(used).astype(np.float64) + 1.0,
        step=DEGREES_PER_STEP,
        rows=len(frames) + damaged,
        dropped=tuple((reason, n) for reason, n in dropped.items() if n),
    )


def _frames(data: bytes) -> tuple[np.ndarray, int]:
    """Return the payloads of whole messages in the order of the file, and how many are damaged or cut off."""
    found = [(m.start(), m.group(1)[0]) for m in _FRAME.finditer(data)]
    whole = [(at, size) for at, size in found if at + size + _AROUND <= len(data)]
    raw = np.frombuffer(data, np.uint8)
    starts, payloads = [], []
    for length in (_SHORTEST, _LONGEST):
        begins = np.array([at for at, size in whole if size == length], int)
        block = (
            raw[begins[:, None] + np.arange(2, length + _AROUND)] if len(begins) else np.zeros((0, _AROUND), np.uint8)
        )
        right = _checksum_right(block)
        starts.append(begins[right])
        payloads.append(block[right, 4 : 4 + _SHORTEST] if len(begins) else np.zeros((0, _SHORTEST), np.uint8))
    order = np.argsort(np.concatenate(starts), kind="stable")
    rows = np.ascontiguousarray(np.concatenate(payloads)[order])
    return rows.view(_PVT).ravel(), len(found) - len(rows)


def _checksum_right(block: np.ndarray) -> np.ndarray:
    """Return which rows (class to checksum, shape (n, k)) have the two sums of their bytes right."""
    first = np.cumsum(block[:, :-2], axis=1, dtype=np.uint32)
    sums = np.column_stack([first[:, -1], np.sum(first, axis=1, dtype=np.uint32)]) & 0xFF
    right: np.ndarray = np.all(sums == block[:, -2:], axis=1)
    return right


def _times(frames: np.ndarray) -> np.ndarray:
    """Return seconds since 1970 UTC, NaN where date or time are not valid."""
    valid = (frames["valid"] & _DATE_AND_TIME) == _DATE_AND_TIME
    valid &= (frames["month"] >= 1) & (frames["month"] <= 12) & (frames["day"] >= 1) & (frames["day"] <= 31)
    months = (frames["year"].astype(int) - 1970) * 12 + np.clip(frames["month"], 1, 12).astype(int) - 1
    days = months.astype("datetime64[M]").astype("datetime64[D]").astype(int) + frames["day"].astype(int) - 1
    seconds = frames["hour"].astype(float) * 3600.0 + frames["minute"] * 60.0 + frames["second"]
    return np.where(valid, days * 86_400.0 + seconds + frames["nano"] * 1e-9, np.nan)
