"""Logs of phones, flight recorders, binary receivers and post-processing; packed and damaged ones."""

import datetime as dt
import gzip
import random

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.folder import parse_run, run_files
from analyzer.files.tracks import packed
from analyzer.files.tracks.formats import FORMATS, format_named, read_track
from analyzer.files.tracks.gnss_log import parse_gnss_log
from analyzer.files.tracks.igc import parse_igc
from analyzer.files.tracks.pos_solution import parse_pos_solution
from analyzer.files.tracks.ubx import parse_ubx
from analyzer.workspace.intake.recognise import recognise
from tests.support.invented_logs import FILES, GNSS, GNSS_HEAD, POS, POS_HEAD, SAMPLES, ZERO, N, gnss_line, ubx

# IGC. The first B record is the worked example of the FAI's specification: 16:02:40, 54 deg 07.121' N,
# 2 deg 49.342' W, GNSS altitude 421 m.
EXAMPLE_B = "B1602405407121N00249342WA0028000421"


def test_igc_example_of_the_specification():
    fixes = parse_igc(f"AXXX\nHFDTE160701\n{EXAMPLE_B}\n".encode())
    assert fixes.time_s[0] == dt.datetime(2001, 7, 16, 16, 2, 40, tzinfo=dt.UTC).timestamp()
    assert fixes.first[0] == pytest.approx(54 + 7.121 / 60, abs=1e-12)
    assert fixes.second[0] == pytest.approx(-(2 + 49.342 / 60), abs=1e-12)
    assert fixes.elevation_m[0] == 421.0
    assert fixes.step == pytest.approx(1e-3 / 60)


def test_igc_further_fields_give_accuracy_and_finer_places_and_times():
    head = "AXXX\nHFDTEDATE:160701,01\nI043638FXA3940LAD4142LOD4343TDS\n"
    fixes = parse_igc(f"{head}{EXAMPLE_B}00512345\n".encode())
    assert fixes.time_s[0] % 1.0 == pytest.approx(0.5)
    assert fixes.first[0] == pytest.approx(54 + 7.12112 / 60, abs=1e-12)
    assert fixes.second[0] == pytest.approx(-(2 + 49.34234 / 60), abs=1e-12)
    # FXA holds 95.45 %: sqrt(-2 ln 0.0455) = 2.486 standard deviations of one axis
    assert fixes.sigma_m[0] == pytest.approx(5 / 2.486, rel=1e-4)


def test_igc_goes_on_across_midnight_and_counts_what_has_no_fix():
    lines = ["HFDTE310126", EXAMPLE_B.replace("160240", "235959"), EXAMPLE_B.replace("160240", "000000")]
    fixes = parse_igc("\n".join([*lines, EXAMPLE_B.replace("WA", "WV")]).encode())
    assert fixes.time_s[1] - fixes.time_s[0] == 1.0
    assert dict(fixes.dropped) == {"no fix": 1}


# UBX. Two NAV-PVT messages written by pyubx2 1.4.0 (BSD-3-Clause) from the values in the test.
UBX_1 = bytes.fromhex(
    "b56201075c0000000000e607011208022f0700000000ef52fdff03010007fc2aaafe9feedb1f00000000468f0000df220000" + "00" * 48
    + "17fc"
)  # fmt: skip
UBX_2 = bytes.fromhex(
    "b56201075c0000000000e6070112080230070000000080b2e60e0301000787c76665fff494e40000000024faffff0e000000" + "00" * 48
    + "84de"
)  # fmt: skip


def test_ubx_messages_of_another_writer():
    fixes = parse_ubx(b"noise" + UBX_1 + b"\xb5b\x01\x35\x00\x00\x36\xa3" + UBX_2)
    at = dt.datetime(2022, 1, 18, 8, 2, tzinfo=dt.UTC).timestamp()
    np.testing.assert_allclose(fixes.time_s - at, [47 - 175377e-9, 48.25], atol=1e-6)
    np.testing.assert_allclose(fixes.first, [53.4507167, -46.0000001], rtol=0, atol=1e-10)
    np.testing.assert_allclose(fixes.second, [-2.2402308, 170.1234567], rtol=0, atol=1e-10)
    np.testing.assert_allclose(fixes.elevation_m, [36.678, -1.5])
    np.testing.assert_allclose(fixes.sigma_m, [8.927 / 1.5158, 0.014 / 1.5158])


def test_ubx_counts_what_is_not_used():
    damaged = bytearray(ubx(5))
    damaged[40] ^= 1
    data = b"".join(
        [*(ubx(i) for i in range(4)), ubx(4, fix=5), ubx(4, flags=0), ubx(4, valid=1), bytes(damaged), ubx(6)[:50]]
    )
    fixes = parse_ubx(data)
    assert dict(fixes.dropped) == {"no fix": 2, "a date or time that is not valid": 1, "cut off or damaged": 2}
    assert (fixes.rows, len(fixes.time_s)) == (9, 4)


# .pos
def test_pos_times_are_gps_times_and_deviations_are_of_one_axis():
    fixes = parse_pos_solution(POS.encode())
    # GPS time is 18 s ahead of UTC since 2017 (IERS Bulletin C)
    assert fixes.time_s[0] == ZERO.timestamp()
    np.testing.assert_allclose(fixes.sigma_m, 0.05 / 2**0.5)  # root mean square of 3 and 4 cm
    assert fixes.second[3] == pytest.approx(7.00003)


@pytest.mark.parametrize(
    ("change", "seconds"),
    [
        (lambda s: s.replace("GPST ", "UTC  "), 18.0),
        (lambda s: s.replace("GPST ", "JST  "), 18.0 - 9 * 3600),
        # GPS week 2401 begins on Sunday 2026-01-11, so the Saturday is its day 6
        (lambda s: "\n".join(_in_weeks(line) for line in s.splitlines()), 0.0),
        (lambda s: s.replace("  ", ", "), 0.0),
        (
            lambda s: s.replace("2026/01/17", "2015/06/30"),
            -(dt.date(2026, 1, 17) - dt.date(2015, 6, 30)).days * 86400 + 2,
        ),
    ],
)
def test_pos_in_other_clocks_and_separators(change, seconds):
    fixes = parse_pos_solution(change(POS).encode())
    assert fixes.time_s[0] - ZERO.timestamp() == pytest.approx(seconds, abs=1e-6)
    assert len(fixes.time_s) == N


def _in_weeks(line):
    if line.startswith("%"):
        return line
    hour, minute, second = line[11:23].split(":")
    return f"2401 {6 * 86400 + int(hour) * 3600 + int(minute) * 60 + float(second):.3f}" + line[23:]


def test_pos_degrees_in_three_fields():
    head = POS_HEAD.replace("latitude(deg) longitude(deg)", "latitude(d'\") longitude(d'\")")
    fixes = parse_pos_solution(f"{head}2026/01/17 09:30:18.000 -46 30 36.0  7 15 00.0 10.0 1 9 0.1 0.1 0.1\n".encode())
    assert (fixes.first[0], fixes.second[0], fixes.elevation_m[0]) == (pytest.approx(-46.51), 7.25, 10.0)


def test_pos_epochs_without_solution_are_counted():
    fixes = parse_pos_solution((POS + "2026/01/17 10:00:00.000   0.0  0.0  0.0   0   0   0 0 0\n").encode())
    assert dict(fixes.dropped) == {"no fix": 1}


# GNSS log
def test_gnss_log_takes_the_fixes_of_the_receiver():
    fixes = parse_gnss_log(GNSS.encode())
    np.testing.assert_array_equal(fixes.time_s, ZERO.timestamp() + np.arange(N))
    np.testing.assert_allclose(fixes.sigma_m, 2.0)
    assert dict(fixes.dropped) == {"of another provider": N // 2}


def test_gnss_log_with_few_fixes_of_the_receiver_takes_the_mixed_ones():
    data = GNSS_HEAD + "".join(gnss_line(i, "GPS" if i < 5 else "FLP") for i in range(N))
    assert dict(parse_gnss_log(data.encode()).dropped) == {"of another provider": 5}


def test_gnss_log_with_the_older_names():
    data = "# Fix,Provider,Latitude,Longitude,Altitude,Speed,Accuracy,(UTC)TimeInMs\nFix,gps,46,7,5,0,9,1768642200500\n"
    fixes = parse_gnss_log(data.encode())
    assert (fixes.time_s[0], fixes.elevation_m[0]) == (ZERO.timestamp() + 0.5, 5.0)


@pytest.mark.parametrize("name", FILES)
def test_logs_are_recognised_under_any_name_and_read_in_a_run(name, drill):
    found = recognise(FILES[name], name="picture.jpg")
    form = next(f for f in FORMATS if f.name == name)
    assert (found.kind, found.ending, found.begin_s) == ("track", form.endings[0], ZERO.timestamp())
    run = parse_run("r", {f"track{form.endings[0]}": FILES[name]}, drill)
    assert (len(run.track.time_s), run.time_zero) == (N, ZERO)
    # A thousandth of a minute of longitude at 46 degrees is 1.29 m, 1e-5 degrees are 0.77 m.
    assert run.track.east_m[1] - run.track.east_m[0] == pytest.approx(1.29 if name == "IGC" else 0.774, abs=0.01)


@pytest.mark.parametrize("name", FILES)
def test_a_packed_log_is_read_as_it_is(name, drill, tmp_path):
    packed_log = gzip.compress(FILES[name])
    found = recognise(packed_log, name="x")
    assert found.problem == ""
    file = f"Track{found.ending}"
    assert file.endswith(".gz")
    (tmp_path / file).write_bytes(packed_log)
    assert run_files(tmp_path)["track"].name == file
    assert len(parse_run("r", {file: packed_log}, drill).track.time_s) == N


def test_gzip_is_unpacked_within_its_bound_and_its_damage_is_named(monkeypatch):
    data = gzip.compress(FILES["POS"])
    assert packed.gunzip(data + data, name="x") == FILES["POS"] * 2
    for damaged in (data[:-12], data[:30] + b"\x00" * 9 + data[39:]):
        assert "x.gz: the gzip file is damaged or cut off" in recognise(damaged, name="x.gz").problem
    assert "only a track is read packed" in recognise(gzip.compress(b"mark,elapsed\nstart,0\n"), name="x").problem
    monkeypatch.setattr(packed, "MAX_UNPACKED", 1000)
    assert "unpacks to more than" in recognise(data, name="x").problem
    assert "unpacks to more than" in recognise(gzip.compress(b"a" * 600) * 2, name="x").problem


@pytest.mark.parametrize(
    ("name", "data", "what"),
    [
        ("a.igc", b"AXXX\nHFDTE170126\n", "no B record has a three-dimensional fix"),
        ("a.igc", b"AXXX\nHFDTE170126\nB09\nB10\n", "line 3: 2 of 2 B records are damaged"),
        ("a.ubx", b"\xb5b\x01\x07\x5c\x00", "no whole UBX message"),
        ("a.ubx", ubx(0, fix=0), "no NAV-PVT message has a fix"),
        ("a.pos", POS.replace("latitude(deg)", "x-ecef(m)").encode(), "line 3: the solution is not in latitude"),
        ("a.pos", POS.replace("%", "#").encode(), "line 1: no line with % names the columns"),
        ("a.pos", POS_HEAD.encode(), "the solution has no epoch"),
        ("a.pos", (POS_HEAD + "2026/01/17 09:61:00 46 7 0 1\n").encode(), "line 4: 1 of 1 lines are damaged"),
        (
            "a.pos",
            (POS_HEAD + "99999999999999999999999/01/17 09:01:00 46 7 0 1\n").encode(),
            "1 of 1 lines are damaged",
        ),
        ("a.txt", b"# Fix,Provider\nFix,GPS,46,7,0,0,0,,1\n", "line 2: a Fix line stands before"),
        ("a.txt", GNSS_HEAD.encode(), "the log has no Fix line"),
        ("a.txt", (GNSS_HEAD + "Fix,GPS,x,7,0,0,0,,1\n").encode(), "line 3: 1 of 1 Fix lines are damaged"),
        ("a.pos", POS.encode() + b"\x00", "there is binary data in the text"),
        ("a.igc", b"\n", "the file is empty"),
        ("a.igc", b"AXXX\n" + b"B\n" * 1_000_000, "the log has more than 1000000 lines"),
        ("a.pos", POS_HEAD.encode() + b"a\n" * 1_000_000, "the log has more than 1000000 lines"),
        ("a.txt", GNSS_HEAD.encode() + b"Fix\n" * 1_000_000, "the log has more than 1000000 lines"),
    ],
)
def test_unusable_logs_say_why(name, data, what):
    with pytest.raises(InputError, match=what) as caught:
        format_named(name).read(data, name=name)
    assert str(caught.value).startswith(name)


@pytest.mark.parametrize("name", SAMPLES)
def test_samples_are_whole(name):
    ending = next(f.endings[0] for f in FORMATS if f.name == name)
    assert outcome(SAMPLES[name], f"track{ending}") == (0, N)


def outcome(data, name):
    """Return the lines of the error that a file gives, and how many fixes."""
    try:
        return 0, len(read_track(data, name=name).time_s)
    except InputError as error:
        return len(str(error).splitlines()), 0


@pytest.mark.parametrize("form", [f for f in FORMATS if f.name not in ("GPX", "CSV", "TCX")], ids=lambda f: f.name)
def test_no_damage_gives_more_than_one_line(form):
    """Cut anywhere, with bytes changed anywhere, and every other kind under this ending."""
    rng = random.Random(20260117)
    own = SAMPLES[form.name]
    cases = [data for name, data in SAMPLES.items() if name != form.name] + [
        b"\x1f\x8b",
        b"PK\x03\x04",
        b"{",
        b"\xff\xfe\x00",
    ]
    for _ in range(60):
        data = bytearray(own[: rng.randrange(1, len(own))])
        for _ in range(rng.randrange(4)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        cases.append(bytes(data))
    for data in cases:
        lines, count = outcome(data, f"track{form.endings[0]}")
        assert lines <= 1
        assert count <= N
