"""A workspace in one file and back, and two joined: nothing lost, doubled or overwritten. All is invented."""

import datetime as dt
import io
import json
import random
import zipfile
from pathlib import Path

import pytest
import tiny_workspace as tiny

from analyzer import cli
from analyzer.errors import InputError
from analyzer.model.people import Person
from analyzer.workspace.packing import opened
from analyzer.workspace.packing import pack as packing
from analyzer.workspace.packing.pack import PACK_LIST, pack
from analyzer.workspace.packing.unpack import unpack
from analyzer.workspace.people.changes import add_person
from analyzer.workspace.people.people_toml import read_people


def tree(folder: Path) -> dict[str, bytes]:
    """Return path -> bytes of every file that a pack would hold."""
    hidden = {p for p in folder.rglob("*") if any(part.startswith(".") for part in p.relative_to(folder).parts)}
    found = [p for p in folder.rglob("*") if p.is_file() and p not in hidden and not p.name.startswith("searchwake.db")]
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


@pytest.fixture
def clubs(tmp_path, monkeypatch):
    """Two workspaces: `one` has a drill of two runs, a person, an event's file and an original; `two` is empty."""
    monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    one = tmp_path / "one"
    tiny.add_drill(one, "bowl", {"mara-1": "Mara", "ilo-1": "Ilo"})
    for place, text in {
        "results/bowl/mara-1.json": "{}\n",
        "events/cup/event.toml": "# invented\n",
        "originals/log.jsonl": '{"name": "a"}\n',
    }.items():
        (one / place).parent.mkdir(parents=True, exist_ok=True)
        (one / place).write_text(text)
    add_person(one, Person("Mara", consent=True, consent_date=dt.date(2026, 1, 17)))
    return one, tmp_path / "two", tmp_path / "club.zip"


def test_a_workspace_comes_back_byte_for_byte(clubs):
    one, two, file = clubs
    packed = pack(one, file)
    assert (packed.files, packed.left_out) == (len(tree(one)), ())
    back = unpack(file, two)
    assert tree(two) == tree(one)
    assert (back.put_in, back.same, back.doubts) == (packed.files, 0, ())


def test_the_same_pack_twice_changes_nothing(clubs):
    one, two, file = clubs
    pack(one, file)
    unpack(file, two)
    before = tree(two)
    again = unpack(file, two)
    assert (again.put_in, again.doubts, tree(two)) == (0, (), before)


def test_what_stands_here_is_never_overwritten(clubs):
    one, two, file = clubs
    pack(one, file)
    unpack(file, two)
    own = two / "drills" / "bowl" / "runs" / "mara-1" / "run.toml"
    own.write_text('searcher = "Mara"\nnote = "mine"\n')
    sheet = two / "events" / "cup" / "event.toml"
    sheet.write_text("# my own\n")
    done = unpack(file, two)
    assert own.read_text() == 'searcher = "Mara"\nnote = "mine"\n'
    assert sheet.read_text() == "# my own\n"
    assert [line.partition(":")[0] for line in done.doubts] == [
        "drills/bowl/runs/mara-1/run.toml", "events/cup/event.toml"
    ]  # fmt: skip
    kept = [line.rpartition(" ")[2] for line in done.doubts]
    assert (two / kept[0]).read_bytes() == (one / "drills" / "bowl" / "runs" / "mara-1" / "run.toml").read_bytes()
    assert (two / kept[1]).read_text() == "# invented\n"
    assert unpack(file, two).doubts == done.doubts


def test_a_recording_is_not_doubled_under_another_name(clubs):
    one, two, file = clubs
    pack(one, file)
    unpack(file, two)
    (two / "drills" / "bowl" / "runs" / "mara-1").rename(two / "drills" / "bowl" / "runs" / "fennick-1")
    done = unpack(file, two)
    assert done.doubts == (
        "drills/bowl/runs/mara-1: its recording is here as drills/bowl/runs/fennick-1; left out",
    )  # fmt: skip
    assert not (two / "drills" / "bowl" / "runs" / "mara-1").exists()


def test_another_run_under_the_same_name_is_kept_aside_whole(clubs):
    one, two, file = clubs
    tiny.add_drill(two, "bowl", {"ilo-1": "Ilo"})
    track = two / "drills" / "bowl" / "runs" / "ilo-1" / "track.csv"
    track.write_text(track.read_text().replace("09:30", "10:30"))
    mine = tree(two)
    (one / "drills" / "bowl" / "runs" / "ilo-1" / "marks.csv").write_text("elapsed,mark\n0,start\n")
    pack(one, file)
    done = unpack(file, two)
    assert len(done.doubts) == 1
    assert done.doubts[0].startswith("drills/bowl/runs/ilo-1: another recording is here")
    now = tree(two)
    assert {path: now[path] for path in mine} == mine
    assert not (track.parent / "marks.csv").exists()
    aside = two / done.doubts[0].rpartition(" ")[2]
    theirs = one / "drills" / "bowl" / "runs" / "ilo-1"
    assert {p.name: p.read_bytes() for p in aside.iterdir()} == {p.name: p.read_bytes() for p in theirs.iterdir()}


def test_results_are_not_taken_into_a_workspace_with_its_own(clubs):
    one, two, file = clubs
    tiny.add_drill(two, "gully", {"sol-1": "Sol"})
    pack(one, file)
    done = unpack(file, two)
    assert not (two / "results").exists()
    assert done.notes == ("results were left out: searchwake index measures what is new",)
    assert (two / "drills" / "bowl" / "runs" / "mara-1" / "track.csv").is_file()


@pytest.mark.parametrize(("here", "there", "after"), [(True, False, False), (False, True, False), (True, True, True)])
def test_consent_only_narrows(clubs, here, there, after):
    (one, two, file), day = clubs, dt.date(2026, 1, 17)
    (one / "people.toml").unlink()
    add_person(one, Person("Sol Fenn", "east", there, day if there else None))
    add_person(one, Person("Ilo"))
    two.mkdir()
    add_person(two, Person("Sol Fenn", "east", here, day if here else None))
    pack(one, file)
    done = unpack(file, two)
    people = read_people(two)
    assert people.find("Sol Fenn").consent is after
    assert people.find("Ilo") == Person("Ilo")
    assert len(done.doubts) == (here is not there)


def test_logs_of_what_was_loaded_are_joined(clubs):
    one, two, file = clubs
    pack(one, file)
    unpack(file, two)
    log = two / "originals" / "log.jsonl"
    log.write_text('{"name": "b"}')  # its end was lost with the power
    assert unpack(file, two).doubts == ()
    assert log.read_text() == '{"name": "b"}\n{"name": "a"}\n'
    unpack(file, two)
    assert log.read_text() == '{"name": "b"}\n{"name": "a"}\n'


def test_a_file_that_was_changed_in_the_pack_is_not_put_in(clubs):
    one, two, file = clubs
    pack(one, file)
    data = bytearray(file.read_bytes())
    at = data.find(b"# invented")
    if at < 0:  # packed: change the stored check sum's bytes instead
        with zipfile.ZipFile(file) as archive:
            info = archive.getinfo("events/cup/event.toml")
        at = info.header_offset + 30 + len(info.filename)
    data[at] ^= 0xFF
    file.write_bytes(data)
    done = unpack(file, two)
    assert done.doubts == ("events/cup/event.toml: damaged in the pack; pack again, or do without",)
    assert not (two / "events").exists()


@pytest.mark.parametrize(
    "path",
    [
        "../out.txt",
        "/out.txt",
        "drills/../../out",
        "drills/bowl/.hidden",
        "incoming/x",
        "drills\\x",
        "searchwake.db",
        "drills/a\nb",
    ],
)
def test_a_path_out_of_the_workspace_is_refused_before_anything_is_put_in(clubs, path):
    _, two, file = clubs
    head = {"format": "searchwake-pack/1", "files": {"drills/a/drill.toml": "0" * 64, path: "0" * 64}}
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(PACK_LIST, json.dumps(head))
        archive.writestr(path, "x")
    with pytest.raises(InputError, match="no place in a workspace"):
        unpack(file, two)
    assert not two.exists()


@pytest.mark.parametrize("data", [b"", b"no zip", b"PK\x03\x04 cut"])
def test_what_is_no_pack_is_refused(clubs, data):
    _, two, file = clubs
    file.write_bytes(data)
    with pytest.raises(InputError, match="no pack"):
        unpack(file, two)


@pytest.mark.parametrize(
    ("head", "error"),
    [
        ("[1]", "no readable pack.json"),
        ("[" * 100_000, "no readable pack.json"),
        ('{"files": {}, "format": "other/9"}', "other/9"),
    ],
)
def test_a_zip_without_a_readable_list_is_refused(clubs, head, error):
    _, two, file = clubs
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(PACK_LIST, head)
    with pytest.raises(InputError, match=error):
        unpack(file, two)


@pytest.mark.parametrize("damaged", ["drills/bowl/drill.toml", PACK_LIST])
def test_damage_of_a_pack_in_any_compression_is_told(clubs, damaged):
    """2026-11-27: LZMA's own error was caught where zips are loaded, and not here."""
    one, two, file = clubs
    pack(one, file)
    with zipfile.ZipFile(file) as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_LZMA) as archive:
        for name, data in content.items():
            archive.writestr(name, data)
        first = archive.getinfo(damaged).header_offset + 30 + len(damaged)
    data = bytearray(file.read_bytes())
    data[first + 4 : first + 12] = b"\xff" * 8
    file.write_bytes(data)
    if damaged == PACK_LIST:
        with pytest.raises(InputError, match=r"no readable pack\.json"):
            unpack(file, two)
    else:
        assert unpack(file, two).doubts == (f"{damaged}: damaged in the pack; pack again, or do without",)


def test_a_link_is_left_out_and_told(clubs):
    one, _, file = clubs
    (one / "drills" / "bowl" / "away").symlink_to("/etc")
    (one / "drills" / "bowl" / "note.txt").symlink_to("/etc/hostname")
    assert pack(one, file).left_out == (
        "drills/bowl/away: a link or no file; left out", "drills/bowl/note.txt: a link or no file; left out"
    )  # fmt: skip


def test_a_file_that_comes_in_while_packing_is_not_overwritten(clubs, monkeypatch):
    one, _, file = clubs
    written = packing.json.dumps

    def slow(*args, **kwargs):
        file.write_bytes(b"somebody else's")
        return written(*args, **kwargs)

    monkeypatch.setattr(packing.json, "dumps", slow)
    with pytest.raises(InputError, match="already such a file"):
        pack(one, file)
    assert file.read_bytes() == b"somebody else's"
    assert not [path for path in file.parent.iterdir() if path.name.endswith(".part")]


def test_the_commands(clubs, capsys):
    one, two, file = clubs
    assert cli.main(["pack", str(one), str(file)]) == 0
    assert cli.main(["pack", str(one), str(file)]) == 2
    assert cli.main(["pack", str(two), str(file)]) == 2
    assert cli.main(["pack", str(one), str(one / "drills" / "x.zip")]) == 2
    assert cli.main(["unpack", str(file), str(two)]) == 0
    (two / "events" / "cup" / "event.toml").write_text("# other\n")
    assert cli.main(["unpack", str(file), str(two)]) == 1
    said = capsys.readouterr()
    assert "already such a file" in said.err
    assert "lies in what is packed" in said.err
    assert f"{two}: 0 files put in" in said.out


def test_too_many_files_are_told_before_the_list_of_them_is_read(clubs, monkeypatch):
    """The list of a zip is in memory as a whole once it is opened; files of a zip inside of a pack do not count."""
    one, two, file = clubs
    inside = io.BytesIO()
    with zipfile.ZipFile(inside, "w") as archive:
        for i in range(50):
            archive.writestr(f"{i}.txt", b"")
    (one / "originals/aa").write_bytes(inside.getvalue() + random.Random(1).randbytes(80_000))
    packed = pack(one, file)
    assert file.read_bytes().count(b"PK\x01\x02") >= packed.files
    monkeypatch.setattr(opened, "MOST_FILES", packed.files + 1)  # and the list of the pack itself
    assert unpack(file, two).put_in == packed.files

    def read(*_, **__):
        raise AssertionError("the list was read")

    monkeypatch.setattr(opened, "MOST_FILES", packed.files)
    monkeypatch.setattr(opened.zipfile, "ZipFile", read)
    with pytest.raises(InputError, match="more than"):
        unpack(file, two)
