"""NMEA 0183 logs."""

import dataclasses
import datetime as dt
from functools import reduce

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.folder import parse_run
from analyzer.files.tracks.nmea import parse_nmea
from analyzer.model.drill import Origin
from analyzer.workspace.intake.recognise import recognise

# The pair of sentences by which NMEA is usually explained: 48 deg 07.038' N, 11 deg 31.000' E, 545.4 m, HDOP 0.9,
# 23 March 1994, 12:35:19 UTC; their checksums 47 and 6A are part of the quotation.
GGA = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
RMC = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"


def sentence(body: str) -> bytes:
    return f"${body}*{reduce(lambda total, c: total ^ ord(c), body, 0):02X}\r\n".encode()


def test_published_sentences():
    fixes = parse_nmea(RMC + GGA)
    assert len(fixes.time_s) == 1
    assert fixes.time_s[0] == dt.datetime(1994, 3, 23, 12, 35, 19, tzinfo=dt.UTC).timestamp()
    assert fixes.first[0] == pytest.approx(48 + 7.038 / 60, abs=1e-12)
    assert fixes.second[0] == pytest.approx(11 + 31.0 / 60, abs=1e-12)
    assert (fixes.elevation_m[0], fixes.hdop[0]) == (545.4, 0.9)
    # The third decimal of a minute is 1/60 000 degree.
    assert fixes.step == pytest.approx(1 / 60_000)


def test_rmc_alone_gives_a_track():
    assert parse_nmea(RMC).first[0] == pytest.approx(48.1173, abs=1e-4)


def test_south_and_west_are_negative():
    fixes = parse_nmea(sentence("GNRMC,123519,A,4807.038,S,01131.000,W,0,0,230394,,,A"))
    assert fixes.first[0] < 0.0
    assert fixes.second[0] < 0.0


def test_wrong_checksum_lost_fix_and_cut_sentences_are_counted():
    damaged = GGA.replace(b"4807.038", b"4807.039")
    no_fix = sentence("GPGGA,123520,4807.038,N,01131.000,E,0,08,0.9,545.4,M,46.9,M,,")
    void = sentence("GPRMC,123520,V,4807.038,N,01131.000,E,0,0,230394,,,N")
    cut = sentence("GPGGA,123521,48")
    fixes = parse_nmea(RMC + GGA + damaged + no_fix + void + cut)
    assert dict(fixes.dropped) == {"wrong checksum": 1, "no fix": 2, "cut off or damaged": 1}
    assert fixes.rows == 1 + 4


def test_binary_messages_between_sentences_are_passed_over():
    assert len(parse_nmea(b"\xb5b\x01\x07\x5c\x00" + RMC + b"\x00\xff$\x80" + GGA).time_s) == 1


def test_date_is_right_across_midnight():
    log = b""
    for tod, day in (("235958", "311225"), ("235959", "311225"), ("000000", "010126"), ("000001", "010126")):
        log += sentence(f"GPGGA,{tod},4600.0000,N,00700.0000,E,1,08,0.9,1.0,M,,M,,")
        log += sentence(f"GPRMC,{tod},A,4600.0000,N,00700.0000,E,0,0,{day},,,A")
    fixes = parse_nmea(log)
    np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
    assert fixes.time_s[2] == dt.datetime(2026, 1, 1, tzinfo=dt.UTC).timestamp()


def test_one_dated_sentence_before_midnight_dates_those_after_it():
    log = sentence("GPZDA,235959,31,12,2025,00,00") + sentence("GPGGA,000002,4600.0,N,00700.0,E,1,08,0.9,1.0,M,,M,,")
    assert parse_nmea(log).time_s[0] == dt.datetime(2026, 1, 1, 0, 0, 2, tzinfo=dt.UTC).timestamp()


def test_stated_deviations_become_one_sigma():
    log = RMC + GGA + sentence("GPGST,123519,1.0,,,,0.3,0.4,0.9")
    assert parse_nmea(log).sigma_m[0] == pytest.approx(np.sqrt((0.3**2 + 0.4**2) / 2))


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"hello\n", "there is no GGA or RMC sentence"),
        (sentence("GPRMC,123520,V,,,,,,,230394,,,N"), "no sentence has a fix"),
        (b"", "empty"),
    ],
)
def test_unusable_logs_say_why(data, what):
    with pytest.raises(InputError, match=what):
        parse_nmea(data)


@given(st.binary(max_size=40), st.integers(0, 60), st.sampled_from([RMC, GGA]))
def test_damage_is_counted_or_told(noise, at, victim):
    try:
        fixes = parse_nmea(RMC + victim[:at] + noise + victim[at:] + GGA)
    except InputError:
        return
    assert 1 <= len(fixes.time_s) <= fixes.rows


def walk(n=12, hour=9, east=11.0):
    return [
        f"GPGGA,{hour:02d}30{i:02d},4807.038,N,{int(east):03d}{i / 100:06.3f},E,1,08,0.9,545.4,M,46.9,M,,"
        for i in range(n)
    ]


def test_a_log_without_checksums_is_used_and_told():
    bare = "".join(f"${line}\n" for line in [*walk(), "GPRMC,093011,A,4807.038,N,01131.000,E,0,0,170126,,,A"]).encode()
    fixes = parse_nmea(bare)
    assert (fixes.rows, len(fixes.time_s), dict(fixes.dropped)) == (12, 12, {"without a checksum, used unchecked": 12})
    assert recognise(bare, name="x").ending == ".nmea"
    # One sentence with a checksum shows that the others lost theirs, with what stood before it.
    assert len(parse_nmea(bare + GGA).time_s) == 1


def test_utf_16_text_is_read():
    log = (RMC + GGA).decode()
    for encoding in ("utf-16", "utf-16-be"):
        data = ("" if encoding == "utf-16" else "\ufeff") + log
        fixes = parse_nmea(data.encode(encoding))
        assert (len(fixes.time_s), recognise(data.encode(encoding), name="x").ending) == (1, ".nmea")


def test_empty_sentences_before_the_first_fix_are_not_damage():
    empty = sentence("GPGGA,,,,,,0,,,,M,,M,,") + sentence("GPRMC,,V,,,,,,,,,,N")
    assert dict(parse_nmea(empty + RMC + GGA).dropped) == {"no fix": 2}


@pytest.mark.parametrize(("hour", "east", "day"), [(9, 11, 17), (23, 170, 16), (2, -120, 18)])
def test_positions_alone_get_the_day_of_the_drill(drill, hour, east, day):
    """A drill on the 17th in the east begins on the 16th UTC in the morning, one in the west ends on the 18th."""
    data = b"".join(sentence(line) for line in walk(hour=hour, east=abs(east)))
    if east < 0:
        data = b"".join(sentence(line.replace(",E,", ",W,")) for line in walk(hour=hour, east=-east))
    there = dataclasses.replace(drill, origin=Origin(48.1173, float(east), 0.0))
    run = parse_run("r", {"track.nmea": data}, there)
    assert run.time_zero == dt.datetime(2026, 1, day, hour, 30, tzinfo=dt.UTC)
    assert dict(run.inputs[0].dropped) == {"without a date, put on the drill's day": 12}
    with pytest.raises(InputError, match=r"no date, and drill\.toml has none; write date"):
        parse_run("r", {"track.nmea": data}, dataclasses.replace(there, date=None))
    found = recognise(data, name="x")
    assert (found.ending, found.begin_s, found.rows) == (".nmea", None, 12)


def test_a_day_without_dates_goes_on_across_midnight():
    lines = [line.replace("0930", t) for line, t in zip(walk(2), ("2359", "0000"), strict=True)]
    fixes = parse_nmea(b"".join(sentence(line.replace("00,48", "59,48") if "2359" in line else line) for line in lines))
    assert np.diff(fixes.time_s).tolist() == [2.0]
    assert not fixes.dated


def test_a_year_that_no_calendar_holds_is_no_date():
    assert len(parse_nmea(RMC + GGA + sentence("GPZDA,123519.00,23,03,99999999999999999999,00,00")).time_s) == 1
