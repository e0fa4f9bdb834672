"""Runs of a workspace changed by people: what is written, what the bin keeps, and how all of it is taken back."""

import dataclasses
import errno
import json
import shutil
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.files.rules_toml import default_rules
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import sha256_hex
from analyzer.workspace.batch import Batch, analyze_drills, outcomes
from analyzer.workspace.intake.import_files import take_in
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.names import free_name
from analyzer.workspace.intake.store import drill_places
from analyzer.workspace.runs import changes
from analyzer.workspace.runs.at_hand import run_at_hand
from analyzer.workspace.runs.bin import binned
from analyzer.workspace.runs.changes import delete_run, edit_run, move_run, put_evidence
from analyzer.workspace.runs.later import put_later
from analyzer.workspace.runs.restore import restore
from analyzer.workspace.runs.rewrite import rewritten
from tests.support.sheets import xlsx
from tests.support.small_drill import DRILL, TRACK

WRITTEN = '# the second day\nsearcher = "Mara"  # as on the start list\nbib = 7\nnote = "tired"\n'
READINGS = "elapsed,reading_m\n" + "".join(f"{i},{max(12.0 - i, 1.0)}\n" for i in range(20))


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the drills bowl and gully; bowl has the runs mara-1 and ilo-1, measured."""
    for name in ("bowl", "gully"):
        (tmp_path / "drills" / name).mkdir(parents=True)
        (tmp_path / "drills" / name / "drill.toml").write_text(DRILL.replace("Bowl", name))
    for run in ("mara-1", "ilo-1"):
        folder = tmp_path / "drills/bowl/runs" / run
        folder.mkdir(parents=True)
        (folder / "track.csv").write_text(TRACK.replace("17T09:30", "17T09:30" if run == "mara-1" else "17T09:40"))
    (tmp_path / "drills/bowl/runs/mara-1/run.toml").write_text(WRITTEN)
    return tmp_path


def measure(club, *drills):
    batch = Batch(club / "results", default_rules(), draws=4)
    return analyze_drills([club / "drills" / name for name in drills], batch)


def edit(club, changed, run="mara-1", sha256=None):
    sha256 = run_at_hand(club, "bowl", run).sha256 if sha256 is None else sha256
    return edit_run(club, club / "results", "bowl", run, changed, sha256=sha256, what="particulars")


def measured(club, *drills):
    """Return the runs that a pass measures, and does not only read."""
    batch = Batch(club / "results", default_rules(), draws=4)
    return [run for one in outcomes([club / "drills" / name for name in drills], batch) for run in one.measured]


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_a_key_is_changed_and_comments_order_and_other_keys_stay():
    new = rewritten(WRITTEN.encode(), {"searcher": 'Ása "Bü" Lind\n', "bib": "7", "title": "zweiter Lauf"}).decode()
    assert new.startswith("# the second day\nsearcher = ")
    assert '  # as on the start list\nbib = 7\nnote = "tired"\n' in new
    info = parse_run_toml(new.encode())
    assert (info.searcher, info.bib, info.note, info.title) == ('Ása "Bü" Lind\n', "7", "tired", "zweiter Lauf")


def test_a_value_that_is_the_default_goes_and_a_table_of_the_run_is_kept():
    new = rewritten(b'[run]\nsearcher = "Mara"\nantennas = 2 # old set\n', {"searcher": "", "set_aside": ("a: b", "c")})
    assert parse_run_toml(new).set_aside == ("a: b", "c")
    assert new.startswith(b"[run]\nantennas = 2 # old set\n")
    assert b"searcher" not in new
    assert rewritten(None, {"searcher": ""}) is None
    with pytest.raises(InputError, match="antennas"):
        rewritten(WRITTEN.encode(), {"antennas": 5})
    with pytest.raises(InputError, match="not TOML"):
        rewritten(b"searcher = ", {"searcher": "x"})


def test_the_old_file_is_kept_and_comes_back(club):
    path = club / "drills/bowl/runs/mara-1/run.toml"
    entry = edit(club, {"searcher": "Mara L", "bib": "9"})
    assert parse_run_toml(path.read_bytes()).searcher == "Mara L"
    assert (club / "bin" / entry / "single-files/run.toml").read_text() == WRITTEN
    restore(club, club / "results", entry)
    assert path.read_text() == WRITTEN
    (again,) = binned(club)  # what was taken back is in the bin in turn
    assert restore(club, club / "results", again.entry).run == "mara-1"
    assert parse_run_toml(path.read_bytes()).bib == "9"


def test_a_file_that_was_not_there_goes_again(club):
    entry = edit(club, {"searcher": "Ilo"}, run="ilo-1", sha256="")
    path = club / "drills/bowl/runs/ilo-1/run.toml"
    assert path.read_text() == 'searcher = "Ilo"\n'
    restore(club, club / "results", entry)
    assert not path.exists()


def test_nothing_changed_writes_nothing(club):
    before = files(club / "drills")
    assert edit(club, {"searcher": "Mara", "note": "tired"}) == ""
    assert files(club / "drills") | {".runs-lock": b""} == before | {".runs-lock": b""}
    assert binned(club) == ()


def test_the_second_of_two_is_told_and_writes_nothing(club):
    seen = run_at_hand(club, "bowl", "mara-1").sha256
    edit(club, {"bib": "8"}, sha256=seen)
    with pytest.raises(match="changed by someone else"):
        edit(club, {"bib": "9"}, sha256=seen)
    assert run_at_hand(club, "bowl", "mara-1").info.bib == "8"


def test_what_the_reader_would_refuse_is_not_written(club):
    with pytest.raises(InputError, match="receiver"):
        edit(club, {"receiver": "none of the drill's"})
    assert (club / "drills/bowl/runs/mara-1/run.toml").read_text() == WRITTEN
    with pytest.raises(InputError, match="line 2"):
        put_evidence(club, club / "results", "bowl", "mara-1", {"readings.csv": b"elapsed,reading_m\nx,y\n"})
    assert binned(club) == ()


def test_readings_are_added_then_replaced_and_each_step_can_be_taken_back(club):
    first = put_evidence(club, club / "results", "bowl", "mara-1", {"readings.csv": READINGS.encode()})
    other = READINGS.replace("3,9.0", "3,9.5").encode()
    second = put_evidence(club, club / "results", "bowl", "mara-1", {"readings.csv": other})
    path = club / "drills/bowl/runs/mara-1/readings.csv"
    assert path.read_bytes() == other
    assert (club / "bin" / second / "single-files/readings.csv").read_text() == READINGS
    with pytest.raises(InputError, match="these very files already"):
        put_evidence(club, club / "results", "bowl", "mara-1", {"readings.csv": other})
    restore(club, club / "results", second)
    assert path.read_text() == READINGS
    restore(club, club / "results", first)
    assert not path.exists()


def test_a_run_deleted_and_put_back_is_as_it_was_and_is_not_measured_again(club):
    measure(club, "bowl")
    run, out = club / "drills/bowl/runs/mara-1", club / "results"
    before, result = files(run), (out / "bowl/mara-1.json").read_bytes()
    entry = delete_run(club, out, "bowl", "mara-1")
    assert not run.exists()
    assert not (out / "bowl/mara-1.json").exists()
    rows, failures = measure(club, "bowl")
    assert ([row["run"] for row in rows], failures) == (["ilo-1"], [])
    restored = restore(club, out, entry)
    assert (restored.run, restored.line) == ("mara-1", "")
    assert files(run) == before
    assert measured(club, "bowl") == []
    rows, failures = measure(club, "bowl")
    assert ([row["run"] for row in rows], failures) == (["ilo-1", "mara-1"], [])
    assert (out / "bowl/mara-1.json").read_bytes() == result
    with pytest.raises(InputError, match="put back already"):
        restore(club, out, entry)


def test_where_another_run_has_the_name_by_now_both_stay(club):
    entry = delete_run(club, club / "results", "bowl", "mara-1")
    new = club / "drills/bowl/runs/Mara-1"
    new.mkdir()
    (new / "track.csv").write_text("another")
    restored = restore(club, club / "results", entry)
    assert restored.run == "mara-1-2"
    assert "another run mara-1 in bowl by now" in restored.line
    assert (new / "track.csv").read_text() == "another"
    assert (club / "drills/bowl/runs/mara-1-2/run.toml").read_text() == WRITTEN


def test_a_run_moves_to_another_drill_and_back_with_its_result(club):
    measure(club, "bowl")
    out = club / "results"
    result = (out / "bowl/mara-1.json").read_bytes()
    entry, name = move_run(club, out, "bowl", "mara-1", "gully")
    assert name == "mara-1"
    assert not (out / "bowl/mara-1.json").exists()
    rows, _ = measure(club, "bowl", "gully")
    assert [(row["drill"], row["run"]) for row in rows] == [("bowl", "ilo-1"), ("gully", "mara-1")]
    restored = restore(club, out, entry)
    assert (restored.drill, restored.left) == ("bowl", "gully")
    assert measured(club, "bowl") == []
    assert (out / "bowl/mara-1.json").read_bytes() == result
    assert not (out / "gully/mara-1.json").exists()


def test_a_run_that_moves_takes_no_name_that_is_there(club):
    there = club / "drills/gully/runs/MARA-1"
    there.mkdir(parents=True)
    (there / "track.csv").write_text("another")
    entry, name = move_run(club, club / "results", "bowl", "mara-1", "gully")
    assert name == "mara-1-2"
    assert (there / "track.csv").read_text() == "another"
    assert restore(club, club / "results", entry).run == "mara-1"


def test_a_note_outside_the_bin_is_none(club):
    entry = delete_run(club, club / "results", "bowl", "mara-1")
    (club / "bin" / entry).rename(club / "elsewhere")
    with pytest.raises(InputError, match="not in the bin"):
        restore(club, club / "results", "../elsewhere")
    assert (club / "elsewhere/whole-run/track.csv").is_file()


def test_a_run_that_does_not_fit_the_other_drill_stays(club):
    (club / "drills/bowl/runs/mara-1/marks.csv").write_text("elapsed,mark,transmitter\n0,start,\n20,probe_hit,A\n")
    path = club / "drills/gully/drill.toml"
    path.write_text(path.read_text().replace('id = "A"', 'id = "B"'))
    with pytest.raises(InputError, match="A"):
        move_run(club, club / "results", "bowl", "mara-1", "gully")
    with pytest.raises(InputError, match="not in the workspace"):
        move_run(club, club / "results", "bowl", "mara-1", "../gully")
    assert (club / "drills/bowl/runs/mara-1/track.csv").is_file()


@pytest.mark.parametrize("name", ["", ".", "..", "../ilo-1", "mara-1/", "mara-1\0", "/etc", "mara-1/../ilo-1"])
def test_a_name_from_elsewhere_is_no_path(club, name):
    for act in (
        lambda: run_at_hand(club, "bowl", name),
        lambda: run_at_hand(club, name, "mara-1"),
        lambda: delete_run(club, club / "results", "bowl", name),
        lambda: restore(club, club / "results", name),
    ):
        with pytest.raises(InputError):
            act()
    assert len(list((club / "drills/bowl/runs").iterdir())) == 2


@pytest.mark.parametrize(
    "changed", [{"run": "../../x"}, {"run": ".hidden"}, {"drill": "../bowl"}, {"kind": "odd"}, {"files": ["../a"]}]
)
def test_a_note_that_somebody_wrote_leads_nowhere(club, changed):
    entry = delete_run(club, club / "results", "bowl", "mara-1")
    path = club / "bin" / entry / "note.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | changed))
    with pytest.raises(InputError):
        restore(club, club / "results", entry)
    assert (club / "bin" / entry / "whole-run/track.csv").is_file()


def test_a_link_is_not_changed(club, tmp_path_factory):
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / "track.csv").write_text(TRACK)
    (club / "drills/bowl/runs/linked").symlink_to(elsewhere)
    with pytest.raises(InputError, match="a link to another folder"):
        edit(club, {"searcher": "x"}, run="linked", sha256="")
    assert [p.name for p in elsewhere.iterdir()] == ["track.csv"]


def test_a_run_deleted_while_its_drill_is_measured_has_one_line_and_no_result(club, monkeypatch):
    from analyzer.files import folder

    real = folder.read_run

    def read_then_delete(run, drill):
        recording = real(run, drill)
        if run.name == "mara-1":
            delete_run(club, club / "results", "bowl", "mara-1")
        return recording

    monkeypatch.setattr(folder, "read_run", read_then_delete)
    rows, failures = measure(club, "bowl")
    assert [row["run"] for row in rows] == ["ilo-1"]
    assert failures == [
        "bowl/mara-1: the run was deleted or moved while it was measured; nothing is lost: the page Bin puts it back"
    ]
    assert not (club / "results/bowl/mara-1.json").exists()


def test_a_full_disk_is_one_line_and_the_run_is_as_it_was(club, monkeypatch):
    def full(path, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(changes, "write_atomic", full)
    with pytest.raises(InputError, match="no room left"):
        edit(club, {"searcher": "x"})
    assert (club / "drills/bowl/runs/mara-1/run.toml").read_text() == WRITTEN
    assert run_at_hand(club, "bowl", "mara-1").sha256 == sha256_hex(WRITTEN.encode())


def test_a_log_of_another_ending_takes_the_place_of_the_one_there_is(club):
    folder = club / "drills/bowl/runs/mara-1"
    (folder / "readings.txt").write_text(READINGS)
    entry = put_evidence(
        club, club / "results", "bowl", "mara-1", {"readings.csv": READINGS.replace("12.0", "11.5").encode()}
    )
    assert {p.name for p in folder.iterdir()} == {"track.csv", "run.toml", "readings.csv"}
    assert (club / "bin" / entry / "single-files/readings.txt").read_text() == READINGS
    restore(club, club / "results", entry)
    assert {p.name for p in folder.iterdir()} == {"track.csv", "run.toml", "readings.txt"}


def workbook():
    rows = [[float(i), max(12.0 - i, 1.0)] for i in range(20)]
    return xlsx({"readings": [["elapsed", "reading"], *rows], "marks": [["elapsed", "mark"], [15.0, "probe_hit"]]})


def test_a_sheet_of_a_workbook_of_several_runs_is_named_in_the_run_that_gets_it_later(club):
    rows = [[float(i), max(12.0 - i, 1.0)] for i in range(20)]
    book = xlsx({who: [["elapsed", "reading"], *rows] for who in ("Mara", "Ilo")})
    logs, _ = take_in(club, "logs.xlsx", (book,))
    log = dataclasses.replace(logs[0], id=1)
    plan = plan_of((log,), drill_places(club), {"drill": "old:bowl", "of-1": "run:mara-1"})
    assert (plan.open, put_later(club, club / "results", plan).failures) == ((), ())
    folder = club / "drills/bowl/runs/mara-1"
    assert (folder / "readings.xlsx").read_bytes() == book
    assert 'readings_sheet = "Mara"' in (folder / "run.toml").read_text()


def test_a_workbook_with_marks_is_not_replaced_by_readings_alone(club):
    out = club / "results"
    put_evidence(club, out, "bowl", "mara-1", {"readings.xlsx": workbook()})
    before = files(club / "drills")
    with pytest.raises(InputError, match=r"readings\.xlsx.* holds the marks of the run as well"):
        put_evidence(club, out, "bowl", "mara-1", {"readings.csv": READINGS.encode()})
    assert files(club / "drills") == before
    both = {"readings.csv": READINGS.encode(), "marks.csv": b"elapsed,mark\n15,probe_hit\n"}
    put_evidence(club, out, "bowl", "mara-1", both)
    assert {*run_at_hand(club, "bowl", "mara-1").files} == {"track.csv", "run.toml", "readings.csv", "marks.csv"}


def test_a_move_is_not_taken_back_with_another_run_that_has_its_name_by_now(club):
    out = club / "results"
    moved, _ = move_run(club, out, "bowl", "mara-1", "gully")
    deleted = delete_run(club, out, "gully", "mara-1")
    shutil.copytree(club / "drills/bowl/runs/ilo-1", club / "drills/gully/runs/mara-1")
    before = files(club / "drills")
    with pytest.raises(InputError, match="another run has this name by now"):
        restore(club, out, moved)
    assert files(club / "drills") == before
    shutil.rmtree(club / "drills/gully/runs/mara-1")
    restore(club, out, deleted)
    assert restore(club, out, moved).drill == "bowl"


def test_files_are_not_put_back_into_another_run_that_has_the_name_by_now(club):
    out = club / "results"
    entry = put_evidence(club, out, "bowl", "mara-1", {"readings.csv": READINGS.encode()})
    edit(club, {"bib": "9"})
    delete_run(club, out, "bowl", "mara-1")
    shutil.copytree(club / "drills/bowl/runs/ilo-1", club / "drills/bowl/runs/mara-1")
    before = files(club / "drills")
    for one in [entry, *(b.entry for b in binned(club) if b.note.kind == "changed")]:
        with pytest.raises(InputError, match="another run has this name by now"):
            restore(club, out, one)
    assert files(club / "drills") == before


def test_results_may_lie_on_another_disk_than_the_workspace(club, monkeypatch):
    measure(club, "bowl")
    out, really = club / "results", Path.replace

    def on_one_disk(self, target):
        if (out in self.parents) != (out in Path(target).parents):
            raise OSError(errno.EXDEV, "Invalid cross-device link", str(self))
        return really(self, target)

    monkeypatch.setattr(Path, "replace", on_one_disk)
    result = (out / "bowl/mara-1.json").read_bytes()
    entry = delete_run(club, out, "bowl", "mara-1")
    assert not (out / "bowl/mara-1.json").exists()
    assert restore(club, out, entry).line == ""
    assert (out / "bowl/mara-1.json").read_bytes() == result


@pytest.mark.parametrize("act", ["delete", "move"])
def test_where_the_disk_refuses_all_is_as_it_was_and_the_bin_tells_nothing(club, monkeypatch, act):
    measure(club, "bowl")
    out, before = club / "results", files(club)

    def refuses(self, target):
        raise OSError(errno.EACCES, "Permission denied", str(self))

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", refuses)
        with pytest.raises(InputError, match="may not"):
            delete_run(club, out, "bowl", "mara-1") if act == "delete" else move_run(
                club, out, "bowl", "mara-1", "gully"
            )
    assert files(club) == before | {"drills/.runs-lock": b""}
    assert binned(club) == ()


def test_a_change_that_was_begun_and_not_finished_is_told_with_what_to_do(club, monkeypatch):
    old = b"elapsed,reading_m\n1,9\n2,8\n"
    put_evidence(club, club / "results", "bowl", "mara-1", {"readings.csv": old})
    really, written = changes.write_atomic, []

    def full(path, data):
        if written:
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        written.append(path.name)
        really(path, data)

    monkeypatch.setattr(changes, "write_atomic", full)
    new = {"readings.csv": READINGS.encode(), "marks.csv": b"elapsed,mark\n15,probe_hit\n"}
    with pytest.raises(InputError, match=r"only .* could be changed .*take the change back on the page Bin"):
        put_evidence(club, club / "results", "bowl", "mara-1", new)
    monkeypatch.undo()
    restore(club, club / "results", binned(club)[0].entry)
    assert (club / "drills/bowl/runs/mara-1/readings.csv").read_bytes() == old
    assert not (club / "drills/bowl/runs/mara-1/marks.csv").exists()


def test_a_deletion_that_was_killed_before_the_run_was_moved_is_put_back_as_what_it_is(club, monkeypatch):
    monkeypatch.setattr(changes, "_take_away", lambda *_: None)
    entry = delete_run(club, club / "results", "bowl", "mara-1")
    before = files(club / "drills")
    assert "in its place" in restore(club, club / "results", entry).line
    assert files(club / "drills") == before
    assert binned(club) == ()


def test_a_name_is_taken_however_its_accents_are_written(club):
    """Two folders that look alike are one name on some disks, and one person's for a reader on all of them."""
    composed, apart = "zo\u00e9-1", "zoe\u0301-1"
    (club / "drills/bowl/runs/mara-1").rename(club / "drills/bowl/runs" / composed)
    shutil.copytree(club / "drills/bowl/runs/ilo-1", club / "drills/gully/runs" / apart)
    assert move_run(club, club / "results", "bowl", composed, "gully")[1] == f"{composed}-2"
    assert free_name("ZOE\u0301-1", [composed]) == "ZOE\u0301-1-2"
