"""Zip archives, good and hostile."""

import io
import stat
import struct
import zipfile

import pytest

from analyzer.errors import InputError
from analyzer.workspace.intake import archive
from analyzer.workspace.intake.archive import is_zip, members


def zipped(tmp_path, content, name="day.zip", compression=zipfile.ZIP_DEFLATED):
    path = tmp_path / name
    with zipfile.ZipFile(path, "w", compression) as out:
        for inside, data in content.items():
            out.writestr(inside, data)
    return path


def problem(path, **room):
    with pytest.raises(InputError) as caught:
        list(members(path, name="day.zip", **room))
    assert str(caught.value).startswith("day.zip: ")
    return str(caught.value)


def test_files_come_out_as_they_went_in(tmp_path):
    path = zipped(tmp_path, {"bowl/drill.toml": b"a", "bowl/runs/mara-1/track.gpx": b"b" * 9999})
    assert is_zip(path.read_bytes()[:4])
    assert [(m.path, m.data) for m in members(path, name="x")] == [
        ("bowl/drill.toml", b"a"),
        ("bowl/runs/mara-1/track.gpx", b"b" * 9999),
    ]


def test_what_systems_add_is_passed_over(tmp_path):
    path = zipped(tmp_path, {"a/": b"", "__MACOSX/a/._x": b"1", "a/.DS_Store": b"1", "a/._b": b"2", "a/b": b"3"})
    assert [m.path for m in members(path, name="x")] == ["a/b"]


@pytest.mark.parametrize(
    "content", [{"[Content_Types].xml": b"<Types/>", "word/document.xml": b""}, {"mimetype": b"a", "content.xml": b"b"}]
)
def test_a_document_of_an_office_program_is_told_in_one_line_and_not_opened(tmp_path, content):
    path = zipped(tmp_path, content, name="times.docx")
    assert "this is a document of an office program" in problem(path)
    assert "save the table in it as .xlsx, .ods or CSV" in problem(path)
    outer = zipped(tmp_path, {"a.gpx": b"1", "times.docx": path.read_bytes()}, name="outer.zip")
    _, inside = members(outer, name="day.zip")
    assert str(inside.problem).startswith("day.zip/times.docx: this is a document")


@pytest.mark.parametrize(
    "inside", ["../evil", ".", "a/../../evil", "/etc/evil", "C:/evil", "a\\..\\..\\evil", "\\evil"]
)
def test_a_path_outside_refuses_the_whole_archive(tmp_path, inside):
    path = zipped(tmp_path, {"good": b"1"})
    with zipfile.ZipFile(path, "a") as out:
        entry = zipfile.ZipInfo("x" * len(inside))
        entry.filename = inside  # the writer would tidy it up
        out.writestr(entry, b"2")
    assert "a path that leads out of it" in problem(path)


def test_a_link_refuses_the_whole_archive(tmp_path):
    path = tmp_path / "day.zip"
    with zipfile.ZipFile(path, "w") as out:
        entry = zipfile.ZipInfo("link")
        entry.external_attr = (stat.S_IFLNK | 0o777) << 16
        out.writestr(entry, "/etc/passwd")
    assert "the zip holds a link" in problem(path)


def test_what_would_unpack_to_gigabytes_is_refused_before_it_is_unpacked(tmp_path):
    path = zipped(tmp_path, {f"{i}.csv": b"0" * 45_000_000 for i in range(5)})
    assert path.stat().st_size < 1_000_000
    assert "unpacks to 225 MB; at most 200 MB" in problem(path)


def test_a_header_that_claims_ten_gigabytes_is_believed(tmp_path):
    path = zipped(tmp_path, {"a.csv": b"0" * 100})
    data = bytearray(path.read_bytes())
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = struct.pack("<I", 0xFFFFFFF0)  # uncompressed size in the central directory
    path.write_bytes(data)
    assert "unpacks to 4295 MB" in problem(path)


def test_a_header_that_claims_too_little_gives_no_more_than_it_claims(tmp_path):
    path = zipped(tmp_path, {"a.csv": b"0" * 1_000_000})
    data = bytearray(path.read_bytes())
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = struct.pack("<I", 10)
    path.write_bytes(data)
    found = list(members(path, name="day.zip"))
    assert [m.data for m in found] == [b""]
    assert "the file is damaged inside the zip" in str(found[0].problem)


def test_too_many_entries_are_counted_before_their_list_is_read(tmp_path, monkeypatch):
    path = zipped(tmp_path, {f"{i}": b"" for i in range(30)})
    monkeypatch.setattr(zipfile, "ZipFile", None)
    assert "more than 29 entries" in problem(path, room=archive.Room(files=29))


def test_an_encrypted_archive_is_refused(tmp_path):
    path = zipped(tmp_path, {"a": b"1"})
    data = bytearray(path.read_bytes())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    assert "the zip is encrypted" in problem(path)


def test_a_zip_inside_and_a_damaged_file_are_told_and_the_rest_comes(tmp_path):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as out:
        out.writestr("x", "y")
    path = zipped(
        tmp_path, {"in.zip": inner.getvalue(), "bad": b"FINDME" * 10, "good": b"1"}, compression=zipfile.ZIP_STORED
    )
    path.write_bytes(path.read_bytes().replace(b"FINDMEFINDME", b"FINDMEfindme", 1))
    found = {m.path: (m.data, str(m.problem)) for m in members(path, name="day.zip")}
    assert found["in.zip"][1] == "day.zip/in.zip: a zip inside a zip is not opened; unpack it and load its files"
    assert found["bad"][1] == "day.zip/bad: the file is damaged inside the zip; zip the folder again"
    assert found["good"] == (b"1", "None")


@pytest.mark.parametrize("compression", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
@pytest.mark.parametrize("damage", range(0, 60, 7))
def test_damage_in_any_compression_is_that_files_alone(tmp_path, compression, damage):
    """2026-11-27: LZMA's own error was caught nowhere, and the whole zip was lost."""
    path = zipped(tmp_path, {"bad": bytes(range(256)) * 8, "good": b"2" * 99}, compression=compression)
    data = bytearray(path.read_bytes())
    first = 30 + len("bad") + damage
    data[first : first + 4] = b"\xff\x00\xff\x77"
    path.write_bytes(data)
    bad, good = members(path, name="x")
    assert (good.path, good.data, good.problem) == ("good", b"2" * 99, None)
    assert "damaged inside the zip" in str(bad.problem)


def test_a_file_above_what_is_read_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(archive, "MAX_BYTES", 10)
    found = list(members(zipped(tmp_path, {"big": b"0" * 11, "small": b"1"}), name="z"))
    assert [m.data for m in found] == [b"", b"1"]
    assert "at most" in str(found[0].problem)


@pytest.mark.parametrize("cut", [30, 80])
def test_a_cut_archive_is_refused(tmp_path, cut):
    path = zipped(tmp_path, {"a": b"1" * 100, "b": b"2" * 100})
    path.write_bytes(path.read_bytes()[:-cut])
    assert "the zip is damaged or cut off" in problem(path)
