"""Logs: several writers take turns, and a line is there whole or not at all."""

import errno
import json
import os
import threading

import pytest

from analyzer.errors import InputError
from analyzer.events import decisions_log
from analyzer.events.decisions_log import append_log, log_faults
from analyzer.workspace import append
from analyzer.workspace.append import append_line


def test_two_writers_of_an_event_s_log_keep_its_chain(tmp_path, monkeypatch):
    """Two that read the last line at once both followed it, and the second one broke the chain."""
    append_log(tmp_path, action="scored")
    hash_of, second = decisions_log.sha256_hex, threading.Thread(target=append_log, args=(tmp_path,))

    def while_the_first_writes(line):
        if threading.current_thread() is not second and not second.ident:
            second.start()
            second.join(timeout=0.3)  # it comes in between, or waits
        return hash_of(line)

    monkeypatch.setattr(decisions_log, "sha256_hex", while_the_first_writes)
    append_log(tmp_path, action="scored again")
    second.join()
    assert len((tmp_path / "log.jsonl").read_text().splitlines()) == 3
    assert log_faults(tmp_path) == []


def test_a_line_that_does_not_fit_is_taken_back(tmp_path, monkeypatch):
    """Half a line stayed, and the next one was written behind it."""
    append_log(tmp_path, action="scored")
    before, write = (tmp_path / "log.jsonl").read_bytes(), os.write
    monkeypatch.setattr(append.os, "write", lambda handle, data: write(handle, data[:9]))
    with pytest.raises(InputError, match="the log cannot be written"):
        append_log(tmp_path, action="scored again")
    monkeypatch.undo()
    assert (tmp_path / "log.jsonl").read_bytes() == before
    append_log(tmp_path, action="scored again")
    assert log_faults(tmp_path) == []


def test_a_log_that_did_not_get_its_first_line_is_not_there(tmp_path, monkeypatch):
    monkeypatch.setattr(append.os, "write", lambda *_: 0)
    with pytest.raises(OSError, match="No space left"):
        append_line(tmp_path / "log.jsonl", lambda _: b"{}")
    assert not (tmp_path / "log.jsonl").exists()


def test_a_line_after_half_a_line_is_one_of_its_own(tmp_path):
    path = tmp_path / "log.jsonl"
    path.write_bytes(b'{"whole": 1}\n{"half')
    append_line(path, lambda lines: json.dumps({"after": len(lines)}).encode())
    assert path.read_bytes() == b'{"whole": 1}\n{"half\n{"after": 2}\n'


def test_a_log_that_cannot_be_written_says_which(tmp_path, monkeypatch):
    def refuse(*_):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(append.os, "open", refuse)
    with pytest.raises(OSError, match="Read-only") as caught:
        append_line(tmp_path / "moved.jsonl", lambda _: b"x")
    assert caught.value.filename == str(tmp_path / "moved.jsonl")
