"""People of a workspace: joined, exported, forgotten. The pipeline is invented."""

import csv
import datetime as dt
import hashlib
import io
import json
import tomllib
import zipfile

import pytest
import tiny_workspace as tiny

from analyzer.errors import FileError, InputError
from analyzer.files.results.run_line_json import from_json
from analyzer.model.people import Person
from analyzer.workspace.database.connection import opened
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.database.queries import audit_lines, failures, run_lines, searchers
from analyzer.workspace.intake.originals import keep
from analyzer.workspace.people.changes import add_person, change_person, merge_people
from analyzer.workspace.people.export import export_person
from analyzer.workspace.people.forget import forget_person
from analyzer.workspace.people.people_toml import parse_people, read_people
from analyzer.workspace.runs.at_hand import run_at_hand
from analyzer.workspace.runs.changes import delete_run, edit_run, move_run, put_evidence

DAY = dt.date(2026, 1, 17)


@pytest.fixture
def indexed(club, measured):
    """Return a workspace of three drills, indexed, with Mara under three spellings."""
    tiny.add_drill(club, "bowl", {"mara-1": "Mara Zwick", "ilo-1": "Ilo"})
    tiny.add_drill(club, "gully", {"r-1": "mara  ZWICK", "r-2": "MZ", "r-3": "Ilo"})
    tiny.add_drill(club, "ridge", {"r-1": "Ilo", "r-2": "Bera", "r-3": ""})
    index_workspace(club)
    measured.clear()
    return club


def lines_of(club, **choice):
    with opened(club) as store:
        return run_lines(store, **choice)


def runs_of(club, **choice):
    return [(line.drill, line.run, line.searcher) for line in lines_of(club, **choice)]


def test_unlisted_searchers_are_told_apart_by_name_alone(indexed):
    with opened(indexed) as store:
        found = [(s.name, s.listed, s.consent, s.runs) for s in searchers(store)]
    assert found == [
        ("Bera", False, False, 1), ("Ilo", False, False, 3), ("Mara Zwick", False, False, 2), ("MZ", False, False, 1)
    ]  # fmt: skip
    assert runs_of(indexed, person="mara zwick") == [("bowl", "mara-1", "Mara Zwick"), ("gully", "r-1", "mara  ZWICK")]
    assert len(runs_of(indexed)) == 8  # the run of nobody is with everyone's


def test_merge_a_spelling(indexed, measured):
    """After a merge the runs of both spellings are the person's, without an index and without measuring."""
    add_person(indexed, Person("Mara", "Tuesday", True, DAY, ("Mara Zwick",)))
    assert merge_people(indexed, "mara", "MZ").spellings == ("Mara Zwick", "MZ")
    mine = [("bowl", "mara-1", "Mara"), ("gully", "r-1", "Mara"), ("gully", "r-2", "Mara")]
    assert runs_of(indexed, person="mz") == mine
    assert runs_of(indexed, group="Tuesday") == mine
    assert measured == []
    index_workspace(indexed)
    assert (runs_of(indexed, person="Mara"), measured) == (mine, [])


@pytest.mark.parametrize(
    ("first", "second", "answer"),
    [
        ((True, DAY), (False, DAY + dt.timedelta(1)), (False, DAY + dt.timedelta(1))),
        ((False, DAY), (True, DAY + dt.timedelta(1)), (True, DAY + dt.timedelta(1))),
        ((True, DAY), (False, None), (True, DAY)),
        ((True, DAY), (False, DAY), (False, DAY)),
        ((False, None), (False, None), (False, None)),
    ],
)
def test_merge_two_people(club, first, second, answer):
    add_person(club, Person("Mara", "", *first, ("a",), "note"))
    add_person(club, Person("Ilo"))
    add_person(club, Person("MZ", "Tuesday", *second, ("b", "c")))
    joined = merge_people(club, "Mara", "c")
    assert joined == Person("Mara", "Tuesday", *answer, ("a", "MZ", "b", "c"), "note")
    assert read_people(club).persons == (joined, Person("Ilo"))


def test_lists_for_others_hold_those_who_agreed(indexed):
    add_person(indexed, Person("Ilo", "", True, DAY))
    add_person(indexed, Person("Bera"))
    assert {searcher for _, _, searcher in runs_of(indexed, consent_only=True)} == {"Ilo"}
    change_person(indexed, "ILO", consent=False, consent_date=DAY)
    assert runs_of(indexed, consent_only=True) == []
    assert len(runs_of(indexed, person="Bera")) == 1  # measured for the coach all the same


@pytest.mark.parametrize(
    ("act", "what"),
    [
        (lambda c: add_person(c, Person("Mara", spellings=("ilo",))), "'ilo' stands for somebody already"),
        (lambda c: change_person(c, "Nobody", group="x"), "nobody is named 'Nobody'"),
        (lambda c: merge_people(c, "Nobody", "Ilo"), "nobody is named 'Nobody'"),
        (lambda c: merge_people(c, "Ilo", "il"), "'il' stands for 'Ilo' already"),
        (lambda c: export_person(c, "Nobody", c / "x.zip"), "there is nothing of this name"),
        (lambda c: forget_person(c, "Nobody"), "there is nothing of this name"),
    ],
)
def test_refused(club, act, what):
    add_person(club, Person("Ilo", spellings=("Il",)))
    before = (club / "people.toml").read_bytes()
    with pytest.raises(InputError, match=what):
        act(club)
    assert (club / "people.toml").read_bytes() == before
    assert not (club / "x.zip").exists()


def test_export_holds_everything_and_nothing_of_others(indexed, tmp_path):
    add_person(indexed, Person("Mara", "=Tuesday", True, DAY, ("Mara Zwick", "MZ")))
    track = (indexed / "drills/bowl/runs/mara-1/track.csv").read_bytes()
    keep(indexed, "mara.csv", [track], most=10**6)
    keep(indexed, "ilo.csv", [(indexed / "drills/bowl/runs/ilo-1/track.csv").read_bytes()], most=10**6)
    out = tmp_path / "mara.zip"
    export_person(indexed, "mz", out)
    with zipfile.ZipFile(out) as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    runs = [("bowl", "mara-1"), ("gully", "r-1"), ("gully", "r-2")]
    wanted = {f"runs/{d}/{r}/{f}" for d, r in runs for f in ("track.csv", "run.toml")}
    wanted |= {f"results/{d}/{r}.json" for d, r in runs} | {f"runs/{d}/drill.toml" for d in ("bowl", "gully")}
    wanted |= {"README.txt", "person.toml", "lines.csv", "lines.json", f"originals/{hashlib.sha256(track).hexdigest()}"}
    assert set(content) == wanted
    assert content["runs/bowl/mara-1/track.csv"] == track
    assert not [name for name, data in content.items() if b"Ilo" in data]
    assert tomllib.loads(content["person.toml"].decode())["person"][0]["spellings"] == ["Mara Zwick", "MZ"]
    assert tuple(map(from_json, json.loads(content["lines.json"]))) == lines_of(indexed, person="Mara")
    rows = list(csv.DictReader(io.StringIO(content["lines.csv"].decode())))
    assert {(row["drill"], row["run"]) for row in rows} == set(runs)
    assert {row["kind"] for row in rows} == {"time", "measure", "cause"}
    with pytest.raises(InputError, match="there is already such a file"):
        export_person(indexed, "mz", out)


def everything(club):
    """Return all bytes of a workspace's files."""
    return b"".join(p.read_bytes() for p in sorted(club.rglob("*")) if p.is_file())


def test_forgotten_to_the_last_byte(indexed, measured):
    """No file of the workspace, the database among them, holds a name or a fix of the person after it."""
    add_person(indexed, Person("Mara", "Tuesday", True, DAY, ("Mara Zwick", "MZ")))
    add_person(indexed, Person("Ilo"))
    track = (indexed / "drills/bowl/runs/mara-1/track.csv").read_bytes()
    others = (indexed / "drills/bowl/runs/ilo-1/track.csv").read_bytes()
    archive = keep(indexed, "Mara Zwick.zip", [b"PK an invented archive of Mara Zwick"], most=10**6)
    keep(indexed, "Mara Zwick/track.csv", [track], most=10**6, source=archive.sha256)
    kept = keep(indexed, "ilo.csv", [others], most=10**6, source=archive.sha256)
    load = indexed / "incoming" / "abcdefghijkl"
    load.mkdir(parents=True)
    (load / "basket.json").write_text(json.dumps({"sha256": hashlib.sha256(track).hexdigest(), "path": "Mara Zwick"}))
    from analyzer.files.rules_toml import default_rules
    from analyzer.workspace.batch import Batch, analyze_drills

    folders = sorted((indexed / "drills").iterdir())
    analyze_drills(folders, Batch(indexed / "results", default_rules(), 64, 0))  # writes summary.csv
    assert b"Mara Zwick" in everything(indexed)
    personal_data = forget_person(indexed, "mara zwick")
    assert (
        len(personal_data.runs),
        len(personal_data.results),
        len(personal_data.originals),
        len(personal_data.archives),
    ) == (3, 3, 1, 1)
    left = everything(indexed)
    for secret in (b"Mara", b"mara", b"MZ", b"ZWICK", b"Tuesday", track.splitlines()[5]):
        assert secret not in left
    assert (indexed / "originals" / kept.sha256).read_bytes() == others
    with opened(indexed) as store:
        assert [s.name for s in searchers(store)] == ["Ilo", "Bera"]
        assert {(line.drill, line.run) for line in run_lines(store)} == {
            ("bowl", "ilo-1"), ("gully", "r-3"), ("ridge", "r-1"), ("ridge", "r-2"), ("ridge", "r-3")
        }  # fmt: skip
        log = [line.what for line in audit_lines(store)]
        assert log[-1] == "a person was forgotten: 3 runs, 3 results, 1 originals"
        assert not [line for line in log if "Mara" in line]
    measured.clear()
    index_workspace(indexed)
    assert measured == ["bowl", "gully"]  # measured without the one who is gone; the third drill is as it was


def test_forget_leaves_no_name_of_a_run_in_the_results_of_others(indexed):
    index_workspace(indexed, anew=["bowl"])
    other = indexed / "results/bowl/ilo-1.json"
    assert b'"mara-1"' in other.read_bytes()
    assert (indexed / "results/bowl/moved.jsonl").is_file()
    forget_person(indexed, "Mara Zwick")
    assert b"mara-1" not in other.read_bytes()
    assert not (indexed / "results/bowl/moved.jsonl").exists()
    index_workspace(indexed)
    assert b"mara-1" not in other.read_bytes()


def test_forget_takes_results_set_aside_and_leaves_those_of_others(indexed):
    """Also where the run is gone by now, and what nobody can read: it may be theirs."""
    folder = next(path.parent for path in (indexed / "results").glob("*/*.json"))
    for name, searcher in (("old-1", "mara zwick"), ("old-2", "Somebody Else")):
        (folder / f"{name}.json.earlier").write_text(json.dumps({"run": {"id": name, "searcher": searcher}}))
    (folder / "old-3.json.earlier").write_text("{")
    forget_person(indexed, "Mara Zwick")
    assert [path.name for path in (indexed / "results").glob("*/*.earlier")] == ["old-2.json.earlier"]


def test_forget_takes_what_the_bin_has_of_them_and_leaves_that_of_others(indexed):
    out = indexed / "results"
    gone = delete_run(indexed, out, "bowl", "mara-1")  # deleted: in no folder of a drill any more
    export_person(indexed, "Mara Zwick", indexed / "mara.zip")
    with zipfile.ZipFile(indexed / "mara.zip") as archive:
        assert f"bin/{gone}/whole-run/run.toml" in archive.namelist()
    before = run_at_hand(indexed, "gully", "r-1").sha256
    renamed = edit_run(indexed, out, "gully", "r-1", {"searcher": "Bera"}, sha256=before, what="searcher")
    others = delete_run(indexed, out, "gully", "r-3")
    forget_person(indexed, "Mara Zwick")
    assert not (indexed / "bin" / gone).exists()
    assert not (indexed / "bin" / renamed).exists()
    assert (indexed / "bin" / others / "whole-run/run.toml").is_file()
    assert (indexed / "drills/gully/runs/r-1").is_dir()  # it is Bera's by now


def test_forget_leaves_what_is_not_theirs_alone(indexed):
    """A file that others have byte for byte, a record of an event, a run that cannot be read."""
    place = indexed / "drills/bowl/runs"
    for run in ("mara-1", "ilo-1"):
        (place / run / "marks.csv").write_text("time,mark\n2026-01-17T09:30:00Z,start\n")
    shared = keep(indexed, "marks.csv", [(place / "ilo-1/marks.csv").read_bytes()], most=10**6)
    event = indexed / "events" / "cup" / "event.toml"
    event.parent.mkdir(parents=True)
    event.write_text('[[entry]]\nname = "mara zwick"\n')
    (event.parent / "other.toml").write_text('name = "Samara Zwicker"\n')
    (indexed / "drills/ridge/runs/r-1/run.toml").write_text("searcher = \n")
    index_workspace(indexed)
    personal_data = forget_person(indexed, "Mara Zwick")
    assert personal_data.shared == 1
    assert (indexed / "originals" / shared.sha256).exists()
    assert personal_data.mentions == (event,)
    assert event.exists()
    assert [line for line in personal_data.unread if line.startswith("ridge/r-1/run.toml")]
    assert (indexed / "drills/ridge/runs/r-1").is_dir()


def test_run_given_to_somebody_else_since_stays(indexed):
    """Whose a run is, its run.toml says: the old result under the former name goes, the run does not."""
    run = indexed / "drills/bowl/runs/mara-1"
    (run / "run.toml").write_text('searcher = "Bera"\n')
    personal_data = forget_person(indexed, "Mara Zwick")
    assert run.is_dir()
    assert not (indexed / "results/bowl/mara-1.json").exists()
    assert [p.name for p in personal_data.runs] == ["r-1"]


def test_forget_says_nothing_of_a_failed_run_either(club, measured):
    tiny.add_drill(club, "bowl", {"vague-1": "Mara", "vague-10": "Ilo"})
    index_workspace(club)
    forget_person(club, "Mara")
    with opened(club) as store:
        assert failures(store) == ("bowl/vague-10: no path; record longer",)


def test_forget_can_be_repeated_where_it_was_stopped(indexed, monkeypatch):
    """Stopped by a folder that cannot be removed, the entry is still there, and a second call does the rest."""
    from analyzer.workspace.people import forget

    add_person(indexed, Person("Mara", spellings=("Mara Zwick", "MZ")))

    def stuck(path):
        raise PermissionError(13, "Permission denied", str(path))

    with monkeypatch.context() as patch:
        patch.setattr(forget.shutil, "rmtree", stuck)
        with pytest.raises(InputError, match=r"cannot be removed \(Permission denied\)"):
            forget_person(indexed, "Mara")
    assert read_people(indexed).find("Mara") is not None
    forget_person(indexed, "Mara")
    assert read_people(indexed).persons == ()
    assert b"Zwick" not in everything(indexed)


def test_all_that_is_wrong_with_the_people_is_told_at_once():
    text = b"""[[person]]
name = "Mara"
consent = "yes"
[[person]]
group = "club"
consent = true
[[person]]
name = "Ilo"
spellings = ["MARA"]
age = 40
"""
    with pytest.raises(FileError) as caught:
        parse_people(text)
    assert {p.place: p.what for p in caught.value.problems} == {
        "person[1].consent": "'yes' is neither true nor false",
        "person[2].name": "name is missing",
        "person[2].consent_date": "a consent without its date",
        "person[3].age": "the key 'age' is not known",
        "person[3].spellings": "'MARA' already stands for 'Mara'",
    }


def test_forget_takes_what_was_replaced_in_a_run_before_it_was_deleted_or_moved(indexed):
    """The readings that were replaced name nobody: they are known by the run that they are of."""
    out = indexed / "results"
    for drill, run in (("bowl", "mara-1"), ("gully", "r-1"), ("bowl", "ilo-1")):
        put_evidence(indexed, out, drill, run, {"readings.csv": b"elapsed,reading_m\n1,9\n2,8\n"})
        put_evidence(indexed, out, drill, run, {"readings.csv": b"elapsed,reading_m\n1,9\n2,7\n"})
    delete_run(indexed, out, "bowl", "mara-1")
    move_run(indexed, out, "gully", "r-1", "ridge")  # and on: it is r-1-2 there
    delete_run(indexed, out, "bowl", "ilo-1")
    forget_person(indexed, "Mara Zwick")
    left = [json.loads(path.read_bytes()) for path in (indexed / "bin").glob("*/note.json")]
    assert {(note["drill"], note["run"]) for note in left} == {("bowl", "ilo-1")}
    assert len(left) == 3


def test_forget_leaves_an_earlier_run_of_somebody_else_that_had_the_name(indexed):
    out, runs = indexed / "results", indexed / "drills/bowl/runs"
    gone = delete_run(indexed, out, "bowl", "ilo-1")
    (runs / "mara-1").rename(runs / "ilo-1")
    forget_person(indexed, "Mara Zwick")
    assert (indexed / "bin" / gone / "whole-run/track.csv").is_file()
    assert not (runs / "ilo-1").exists()


def test_forget_takes_a_deleted_run_out_of_what_others_say_of_their_fit(indexed):
    other = indexed / "results/bowl/ilo-1.json"
    assert b'"mara-1"' in other.read_bytes()
    delete_run(indexed, indexed / "results", "bowl", "mara-1")
    forget_person(indexed, "Mara Zwick")
    assert b"mara-1" not in other.read_bytes()


def test_forget_leaves_a_deleted_run_of_somebody_else_whose_settings_cannot_be_read(indexed):
    """Its result, which is in the bin with it, says whose it is."""
    (indexed / "drills/bowl/runs/ilo-1/run.toml").write_text("searcher = ")
    gone = delete_run(indexed, indexed / "results", "bowl", "ilo-1")
    assert (indexed / "bin" / gone / "measured.json").is_file()
    forget_person(indexed, "Mara Zwick")
    assert (indexed / "bin" / gone / "whole-run/track.csv").is_file()
