"""The key of a drill's inputs and the index of results."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from analyzer.files.source import write_atomic
from analyzer.workspace.drill_key import drill_key, is_current, keep_entry, read_index, write_index

SETTINGS = ("1", "rules")


@pytest.fixture
def folder(tmp_path):
    """Return a drill folder whose contents do not matter."""
    folder = tmp_path / "bowl"
    (folder / "runs" / "a").mkdir(parents=True)
    (folder / "drill.toml").write_text("x")
    (folder / "runs" / "a" / "track.gpx").write_text("y")
    return folder


@pytest.mark.parametrize(
    "change",
    [
        lambda f: (f / "drill.toml").write_text("z"),
        lambda f: (f / "site.gpx").write_text("z"),
        lambda f: (f / "runs" / "a" / "track.gpx").write_text("z"),
        lambda f: (f / "runs" / "a" / "marks.csv").write_text("z"),
        lambda f: (f / "runs" / "a").rename(f / "runs" / "b"),
        lambda f: (f / "runs" / "b").mkdir(),
        lambda f: (f / "runs" / "a" / "track.gpx").rename(f / "runs" / "a" / "track.csv"),
    ],
)
def test_any_change_of_input_changes_the_key(folder, change):
    before = drill_key(folder, settings=SETTINGS)
    assert before == drill_key(folder, settings=SETTINGS)
    change(folder)
    assert drill_key(folder, settings=SETTINGS) != before


def test_settings_change_the_key_and_cannot_run_together(folder):
    keys = {drill_key(folder, settings=s) for s in (SETTINGS, ("2", "rules"), ("1r", "ules"), ("1", "rules", ""))}
    assert len(keys) == 4


def test_other_files_do_not_change_the_key(folder):
    before = drill_key(folder, settings=SETTINGS)
    (folder / "runs" / "a" / "helmet.mp4").write_text("film")
    assert drill_key(folder, settings=SETTINGS) == before


def test_index_is_current_only_with_its_results(tmp_path):
    runs = {"a": {"key": "a" * 64, "result": "r" * 64, "failure": "", "size": 111}}
    write_index(tmp_path, {"bowl": {"key": "k" * 64, "rows": [{"run": "a"}], "failures": [], "runs": runs}})
    index = read_index(tmp_path)
    assert not is_current(tmp_path, "bowl", "k" * 64, index)
    head = b'{"format":"searchwake-result/%d","drill_key":"' + b"r" * 64 + b'"}'
    write_atomic(tmp_path / "bowl" / "a.json", head % 1)
    assert not is_current(tmp_path, "bowl", "k" * 64, index)
    write_atomic(tmp_path / "bowl" / "a.json", head % 2)
    assert len(head % 2) == 111
    assert is_current(tmp_path, "bowl", "k" * 64, index)
    assert not is_current(tmp_path, "bowl", "j" * 64, index)
    assert not is_current(tmp_path, "other", "k" * 64, index)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"drills": 5}', b"\xff", b"[" * 9000])
def test_damaged_index_counts_as_none(tmp_path, content):
    (tmp_path / ".searchwake-cache.json").write_bytes(content)
    assert read_index(tmp_path) == {}


@pytest.mark.parametrize(
    "entry",
    [
        5,
        {"key": 5, "rows": [], "failures": []},
        {"key": "k", "rows": {}, "failures": []},
        {"key": "k", "rows": [{"run": "../../a"}], "failures": []},
        {"key": "k", "rows": [{"run": "a\x00"}], "failures": []},
        {"key": "k", "rows": [{"run": ""}], "failures": []},
        {"key": "k", "rows": [{}], "failures": []},
        {"key": "k", "rows": [], "failures": [None]},
        {"key": "k", "rows": [], "failures": [], "runs": {"..": {"key": "", "result": "", "failure": "", "size": 0}}},
        {"key": "k", "rows": [], "failures": [], "runs": {"a": {"key": "", "result": "", "failure": ""}}},
    ],
)
def test_an_entry_that_is_not_ours_counts_as_none(tmp_path, entry):
    sound = {"key": "k", "rows": [], "failures": []}
    write_index(tmp_path, {"bowl": entry, "ridge": sound, "../out": sound})
    assert read_index(tmp_path) == {"ridge": sound}


def test_atomic_write_leaves_the_old_file_when_it_fails(tmp_path):
    target = tmp_path / "a.json"
    write_atomic(target, b"old")
    with pytest.raises(TypeError):
        write_atomic(target, "text is not bytes")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


def test_the_index_needs_no_numerical_library():
    code = (
        "import analyzer.workspace.batch, analyzer.cli, sys; "
        "print([m for m in ('numpy', 'pandas', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_entries_of_several_writers_are_all_kept(tmp_path):
    """Each writer reads what the others wrote: none of 40 entries is lost."""
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: keep_entry(tmp_path, f"d{n}", {"key": str(n), "rows": [], "failures": []}), range(40)))
    assert {name: entry["key"] for name, entry in read_index(tmp_path).items()} == {f"d{n}": str(n) for n in range(40)}
    keep_entry(tmp_path, "d7", None)
    assert "d7" not in read_index(tmp_path)
    assert len(read_index(tmp_path)) == 39
