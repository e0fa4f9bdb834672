"""Originals are on the disk before anything is said, and nothing of a failed write stays behind."""

import errno
import hashlib
import json
import os

import pytest

from analyzer.errors import InputError
from analyzer.workspace.intake import originals
from analyzer.workspace.intake.originals import keep, original_path, read_original
from analyzer.workspace.layout import LOCK_FILE


def log(workspace):
    return [json.loads(line) for line in (workspace / "originals/log.jsonl").read_text("utf-8").splitlines()]


def files(workspace):
    return sorted(p.name for p in (workspace / "originals").iterdir() if p.name != LOCK_FILE)


def test_bytes_are_kept_under_their_hash_with_a_line(tmp_path):
    kept = keep(tmp_path, "a/<b>ü.gpx", [b"one", b"two"], most=100)
    # SHA-256 of "onetwo" by the standard library.
    assert kept.sha256 == hashlib.sha256(b"onetwo").hexdigest()
    assert (kept.size, kept.again) == (6, False)
    assert read_original(tmp_path, kept.sha256, name="x") == b"onetwo"
    assert files(tmp_path) == sorted([kept.sha256, "log.jsonl"])
    line = log(tmp_path)[0]
    assert (line["name"], line["sha256"], line["bytes"]) == ("a/<b>ü.gpx", kept.sha256, 6)
    assert line["when"].endswith("+00:00")


def test_the_same_bytes_are_kept_once_and_logged_twice(tmp_path):
    keep(tmp_path, "first", [b"x"], most=9)
    assert keep(tmp_path, "second", [b"x"], most=9, source="abc").again
    assert [line["name"] for line in log(tmp_path)] == ["first", "second"]
    assert log(tmp_path)[1]["from"] == "abc"
    assert len(files(tmp_path)) == 2


def test_bytes_and_line_are_synced_before_it_returns(tmp_path, monkeypatch):
    synced, real = [], os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: synced.append(os.fstat(handle).st_mode) or real(handle))
    keep(tmp_path, "a", [b"x"], most=9)
    assert len(synced) == 3  # the bytes, the folder that names them, the log


def test_too_large_a_file_stops_early_and_leaves_nothing(tmp_path):
    taken = []

    def endless():
        while True:
            taken.append(1)
            yield b"0" * 1_000_000

    with pytest.raises(InputError, match=r"big: the file has 3 MB; at most 2 MB are taken"):
        keep(tmp_path, "big", endless(), most=2_000_000)
    assert len(taken) == 3
    assert files(tmp_path) == []


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "there is no room left on the disk"),
        (errno.EROFS, "the workspace is read-only"),
        (errno.EACCES, "the workspace is read-only"),
        (errno.EIO, "it cannot be stored"),
    ],
)
@pytest.mark.parametrize("where", ["fsync", "write"])
def test_a_disk_that_takes_nothing_gives_one_line_and_keeps_what_was(tmp_path, monkeypatch, code, words, where):
    before = keep(tmp_path, "before", [b"x"], most=9)

    def refuse(*_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, where, refuse)
    with pytest.raises(InputError) as caught:
        keep(tmp_path, "a.gpx", [b"y"], most=9)
    monkeypatch.undo()
    assert str(caught.value).startswith(f"a.gpx: {words}")
    assert "what was stored before is as it was" in str(caught.value)
    assert read_original(tmp_path, before.sha256, name="x") == b"x"
    assert not [name for name in files(tmp_path) if name.endswith(".part")]


def test_a_workspace_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="a file is where a folder is needed"):
        keep(tmp_path / "file", "a", [b"x"], most=9)


def test_an_original_that_changed_or_is_gone_is_not_used(tmp_path):
    kept = keep(tmp_path, "a", [b"x"], most=9)
    original_path(tmp_path, kept.sha256).write_bytes(b"y")
    with pytest.raises(InputError, match="its original has changed"):
        read_original(tmp_path, kept.sha256, name="a")
    with pytest.raises(InputError, match="cannot be read"):
        read_original(tmp_path, "0" * 64, name="a")


def test_unknown_trouble_has_its_own_words():
    assert "it cannot be stored (odd)" in str(originals.storage_error("a", OSError("odd")))
