"""A recording cut into runs, in baskets with more than one recording, and where files come or go in between."""

import dataclasses
import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.writers import write_drill_toml
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.workspace.intake.cut import cut_up, uncut
from analyzer.workspace.intake.cut_logs import moments_of
from analyzer.workspace.intake.import_files import take_in, with_files
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import NO, Basket, Cut
from analyzer.workspace.intake.originals import read_original
from analyzer.workspace.intake.store import drill_places, put

BEGIN = dt.datetime(2026, 2, 14, 9, 0, tzinfo=dt.UTC)
T0 = BEGIN.timestamp()
MORNING = [Cut(T0, T0 + 600, "first"), Cut(T0 + 900, T0 + 1500, "second"), Cut(T0 + 1800, T0 + 2400, "third")]


def clock(after_s):
    return (BEGIN + dt.timedelta(seconds=after_s)).isoformat().replace("+00:00", "Z")


def track(*, north=0.0, last_s=2400, step_s=10):
    rows = (f"{clock(t)},{47.0 + north + t * 1e-6:.6f},11.000000\n" for t in range(0, last_s + 1, step_s))
    return "time,latitude,longitude\n" + "".join(rows)


def readings(times, *, figure=12.0):
    return "time,reading_m\n" + "".join(f"{clock(t)},{figure}\n" for t in times)


def basket_of(workspace, basket=None, **files):
    basket = basket or Basket("a-basket-of-tests")
    for name, text in files.items():
        found, lines = take_in(workspace, name.replace("__", ".").replace("_in_", "/"), [text.encode()])
        basket = with_files(basket, found, lines)
    return basket


def named(basket, path):
    return next(f for f in basket.files if f.path == path and not f.cut_for)


def given(basket):
    """Return path of a recording, begin of a part -> the paths of the logs that go with it."""
    rows = plan_of(basket.files, (), basket.choices)
    return {row.track.path: [c.file.path for c in rows.companions if c.of == str(row.track.id)] for row in rows.runs}


def test_no_two_files_have_one_id_whatever_comes_after_a_cut(tmp_path):
    basket = basket_of(tmp_path, day__csv=track())
    basket = cut_up(tmp_path, basket, 1, MORNING)
    basket = basket_of(tmp_path, basket, log__csv=readings([10, 20]))
    basket = uncut(basket, 1)
    more = {f"more{n}__csv": readings([10 + n, 20 + n]) for n in range(6)}
    basket = basket_of(tmp_path, basket, **more)
    ids = [f.id for f in basket.files]
    assert len(ids) == len(set(ids)) == 8


def test_ids_of_parts_that_are_gone_do_not_come_back(tmp_path):
    """A page of another window that still shows them would name, or leave out, others."""
    basket = basket_of(tmp_path, day__csv=track())
    first = cut_up(tmp_path, basket, 1, MORNING)
    again = cut_up(tmp_path, first, 1, MORNING[1:])
    assert not {f.id for f in first.files if f.cut_for} & {f.id for f in again.files if f.cut_for}


def test_a_log_that_was_given_to_a_part_is_asked_about_again_when_the_part_is_gone(tmp_path):
    basket = basket_of(tmp_path, day__csv=track(), log__csv="elapsed,reading_m\n1,20\n2,18\n")
    basket = cut_up(tmp_path, basket, 1, MORNING)
    part = next(f for f in basket.files if f.cut_for)
    log = named(basket, "log.csv")
    basket = dataclasses.replace(basket, choices=basket.choices | {f"of-{log.id}": str(part.id)})
    again = cut_up(tmp_path, basket, 1, MORNING[1:])
    assert f"of-{log.id}" not in again.choices
    basket = dataclasses.replace(basket, choices=basket.choices | {f"of-{log.id}": NO})
    assert cut_up(tmp_path, basket, 1, MORNING).choices[f"of-{log.id}"] == NO


def test_of_two_recordings_each_keeps_its_own_log(tmp_path):
    basket = basket_of(
        tmp_path,
        mara_in_day__csv=track(),
        jon_in_day__csv=track(north=0.01),
        mara_in_log__csv=readings(range(0, 2400, 60), figure=11.0),
        jon_in_log__csv=readings(range(0, 2400, 50), figure=22.0),
    )
    mara, jon = named(basket, "mara/day.csv"), named(basket, "jon/day.csv")
    basket = cut_up(tmp_path, basket, mara.id, MORNING)
    parts = given(basket)
    assert parts["mara/day second.csv"] == ["mara/log.csv"]
    assert parts["jon/day.csv"] == ["jon/log.csv"]
    basket = cut_up(tmp_path, basket, jon.id, MORNING)
    parts = given(basket)
    assert len(parts) == 6
    assert {path.partition("/")[0]: logs for path, logs in parts.items()} == {
        "mara": ["mara/log.csv"],
        "jon": ["jon/log.csv"],
    }
    whole = uncut(uncut(basket, mara.id), jon.id)
    assert not any(f.cut for f in whole.files)


def test_a_log_that_fits_two_recordings_is_asked_about_and_either_may_have_it(tmp_path):
    basket = basket_of(
        tmp_path, a__csv=track(), b__csv=track(north=0.01), watch__csv=readings(range(0, 2400, 60), figure=11.0)
    )
    basket = cut_up(tmp_path, basket, 1, MORNING[:2])
    assert [row.of for row in plan_of(basket.files, (), basket.choices).companions] == ["", ""]
    basket = cut_up(tmp_path, basket, 2, MORNING[:2])
    assert [row.of for row in plan_of(basket.files, (), basket.choices).companions] == [""] * 4
    one = uncut(basket, 1)
    assert named(one, "watch.csv").cut  # the other recording's parts have it still
    assert not named(uncut(one, 2), "watch.csv").cut


def test_a_log_that_a_person_left_out_stays_out(tmp_path):
    basket = basket_of(tmp_path, day__csv=track(), log__csv=readings(range(0, 2400, 60)))
    basket = dataclasses.replace(basket, choices={"of-2": NO})
    basket = cut_up(tmp_path, basket, 1, MORNING)
    assert [row.of for row in plan_of(basket.files, (), basket.choices).companions] == [NO]


def test_what_a_person_moved_by_hours_is_moved_in_every_part(tmp_path):
    late = "time,reading_m\n" + "".join(f"{clock(t + 3600)},12.0\n" for t in range(0, 2400, 60))
    basket = basket_of(tmp_path, day__csv=track(), log__csv=late)
    log = dataclasses.replace(basket, choices={"of-2": "1@-1"})
    rows = plan_of((cut := cut_up(tmp_path, log, 1, MORNING)).files, (), cut.choices).companions
    assert [row.hours for row in rows] == [-1.0] * 3
    moved = dataclasses.replace(basket, choices={"use-1": "hours:1"})
    cut = cut_up(tmp_path, moved, 1, MORNING)
    plan = plan_of(cut.files, (), cut.choices)
    assert [row.track.window_s[0] for row in plan.runs] == [c.begin_s + 3600 for c in MORNING]
    assert [row.of for row in plan.companions] == [str(row.track.id) for row in plan.runs]


def test_which_log_goes_with_which_part_is_known_without_the_choices(tmp_path):
    """A load that is opened again, for some of it was not put in, begins without choices."""
    basket = basket_of(tmp_path, day__csv=track(), log__csv=readings(range(0, 2400, 60)))
    basket = cut_up(tmp_path, basket, 1, MORNING)
    plan = plan_of(basket.files, (), {})
    assert [row.of for row in plan.companions] == [str(row.track.id) for row in plan.runs]


def marks_log(rows):
    return "time,mark\n" + "".join(f"{clock(t)},{mark}\n" for t, mark in rows)


EVERY = [(0, "start"), (500, "probe_hit"), (900, "start"), (1400, "probe_hit"), (1800, "start"), (2300, "probe_hit")]


def of_parts(workspace, basket, kind, parse):
    rows = [f for f in basket.files if f.cut_for and f.kind == kind]
    return [parse(read_original(workspace, f.sha256, name=f.path)) for f in rows]


def test_a_run_that_is_left_out_gives_nothing_to_the_one_before(tmp_path):
    film = "elapsed,reading_m\n" + "".join(f"{t},{1 + t // 900}.0\n" for t in range(0, 2400, 100))
    basket = basket_of(tmp_path, day__csv=track(), marks__csv=marks_log(EVERY), film__csv=film)
    basket = cut_up(tmp_path, basket, 1, [MORNING[0], MORNING[2]])
    assert not [f.problem for f in basket.files if f.cut_for and f.problem]
    marks = of_parts(tmp_path, basket, "marks", parse_marks_csv)
    assert [[m.mark for m in log] for log in marks] == [["start", "probe_hit"]] * 2
    logs = of_parts(tmp_path, basket, "readings", parse_readings_csv)
    assert [{r.reading_m for r in log.readings} for log in logs] == [{1.0}, {3.0}]
    assert all(log.readings[0].time_s == 0.0 for log in logs)


def test_two_parts_cannot_have_one_start_mark(tmp_path):
    basket = basket_of(tmp_path, day__csv=track(), marks__csv=marks_log(EVERY))
    with pytest.raises(InputError, match="'a' and 'b' begin at one start mark"):
        cut_up(tmp_path, basket, 1, [Cut(T0, T0 + 30, "a"), Cut(T0 + 40, T0 + 600, "b")])


def test_starts_that_do_not_lie_as_the_runs_do_are_told(tmp_path):
    """As many runs as starts, but not those: the clock of two of them would be wrong."""
    rows = "".join(f"{t},{mark}\n" for t, mark in EVERY)
    basket = basket_of(tmp_path, day__csv=track(), marks__csv="elapsed,mark\n" + rows)
    wrong = [MORNING[0], MORNING[1], Cut(T0 + 2100, T0 + 2400, "third")]
    with pytest.raises(InputError, match="do not lie as far apart as the runs"):
        cut_up(tmp_path, basket, 1, wrong)
    assert len(of_parts(tmp_path, cut_up(tmp_path, basket, 1, MORNING), "marks", parse_marks_csv)) == 3


def test_a_log_that_ends_before_the_second_start_may_be_of_any_run(tmp_path):
    """It may count from the start of its own run: whose it is, is asked."""
    own = "elapsed,reading_m\n" + "".join(f"{t},12.0\n" for t in range(0, 500, 100))
    basket = basket_of(tmp_path, day__csv=track(), marks__csv=marks_log(EVERY), own__csv=own)
    basket = cut_up(tmp_path, basket, 1, MORNING)
    log = named(basket, "own.csv")
    assert not log.cut
    rows = plan_of(basket.files, (), basket.choices).companions
    assert [row.of for row in rows if row.file == log] == [""]


def test_marks_of_both_kinds_of_times_are_told(tmp_path):
    text = f"time,elapsed,mark\n{clock(0)},,start\n,500,probe_hit\n{clock(900)},,start\n,500,probe_hit\n"
    basket = basket_of(tmp_path, day__csv=track(), marks__csv=text)
    with pytest.raises(InputError, match="times of day and elapsed times"):
        cut_up(tmp_path, basket, 1, MORNING[:2])


def test_starts_of_another_recording_are_not_looked_for_in_this_one(tmp_path):
    basket = basket_of(
        tmp_path,
        mara_in_day__csv=track(),
        jon_in_day__csv=track(north=0.01),
        mara_in_marks__csv=marks_log(EVERY),
        jon_in_marks__csv="elapsed,mark\n" + "".join(f"{t},{mark}\n" for t, mark in EVERY[:4]),
    )
    basket = cut_up(tmp_path, basket, named(basket, "mara/day.csv").id, MORNING)
    assert len(of_parts(tmp_path, basket, "marks", parse_marks_csv)) == 3
    basket = cut_up(tmp_path, basket, named(basket, "jon/day.csv").id, MORNING[:2])
    logs = of_parts(tmp_path, basket, "marks", parse_marks_csv)
    assert [log[1].mark for log in logs] == ["probe_hit"] * 5


@pytest.mark.parametrize("dated", [True, False])
def test_readings_and_marks_of_the_day_in_one_table_are_cut_as_two_logs(tmp_path, dated):
    moments = sorted([(t, "", f"{1 + t // 900}.5") for t in range(0, 2400, 100)] + [(t, mark, "") for t, mark in EVERY])
    rows = "".join(f"{clock(t) if dated else t},{mark},{figure}\n" for t, mark, figure in moments)
    basket = basket_of(tmp_path, day__csv=track(), both__csv=f"{'time' if dated else 'elapsed'},mark,reading_m\n{rows}")
    basket = cut_up(tmp_path, basket, 1, [MORNING[0], MORNING[2]] if dated else MORNING)
    assert named(basket, "both.csv").cut
    plan = plan_of(basket.files, (), basket.choices)
    assert [[c.file.kind for c in plan.companions if c.of == str(row.track.id)] for row in plan.runs] == [
        ["marks", "readings"]
    ] * len(plan.runs)
    logs = of_parts(tmp_path, basket, "readings", parse_readings_csv)
    assert [{r.reading_m for r in log.readings} for log in logs] == ([{1.5}, {3.5}] if dated else [{1.5}, {2.5}, {3.5}])
    first = [log.readings[0].time_s for log in logs]
    assert first == ([T0, T0 + 1800] if dated else [0.0, 0.0, 0.0])
    marks = of_parts(tmp_path, basket, "marks", parse_marks_csv)
    assert [[m.mark for m in log] for log in marks] == [["start", "probe_hit"]] * len(plan.runs)


@pytest.mark.parametrize("move", ["", "hours:1", "weeks:1024"])
def test_a_part_that_is_in_the_drill_is_known_again_however_its_clock_was_mended(tmp_path, move):
    folder = tmp_path / "drills" / "slope"
    (folder / "runs").mkdir(parents=True)
    drill = Drill("Slope", None, Origin(47.0, 11.0, 2000.0), Slope(20.0, 180.0), (Transmitter("1", 20.0, 30.0, 1.0),))
    (folder / "drill.toml").write_bytes(write_drill_toml(drill))
    basket = basket_of(tmp_path, day__csv=track())
    mended = dataclasses.replace(basket, choices={"use-1": move} if move else {})
    cut = cut_up(tmp_path, mended, 1, MORNING)
    plan = plan_of(cut.files, drill_places(tmp_path), cut.choices)
    placed = put(tmp_path, plan, scratch=tmp_path / "incoming" / "scratch")
    assert placed.runs == ("first", "second", "third")
    for choices in ({}, mended.choices):
        again = cut_up(tmp_path, dataclasses.replace(basket, choices=choices), 1, MORNING)
        rows = plan_of(again.files, drill_places(tmp_path), again.choices).runs
        assert all("already the run" in row.note for row in rows)


def test_marks_of_a_film_that_are_on_the_clock_of_its_readings_stay_so(tmp_path):
    """But the start, which gets a time of day: that is on the track's clock."""
    rows = "".join(f"{t},{mark},readings\n" for t, mark in EVERY)
    film = "elapsed,reading_m\n" + "".join(f"{t},12.0\n" for t in range(0, 2400, 100))
    basket = basket_of(tmp_path, day__csv=track(), marks__csv="elapsed,mark,clock\n" + rows, film__csv=film)
    basket = cut_up(tmp_path, basket, 1, MORNING)
    assert not [f.problem for f in basket.files if f.cut_for and f.problem]
    logs = of_parts(tmp_path, basket, "marks", parse_marks_csv)
    assert [[(m.mark, m.elapsed, m.clock) for m in log] for log in logs] == [
        [("start", False, ""), ("probe_hit", True, "readings")]
    ] * 3


def test_a_recording_that_was_left_out_as_a_whole_gets_its_own_logs_when_it_is_cut(tmp_path):
    basket = basket_of(
        tmp_path,
        mara_in_day__csv=track(),
        jon_in_day__csv=track(north=0.01),
        mara_in_log__csv=readings(range(0, 2400, 60)),
        jon_in_log__csv=readings(range(0, 2400, 50)),
    )
    mara = named(basket, "mara/day.csv")
    basket = dataclasses.replace(basket, choices={f"use-{mara.id}": NO})
    basket = cut_up(tmp_path, basket, mara.id, MORNING)
    assert given(basket)["mara/day first.csv"] == ["mara/log.csv"]


def test_a_part_bears_the_whole_name_of_its_recording(tmp_path):
    found, _ = take_in(tmp_path, "Mara 9.30 to 11.csv", [track().encode()])
    basket = cut_up(tmp_path, with_files(Basket("a-basket-of-tests"), found, ()), 1, MORNING[:1])
    assert basket.files[-1].path == "Mara 9.30 to 11 first.csv"


def test_marks_that_cannot_be_told_and_may_be_of_another_recording_do_not_stop_a_cut(tmp_path):
    undated = marks_log(EVERY).replace("Z,", ",")
    basket = basket_of(tmp_path, a__csv=track(), b__csv=track(north=0.01), marks__csv=undated)
    assert sum(bool(f.cut_for) for f in cut_up(tmp_path, basket, 1, MORNING).files) == 3
    assert moments_of(tmp_path, basket, basket.files[0]).starts == ()
    alone = basket_of(tmp_path, a__csv=track(), marks__csv=undated)
    with pytest.raises(InputError, match="no date or no zone"):
        cut_up(tmp_path, alone, 1, MORNING)
