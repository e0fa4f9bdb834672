"""Fixes more than an hour from the rest: a wrong date in one of them makes no run of years, in any track format."""

import dataclasses
import datetime as dt
import struct
from functools import reduce

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.folder import parse_run
from analyzer.model.drill import Transmitter

ZERO = dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC)
FIT_EPOCH = dt.datetime(1989, 12, 31, tzinfo=dt.UTC)
REASON = "more than an hour from the rest"


def moments(wrong: dt.datetime | None = None, at: int = 10, n: int = 30) -> list[dt.datetime]:
    """Return times of n fixes, one a second; the one at `at` wrong."""
    times = [ZERO + dt.timedelta(seconds=i) for i in range(n)]
    return [*times[:at], wrong, *times[at + 1 :]] if wrong is not None else times


def as_csv(times) -> bytes:
    rows = [f"{t.isoformat()},46.0,{7.0 + i * 5e-6:.7f}" for i, t in enumerate(times)]
    return ("time,latitude,longitude\n" + "\n".join(rows)).encode()


def as_gpx(times) -> bytes:
    points = "".join(
        f'<trkpt lat="46.0" lon="{7.0 + i * 5e-6:.7f}"><time>{t.strftime("%Y-%m-%dT%H:%M:%SZ")}</time></trkpt>'
        for i, t in enumerate(times)
    )
    return f'<gpx version="1.1" creator="t"><trk><trkseg>{points}</trkseg></trk></gpx>'.encode()


def as_tcx(times) -> bytes:
    points = "".join(
        f"<Trackpoint><Time>{t.strftime('%Y-%m-%dT%H:%M:%SZ')}</Time><Position><LatitudeDegrees>46.0</LatitudeDegrees>"
        f"<LongitudeDegrees>{7.0 + i * 5e-6:.7f}</LongitudeDegrees></Position></Trackpoint>"
        for i, t in enumerate(times)
    )
    activity = f"<Activities><Activity><Lap><Track>{points}</Track></Lap></Activity></Activities>"
    return f"<TrainingCenterDatabase>{activity}</TrainingCenterDatabase>".encode()


def as_nmea(times) -> bytes:
    log = b""
    for i, t in enumerate(times):
        body = f"GPRMC,{t:%H%M%S},A,4600.0000,N,{700 + i * 3e-4:011.5f},E,1,0,{t:%d%m%y},,,A"
        log += f"${body}*{reduce(lambda total, c: total ^ ord(c), body, 0):02X}\r\n".encode()
    return log


def crc16(data: bytes) -> int:
    """CRC-16 with polynomial 0x8005 reflected (0xA001), start 0, as FIT uses it."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def as_fit(times) -> bytes:
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85)]
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(fields)) + b"".join(bytes(f) for f in fields)
    turn = 2**31 / 180.0
    for i, t in enumerate(times):
        second = int((t - FIT_EPOCH).total_seconds())
        body += b"\x00" + struct.pack("<Iii", second, int(46.0 * turn), int((7.0 + i * 5e-6) * turn))
    header = struct.pack("<BBHI4s", 14, 0x10, 100, len(body), b".FIT")
    header += struct.pack("<H", crc16(header))
    return header + body + struct.pack("<H", crc16(header + body))


FORMATS = {"csv": as_csv, "gpx": as_gpx, "tcx": as_tcx, "nmea": as_nmea, "fit": as_fit}
WRONG = {
    "week rollover": ZERO - dt.timedelta(weeks=1024) + dt.timedelta(seconds=10),
    "a year early": ZERO.replace(year=2025),
    "a year late": ZERO.replace(year=2027),
    "a day early": ZERO - dt.timedelta(days=1),
    "a day late": ZERO + dt.timedelta(days=1, seconds=10),
    "two hours late": ZERO + dt.timedelta(hours=2),
    "1980": dt.datetime(1980, 1, 6, tzinfo=dt.UTC),
}


@pytest.mark.parametrize("at", [0, 10, 29])
@pytest.mark.parametrize("wrong", WRONG)
@pytest.mark.parametrize("form", FORMATS)
def test_one_fix_with_a_wrong_date_is_set_aside_and_counted(drill, form, wrong, at):
    if form == "fit" and wrong == "1980":
        pytest.skip("FIT counts from the end of 1989")
    run = parse_run("r", {f"track.{form}": FORMATS[form](moments(WRONG[wrong], at))}, drill)
    assert run.time_zero == ZERO + dt.timedelta(seconds=1 if at == 0 else 0)
    assert np.diff(run.track.time_s).max() <= 2.0
    assert run.track.time_s.size == 29
    assert dict(run.inputs[0].dropped) == {REASON: 1}


def test_the_part_with_the_marks_is_kept_else_the_one_with_most_fixes(drill):
    later = [t + dt.timedelta(hours=3) for t in moments(n=20)]
    data = {"track.csv": as_csv([*moments(n=40), *later])}
    assert parse_run("r", data, drill).time_zero == ZERO
    hit = f"time,mark\n{(later[-1] + dt.timedelta(seconds=30)).isoformat()},probe_hit\n".encode()
    run = parse_run("r", data | {"marks.csv": hit}, drill)
    assert run.time_zero == later[0]
    assert dict(run.inputs[0].dropped) == {REASON: 40}
    window = f"window = [{later[0].isoformat()}, {later[-1].isoformat()}]".encode()
    assert parse_run("r", data | {"run.toml": window}, drill).time_zero == later[0]


def test_a_hole_of_an_hour_and_less_stays_in_the_run(drill):
    later = [t + dt.timedelta(seconds=3600 + 19) for t in moments(n=20)]
    run = parse_run("r", {"track.csv": as_csv([*moments(n=20), *later])}, drill)
    assert run.track.time_s.size == 40


def test_one_of_thirty_times_that_runs_back_within_the_hour_is_counted(drill):
    run = parse_run("r", {"track.csv": as_csv(moments(ZERO - dt.timedelta(minutes=30)))}, drill)
    assert dict(run.inputs[0].dropped) == {"a time that runs back": 1}


def test_too_few_fixes_in_every_part_say_so(drill):
    times = [ZERO + dt.timedelta(hours=2 * i) for i in range(12)]
    with pytest.raises(InputError, match="only 1 usable fixes"):
        parse_run(
            "r", {"track.csv": as_csv(times)}, dataclasses.replace(drill, transmitters=(Transmitter("A", 0, 0, 1.0),))
        )
