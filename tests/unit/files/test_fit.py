"""FIT files, built here byte by byte after the published layout of header, definition and data messages."""

import datetime as dt
import struct

import fitdecode
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.tracks.fit import BEHIND_DAMAGE, WRONG_SUM, parse_fit

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


def messages(number: int, fields: list[tuple[int, int, int]], form: str, rows: list[tuple[int, ...]]) -> bytes:
    """Return a definition message and data messages; `fields`: number, bytes and base type of each."""
    body = struct.pack("<BBBHB", 0x40, 0, 0, number, len(fields)) + b"".join(bytes(f) for f in fields)
    return body + b"".join(b"\x00" + struct.pack(form, *row) for row in rows)


def fit_file(records: list[tuple[int, int, int, int]], *, before: bytes = b"") -> bytes:
    """`records`: seconds of the FIT epoch, latitude and longitude in semicircles, accuracy in metres."""
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (31, 1, 0x02)]
    return whole(before + messages(20, fields, "<IiiB", records))


def whole(body: bytes) -> bytes:
    """Return a FIT file with this content, its sizes and both checksums."""
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
    fixes = parse_fit(fit_file([(FIRST, NO_POSITION, NO_POSITION, 4), (FIRST + 1, 0, 0, 255), (FIRST + 2, 5, 5, 255)]))
    assert dict(fixes.dropped) == {"no position": 1}
    assert fixes.rows == 3
    assert np.all(np.isnan(fixes.sigma_m))


def test_what_stands_before_a_cut_is_used_and_the_rest_is_counted():
    # Records are 14 bytes long and begin at byte 32: 14 of header, 18 of definition.
    fixes = parse_fit(GOOD[: 32 + 5 * 14 + 6])
    assert (fixes.rows, len(fixes.time_s)) == (5, 5)
    assert dict(fixes.dropped) == {"bytes from where the file is cut off or damaged": 6}
    without_sum = parse_fit(GOOD[:-2])
    assert (len(without_sum.time_s), dict(without_sum.dropped)) == (12, {BEHIND_DAMAGE: 1})


def test_what_stands_before_a_bad_message_is_used():
    fixes = parse_fit(GOOD[:60] + b"\x03" + GOOD[61:])  # the third record becomes one that nothing defines
    assert len(fixes.time_s) == 2
    assert dict(fixes.dropped) == {BEHIND_DAMAGE: len(GOOD) - 60}


def test_a_wrong_checksum_is_told():
    fixes = parse_fit(GOOD[:-1] + bytes([GOOD[-1] ^ 1]))
    assert (len(fixes.time_s), dict(fixes.dropped)) == (12, {WRONG_SUM: 1})


def test_times_since_power_on_are_used_with_their_correlation():
    # timestamp_correlation (162): UTC 253, system time 1, in whole seconds
    correlation = messages(162, [(253, 4, 0x86), (1, 4, 0x86)], "<II", [(FIRST, 1000)])
    fixes = parse_fit(fit_file([(1000 + i, 2**29, i, 4) for i in range(12)], before=correlation))
    np.testing.assert_array_equal(fixes.time_s, FIT_EPOCH + FIRST + np.arange(12))


def test_positions_of_a_camera():
    # gps_metadata (160): system time 253 and its milliseconds 0, place 1 and 2, UTC 6
    fields = [(253, 4, 0x86), (0, 2, 0x84), (1, 4, 0x85), (2, 4, 0x85), (6, 4, 0x86)]
    rows = [(77 + i // 10, i % 10 * 100, 2**29, i, FIRST + i // 10) for i in range(30)]
    fixes = parse_fit(whole(messages(160, fields, "<IHiiI", rows)))
    np.testing.assert_allclose(np.diff(fixes.time_s), 0.1, atol=1e-6)
    assert abs(fixes.time_s[0] - (FIT_EPOCH + FIRST)) < 1.0


def test_chained_files_are_tracks_in_the_order_of_time():
    late = fit_file([(FIRST + 600 + i, 2**29, i, 4) for i in range(12)])
    fixes = parse_fit(late + GOOD)
    assert [p.begin_s - FIT_EPOCH - FIRST for p in fixes.parts] == [0.0, 600.0]
    assert list(fixes.number[:2]) == [13, 14]
    settings_alone = whole(messages(0, [(0, 1, 0x00)], "<B", [(4,)]))
    assert parse_fit(settings_alone + GOOD).parts == ()


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"<gpx/>", "not a FIT file"),
        (b"", "empty"),
        (GOOD[:40], "damaged or cut off before its first position"),
        (b"\x0e" + GOOD[1:12], "damaged or cut off before its first position"),
        (fit_file([(1000 + i, 5, 5, 4) for i in range(12)]), "count from when the recorder was switched on"),
        (fit_file([(1, NO_POSITION, NO_POSITION, 4)]), "holds no track"),
    ],
    ids=["xml", "empty", "cut", "head alone", "system time", "no position"],
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


def test_a_mistake_of_this_program_is_no_damage_of_the_file(monkeypatch):
    """2026-11-27: whatever went wrong with a message was counted as bytes behind a damage."""

    def broken(*_):
        raise ZeroDivisionError

    monkeypatch.setattr("analyzer.files.tracks.fit._take", broken)
    with pytest.raises(ZeroDivisionError):
        parse_fit(GOOD)


def test_the_library_processes_no_field_by_its_name_or_unit():
    """What our reader leaves out of the library's work must stay nothing."""
    made = [name for name in dir(fitdecode.DefaultDataProcessor) if name.startswith(("process_field", "process_unit"))]
    assert made == []
    assert any(name.startswith("process_type") for name in dir(fitdecode.DefaultDataProcessor))
