"""FIT files, built here byte by byte after the published layout of header, definition and data messages."""

import datetime as dt
import struct

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.tracks.fit import parse_fit

FIT_EPOCH = dt.datetime(1989, 12, 31, tzinfo=dt.UTC).timestamp()
NO_POSITION = 0x7FFFFFFF
FIRST = 1_100_000_000  # in November 2024; below 0x10000000 a time counts from the recorder's start


def crc16(data: bytes) -> int:
    """CRC-16 with polynomial 0x8005 reflected (0xA001), start 0, as FIT uses it."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def fit_file(records: list[tuple[int, int, int, int]]) -> bytes:
    """`records`: seconds of the FIT epoch, latitude and longitude in semicircles, accuracy in metres."""
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (31, 1, 0x02)]
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(fields)) + b"".join(bytes(f) for f in fields)
    body += b"".join(b"\x00" + struct.pack("<IiiB", *r) for r in records)
    header = struct.pack("<BBHI4s", 14, 0x10, 100, len(body), b".FIT")
    header += struct.pack("<H", crc16(header))
    return header + body + struct.pack("<H", crc16(header + body))


GOOD = fit_file([(FIRST + i, 2**29, -(2**28) + i, 4) for i in range(12)])


def test_values():
    fixes = parse_fit(GOOD)
    # Half a turn is 2^31 semicircles: 2^29 are 45 degrees, 2^28 are 22.5 degrees.
    np.testing.assert_array_equal(fixes.first, 45.0)
    assert fixes.second[0] == -22.5
    np.testing.assert_array_equal(fixes.time_s, FIT_EPOCH + FIRST + np.arange(12))
    np.testing.assert_allclose(fixes.sigma_m, 4.0 / 1.5158)


def test_records_without_position_are_counted():
    fixes = parse_fit(fit_file([(1, NO_POSITION, NO_POSITION, 4), (2, 0, 0, 255), (3, 5, 5, 255)]))
    assert dict(fixes.dropped) == {"no position": 1}
    assert fixes.rows == 3
    assert np.all(np.isnan(fixes.sigma_m))


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"<gpx/>", "not a FIT file"),
        (b"", "empty"),
        (GOOD[:-40], "damaged or cut off"),
        (GOOD[:60] + b"\x55" + GOOD[61:], "damaged or cut off"),
        (fit_file([(1, NO_POSITION, NO_POSITION, 4)]), "holds no track"),
    ],
    ids=["xml", "empty", "cut", "flipped", "no position"],
)
def test_unusable_files_say_why(data, what):
    with pytest.raises(InputError, match=what):
        parse_fit(data)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=4), st.booleans())
def test_damage_is_told(at, noise, cut):
    damaged = GOOD[:at] if cut else GOOD[:at] + noise + GOOD[at + len(noise) :]
    try:
        fixes = parse_fit(damaged)
    except InputError:
        return
    assert len(fixes.time_s) <= 12
