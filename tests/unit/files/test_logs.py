"""Reading logs and marks as people keep them: words of four languages, units, times of day, remarks beside them."""

import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.files.day_times import clock_in
from analyzer.files.log_words import COLUMN_WORDS, MARK_WORDS, column_of, mark_of, plain
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from tests.support.sheets import Raw, clock, ods, open_clock, xlsx

DAY = dt.date(2026, 2, 3)
VIENNA = dt.timezone(dt.timedelta(hours=1))
AT = dt.datetime(2026, 2, 3, 9, 30, 5, tzinfo=VIENNA).timestamp()


def text(*lines):
    return "\n".join(lines).encode()


def pairs(*lines, **known):
    """Return time and metres of the readings of a log."""
    return [(r.time_s, r.reading_m) for r in parse_readings_csv(text(*lines), **known).readings]


def line(data, parse=parse_readings_csv, **known):
    """Return the one line with which a log is refused."""
    with pytest.raises(InputError) as caught:
        parse(data, **known)
    return str(caught.value)


@pytest.mark.parametrize(
    ("heading", "means"),
    [
        ("Reading (m)", ("reading_m", "m")), ("reading_m", ("reading_m", "m")), ("Distanz in m", ("reading_m", "m")),
        ("DISTANCE [m]", ("reading_m", "m")), ("Anzeige", ("reading_m", "")), ("Lettura", ("reading_m", "")),
        ("Uhrzeit (UTC)", ("time", "utc")), ("heure", ("time", "")), ("Ora", ("time", "")),
        ("Laufzeit", ("elapsed", "")), ("temps écoulé", ("elapsed", "")), ("elapsed_s", ("elapsed", "s")),
        ("Sekunden", ("elapsed", "s")), ("t [s]", ("elapsed", "s")), ("Zeit (mm:ss)", ("elapsed", "mm:ss")),
        ("time", ("moment", "")), ("Zeit", ("moment", "")), ("Pfeil", ("", "")), ("", ("", "")),
    ],
)  # fmt: skip
def test_headings(heading, means):
    assert column_of(heading) == means


def test_long_cells_are_neither_headings_nor_times_nor_readings():
    """Found by the attack (seed 8801): each pattern went over 20,000 spaces as often as there are spaces."""
    spaces = " " * 90
    assert column_of(f"Anzeige{spaces}(m)") == ("", "")
    assert clock_in(f"9:30:05{spaces}Z") is None
    assert "reading_m '3    " in line(f"elapsed,reading\n5,3{spaces}m\n".encode())


def test_no_word_means_two_things():
    for table in (COLUMN_WORDS, MARK_WORDS):
        words = [plain(word) for words in table.values() for word in set(words)]
        assert len(words) == len(set(words)), sorted(w for w in words if words.count(w) > 1)


def test_marks_by_other_words():
    for word, mark in (
        ("Start", "start"), ("FIRST READING", "first_reading"), ("probe-hit", "probe_hit"), ("Treffer", "probe_hit"),
        ("Erste Anzeige", "first_reading"), ("premier signal", "first_reading"), ("Arrivo", "finish"), ("fine", ""),
        ("end", ""), ("Pause", ""),
    ):  # fmt: skip
        assert mark_of(word) == mark, word


def test_a_german_log_with_units_arrows_and_what_shows_nothing():
    log = parse_readings_csv(
        text(
            "Laufzeit;Anzeige (m);Pfeil;Bemerkung;;",
            "0:10;38;geradeaus;;;",
            "0:21;31,5 m;links;quer;;",
            "0:40;-;;;;",
            "0:44;–;;;;",
            "0:50;SEARCH;;;;",
            "0:55;;;;;",
            "1:02;340 cm;;;;",
            "1:10;↑ 0,9;rechts;;;",
        )
    )
    assert [(r.time_s, r.reading_m) for r in log.readings] == [(10, 38), (21, 31.5), (62, 3.4), (70, 0.9)]
    assert (log.rows, dict(log.dropped)) == (8, {
        "no reading in the row": 4, "in 'Pfeil' (column C), which is not read": 3,
        "in 'Bemerkung' (column D), which is not read": 1,
    })  # fmt: skip


def test_a_column_in_centimetres_and_one_in_feet():
    assert pairs("elapsed,distance (cm)", "5,340") == [(5, 3.4)]
    assert "is in 'ft'; write metres" in line(b"elapsed,distance (ft)\n5,3")
    assert "'steer (rad)' is not in degrees" in line(b"elapsed,distance,steer (rad)\n5,3,1")


def test_a_title_above_the_header_is_counted():
    log = parse_readings_csv(text("Lower bowl;;", ";;", "Mara;2. Lauf;", "elapsed;reading;", "5;3,1;"))
    assert [(r.where, r.reading_m) for r in log.readings] == [("readings.csv, line 5", 3.1)]
    assert dict(log.dropped) == {"above the header": 2}


def test_three_figures_after_a_comma_may_be_thousands():
    assert pairs("elapsed;reading", "5;3,125", "6;2,500") == [(5, 3.125), (6, 2.5)]
    told = line(b"elapsed;reading\n5;3,125\n6;2.5")
    assert told.startswith("readings.csv, line 2: reading_m '3,125' may be thousands or decimals")


def test_headings_of_one_meaning_and_slips_of_the_pen():
    assert "the columns 'Distanz' and 'Anzeige' mean the same" in line(b"elapsed,Distanz,Anzeige\n5,3,2")
    assert "did you mean 'reading_m'" in line(b"elapsed,anzeige_,readin\n5,3,2")


@pytest.mark.parametrize(
    ("lines", "known"),
    [
        (("time,reading", "2026-02-03T09:30:05+01:00,3"), {}),
        (("Uhrzeit;Anzeige", "09:30:05;3"), {"zone": VIENNA, "day": DAY}),
        (("Uhrzeit (UTC);Anzeige", "08:30:05;3"), {"day": DAY}),
        (("Uhrzeit (UTC+1);Anzeige", "09:30:05;3"), {"day": DAY}),
        (("ora (ora locale);lettura", "09:30:05;3"), {"day": DAY, "zone": VIENNA}),
        (("heure;lecture", "9h30:05;3"), {"zone": VIENNA, "day": DAY}),
        (("time of day,reading", "9:30:05 AM,3"), {"zone": VIENNA, "day": DAY}),
        (("Zeit;Anzeige", "09:30:05;3"), {"zone": VIENNA, "day": DAY}),
        (("Datum;Zeit;Anzeige", "03.02.2026;09:30:05;3"), {"zone": VIENNA}),
        (("Datum Uhrzeit;Anzeige", "03.02.2026 09:30:05;3"), {"zone": VIENNA}),
        (("date,time,reading", "03/02/2026,09:30:05,3"), {"zone": VIENNA, "day": DAY}),
        (("date,time,reading", "02/03/2026,09:30:05,3"), {"zone": VIENNA, "day": DAY}),
        (("time,reading", "2026-02-03 09:30:05,3"), {"zone": VIENNA}),
    ],
)
def test_times_of_day(lines, known):
    assert pairs(*lines, **known) == [(AT, 3.0)]


def test_a_day_above_twelve_proves_that_the_day_is_first():
    rows = ("date,time,reading", "03/02/2026,09:30:05,3", "13/02/2026,09:30:05,3")
    assert pairs(*rows, zone=VIENNA) == [(AT, 3.0), (AT + 10 * 86_400, 3.0)]
    told = line(text(*rows[:2]), zone=VIENNA)
    assert "line 2: the date '03/02/2026' may be 03 February or 02 March; write it like 2026-01-17" in told
    assert "in another order" in line(text(*rows, "02/13/2026,09:30:06,3"), zone=VIENNA)


def test_a_log_over_midnight_goes_on():
    assert pairs("Uhrzeit;Anzeige", "23:59:58;3", "00:00:03;2", zone=dt.UTC, day=DAY) == [
        (dt.datetime(2026, 2, 3, 23, 59, 58, tzinfo=dt.UTC).timestamp(), 3.0),
        (dt.datetime(2026, 2, 4, 0, 0, 3, tzinfo=dt.UTC).timestamp(), 2.0),
    ]


@pytest.mark.parametrize("wrong", ["2026-02-02T09:30:06+01:00;2", "2026-02-02 09:30:06;2"])
def test_a_wrong_date_is_told_and_shifts_nothing(wrong):
    rows = ("time of day;reading", "2026-02-03T09:30:05+01:00;3", wrong, "2026-02-03T09:30:07+01:00;1")
    assert "line 3: the time runs back by 86399 s" in line(text(*rows), zone=VIENNA)


@pytest.mark.parametrize(
    ("lines", "known", "piece"),
    [
        (("Uhrzeit;Anzeige", "9:30:05;3"), {"zone": dt.UTC}, "the time '9:30:05' has no date"),
        (("Uhrzeit;Anzeige", "9:30:05;3"), {"day": DAY}, "has no offset from UTC"),
        (("Uhrzeit;Anzeige", "9:30;3", "9:31;2"), {"day": DAY}, "go to the minute alone"),
        (("Uhrzeit;Anzeige", "25:30:05;3"), {"day": DAY}, "the time '25:30:05' is not a time of day"),
        (
            ("Zeit;Anzeige", "0:12;3", "0:20;2"),
            {},
            "'0:12' under 'Zeit' may be a time of day or a time since the start",
        ),
        (("Zeit;Anzeige", "0:00:12;3"), {"day": DAY}, "may be a time of day"),
        (("Zeit;Anzeige", "09:30:00;3", "09:41:00;3"), {"day": DAY, "zone": dt.UTC}, "may be a time of day"),
        (
            ("Zeit;Anzeige", "12;3", "2026-02-03T09:30:05Z;2"),
            {},
            "line 3: the column 'Zeit' holds times of day and times",
        ),
        (("Uhrzeit;Zeit;Anzeige", "9:30:05;3;1"), {}, "may both be times of day"),
        (("Zeit (min);Anzeige", "0.5;3"), {}, "the column 'Zeit (min)' is in 'min'; write (s), (mm:ss)"),
        (("Laufzeit [h];Anzeige", "0.5;3"), {}, "the column 'Laufzeit [h]' is in 'h'"),
        (("Uhrzeit (MEZ);Anzeige", "9:30:05;3"), {"zone": VIENNA, "day": DAY}, "is in 'mez'; write (UTC) or an offset"),
    ],
)
def test_what_no_time_tells_for_certain_is_asked(lines, known, piece):
    assert piece in line(text(*lines), **known)


@pytest.mark.parametrize(
    "lines",
    [
        ("Zeit;Anzeige", "0:00;9", "0:20;2"),  # a stopwatch begins there
        ("time,reading", "0,9", "20,2"),
        ("time,reading", "0.0,9", "20.0,2"),
        ("Zeit;Anzeige", "0:00;9", "0:20,0;2"),  # no clock has tenths of a minute
        ("elapsed,reading", "0,9", "0:20,2"),
    ],
)
def test_a_column_that_counts_from_the_start(lines):
    assert pairs(*lines) == [(0, 9), (20, 2)]


def test_hours_and_minutes_too_far_apart_for_a_run_are_minutes_and_seconds():
    assert pairs("Zeit;Anzeige", "0:12;9", "6:04;2") == [(12, 9), (364, 2)]


def test_parts_of_a_day_are_no_seconds():
    """A spreadsheet keeps 6 min 4 s as 364/86400 of a day."""
    told = line(text("elapsed,reading", f"{60 / 86400:.12f},9", f"{364 / 86400:.12f},2"))
    assert "'0.004212962963', are parts of a day" in told


@pytest.mark.parametrize("make", [xlsx, ods])
def test_a_sheet_names_the_cell_as_a_person_sees_it(make):
    sheets = {"Mara 1": [["Lauf 1"], [], ["elapsed (s)", "Anzeige"], [5, 30.5], ["", ""], [9, "far"], [10, 3]]}
    told = line(make(sheets), name="readings.xlsx")
    assert told.startswith("readings.xlsx, sheet 'Mara 1', cell B6: reading_m 'far' is not a number")


@pytest.mark.parametrize(("make", "at"), [(xlsx, clock), (ods, open_clock)])
def test_times_of_a_sheet(make, at):
    day = parse_readings_csv(make({"a": [["Uhrzeit", "Anzeige"], [at(9, 30, 5), 3]]}), zone=VIENNA, day=DAY)
    assert [(r.time_s, r.reading_m) for r in day.readings] == [(AT, 3.0)]
    log = parse_readings_csv(make({"a": [["elapsed", "reading"], [at(0, 0, 35), 9], [at(0, 6, 4), 3]]}))
    assert [(r.time_s, r.other_s != r.other_s) for r in log.readings] == [(35, True), (364, True)]  # NaN: no doubt
    told = line(make({"a": [["time", "reading"], [at(0, 6, 4), 3]]}), zone=VIENNA, day=DAY)
    assert "cell A2" in told
    assert "may be a time of day" in told


def test_a_number_that_a_spreadsheet_took_for_a_date_is_told():
    """3.4 typed where a point separates day and month."""
    day = Raw('<c r="{at}" s="2"><v>46115</v></c>')
    told = line(xlsx({"a": [["elapsed (s)", "reading"], [5, day], [6, 2]]}), name="readings.xlsx")
    assert "cell B2: reading_m is 2026-04-03" in told
    assert "took a number for a date or a time" in told


def test_of_several_sheets_the_one_with_the_columns_or_of_the_name_is_read():
    log, other = [["elapsed (s)", "reading"], [5, 3]], [["name"], ["Mara"]]
    assert parse_readings_csv(xlsx({"people": other, "run": log})).readings[0].reading_m == 3
    two = {"one": log, "two": log}
    assert "the sheets 'one' and 'two' each hold readings; keep the one of this run" in line(xlsx(two))
    named = {**two, "Readings": [["elapsed (s)", "reading"], [6, 4]]}
    assert parse_readings_csv(xlsx(named)).readings[0].reading_m == 4


def test_a_formula_counts_by_its_result_and_one_without_is_told():
    good = Raw('<c r="{at}"><f>1+2</f><v>3</v></c>')
    assert parse_readings_csv(xlsx({"a": [["elapsed (s)", "reading"], [5, good]]})).readings[0].reading_m == 3
    bare = Raw('<c r="{at}"><f>1+2</f></c>')
    told = line(xlsx({"a": [["elapsed (s)", "reading"], [5, bare], [6, 2]]}), name="readings.xlsx")
    assert "cell B2: reading_m '(a formula without its result)' is not a number" in told


def test_marks_and_readings_in_one_table():
    data = text(
        "elapsed;Anzeige;Ereignis;Notiz", "0:00;;Start;", "0:05;30;;", "0:09;12;Erste Anzeige;", "0:15;;Treffer;1,2 m"
    )
    log = parse_readings_csv(data)
    assert [(r.time_s, r.reading_m) for r in log.readings] == [(5, 30), (9, 12)]
    assert log.dropped == ()
    marks = parse_marks_csv(data)
    assert [(m.time_s, m.mark, m.note) for m in marks] == [
        (0, "start", ""), (9, "first_reading", ""), (15, "probe_hit", "1,2 m")]  # fmt: skip


def test_marks_to_the_minute_are_refused():
    told = line(b"Uhrzeit;Ereignis\n9:30;Start\n9:41;Treffer", parse_marks_csv, zone=dt.UTC, day=DAY)
    assert "go to the minute alone" in told
    assert "write the seconds as well" in told
