"""Times as written in files."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.files.times import parse_elapsed, parse_utc, utc_text


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1970-01-01T00:00:00Z", 0.0),
        ("2001-09-09T01:46:40Z", 1e9),  # the billionth second of POSIX time
        ("2001-09-09T03:46:40.250+02:00", 1e9 + 0.25),
        ("2001-09-08 20:46:40-05:00", 1e9),
        ("20010909T014640Z", 1e9),
    ],
)
def test_time_with_offset_is_utc(text, expected):
    assert expected == parse_utc(text, where="t")


@pytest.mark.parametrize("text", ["", "yesterday", "2026-01-17", "2026-13-17T09:30:00Z", "2026-01-17T09:30:60Z", "9"])
def test_what_is_no_time_is_an_error_that_quotes_it(text):
    with pytest.raises(InputError, match="is not an ISO 8601 time") as caught:
        parse_utc(text, where="track.csv, line 3")
    assert repr(text) in str(caught.value)
    assert caught.value.where == "track.csv, line 3"


def test_naive_time_is_an_error():
    with pytest.raises(InputError, match="no offset from UTC"):
        parse_utc("2026-01-17T09:30:00", where="t")


@given(st.datetimes(min_value=dt.datetime(1980, 1, 1), max_value=dt.datetime(2100, 1, 1)))  # noqa: DTZ001
def test_written_time_reads_back_to_the_millisecond(moment):
    posix = moment.replace(tzinfo=dt.UTC).timestamp()
    assert abs(parse_utc(utc_text(posix), where="t") - posix) <= 5.1e-4


@pytest.mark.parametrize(
    ("text", "expected"),
    [("0", 0.0), ("83.5", 83.5), ("1:23.5", 83.5), ("01:23", 83.0), ("120:00", 7200.0), ("1:01:23", 3683.0)],
)
def test_elapsed_time(text, expected):
    assert expected == parse_elapsed(text, where="t")


@pytest.mark.parametrize("text", ["", "-3", "1:60", "1:75:00", "nan", "inf", "1:2:3:4", "1.30 min", "1:-3"])
def test_bad_elapsed_time_is_an_error(text):
    with pytest.raises(InputError, match=r"neither seconds nor mm:ss\.s"):
        parse_elapsed(text, where="t")
