"""Times that are off: what is offered, that nothing moves before it is chosen, and what a choice means for run.toml."""

import dataclasses
import datetime as dt

import pytest

from analyzer.workspace.intake.import_files import take_in
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import (
    DRILL,
    MARKS,
    NO,
    READINGS,
    RUN,
    TRACK,
    UNDECIDED,
    YES,
    DrillPlace,
    IncomingFile,
)
from analyzer.workspace.intake.repairs import keys_of
from tests.support.sheets import xlsx

NOON = dt.datetime(2026, 2, 14, 11, 0, tzinfo=dt.UTC)
BOWL = DrillPlace("bowl", "Bowl", "d" * 64, latitude=46.6, longitude=9.9, day="2026-02-14")


def file(number, kind, path, begin=0.0, end=300.0, **more):
    zero = NOON.timestamp()
    values = {"begin_s": zero + begin, "end_s": zero + end, "ending": ".gpx" if kind == TRACK else ""}
    return IncomingFile(number, path, path, 1, kind, **values | more)


def plan(*files, choices=None, place=BOWL):
    return plan_of(files, (place,), choices or {})


def track(weeks=0, **more):
    early = -weeks * 7 * 86400.0
    return file(1, TRACK, "mara.gpx", early, early + 300.0, latitude=46.6, longitude=9.9, **more)


@pytest.mark.parametrize("weeks", [1024, 2048])
def test_a_track_that_lost_count_of_the_weeks_is_offered_with_them_added(weeks):
    log = file(2, READINGS, "log.csv", 20, 200)
    found = plan(track(weeks), log)
    assert (found.runs[0].use, found.companions[0].of) == (UNDECIDED, UNDECIDED)
    (offer,) = found.runs[0].offers
    assert offer.words == f"put in with {weeks} weeks added to its dates"
    assert keys_of(found, found.runs[0]) == {}
    taken = plan(track(weeks), log, choices={"use-1": offer.value})
    assert (taken.runs[0].use, taken.companions[0].of, taken.open) == (YES, "1", ())
    assert f"Put in with {weeks} weeks added to its dates; the file stays as it came" in taken.runs[0].note
    assert keys_of(taken, taken.runs[0]) == {"weeks": weeks}
    assert keys_of(plan(track(weeks), choices={"use-1": YES}), taken.runs[0]) == {"weeks": weeks}
    assert plan(track(weeks), log, choices={"use-1": NO}).runs[0].moved == ""


def test_a_part_of_a_recording_is_moved_with_its_times():
    part = track(1024)
    part = dataclasses.replace(part, window_s=(part.begin_s, part.end_s))
    taken = plan(part, choices={"use-1": "weeks:1024"})
    assert taken.parts_of(taken.runs[0])[0].window_s == (NOON.timestamp(), NOON.timestamp() + 300.0)


@pytest.mark.parametrize("days", [1024 * 7 + 2, 1000 * 7, 30])
def test_another_day_is_offered_nothing(days):
    assert plan(track(days / 7)).runs[0].offers == ()


@pytest.mark.parametrize(("hours", "sign"), [(1.0, "taken off"), (-5.5, "added to")])
def test_a_log_off_by_its_zone_is_offered_moved_and_so_is_the_track(hours, sign):
    off = hours * 3600.0
    log = file(2, READINGS, "log.csv", 20 + off, 200 + off)
    found = plan(track(), log)
    (for_log,), (for_track,) = found.companions[0].offers, found.runs[0].offers
    assert f"{abs(hours):g} h {sign} its times" in for_log.words
    by_log = plan(track(), log, choices={"of-2": for_log.value})
    assert (by_log.companions[0].of, by_log.open) == ("1", ())
    assert keys_of(by_log, by_log.runs[0]) == {"readings_hours": -hours}
    by_track = plan(track(), log, choices={"use-1": for_track.value})
    assert (by_track.companions[0].of, by_track.open) == ("1", ())
    assert keys_of(by_track, by_track.runs[0]) == {"track_hours": hours}


def test_a_track_is_not_moved_where_a_log_fits_it_as_it_is_or_two_disagree():
    late = file(2, MARKS, "marks.csv", 3620, 3800)
    assert plan(track(), late, file(3, READINGS, "log.csv", 20, 200)).runs[0].offers == ()
    assert plan(track(), late, file(3, READINGS, "log.csv", 7220, 7400)).runs[0].offers == ()


@pytest.mark.parametrize("choice", ["hours:99", "hours:0.3", "weeks:1000", "1@99"])
def test_a_choice_beyond_what_zones_are_moves_nothing(choice):
    field = "of-2" if "@" in choice else "use-1"
    found = plan(track(), file(2, READINGS, "log.csv", 20, 200), choices={field: choice})
    assert keys_of(found, found.runs[0]) == {}
    assert found.runs[0].track.begin_s == NOON.timestamp()


def test_times_without_a_zone_ask_for_it_where_the_drill_has_none():
    bare = track(day="2026-02-14", zone_asked=True)
    found = plan(bare)
    assert found.open == (
        "mara.gpx: its times bear no zone, and nor does the drill's start: choose the zone of its recorder's clock.",
    )
    said = plan(bare, choices={"zone-1": "+01:00"})
    assert (said.open, keys_of(said, said.runs[0])) == ((), {"zone": "+01:00"})
    assert plan(bare, choices={"zone-1": "noon"}).open == found.open
    there = DrillPlace("bowl", "Bowl", "d" * 64, day="2026-02-14", zone="+01:00")
    known = plan(bare, place=there)
    assert (known.open, known.runs[0].zone, keys_of(known, known.runs[0])) == ((), "+01:00", {})
    own = file(2, RUN, "mara.toml", zone="+02:00", begin_s=None, end_s=None)
    assert plan(bare, own, place=there).runs[0].zone == "+02:00"
    drill = IncomingFile(3, "drill.toml", "x", 1, DRILL, zone="+01:00", title="Bowl two")
    assert plan_of((bare, drill), (), {}).runs[0].zone == "+01:00"


GPX = """<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">{}</gpx>"""


def several(*stamps):
    tracks = []
    for stamp in stamps:
        points = "".join(
            f'<trkpt lat="46.6" lon="9.90{i:02d}"><time>2026-02-14T{stamp.format(i)}</time></trkpt>' for i in range(20)
        )
        tracks.append(f"<trk><trkseg>{points}</trkseg></trk>")
    return GPX.format("".join(tracks)).encode()


def test_several_tracks_without_a_zone_are_opened_and_keep_their_clock(tmp_path):
    files, lines = take_in(tmp_path, "day.gpx", (several("10:00:{:02d}", "10:30:{:02d}"),))
    assert (lines, [f.problem for f in files], [f.zone_asked for f in files]) == ((), ["", ""], [True, True])
    table = (tmp_path / "originals" / files[0].sha256).read_text()
    assert "\n2026-02-14T10:00:00.000,46.6" in table or "\n2026-02-14T10:00:00,46.6" in table
    assert plan_of(files, (), {}).runs[0].zone_asked


def test_several_tracks_of_which_some_times_bear_a_zone_are_refused(tmp_path):
    (file,), _ = take_in(tmp_path, "day.gpx", (several("10:00:{:02d}", "10:30:{:02d}Z"),))
    assert "20 of its 40 times bear a zone and the others do not" in file.problem


def test_a_workbook_with_a_sheet_for_each_run_becomes_a_log_for_each(tmp_path):
    book = xlsx(
        {
            "Mara": [["elapsed", "reading"], [10, 30], [20, 20]],
            "Ilo": [["elapsed", "reading"], [15, 25]],
            "Plan": [["what", "who"], ["tea", "all"]],
            "Ida": [["elapsed", "reading"], [15, "much"]],
        }
    )
    logs, _ = take_in(tmp_path, "day/logs.xlsx", (book,))
    assert [(f.path, f.kind, f.sheet, f.rows) for f in logs[:2]] == [
        ("day/logs.xlsx/Mara", READINGS, "Mara", 2),
        ("day/logs.xlsx/Ilo", READINGS, "Ilo", 1),
    ]
    assert [bool(f.problem) for f in logs] == [False, False, True]
    assert "sheet 'Ida'" in logs[2].problem
    tracks = [file(7, TRACK, "mara-1.gpx"), file(8, TRACK, "pia.gpx", 900, 1200)]
    numbered = [IncomingFile(**{n: getattr(f, n) for n in f.__slots__} | {"id": i}) for i, f in enumerate(logs, 1)]
    found = plan(*tracks, *numbered)
    assert [row.of for row in found.companions] == ["7", UNDECIDED]
    assert keys_of(found, found.runs[0]) == {"readings_sheet": "Mara"}
    both = plan(*tracks, *numbered, choices={"of-2": "8"})
    assert keys_of(both, both.runs[1]) == {"readings_sheet": "Ilo"}
