"""From bytes to a basket and from a basket into a drill, on the disk."""

import errno
import io
import os
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.files.folder import read_drill_folder, read_run
from analyzer.workspace.intake import import_files as taking
from analyzer.workspace.intake.import_files import clean_path, take_in, with_files
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import OTHER, READINGS, TRACK, Basket, IncomingFile, Outcome
from analyzer.workspace.intake.store import drill_places, put, put_sheets
from analyzer.workspace.intake.upload_session import basket_folder, load_basket, save_basket

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
TOKEN = "AAAABBBBCCCC"


def fill(workspace, paths, basket=None):
    """Take sample files in, `paths`: name as given -> path in the sample or bytes."""
    basket = basket or Basket(TOKEN)
    for name, source in paths.items():
        data = source if isinstance(source, bytes) else (SAMPLES / source).read_bytes()
        basket = with_files(basket, *take_in(workspace, name, [data]))
    return basket


def placed(workspace, basket, **choices):
    plan = plan_of(basket.files, drill_places(workspace), choices)
    assert plan.open == ()
    return put(workspace, plan, scratch=basket_folder(workspace, basket.token))


@pytest.fixture
def with_drill(tmp_path):
    """Return a workspace with a drill and one run."""
    files = {"bowl/drill.toml": "drill.toml", "bowl/mara-1/track.gpx": "runs/mara-1/track.gpx"}
    assert placed(tmp_path, fill(tmp_path, files)).runs == ("mara-1",)
    return tmp_path


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("a.gpx", "a.gpx"),
        ("C:\\x\\..\\a.gpx", "C:/x/a.gpx"),
        ("/../../etc/passwd", "etc/passwd"),
        ("", "file without a name"),
        ("a\x00b\n.gpx", "a\ufffdb\ufffd.gpx"),
        ("<b>x</b>.gpx", "<b>x</b>.gpx"),
        ("dd/" * 500 + "a", "d/" + "dd/" * 99 + "a"),
    ],
)
def test_names_are_shown_as_given_without_ways_out(given, shown):
    assert clean_path(given) == shown


def test_a_zip_is_kept_whole_and_its_files_one_by_one(tmp_path):
    with zipfile.ZipFile(tmp_path / "day.zip", "w") as out:
        out.write(SAMPLES / "runs/mara-1/track.gpx", "mara-1/track.gpx")
        out.writestr("mara-1/note.txt", "hello\n")
    data = (tmp_path / "day.zip").read_bytes()
    files, lines = take_in(tmp_path, "day.zip", [data[:100], data[100:]])
    assert [(f.path, f.kind) for f in files] == [("mara-1/track.gpx", TRACK), ("mara-1/note.txt", OTHER)]
    assert lines == ()
    kept = sorted(p.stat().st_size for p in (tmp_path / "originals").glob("[!.]*") if p.name != "log.jsonl")
    assert kept == sorted([len(data), files[0].size, 6])
    log = (tmp_path / "originals/log.jsonl").read_text()
    assert len(log.splitlines()) == 3
    assert log.count('"from"') == 2


def test_a_bad_zip_is_kept_and_its_line_told(tmp_path):
    files, lines = take_in(tmp_path, "day.zip", [b"PK\x03\x04 not really"])
    assert files == ()
    assert lines == ("day.zip: the zip is damaged or cut off; zip the folder again, or drop its files",)
    assert len(list((tmp_path / "originals").glob("[!.]*"))) == 2
    empty = b"PK\x05\x06" + b"\x00" * 18
    assert "holds no file" in take_in(tmp_path, "e.zip", [empty])[1][0]


def test_a_file_above_what_is_read_is_kept_and_told(tmp_path, monkeypatch):
    monkeypatch.setattr(taking, "MAX_BYTES", 10)
    files, _ = take_in(tmp_path, "a.gpx", [b"x" * 11])
    assert files[0].problem.startswith("a.gpx: the file has 0 MB; at most 0 MB are read")
    assert (tmp_path / "originals" / files[0].sha256).read_bytes() == b"x" * 11


def test_the_same_file_again_is_in_a_basket_once(tmp_path):
    names = {"a.gpx": "runs/mara-1/track.gpx", "b.gpx": "runs/mara-1/track.gpx"}
    basket = fill(tmp_path, names, fill(tmp_path, names))
    assert [(f.id, f.path) for f in basket.files] == [(1, "a.gpx"), (2, "b.gpx")]


def test_a_basket_holds_so_many_files(monkeypatch):
    monkeypatch.setattr(taking, "MAX_FILES", 2)
    files = [IncomingFile(0, f"{i}.csv", str(i), 1, READINGS) for i in range(3)]
    with pytest.raises(InputError, match="more than 2 files"):
        with_files(Basket(TOKEN), files, ())


def test_a_basket_comes_back_as_it_was_written(tmp_path):
    basket = Basket(
        TOKEN,
        (IncomingFile(1, "ü<b>", "s", 3, TRACK, ".gpx", 1.5, 2.5, rows=3),),
        ("line",),
        {"use-1": "yes"},
        "done",
        "me",
        "words",
        5.0,
        Outcome("bowl", ("a",), ("b",)),
    )
    save_basket(tmp_path, basket)
    assert load_basket(tmp_path, TOKEN) == basket


@pytest.mark.parametrize("token", ["", "short", "../../../etc/passwd", "AAAABBBBCCCD", "A" * 41, "AAAA/BBBB/CCCC"])
def test_tokens_that_are_none_give_no_basket(tmp_path, token):
    save_basket(tmp_path, Basket(TOKEN))
    assert load_basket(tmp_path, token) is None


@pytest.mark.parametrize("content", ["", "{", "[]", "{}", '{"token": "x", "outcome": {}}'])
def test_a_damaged_basket_is_named(tmp_path, content):
    save_basket(tmp_path, Basket(TOKEN))
    (tmp_path / "incoming" / TOKEN / "basket.json").write_text(content)
    with pytest.raises(InputError, match=rf"incoming/{TOKEN}/basket.json"):
        load_basket(tmp_path, TOKEN)


def test_a_drill_comes_in_byte_for_byte_and_reads_as_before(with_drill):
    folder = with_drill / "drills/bowl"
    assert (folder / "drill.toml").read_bytes() == (SAMPLES / "drill.toml").read_bytes()
    assert (folder / "runs/mara-1/track.gpx").read_bytes() == (SAMPLES / "runs/mara-1/track.gpx").read_bytes()
    read = read_drill_folder(folder)
    assert len(read_run(read.runs[0], read.drill).track.time_s) > 100
    assert [place.key for place in drill_places(with_drill)] == ["bowl"]
    assert [run for run, _ in drill_places(with_drill)[0].runs] == ["mara-1"]


def test_a_run_that_the_drill_cannot_use_is_told_and_the_rest_goes_in(with_drill):
    far = (SAMPLES / "runs/mara-2/track.gpx").read_bytes().replace(b'lat="46.6', b'lat="47.6')
    basket = fill(with_drill, {"far.gpx": far, "ilvo-1.gpx": "runs/ilvo-1/track.gpx"})
    answer = placed(with_drill, basket)
    assert answer.runs == ("ilvo-1",)
    assert len(answer.failures) == 1
    assert answer.failures[0].startswith("far.gpx: not put in as run far: track.gpx, point 1: ")
    assert not (with_drill / "drills/bowl/runs/far").exists()
    assert answer.files == ((2, "bowl/ilvo-1"),)


def test_a_run_that_came_meanwhile_is_not_overwritten(with_drill):
    basket = fill(with_drill, {"ilvo-1.gpx": "runs/ilvo-1/track.gpx"})
    plan = plan_of(basket.files, drill_places(with_drill), {})
    other = with_drill / "drills/bowl/runs/ilvo-1"
    other.mkdir()
    (other / "track.gpx").write_bytes(b"someone else's")
    answer = put(with_drill, plan, scratch=basket_folder(with_drill, TOKEN))
    assert answer.runs == ()
    assert "has a run of this name already" in answer.failures[0]
    assert (other / "track.gpx").read_bytes() == b"someone else's"


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS])
def test_a_disk_that_is_full_half_way_leaves_no_half_run(with_drill, monkeypatch, code):
    basket = fill(with_drill, {"ilvo-1.gpx": "runs/ilvo-1/track.gpx"})
    plan = plan_of(basket.files, drill_places(with_drill), {})

    def refuse(_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "fsync", refuse)
    answer = put(with_drill, plan, scratch=basket_folder(with_drill, TOKEN))
    assert answer.runs == ()
    assert ("no room left" if code == errno.ENOSPC else "read-only") in answer.failures[0]
    assert [p.name for p in (with_drill / "drills/bowl/runs").iterdir()] == ["mara-1"]


def test_a_new_drill_that_cannot_be_used_is_not_made(tmp_path):
    drill = b"""[drill]
name = "Bowl"
waypoints = "site.gpx"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
depth_m = 1.0
"""
    other = b'<gpx xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="46" lon="7"><name>B</name></wpt></gpx>'
    basket = fill(tmp_path, {"drill.toml": drill, "site.gpx": other})
    with pytest.raises(InputError, match="the transmitter has no position"):
        placed(tmp_path, basket)
    assert not (tmp_path / "drills/bowl").exists()
    right = fill(tmp_path, {"drill.toml": drill, "site.gpx": other.replace(b">B<", b">A<")})
    assert placed(tmp_path, right).drill == "bowl"
    assert sorted(p.name for p in (tmp_path / "drills/bowl").iterdir()) == ["drill.toml", "runs", "site.gpx"]


def test_rule_sheets_go_beside_the_others_and_never_over_one(tmp_path):
    from analyzer.files.rules_toml import default_rules_bytes

    basket = fill(tmp_path, {"club sheet.toml": default_rules_bytes()})
    assert put_sheets(tmp_path, basket.files).files == ((1, "rules/club-sheet.toml"),)
    assert put_sheets(tmp_path, basket.files).failures == ()
    (tmp_path / "rules/club-sheet.toml").write_text("other")
    assert "there is already such a file" in put_sheets(tmp_path, basket.files).failures[0]
    assert (tmp_path / "rules/club-sheet.toml").read_text() == "other"


def two_tracks():
    """Two invented tracks of the sample's place, the later one first in the file."""

    def track(name, first):
        points = "".join(
            f'<trkpt lat="46.60012345{i % 10}" lon="9.9000{i:02d}"><ele>{1000 + i}</ele>'
            f"<time>2026-02-14T09:{(first + i) // 60:02d}:{(first + i) % 60:02d}Z</time></trkpt>"
            for i in range(20)
        )
        return f"<trk><name>{name}</name><trkseg>{points}</trkseg></trk>"

    body = track("Bo &amp; a/b", 600) + track("Ada", 0) + '<trk><trkseg><trkpt lat="46.6" lon="9.9"/></trkseg></trk>'
    return f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'.encode()


def test_a_recording_with_two_tracks_is_opened_into_two_proposed_runs(with_drill):
    data = two_tracks()
    files, lines = take_in(with_drill, "day.gpx", [data])
    assert [(f.path, f.kind, f.rows, f.problem) for f in files] == [
        ("day.gpx/track 1 Ada.csv", TRACK, 20, ""), ("day.gpx/track 2 Bo & a b.csv", TRACK, 20, "")]  # fmt: skip
    assert files[1].begin_s - files[0].begin_s == 600.0
    assert lines == ("day.gpx: of its 41 points were set aside: 1 in a track without times",)
    basket = with_files(Basket(TOKEN), files, lines)
    rows = plan_of(basket.files, drill_places(with_drill), {}).runs
    assert [(row.name, row.use) for row in rows] == [("track-1-Ada", "yes"), ("track-2-Bo-a-b", "yes")]
    whole = next(p for p in (with_drill / "originals").iterdir() if p.read_bytes() == data)
    log = (with_drill / "originals/log.jsonl").read_text()
    assert log.count(f'"from": "{whole.name}"') == 2
    # every digit and height is there
    table = (with_drill / "originals" / files[0].sha256).read_text().splitlines()
    assert table[1] == "time,latitude,longitude,elevation_m"
    assert table[2:4] == [
        "2026-02-14T09:00:00.000Z,46.60012345,9.9,1000",
        "2026-02-14T09:00:01.000Z,46.600123451,9.900001,1001",
    ]
    assert len(table) == 22


def test_what_is_set_aside_in_a_track_is_told_before_it_is_put_in(with_drill):
    data = (SAMPLES / "runs/mara-1/track.gpx").read_bytes()
    at = data.index(b"<trkpt")
    broken = data[:at] + b'<trkpt lat="0" lon="0"><time>2026-01-17T09:00:00Z</time></trkpt>' + data[at:]
    basket = fill(with_drill, {"x.gpx": broken})
    (row,) = plan_of(basket.files, drill_places(with_drill), {}).runs
    assert row.note.endswith("Set aside in it: 1 no fix (0, 0).")


def test_a_drill_knows_its_runs_by_their_tracks_and_by_no_picture_beside_them(with_drill):
    """2026-11-27: any file called `track.*` was taken for the track, and `Track.GPX` was none."""
    run = with_drill / "drills/bowl/runs/mara-1"
    (run / "track.gpx").rename(run / "Track.GPX")
    (run / "track.jpg").write_bytes(b"picture")
    (place,) = drill_places(with_drill)
    assert dict(place.runs)["mara-1"] == sha256((run / "Track.GPX").read_bytes()).hexdigest()


@pytest.mark.parametrize("error", [RuntimeError("odd"), InputError(where="day.gpx", what="odd", do="mend it")])
def test_tracks_that_cannot_be_opened_are_that_files_alone(tmp_path, monkeypatch, error):
    """2026-11-27: an error on the way into its tracks took the rest of the zip along."""

    def fails(*_, **__):
        raise error

    monkeypatch.setattr(taking, "split_tracks", fails)
    packed = tmp_path / "all.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("day.gpx", two_tracks())
        archive.writestr("marks.csv", (SAMPLES / "runs/mara-1/marks.csv").read_bytes())
    files, lines = take_in(tmp_path / "club", "all.zip", [packed.read_bytes()])
    assert [(f.path, "odd" in f.problem) for f in files] == [("day.gpx", True), ("marks.csv", False)]
    assert lines == ()


def gpx_of(offset):
    return two_tracks().split(b"</trk>")[0].replace(b"T09:", b"T%02d:" % (9 + offset)) + b"</trk></gpx>"


def test_files_of_two_zips_with_one_name_are_told_apart(with_drill):
    """2026-11-27: two zips with track.gpx and readings.csv each gave two files of one name."""
    basket = Basket(TOKEN)
    for name, offset in (("mara.zip", 0), ("ilo.zip", 1), ("ilo.zip", 1), ("mara.zip", 0), ("ilo.zip", 2)):
        log = f"time,reading_m\n2026-02-14T{9 + offset:02d}:10:05Z,30\n2026-02-14T{9 + offset:02d}:10:09Z,20\n".encode()
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as archive:
            archive.writestr("track.gpx", gpx_of(offset))
            archive.writestr("readings.csv", log)
        files, lines = take_in(with_drill, name, [stream.getvalue()])
        basket = with_files(basket, files, lines, source=name)
    names = [f.path for f in basket.files]
    assert names[::2] == ["track.gpx", "ilo/track.gpx", "ilo-2/track.gpx"]
    assert names[1::2] == ["readings.csv", "ilo/readings.csv", "ilo-2/readings.csv"]
    plan = plan_of(basket.files, drill_places(with_drill), {})
    assert {row.file.path: row.of for row in plan.companions} == {
        "readings.csv": "1", "ilo/readings.csv": "3", "ilo-2/readings.csv": "5"}  # fmt: skip


def test_loose_files_with_one_name_get_a_number(with_drill):
    basket = Basket(TOKEN)
    for offset in (0, 1, 2, 1):
        name = "Track.gpx" if offset == 2 else "track.gpx"
        files, lines = take_in(with_drill, name, [gpx_of(offset)])
        basket = with_files(basket, files, lines, source=name)
    assert [f.path for f in basket.files] == ["track.gpx", "track (2).gpx", "Track (3).gpx"]
