"""What belongs together, and what only a person can say."""

import itertools

import pytest

from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import (
    DRILL,
    MARKS,
    NO,
    READINGS,
    RULES,
    RUN,
    TRACK,
    UNDECIDED,
    WAYPOINTS,
    YES,
    DrillPlace,
    IncomingFile,
)
from analyzer.workspace.intake.names import free_name, safe_name, without_role, words_of

BOWL = DrillPlace("bowl", "Bowl", "d" * 64, (("mara-1", "m1"),))


def make(kind, path, begin=None, end=None, **more):
    values = {"ending": ".gpx"} if kind == TRACK else {}
    return {"kind": kind, "path": path, "begin_s": begin, "end_s": end, "sha256": path, "size": 1} | values | more


def plan(*files, drills=(BOWL,), choices=None):
    return plan_of([IncomingFile(id=i, **f) for i, f in enumerate(files, 1)], drills, choices or {})


def track(path, begin=0.0, end=300.0, **more):
    return make(TRACK, path, begin, end, **more)


def readings(path, begin=None, end=None, **more):
    return make(READINGS, path, begin, end, elapsed=begin is None, **more)


def owner(found, number=0):
    """Return the path of the track that a log went to, NO or UNDECIDED."""
    of = found.companions[number].of
    return next((r.track.path for r in found.runs if str(r.track.id) == of), of)


def test_folders_are_runs():
    found = plan(
        track("day/mara-2/track.gpx"),
        readings("day/mara-2/readings.csv"),
        make(RUN, "day/mara-2/run.toml"),
        track("day/ilo-1/track.gpx", 0, 300),
        readings("day/ilo-1/readings.csv"),
    )
    assert [row.name for row in found.runs] == ["mara-2", "ilo-1"]
    assert [owner(found, i) for i in range(3)] == ["day/mara-2/track.gpx"] * 2 + ["day/ilo-1/track.gpx"]
    assert found.drill == "old:bowl"
    assert found.open == ()


def test_loose_logs_go_by_time():
    found = plan(
        track("a.gpx", 0, 300), track("b.gpx", 600, 900), readings("log7.csv", 620, 800), make(MARKS, "m.csv", 0, 0)
    )
    assert owner(found, 0) == "b.gpx"
    assert owner(found, 1) == "a.gpx"
    assert found.companions[0].note == "By its times."
    assert found.open == ()


@pytest.mark.parametrize(
    ("log", "track_name"),
    [
        ("mara-2-readings.csv", "mara-2.gpx"),
        ("Mara 2 (1).csv", "mara_2 track.gpx"),
        ("readings_mara_2.csv", "mara-2.gpx"),
        ("mara-2-readings.csv", "2026-02-14 mara-2 watch.gpx"),
    ],
)
def test_logs_without_time_of_day_go_by_name(log, track_name):
    others = (track("mara-3.gpx", 600, 900), track("mara-22.gpx", 1200, 1500))
    found = plan(track(track_name, 0, 300), *others, readings(log))
    assert owner(found) == track_name


@pytest.mark.parametrize("log", ["video.csv", "mara.csv", "2.csv", "readings.csv"])
def test_a_log_whose_name_fits_none_or_several_is_asked_for(log):
    found = plan(track("mara-2.gpx", 0, 300), track("mara-3.gpx", 600, 900), readings(log))
    assert owner(found) == UNDECIDED
    assert found.open == (f"{log}: choose its run, or leave it out.",)


def test_times_that_fit_two_tracks_are_asked_for_unless_the_name_tells():
    tracks = (track("x/mara-2.gpx", 0, 300), track("y/ilo-2.gpx", 10, 310))
    assert owner(plan(*tracks, readings("log.csv", 50, 250))) == UNDECIDED
    assert owner(plan(*tracks, readings("ilo-2.csv", 50, 250))) == "y/ilo-2.gpx"


def test_name_and_time_that_disagree_are_asked_for():
    found = plan(track("mara-2.gpx", 0, 300), track("ilo-2.gpx", 600, 900), readings("ilo-2.csv", 50, 250))
    assert owner(found) == UNDECIDED
    assert found.companions[0].note == "Its times fit mara-2.gpx, its name fits ilo-2.gpx."


def test_a_clock_that_is_a_minute_off_is_told_and_one_that_is_an_hour_off_is_asked_for():
    tracks = (track("mara-2.gpx", 0, 300), track("ilo-2.gpx", 9000, 9300))
    near = plan(*tracks, readings("mara-2.csv", 360, 500))
    assert (owner(near), near.companions[0].note) == ("mara-2.gpx", "By its name; its clock is off.")
    far = plan(*tracks, readings("mara-2.csv", 3900, 4000))
    assert owner(far) == UNDECIDED
    assert far.companions[0].note == "Its name fits mara-2.gpx, but its times are 60 min away."
    beside = plan(track("mara-2/track.gpx", 0, 300), readings("mara-2/readings.csv", 86400, 86500))
    assert owner(beside) == UNDECIDED
    assert "24 h away" in beside.companions[0].note


def test_the_only_track_takes_logs_of_plain_names_alone():
    assert owner(plan(track("track.gpx"), readings("readings.csv"))) == "track.gpx"
    assert owner(plan(track("mara-2.gpx"), readings("ilo-2-readings.csv"))) == UNDECIDED


def test_order_does_not_matter():
    files = [track("a.gpx", 0, 300), track("b.gpx", 600, 900), readings("1.csv", 620, 800), readings("b-video.csv")]
    for order in itertools.permutations(files):
        found = plan(*order)
        pairs = {row.file.path: owner(found, i) for i, row in enumerate(found.companions)}
        assert pairs == {"1.csv": "b.gpx", "b-video.csv": "b.gpx"}
        assert len(found.open) == 1  # two reading logs of one run


def test_two_logs_of_one_kind_for_a_run_are_asked_for_and_the_same_bytes_count_once():
    both = plan(track("mara-2/track.gpx"), readings("mara-2/a.csv"), readings("mara-2/b.csv"))
    assert both.open == ("mara-2/a.csv and mara-2/b.csv would both be the readings of mara-2: leave one out.",)
    same = plan(track("mara-2/track.gpx"), readings("mara-2/a.csv", sha256="s"), readings("mara-2/b.csv", sha256="s"))
    assert owner(same, 1) == NO
    assert same.open == ()


def test_two_tracks_for_one_run_are_asked_for():
    named = plan(track("mara-2.gpx", 0, 300), track("mara-2.fit", 5000, 5300))
    assert "would both be the run mara-2" in named.open[0]
    apart = plan(track("mara-2.gpx"), track("mara-2.fit", 5000, 5300), choices={"name-2": "mara-3"})
    assert apart.open == ()
    left = plan(track("mara-2.gpx"), track("mara-2.fit", 5000, 5300), choices={"use-2": NO})
    assert left.open == ()


def test_tracks_of_one_time_are_one_run_or_two_which_a_person_says():
    found = plan(track("watch.gpx", 0, 300), track("phone.gpx", 2, 290))
    assert [row.use for row in found.runs] == [UNDECIDED] * 2
    assert "one run or two?" in found.runs[0].note
    assert len(found.open) == 2
    assert plan(track("watch.gpx", 0, 300), track("phone.gpx", 2, 290), choices={"use-1": YES, "use-2": NO}).open == ()
    folders = plan(track("mara-2/track.gpx", 0, 300), track("ilo-2/track.gpx", 2, 290))
    assert folders.open == ()


def test_a_run_that_is_there_is_never_overwritten():
    other = plan(track("mara-1/track.gpx"))
    assert (other.runs[0].name, other.runs[0].use) == ("mara-1-2", UNDECIDED)
    assert len(other.open) == 1
    taken = plan(track("mara-1/track.gpx"), choices={"use-1": YES, "name-1": "MARA-1"})
    assert "the drill has a run MARA-1 already" in taken.open[0]
    assert "MARA-1-2 is free" in taken.open[0]
    assert plan(track("mara-1/track.gpx"), choices={"use-1": YES}).open == ()
    same = plan(track("again.gpx", sha256="m1"), readings("again.csv"), track("new.gpx", 900, 1000))
    assert (same.runs[0].use, same.companions[0].of) == (NO, NO)
    assert "already the run mara-1" in same.runs[0].note
    assert same.open == ()


def test_the_same_track_twice_goes_in_once():
    found = plan(track("a.gpx", sha256="s"), track("copy of a.gpx", sha256="s"))
    assert [row.use for row in found.runs] == [YES, NO]
    assert found.open == ()


def test_the_drill_is_the_only_one_else_it_is_asked_for():
    other = DrillPlace("gully", "Gully")
    assert plan(track("a.gpx")).drill == "old:bowl"
    assert plan(track("a.gpx"), drills=(BOWL, other)).open == ("Choose the drill.",)
    assert plan(track("a.gpx"), drills=(BOWL, other), choices={"drill": "old:gully"}).open == ()
    assert plan(track("a.gpx"), drills=(BOWL, other), choices={"drill": "old:gone"}).drill == UNDECIDED
    assert "There is no drill yet" in plan(track("a.gpx"), drills=()).open[0]


def test_a_new_drill_takes_its_folders_name_and_never_that_of_another():
    new = plan(make(DRILL, "gully/drill.toml", title="Long gully"), track("gully/runs/a/track.gpx"))
    assert (new.drill, new.folder, new.open) == ("new:1", "gully", ())
    loose = plan(make(DRILL, "drill.toml", title="Long gully (invented)"))
    assert (loose.folder, loose.open) == ("long-gully-invented", ())
    clash = plan(make(DRILL, "bowl/drill.toml"))
    assert (clash.drill, clash.folder) == (UNDECIDED, "bowl-2")
    same = plan(make(DRILL, "bowl/drill.toml", sha256="d" * 64), track("bowl/runs/b/track.gpx"))
    assert (same.drill, same.open) == ("old:bowl", ())
    forced = plan(make(DRILL, "bowl/drill.toml"), choices={"drill": "new:1", "folder": "Bowl"})
    assert "There is a drill Bowl already" in forced.open[0]


def test_a_drill_that_takes_positions_from_a_file_waits_for_it():
    drill = make(DRILL, "drill.toml", needs="site.gpx", title="x")
    assert plan(drill).open == ("drill.toml takes positions from site.gpx: add that file too.",)
    assert plan(drill, make(WAYPOINTS, "site.gpx")).open == ()


def test_runs_of_another_drills_folder_stay_out_and_stay_at_hand():
    files = (
        make(DRILL, "a/drill.toml"),
        track("a/runs/x/track.gpx"),
        make(DRILL, "b/drill.toml"),
        track("b/runs/y/track.gpx", 900, 1000),
    )
    assert plan(*files).open == ("Choose the drill.",)
    chosen = plan(*files, choices={"drill": "new:3"})
    assert [(row.name, row.use) for row in chosen.runs] == [("x", NO), ("y", YES)]
    assert chosen.open == ()


def test_what_is_placed_or_broken_takes_no_part():
    found = plan(track("a.gpx", placed="bowl/a"), track("b.gpx", problem="b.gpx: bad"), make(RULES, "r.toml"))
    assert (found.runs, found.open) == ((), ())
    assert plan(track("b.gpx", problem="bad")).open == ("There is nothing yet that can be put into a drill.",)
    alone = plan(readings("a.csv"), choices={"of-1": NO})
    (line,) = alone.open
    assert line.startswith("No track is put in, and readings, marks and run.toml go in with their track: add it.")
    assert 'choose that run under "Belongs to"' in line
    assert plan(track("a.gpx"), choices={"use-1": NO}).open == ("All tracks are left out, or none came: add a track.",)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("mara-1", "mara-1"),
        ("<b>Mara</b> 1", "b-Mara-b-1"),
        ("../../etc", "etc"),
        (".hidden", "hidden"),
        ("Ümit", "Ümit"),
        ("a/b\\c:d", "a-b-c-d"),
        ("CON", "run-CON"),
        ("nul.txt", "run-nul.txt"),
        ("...", ""),
        ("x" * 200, "x" * 60),
    ],
)
def test_names_are_safe_as_folders(text, name):
    assert safe_name(text) == name
    assert safe_name(name) == name


def test_a_typed_name_that_is_no_folder_name_is_told():
    found = plan(track("a.gpx"), choices={"name-1": "../evil"})
    assert found.open == (
        "a.gpx: the name '../evil' cannot be a folder; use letters, digits, dots and dashes, for example evil.",
    )


@pytest.mark.parametrize(
    ("stem", "name"),
    [
        ("mara-1-track", "mara-1"),
        ("Mara 1_GPS.log", "Mara 1"),
        ("track-1-Ada", "track-1-Ada"),
        ("run-2", "run-2"),
        ("run-2-track", "run-2"),
        ("tracker-2", "tracker-2"),
        ("backtrack", "backtrack"),
        ("track", "track"),
        ("gps-track", "gps-track"),
    ],
)
def test_a_run_is_not_called_after_what_its_file_holds(stem, name):
    """2026-11-27: a run loaded from mara-1-track.gpx was named mara-1-track."""
    assert without_role(stem) == name


def test_free_names_and_words():
    assert free_name("a", {"a", "a-2"}) == "a-3"
    file = IncomingFile(1, "x/Mara_1-Readings (2).csv", "", 0, READINGS)
    assert words_of(file) == ("mara", "1")


@pytest.mark.parametrize(("hours", "words"), [(1, "1 h too late"), (-2, "2 h too early"), (5.5, "5.5 h too late")])
def test_a_log_off_by_a_time_zone_is_told_so(hours, words):
    off = hours * 3600.0
    found = plan(track("mara.gpx", 0, 300), track("ilo.gpx", 600, 900), readings("log.csv", 20 + off, 200 + off))
    assert owner(found) == UNDECIDED
    assert f"to mara.gpx they are {words}, as with a wrong time zone: choose below" in found.companions[0].note
    beside = plan(track("a/track.gpx", 0, 300), readings("a/readings.csv", 20 + off, 200 + off))
    assert words in beside.companions[0].note


def test_a_log_that_several_tracks_would_fit_in_other_zones():
    found = plan(track("mara.gpx", 0, 300), track("ilo.gpx", 7200, 7500), readings("log.csv", 3620, 3800))
    assert "they would fit mara.gpx and ilo.gpx. Choose below" in found.companions[0].note


@pytest.mark.parametrize("off", [1200.0, 4200.0, 15 * 3600.0])
def test_other_differences_are_no_time_zone(off):
    found = plan(track("a/track.gpx", 0, 300), readings("a/readings.csv", 20 + off, 200 + off))
    assert "time zone" not in found.companions[0].note
